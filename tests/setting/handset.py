"""Phrases that were set by hand before the setter saw them, and how near a setting comes.

The figures of agreement are our own: the same degree at the close, the same shape of the close, and
each main stress no more than a step from the hand's (highest note of each).
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from marked import syllables

from chantwright.score import Hymn, Note, Phrase, number
from chantwright.tuning import parse_degree

_FILE = Path(__file__).parent / "data" / "hand.toml"


@dataclass(frozen=True, slots=True)
class Agreement:
    """Counts over phrases and their main stresses."""

    phrases: int = 0
    close: int = 0
    shape: int = 0
    near: int = 0
    stresses: int = 0
    whole: int = 0

    def __add__(self, other: Agreement) -> Agreement:
        names = self.__dataclass_fields__
        return Agreement(**{n: getattr(self, n) + getattr(other, n) for n in names})

    def shares(self) -> dict[str, float]:
        return {
            "same close": self.close / self.phrases,
            "same shape": self.shape / self.phrases,
            "stresses within a step": self.near / self.stresses,
            "all three": self.whole / self.phrases,
        }


def _notes(text: str) -> tuple[Note, ...]:
    out = []
    for one in text.split("+"):
        name, _, beats = one.partition(":")
        out.append(Note(parse_degree(name), Fraction(beats or 1)))
    return tuple(out)


def hand_hymns() -> list[tuple[int, Hymn, tuple[str, ...]]]:
    """Tone, hymn as set by hand, and the shape of each close."""
    rows = tomllib.loads(_FILE.read_text(encoding="utf-8"))["phrase"]
    found = []
    for tone in range(1, 9):
        phrases, shapes = [], []
        for row in (r for r in rows if r["tone"] == tone):
            sung = tuple(
                replace(s, notes=_notes(n))
                for s, n in zip(syllables(row["words"]), row["notes"].split(), strict=True)
            )
            phrases.append(Phrase(sung, cadence=row["cadence"]))
            shapes.append(str(row["shape"]))
        found.append((tone, number(Hymn(tone=tone, phrases=tuple(phrases))), tuple(shapes)))
    return found


def bare(hymn: Hymn) -> Hymn:
    """The words without their melody."""
    phrases = tuple(
        replace(p, syllables=tuple(replace(s, notes=()) for s in p.syllables)) for p in hymn.phrases
    )
    return replace(hymn, phrases=phrases)


def _top(notes: tuple[Note, ...]) -> int:
    return max(n.degree for n in notes)


def agreement(hand: Phrase, ours: Phrase, hand_shape: str, our_shape: str) -> Agreement:
    """How near one phrase comes to the hand's."""
    pairs = list(zip(hand.syllables, ours.syllables, strict=True))
    near = [abs(_top(a.notes) - _top(b.notes)) <= 1 for a, b in pairs if a.stress == 1]
    close = hand.syllables[-1].notes[-1].degree == ours.syllables[-1].notes[-1].degree
    shape = hand_shape == our_shape
    return Agreement(1, close, shape, sum(near), len(near), close and shape and all(near))
