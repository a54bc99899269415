"""How hard a hymn is to learn, and why.

Conventions
-----------
Points without a unit; each reason is a count or size taken from the score times the weight of its
row in ``data/course.toml``. Two hymns are compared by their points a phrase, so that a long hymn of
easy phrases is not called hard, with a little for the length itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from chantwright.errors import ChantError
from chantwright.rows import Row, load_rows
from chantwright.score import Hymn, Note, Phrase, walk
from chantwright.tuning import fields

__all__ = ["Hardness", "Reason", "hardness", "load_weights"]

_FOURTH = 3
_CLOSE = 3


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that makes a hymn hard: how much of it there is, and its points."""

    id: str
    short: str
    what: str
    amount: float
    points: float


@dataclass(frozen=True, slots=True)
class Hardness:
    """How hard a hymn is.

    Attributes
    ----------
    points : float
        For each phrase on average, length added.
    reasons : tuple of Reason
        Heaviest first; only those that are there.
    """

    points: float
    reasons: tuple[Reason, ...]


def load_weights(overrides: Iterable[Path] = ()) -> Mapping[str, Row]:
    """Read the weights, a parish's own rows first."""
    return load_rows(
        "chantwright.parish", ["course.toml"], overrides=tuple(overrides), tables=["hardness"]
    )["hardness"]


def _notes(hymn: Hymn) -> list[list[Note]]:
    return [[n for s in p.syllables for n in s.notes] for p in hymn.phrases]


def _leaps(hymn: Hymn) -> float:
    steps = (abs(b.degree - a.degree) for line in _notes(hymn) for a, b in pairwise(line))
    return float(sum(s - 1 for s in steps if s > 1))


def _compass(hymn: Hymn) -> float:
    degrees = [n.degree for _, _, _, n in walk(hymn)]
    return float(max(0, max(degrees) - min(degrees) - _FOURTH))


def _melisma(hymn: Hymn) -> float:
    return float(sum(max(0, len(s.notes) - 2) for p in hymn.phrases for s in p.syllables))


def _uneven(hymn: Hymn) -> float:
    return float(sum(n.beats < 1 for _, _, _, n in walk(hymn)))


def _close(phrase: Phrase) -> tuple[tuple[int, Fraction], ...]:
    notes = [n for s in phrase.syllables for n in s.notes][-_CLOSE:]
    return tuple((n.degree, n.beats) for n in notes)


def _new_lines(hymn: Hymn) -> float:
    return float(len({_close(p) for p in hymn.phrases}))


def _bends(hymn: Hymn) -> float:
    return float(sum(n.bend != 0 for _, _, _, n in walk(hymn)))


def _scales(hymn: Hymn) -> float:
    return float(sum(p.scale is not None for p in hymn.phrases))


def _length(hymn: Hymn) -> float:
    return sum(len(p.syllables) for p in hymn.phrases) / 10


_MEASURES: Mapping[str, Callable[[Hymn], float]] = {
    "leap": _leaps,
    "compass": _compass,
    "melisma": _melisma,
    "uneven": _uneven,
    "new_line": _new_lines,
    "bend": _bends,
    "scale": _scales,
    "length": _length,
}
_WHOLE = ("compass", "length", "scale")
"""Those that belong to the hymn as a whole, not to each phrase."""


def hardness(hymn: Hymn, weights: Mapping[str, Row]) -> Hardness:
    """Say how hard a hymn is to learn.

    Parameters
    ----------
    hymn : Hymn
        With its melody.
    weights : mapping of str to Row
        See `load_weights`.

    Raises
    ------
    ChantError
        If the hymn has no melody, or a row weighs what is not measured (with its file and line).
    """
    if not hymn.is_set:
        raise ChantError(f"“{hymn.title}” has no melody yet.", remedy="Set it first.")
    reasons = []
    total = 0.0
    for name, row in weights.items():
        if name not in _MEASURES:
            raise row.error(
                f"“{name}” is nothing we measure.", f"Use one of: {', '.join(_MEASURES)}."
            )
        amount = _MEASURES[name](hymn)
        points = amount * float(fields.number(row, "weight"))
        total += points if name in _WHOLE else points / len(hymn.phrases)
        if points:
            reasons.append(Reason(name, str(row["short"]), str(row["what"]), amount, points))
    return Hardness(total, tuple(sorted(reasons, key=lambda r: -r.points)))
