"""Paths through a phrase while they are searched: the few cheapest into each place.

A path is kept with the piece that would come after it, and only grown when it is taken up, since
most are never.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable
from typing import NamedTuple

from chantwright.setting.blemish import blemishes
from chantwright.setting.laying import Entry
from chantwright.setting.line import Frame, Line, Piece, Prices, Sung

__all__ = ["PER_CADENCE", "Best", "Path", "chosen"]

PER_CADENCE = 6
"""Lines kept for each cadence formula."""
_LINES = 48
"""Lines kept for each kind of cadence."""


class Path(NamedTuple):
    """Pieces laid so far, what they cost, and what the next join needs to know."""

    cost: float
    before: Sung | None
    last: Sung
    tail: int
    run: int
    pieces: tuple[Piece, ...]
    figures: frozenset[str]
    strong: int
    figured: int
    ends_figured: bool
    mask: int
    height: int
    level: int


class Best:
    """The few cheapest paths into one place."""

    __slots__ = ("kept", "limit", "number", "paths")

    def __init__(self, kept: int) -> None:
        self.kept = kept
        self.paths: list[tuple[float, int, Path | None, Entry]] = []
        self.number = 0
        self.limit = float("inf")
        """A path that costs this or more need not be tried."""

    def add(self, cost: float, path: Path | None, entry: Entry) -> float:
        """Take a path and the piece after it in; of equals the earlier stays. Gives the limit."""
        self.number += 1
        insort(self.paths, (cost, self.number, path, entry))
        del self.paths[self.kept :]
        if len(self.paths) == self.kept:
            self.limit = self.paths[-1][0]
        return self.limit


def _finished(
    cost: float,
    ids: tuple[str, ...],
    pieces: tuple[Piece, ...],
    role: str,
    frame: Frame,
    prices: Prices,
) -> Line:
    """Write a line out, with what is paid for it as a whole."""
    sung = [s for p in pieces for s in p.sung]
    notes = [n for p in pieces for n in p.notes]
    cost += sum([prices[name] for name in blemishes(sung, notes)])
    return Line(role, pieces, cost, frame, ids)


def chosen(
    found: Iterable[tuple[float, int, Path | None, Entry]],
    role: str,
    frame: Frame,
    prices: Prices,
) -> tuple[Line, ...]:
    """Keep the best lines, a few for each cadence, no two with the same formulas."""
    ranked = []
    for cost, _, path, entry in found:
        pieces = (entry.piece,) if path is None else (*path.pieces, entry.piece)
        ranked.append((cost, tuple([p.formula.id for p in pieces]), pieces))
    ranked.sort(key=lambda f: f[:2])
    per: dict[str, int] = {}
    heads: set[tuple[str, ...]] = set()
    kept = []
    for cost, ids, pieces in ranked:
        head = (ids[-1], *ids[:2])
        if per.get(ids[-1], 0) >= PER_CADENCE or head in heads:
            continue
        per[ids[-1]] = per.get(ids[-1], 0) + 1
        heads.add(head)
        kept.append(_finished(cost, ids, pieces, role, frame, prices))
        if len(kept) == _LINES:
            break
    return tuple(sorted(kept, key=lambda f: (f.cost, f.ids)))
