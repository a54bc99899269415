"""Short lines of notes for the tests of the neumes, and random ones.

A line is notes with spaces between: steps from the note before, ``*`` and beats, ``!`` when a
stressed syllable begins, ``_`` in front when the syllable goes on; ``r`` is a rest.
"""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

from chantwright.engrave.neumes import Neume, Tables, load_tables, neume_text
from chantwright.engrave.neumes.orthography import Tone, spell
from chantwright.engrave.neumes.times import timed


def tones(line: str) -> list[Tone]:
    out = []
    for index, word in enumerate(line.split()):
        core, _, beats = word.strip("_!").partition("*")
        step = None if core == "r" else int(core)
        stress = 1 if word.endswith("!") else 0
        fresh = not word.startswith("_")
        out.append(Tone(f"n{index}", step, Fraction(beats or "1"), fresh, stress))
    return out


def neumes(line: str, tables: Tables | None = None) -> tuple[Neume, ...]:
    tables = tables or load_tables()
    found = tones(line)
    times, _ = timed([t.beats for t in found], tables)
    return spell(found, times, tables)


def spelled(line: str, tables: Tables | None = None) -> str:
    return neume_text(neumes(line, tables))


def random_line(source: random.Random, tables: Tables) -> list[Tone]:
    """A legal line: any steps from 8 down to 8 up, any syllables, beats shared in all ways."""
    parts = [p.parts for p in tables.parts.values()]
    beats = source.randint(2, 12)
    starts = {Fraction(0)}
    for beat in range(beats):
        if beat and source.random() < 0.75:
            starts.add(Fraction(beat))
        if source.random() < 0.3:
            at = Fraction(beat)
            for part in source.choice(parts)[:-1]:
                at += part
                starts.add(at)
    edges = [*sorted(starts), Fraction(beats)]
    out: list[Tone] = []
    for index, (a, b) in enumerate(itertools.pairwise(edges)):
        fresh = index == 0 or source.random() < 0.6
        wide = source.random() < 0.3
        step: int | None = (
            source.randint(-8, 8) if wide else source.choice((-1, -1, 0, 1, 1, -2, 2))
        )
        if index and out[-1].step is not None and source.random() < 0.04:
            step = None
        out.append(Tone(f"n{index}", step, b - a, fresh, source.choice((0, 0, 1, 2))))
    return out
