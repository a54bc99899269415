"""Takes that the Python ear and the pack's ear must lay along their hymns alike.

Run from the repository's root to write them anew (a singer of tests/ear sings, the Python ear
traces the pitch and lays the take along its hymn):

    python tests/web/web_pack_alignments.py

Conventions: frames of 10 ms; pitch in hundredths of a morion above the hymn's own ni, `null` where
nothing is sung; levels in dBFS. Notes are named by their place in the hymn, from 0.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

sys.path.append(str(Path(__file__).parents[1] / "ear"))
import singer
import takes

from chantwright.ear.alignment import Alignment, align
from chantwright.ear.contour import Contour
from chantwright.ear.evidence import evidence
from chantwright.ear.expected import expected_line, to_moria
from chantwright.ear.trace import trace
from chantwright.score import Hymn, hymnfile
from chantwright.tones import load_tones

FILE = Path(__file__).parents[1] / "data" / "pack_alignments.json"
TONES = load_tones()
NI = 130.8
SILENT = -75.0


@dataclass(frozen=True, slots=True)
class Way:
    """How a take is sung: moria from the hymn's pitch, tempo against the written one, seconds late.

    `left_out` is a phrase or a syllable, `again` a phrase, counted from 0.
    """

    name: str
    scale: str = "diatonic"
    shift: float = 0.0
    tempo: float = 1.0
    delay: float = 0.3
    left_out: str = ""
    again: int | None = None
    notes: int = 20


WAYS = (
    Way("as written"),
    Way("three seconds late", "soft chromatic", delay=3.0),
    Way("a fifth lower and slower", "hard chromatic", shift=-42.0, tempo=0.8),
    Way("a fifth higher and faster", shift=42.0, tempo=1.2, delay=1.0),
    Way("a syllable left out", "soft chromatic", shift=12.0, left_out="syllable"),
    Way("a phrase left out", "diatonic", tempo=1.1, left_out="phrase", notes=34),
    Way("a phrase sung again", "hard chromatic", shift=-20.0, tempo=0.9, again=1),
    Way("all at once", "diatonic", shift=30.0, tempo=1.2, delay=2.0, left_out="syllable", again=1),
)


def _changed(plan: takes.Plan, way: Way, seed: int) -> takes.Plan:
    entries = list(plan.entries)
    phrase = [plan.written[e.note][4] for e in entries]
    if way.left_out == "phrase":
        entries = [e for e, p in zip(entries, phrase, strict=True) if p != 1]
    elif way.left_out == "syllable":
        entries = list(takes.plant(plan, seed, skips=1).entries)
    if way.again is not None:
        same = [i for i, e in enumerate(entries) if plan.written[e.note][4] == way.again]
        first, last = same[0], same[-1]
        # Marked as a new beginning, so that the singer takes breath before it.
        new = entries[first : last + 1]
        new[0] = type(new[0])(**{**_fields(new[0]), "planted": "restart"})
        entries[last + 1 : last + 1] = new
    return type(plan)(plan.hymn, plan.written, plan.table, plan.scale, tuple(entries))


def _fields(entry: takes.Entry) -> dict[str, Any]:
    return {name: getattr(entry, name) for name in ("note", "moria", "seconds", "syllable")}


def _sung(way: Way, seed: int) -> dict[str, Any]:
    plan = takes.make_plan(seed, scale=way.scale, notes=way.notes)
    manner = singer.Manner(sigma=1.2, timing=0.1)
    sung = _changed(plan, way, seed)
    take, _ = takes.sing(
        sung, seed, ni_hz=NI * 2 ** (way.shift / 72), tempo=way.tempo,
        manner=manner, scene=singer.Scene(snr=25.0),
    )  # fmt: skip
    heard = trace(take.samples, take.rate)
    late = round(100 * way.delay)
    moria = 72 * np.log2(heard.f0 / NI)
    pitch = [None] * late + [None if np.isnan(m) else round(100 * m) for m in moria]
    level = [round(SILENT)] * late + [round(v) for v in heard.level]
    case = {"name": way.name, "hymn": hymnfile.dumps(plan.hymn), "pitch": pitch, "level": level}
    ear = told(case)
    order = Counter(e.note for e in sung.entries)
    # Only takes that the Python ear understands can be a measure for the other one.
    assert ear["left out"] == [i for i in range(len(plan.written)) if i not in order], way.name
    assert ear["again"] == sorted(i for i, count in order.items() if count > 1), way.name
    return {**case, "ear": ear}


def contour_of(case: dict[str, Any]) -> Contour:
    """The pitch and level that both ears are given."""
    pitch = np.array([np.nan if p is None else p for p in case["pitch"]], float)
    known: npt.NDArray[np.float64] = np.where(np.isnan(pitch), 0.0, 1.0)
    return Contour(NI * 2 ** (pitch / 7200), known, np.array(case["level"], float))


def hymn_of(case: dict[str, Any]) -> Hymn:
    """The hymn of a case."""
    return hymnfile.loads(case["hymn"])


def told(case: dict[str, Any]) -> dict[str, Any]:
    """What the Python ear says: where the singer's ni is, each note's error, left out, sung again.

    Errors are from the middle of all; the last singing counts. A drift of the singer is left in:
    the two ears do not part it from the errors in one way, the pack's only from 3 moria on.
    """
    contour = contour_of(case)
    hymn = hymn_of(case)
    made: Alignment = align(expected_line(hymn, TONES), contour, evidence(None, 16_000, contour))
    last = {h.index: h for h in made.heard if np.isfinite(h.pitch)}
    away = {i: h.pitch - h.asked.moria for i, h in last.items()}
    centre = float(np.median(list(away.values())))
    times = Counter(h.index for h in made.heard)
    return {
        "shift": round(centre - float(to_moria(NI)), 2),
        "off": {str(i): round(off - centre, 2) for i, off in sorted(away.items())},
        "left out": sorted(set(range(len(made.expected.notes))) - set(times)),
        "again": sorted(i for i, count in times.items() if count > 1),
    }


def asked(case: dict[str, Any]) -> list[dict[str, Any]]:
    """The hymn's notes as a page knows them."""
    return [
        {"id": n.id, "syllable": n.syllable, "phrase": f"p{n.phrase}", "name": str(n.degree),
         "moria": n.moria, "beats": n.beats}
        for n in expected_line(hymn_of(case), TONES).notes
    ]  # fmt: skip


def tempo_of(case: dict[str, Any]) -> float:
    """Beats a minute as written."""
    return expected_line(hymn_of(case), TONES).tempo


def frames(case: dict[str, Any]) -> list[list[float]]:
    """The same as rows of a pitch follower: seconds, Hz, clarity, level."""
    contour = contour_of(case)
    rows = zip(contour.f0.tolist(), contour.level.tolist(), strict=True)
    return [
        [0.01 * i, 0.0, 0.3, loud] if np.isnan(hz) else [0.01 * i, hz, 0.97, loud]
        for i, (hz, loud) in enumerate(rows)
    ]


if __name__ == "__main__":
    rows = [_sung(way, 6400 + number) for number, way in enumerate(WAYS)]
    FILE.write_text(
        "[\n" + ",\n".join(json.dumps(row, separators=(",", ":")) for row in rows) + "\n]\n",
        encoding="utf-8",
    )
    for row in rows:
        print(row["name"], {k: v for k, v in row["ear"].items() if k != "off"})
