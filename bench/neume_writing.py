"""Neumes: 100,000 random lines written and read back, and the time to draw beside a staff engraver.

    python bench/neume_writing.py [lines]

The library a user would otherwise draw a melody with is verovio: the ratio is our time for a hymn
in neumes to its time for the same hymn as one page of staff from the same notes (its MEI made
before). Both are warm.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import verovio
from figures import FULL, Figure

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "engrave"))

from hymns_for_print import DENSE, GREEK, PSALM
from neume_lines import random_line

from chantwright.engrave import to_mei
from chantwright.engrave.neumes import (
    NeumeOptions,
    load_tables,
    neume_text,
    read_neumes,
    steps_and_beats,
    systems,
)
from chantwright.engrave.neumes.orthography import spell
from chantwright.engrave.neumes.times import timed
from chantwright.tones import load_tones

ROUNDS = 20


def read_back(count: int) -> float:
    """Write and read random lines; any difference ends the run. Returns the seconds it took."""
    tables = load_tables()
    source = random.Random(20)
    notes = 0
    start = time.perf_counter()
    for _ in range(count):
        line = random_line(source, tables)
        times, _ = timed([t.beats for t in line], tables)
        written = spell(line, times, tables)
        read = steps_and_beats([read_neumes(neume_text(written), tables)], tables)[0]
        if [(s.step, s.beats) for s in read] != [(t.step, t.beats) for t in line]:
            raise SystemExit(f"not read back: {neume_text(written)}")
        notes += len(line)
    spent = time.perf_counter() - start
    print(f"{count} lines, {notes} notes and rests written and read back exactly: {spent:.1f} s")
    return spent


def draw() -> tuple[float, float]:
    """Draw three hymns as neumes, and with the staff engraver; return the seconds of each."""
    tones = load_tones()
    hymns = (PSALM, DENSE, GREEK)
    meis = [to_mei(h, tones) for h in hymns]
    toolkit = verovio.toolkit()
    verovio.enableLog(verovio.LOG_OFF)

    def neumes() -> int:
        return sum(len(systems(h, tones, NeumeOptions())) for h in hymns)

    def staff() -> None:
        for mei in meis:
            toolkit.loadData(mei)
            toolkit.renderToSVG(1)

    found = []
    for work in (neumes, staff):
        work()
        start = time.perf_counter()
        for _ in range(ROUNDS):
            work()
        found.append((time.perf_counter() - start) / ROUNDS)
    ours, theirs = found
    lines = neumes()
    print(f"{lines} lines of neumes: {ours * 1000:.1f} ms, {ours / lines * 1000:.2f} ms a line")
    print(f"the same hymns by verovio: {theirs * 1000:.1f} ms; ratio {ours / theirs:.2f}")
    return ours, theirs


def figures(size: str) -> Iterator[Figure]:
    """Yield the time to draw beside the engraver of staves, and the lines that came back."""
    ours, theirs = draw()
    yield Figure("print", "three hymns drawn in neumes", 1000 * ours, "ms by the clock",
                 peer="verovio, the same as staves", peer_value=1000 * theirs,
                 count=f"mean of {ROUNDS}")  # fmt: skip
    count = 100_000 if size == FULL else 10_000
    read_back(count)
    yield Figure("print", "neume lines that did not come back as written", 0, most=0,
                 count=f"{count} random lines", seed="20")  # fmt: skip


if __name__ == "__main__":
    draw()
    read_back(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
