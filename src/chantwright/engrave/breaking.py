"""Where lines end: phrases kept whole when they fit, lines evenly full.

The line ends are the cheapest path over all places where a line may end (the optimum-fit method).
Costs have no unit; they were weighed by eye on printed pages.

References
----------
D. E. Knuth and M. F. Plass, Breaking Paragraphs into Lines, Software: Practice and Experience 11
(1981): the optimum-fit method.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

__all__ = ["FULL", "MAX_STRETCH", "Line", "Place", "break_lines"]

MAX_STRETCH = 1.55
"""A line is not widened beyond this; a shorter one stays ragged."""
FULL = 1.18
"""The last line of a verse is filled when that widens it by less than this."""

_LINE = 2.0
_IN_PHRASE = 14.0
_NEAR_EDGE = 2.5
_IN_WORD = 40.0
_IN_SYLLABLE = 80.0
_RAGGED = 2.5
_LONE = 4.0
_TOO_WIDE = 10000.0


@dataclass(frozen=True, slots=True)
class Place:
    """A note before which a line may begin.

    Attributes
    ----------
    index : int
        Number of the note.
    x : float
        Where it stands when everything is on one endless line.
    kind : str
        phrase, word, syllable or note: what begins there.
    edge : int
        Words from here to the nearer end of the phrase (0 at a phrase).
    must : bool
        A line has to begin here.
    """

    index: int
    x: float
    kind: str
    edge: int
    must: bool


@dataclass(frozen=True, slots=True)
class Line:
    """Notes `start` to `stop` (without it), their natural width and the width to give them."""

    start: int
    stop: int
    natural: float
    width: float


def _break_cost(place: Place) -> float:
    if place.kind == "phrase":
        return 0.0
    if place.kind == "word":
        return _IN_PHRASE + (_NEAR_EDGE if place.edge < 2 else 0.0)
    return _IN_WORD if place.kind == "syllable" else _IN_SYLLABLE


def _line_cost(natural: float, width: float, *, last: bool) -> float:
    if natural > width:
        return _LINE + _TOO_WIDE * (natural / width)
    stretch = width / natural
    if last:
        return _LINE + (_LONE if natural < 0.36 * width else 0.0)
    if stretch > MAX_STRETCH:
        return _LINE + _RAGGED + 2.0 * min(3.0, stretch - MAX_STRETCH)
    return _LINE + 6.0 * (stretch - 1) ** 2


def break_lines(places: Sequence[Place], end: float, head: float, width: float) -> list[Line]:
    """Choose the lines.

    Parameters
    ----------
    places : sequence of Place
        In order, the first at note 0; after them the end of the music.
    end : float
        Right end of the endless line.
    head : float
        Room that the clef and signature take at the start of each line.
    width : float
        Longest line. All in the same unit.

    Returns
    -------
    list of Line
        A part that does not fit and cannot be broken keeps its natural width.
    """
    count = len(places)
    xs = [p.x for p in places] + [end]
    last_index = places[-1].index + 1
    best = [math.inf] * (count + 1)
    came = [0] * (count + 1)
    best[0] = 0.0
    for j in range(1, count + 1):
        closing = j == count or places[j].must
        for i in range(j - 1, -1, -1):
            natural = head + xs[j] - xs[i]
            cost = best[i] + _line_cost(natural, width, last=closing)
            if j < count and not places[j].must:
                cost += _break_cost(places[j])
            if cost < best[j]:
                best[j], came[j] = cost, i
            if places[i].must or natural > 2 * width:
                break
    cuts = [count]
    while cuts[-1]:
        cuts.append(came[cuts[-1]])
    cuts.reverse()
    out = []
    for i, j in pairwise(cuts):
        natural = head + xs[j] - xs[i]
        closing = j == count or places[j].must
        stretch = width / natural
        if stretch <= 1:
            given = natural
        elif closing:
            # A last line is filled only when it is nearly full already.
            given = width if stretch < FULL else natural
        else:
            given = width if stretch <= MAX_STRETCH else natural
        stop = places[j].index if j < count else -1
        out.append(Line(places[i].index, stop, natural, given))
    if out:
        tail = out[-1]
        out[-1] = Line(tail.start, max(last_index, tail.start + 1), tail.natural, tail.width)
    return out
