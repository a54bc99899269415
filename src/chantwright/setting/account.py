"""The account of a line: every price that was paid, and at which syllable.

The search adds prices up as it goes and keeps no list; here a finished line is gone over once more
and every price is named. The two sums are equal (a test holds them together).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from chantwright.setting.blemish import blemishes
from chantwright.setting.height import NO_HEIGHT, levelled
from chantwright.setting.line import (
    FLAT_RUN,
    Frame,
    Line,
    Piece,
    Prices,
    centre_terms,
    join_terms,
)

__all__ = [
    "FIGURED_SHARE",
    "OF_FORMULAS",
    "Paid",
    "account",
    "entry_terms",
    "figured_share",
    "scarce",
    "sums",
]

OF_FORMULAS = ("weight", "liking")
"""Prices that are the formula's, not the setter's."""
FIGURED_SHARE = 0.3
"""About a third of the stresses before the last carry two notes (common practice)."""
_SCARCE = ((5, 3, "narrow"), (9, 4, "few-notes"))
"""So many syllables or more on fewer degrees than so many: the price."""


@dataclass(frozen=True, slots=True)
class Paid:
    """One price paid.

    Attributes
    ----------
    place : int
        Syllable of the phrase at which it is paid; -1 for the phrase as a whole.
    name : str
        Name of the price; ``weight`` is the formula's own, ``liking`` what the teacher's choices
        add to it.
    amount : float
        How many times.
    price : float
        What it came to.
    """

    place: int
    name: str
    amount: float
    price: float


def entry_terms(piece: Piece, frame: Frame) -> Iterator[tuple[int, str]]:
    """Name what is awkward where a phrase begins: syllable and name."""
    first = piece.sung[0].first
    if piece.formula.role in ("bridge", "vfoot", "picture"):
        yield 0, "no-opening"
    if frame.first:
        if first not in frame.starts:
            yield 0, "first-note"
        elif first != frame.starts[0]:
            yield 0, "first-off-base"
        for place, sung in enumerate(piece.sung[:2]):
            if sung.notes > 1:
                yield place, "early-figure"


def figured_share(strong: int, figured: int) -> float:
    """How far the share of stresses with two notes is from the usual third."""
    return abs(figured / strong - FIGURED_SHARE) if strong >= 2 else 0.0


def scarce(count: int, degrees: int) -> str:
    """Name the price of so many syllables on so few degrees; empty where they are enough."""
    return next((n for least, few, n in _SCARCE if count >= least and degrees < few), "")


def _inside(line: Line) -> Iterator[tuple[int, str, float]]:
    """What each formula pays, and what the joins pay."""
    at = 0
    figures: set[str] = set()
    before: int | None = None
    for piece in line.pieces:
        if piece.formula.weight:
            yield at, "weight", piece.formula.weight
        if piece.formula.liking:
            yield at, "liking", piece.formula.liking
        for place, name in piece.terms:
            yield at + place, name, 1.0
        if before is not None:
            for name in join_terms(before, piece.sung[0].first):
                yield at, name, 1.0
        again = sum(name in figures for name in piece.formula.names)
        if again:
            yield at, "twice", float(again)
        figures.update(piece.formula.names)
        before = piece.sung[-1].last
        at += len(piece.sung)


def _edges(line: Line) -> Iterator[int]:
    """Syllables at the edges of formulas, each once."""
    at = 0
    for piece in line.pieces:
        yield at
        at += len(piece.sung)
        if len(piece.sung) > 1:
            yield at - 1


def _terms(line: Line) -> Iterator[tuple[int, str, float]]:
    yield from _inside(line)
    sung = line.sung
    for place, name in entry_terms(line.pieces[0], line.frame):
        yield place, name, 1.0
    if line.frame.first and len(line.pieces[0].sung) == 1 and len(sung) > 1 and sung[1].notes > 1:
        yield 1, "early-figure", 1.0
    for place in _edges(line):
        left = sung[place - 1] if place else None
        right = sung[place + 1] if place + 1 < len(sung) else None
        for name in centre_terms(left, sung[place], right):
            yield place, name, 1.0
    run, last = 0, None
    for place, here in enumerate(sung):
        run = 0 if here.notes > 1 else run + 1 if here.first == last else 1
        last = here.first if here.notes == 1 else None
        if run > FLAT_RUN:
            yield place, "flat", 1.0
    height, run = NO_HEIGHT, 0
    for place, here in enumerate(sung):
        if here.strong:
            height, run, over = levelled([here.top], height, run)
            if over:
                yield place, "one-height", 1.0
    peak = line.frame.peak
    if peak is not None:
        yield peak, "peak-low", float(max(0, line.frame.usual[1] - sung[peak].top))
    yield from ((-1, name, amount) for name, amount in _whole(line))


def _whole(line: Line) -> Iterator[tuple[str, float]]:
    """What the phrase pays as a whole."""
    sung = line.sung
    stresses = [s for s in sung if s.strong][:-1]
    yield "figured", figured_share(len(stresses), sum(s.notes > 1 for s in stresses))
    mask = 0
    for piece in line.pieces:
        mask |= piece.mask
    for name in (scarce(len(sung), mask.bit_count()), *blemishes(sung, line.notes)):
        if name:
            yield name, 1.0


def account(line: Line, prices: Prices) -> tuple[Paid, ...]:
    """Go over a line and name every price.

    Parameters
    ----------
    line : Line
        The line.
    prices : mapping
        Price by name.

    Returns
    -------
    tuple of Paid
        By syllable. Those that happen to cost nothing are there as well.
    """
    paid = [
        Paid(place, name, amount, amount * (1.0 if name in OF_FORMULAS else prices[name]))
        for place, name, amount in _terms(line)
        if amount
    ]
    return tuple(sorted(paid, key=lambda p: (p.place, p.name)))


def sums(paid: Iterable[Paid]) -> tuple[tuple[str, float], ...]:
    """Add prices up by name; those that come to nothing are left out."""
    total: dict[str, float] = {}
    for one in paid:
        if one.price:
            total[one.name] = total.get(one.name, 0.0) + one.price
    return tuple(sorted(total.items()))
