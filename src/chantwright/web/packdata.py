"""What a page of the practice pack knows of a hymn: notes in moria, words, times of the recordings.

Conventions
-----------
Moria above diatonic ni, as everywhere; ``zero_hz`` is the pitch of moria 0, so that a note sounds
at ``zero_hz * 2 ** (moria / 72)``. Seconds from the start of a recording. All numbers come from the
timing map of the recording that is in the pack; nothing is worked out twice.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from chantwright.score import Hymn, number
from chantwright.score.model import note_id, walk
from chantwright.tones import Tones
from chantwright.tuning import degree_name
from chantwright.voice import Timing, TrackOptions
from chantwright.voice.track import plan_of

__all__ = ["as_script", "hymn_data"]

INTONATION = "intonation"


def _track(timing: Timing, files: Mapping[str, str]) -> dict[str, Any]:
    return {
        "files": dict(files),
        "seconds": round(timing.seconds, 4),
        "parts": [[p.kind, round(p.start, 4), round(p.end, 4), p.phrase] for p in timing.parts],
        "notes": [[n.id, round(n.start, 4), round(n.stop, 4)] for n in timing.notes],
        "syllables": [[s.id, round(s.start, 4), round(s.end, 4)] for s in timing.syllables],
    }


def _held(hymn: Hymn, tones: Tones, zero: float, home: float) -> dict[str, float | None]:
    """Moria of the ison under each note, None where it goes with the melody.

    `zero` is the pitch of moria 0 in Hz, `home` the moria to hold where the score says nothing yet.
    """
    plan, _, _ = plan_of(hymn, tones, TrackOptions(intonation="none"))
    out: dict[str, float | None] = {}
    kept = home
    for phrase in plan.phrases:
        for syllable in phrase.syllables:
            if isinstance(syllable.ison, float):
                kept = round(72 * math.log2(syllable.ison / zero), 4)
            unison = isinstance(syllable.ison, str)
            out.update({note.id: None if unison else kept for note in syllable.notes})
    return out


def hymn_data(
    hymn: Hymn,
    tones: Tones,
    *,
    name: str,
    file: str,
    number_: int,
    tracks: Mapping[str, tuple[Timing, Mapping[str, str]]],
    prefixes: Sequence[str],
) -> dict[str, Any]:
    """Gather what the page needs.

    Parameters
    ----------
    hymn : Hymn
        Set.
    tones : Tones
        For how strictly a singer is judged.
    name, file, number_ : str, str, int
        Its id on the page, its file in the parish folder, its place in the booklet.
    tracks : mapping
        ``full`` and ``echo`` -> timing map, and files by kind.
    prefixes : sequence of str
        See `chantwright.web.packscore.Score`.
    """
    hymn = number(hymn)
    timing = tracks["full"][0]
    sounding = {n.id: n for n in timing.notes}
    first = timing.notes[0]
    zero = first.hz * 2 ** (-first.moria / 72)
    held = _held(hymn, tones, zero, round(72 * math.log2(timing.base_hz / zero), 4))
    notes = []
    for phrase, syllable, place, note in walk(hymn):
        known = sounding[note_id(syllable, place)]
        notes.append(
            {
                "id": known.id,
                "syllable": syllable.id,
                "phrase": phrase.id,
                "degree": note.degree,
                "name": degree_name(note.degree),
                "moria": round(known.moria, 4),
                "beats": round(float(note.beats), 6),
                "ison": held[known.id],
            }
        )
    return {
        "id": name,
        "file": file,
        "number": number_,
        "title": hymn.title,
        "base": {"name": degree_name(timing.base_degree), "hz": round(timing.base_hz, 6)},
        "zero_hz": round(zero, 6),
        "tempo": round(timing.tempo, 4),
        "limit": float(tones.listening["flag_regular"].moria),
        "phrases": [[p.id, p.words] for p in hymn.phrases],
        "words": [[s.id, s.text] for p in hymn.phrases for s in p.syllables],
        "notes": notes,
        "prefixes": list(prefixes),
        "tracks": {name: _track(*track) for name, track in tracks.items()},
    }


def as_script(data: Any) -> str:
    """JSON that can stand inside a script element."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("&", "\\u0026").replace("\u2028", "\\u2028")
