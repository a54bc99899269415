"""The melody and its ison as MIDI, in exact tuning, for those who prefer their own instrument.

Conventions
-----------
Two tracks after the head: melody (with the words) and ison, on channels 1 and 2. A beat is 960
ticks. Two ways to tune:

``table``
    every sounding pitch gets a key of its own, and the keys are tuned once, at the head: within
    0.0031 cent. For players that know the MIDI Tuning Standard.
``bend``
    the nearest key, bent, with a range of one semitone: within 0.0062 cent. For all others.

References
----------
MIDI Manufacturers Association, "MIDI Tuning (Updated Specification)" (1999): real-time single note
tuning change, and the choice of a tuning program by registered parameters 3 and 4. "Standard MIDI
Files 1.0": lyrics and tempo.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.score.model import UNISON, Hymn
from chantwright.tones import Tones
from chantwright.tuning.midi import pitch_bend
from chantwright.voice.options import TrackOptions
from chantwright.voice.plan import Plan
from chantwright.voice.track import plan_of

__all__ = ["TICKS", "TUNINGS", "write_midi"]

TICKS = 960
"""Ticks in a beat."""

TUNINGS = ("table", "bend")

_SEMITONE = 1  # bend range
_STEPS = 1 << 14
_VOICE, _HOLD = 80, 58  # loudness of melody and ison
_Span = tuple[float, float, float, str]
_CHOIR = 52  # General MIDI program 53, counted from 0: voice


def _keys(pitches: Iterable[float]) -> dict[float, tuple[int, float]]:
    """Give every pitch a key of its own, as near as may be, and its place in semitones."""
    out: dict[float, tuple[int, float]] = {}
    taken: set[int] = set()
    for hz in sorted(set(pitches)):
        exact = 69 + 12 * float(np.log2(hz / 440))
        near = sorted((k for k in range(128) if k not in taken), key=lambda k: abs(k - exact))
        if not near:
            raise ChantError(
                "this hymn has more pitches than a keyboard has keys.",
                remedy="Write it with bends instead of a tuning table.",
            )
        taken.add(near[0])
        out[hz] = (near[0], exact)
    return out


def _tuned(key: int, semitones: float) -> mido.Message:
    """Tune one key: the semitone below, and 14 bits of what lies above it."""
    units = round(semitones * _STEPS)
    whole, part = divmod(min(units, 127 * _STEPS + _STEPS - 2), _STEPS)
    data = [0x7F, 0x7F, 0x08, 0x02, 0x00, 0x01, key, whole, part >> 7, part & 0x7F]
    return mido.Message("sysex", data=data)


def _parameter(channel: int, number: int, value: int) -> list[mido.Message]:
    """Set a registered parameter, and let go of it."""
    return [
        mido.Message("control_change", channel=channel, control=control, value=setting)
        for control, setting in (
            (101, 0),
            (100, number),
            (6, value),
            (38, 0),
            (101, 127),
            (100, 127),
        )
    ]


def _spans(plan: Plan) -> tuple[list[_Span], list[_Span]]:
    """Notes as (start, stop, Hz, words), melody and ison, in seconds."""
    melody: list[_Span] = []
    held: list[_Span] = []
    for phrase in plan.phrases:
        for event in phrase.syllables:
            word = event.syllable.text
            tail = "" if event.syllable.place in ("begin", "middle") else " "
            for index, note in enumerate(event.notes):
                melody.append((note.start, note.stop, note.hz, "" if index else word + tail))
        for event in phrase.syllables:
            for note in event.notes:
                ison = note.hz if event.ison == UNISON else event.ison
                if isinstance(ison, float):
                    held.append((note.start, note.end, ison, ""))
    joined: list[_Span] = []
    for start, end, hz, text in held:
        if joined and joined[-1][2] == hz and start - joined[-1][1] < 1e-6:
            joined[-1] = (joined[-1][0], end, hz, text)
        else:
            joined.append((start, end, hz, text))
    return melody, joined


def write_midi(
    hymn: Hymn,
    tones: Tones,
    path: str | Path,
    *,
    tuning: str = "table",
    options: TrackOptions | None = None,
) -> None:
    """Write a hymn as MIDI.

    Parameters
    ----------
    hymn : Hymn
        Set.
    tones : Tones
        The tones.
    path : str or Path
        The file, ending in ``.mid``.
    tuning : str
        One of `TUNINGS`.
    options : TrackOptions, optional
        Pace, mode (full, melody or drone) and voice, which gives the base where the hymn has none.

    Raises
    ------
    ChantError
        If the hymn is not set, the name or the tuning makes no sense, or the disk is full.
    """
    path = Path(path)
    if path.suffix.lower() not in (".mid", ".midi"):
        raise ChantError(
            f"a MIDI file cannot be called “{path.name}”.",
            where=Where(str(path)),
            remedy="Choose a name that ends in .mid.",
        )
    if tuning not in TUNINGS:
        raise ChantError(
            f"there is no tuning “{tuning}”.", remedy=f"Choose one of: {', '.join(TUNINGS)}."
        )
    options = options or TrackOptions()
    plain = TrackOptions(
        mode=options.mode if options.mode != "drone" else "full",
        pace=options.pace,
        voice=options.voice,
        intonation="none",
        count_in=0,
    )
    plan, tempo, about = plan_of(hymn, tones, plain)
    melody, held = _spans(plan)
    if options.mode == "melody":
        held = []
    elif options.mode == "drone":
        melody = []
    origin = plan.phrases[0].start
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("track_name", name=hymn.title or "Hymn"))
    head.append(mido.MetaMessage("text", text=f"{about['tone']}, {about['base']}"))
    head.append(mido.MetaMessage("set_tempo", tempo=round(60_000_000 / float(tempo))))
    keys = _keys(hz for _, _, hz, _ in (*melody, *held))
    if tuning == "table":
        head += [_tuned(key, exact) for key, exact in keys.values()]
    file.tracks.append(head)
    for channel, (name, spans, loud) in enumerate(
        (("Melody", melody, _VOICE), ("Ison", held, _HOLD))
    ):
        if spans:
            file.tracks.append(_track(channel, name, spans, loud, keys, tuning, origin, tempo))
    with safefile.writing(path) as temporary:
        file.save(str(temporary))


def _track(
    channel: int,
    name: str,
    spans: Sequence[_Span],
    loud: int,
    keys: dict[float, tuple[int, float]],
    tuning: str,
    origin: float,
    tempo: Fraction,
) -> mido.MidiTrack:
    out = mido.MidiTrack()
    out.append(mido.MetaMessage("track_name", name=name))
    out.append(mido.Message("program_change", channel=channel, program=_CHOIR))
    if tuning == "table":
        out += _parameter(channel, 4, 0) + _parameter(channel, 3, 0)
    else:
        out += _parameter(channel, 0, _SEMITONE)
    now = 0

    def tick(seconds: float) -> int:
        return round((seconds - origin) * float(tempo) / 60 * TICKS)

    def add(message: mido.Message, at: int) -> None:
        nonlocal now
        out.append(message.copy(time=max(at - now, 0)))
        now = max(now, at)

    for start, stop, hz, text in spans:
        key, exact = keys[hz]
        if tuning == "bend":
            key = round(exact)
            bend = pitch_bend(6 * (exact - key), semitones=_SEMITONE) - _STEPS // 2
            add(mido.Message("pitchwheel", channel=channel, pitch=bend), tick(start))
        if text:
            add(mido.MetaMessage("lyrics", text=text), tick(start))
        add(mido.Message("note_on", channel=channel, note=key, velocity=loud), tick(start))
        # A bend would pull the end of the note before: notes end a tick early.
        last = max(tick(stop) - 1, tick(start) + 1)
        add(mido.Message("note_off", channel=channel, note=key, velocity=0), last)
    return out
