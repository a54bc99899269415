"""How the signs of one cluster stand: stacked over, under and beside the base without touching.

Each sign is moved toward the base until its outline would come nearer than a small gap to what is
there already. The base keeps the height that the font gives it, so that all bases of a line stand
on one axis. Lengths are in 1/1000 of the size of the neumes, vertical axis upward.

References
----------
Places (kentema at the right, below or above; hypsile over the right or left end; vareia before;
signs of time nearest, then quality, then dots): common practice; the font has no anchors for them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import NamedTuple

from chantwright.engrave.neumes.model import Neume, Sign
from chantwright.engrave.neumes.outlines import COLUMN, outline
from chantwright.engrave.neumes.tables import Tables

__all__ = ["AXIS", "Cluster", "Glyph", "Piece", "arrange", "cluster", "glyphs"]

AXIS = 367
"""Height of the middle of an oligon."""
_GAP = 38
_JOINED = 14
_SIDE = 46
_CLEAR = 2
"""Columns that are kept clear on each side of a stacked sign."""
_OVERHANG_RIGHT, _OVERHANG_LEFT = 150, 120
_ORDER = {"quantity": 0, "rest": 0, "slow": 1, "part": 1, "quality": 2, "time": 3, "accent": 4}
_PHTHORA = 5
_DOT, _DOT_SIZE = "1D085", 0.6


class Glyph(NamedTuple):
    """A sign resolved to an outline."""

    code: str
    place: str
    order: int
    red: bool
    note: int
    second_dot: str = ""


class Piece(NamedTuple):
    """An outline in its place: left edge, lift above its own height, size, colour, note."""

    code: str
    x: int
    y: int
    size: float
    red: bool
    note: int

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top."""
        shape = outline(self.code)
        return (
            self.x,
            shape.bottom * self.size + self.y,
            self.x + shape.width * self.size,
            shape.top * self.size + self.y,
        )


@dataclass(frozen=True, slots=True)
class Cluster:
    """A cluster laid out, the left edge of its base at 0.

    Attributes
    ----------
    pieces : tuple of Piece
        Its outlines.
    heads : tuple of (float, float)
        Left edge and width of the sign that carries each note.
    left, right, bottom, top : float
        Ends of its ink.
    """

    pieces: tuple[Piece, ...]
    heads: tuple[tuple[float, float], ...]
    left: float
    right: float
    bottom: float
    top: float


def glyphs(neume: Neume, tables: Tables, phthora: str = "") -> tuple[Glyph, ...]:
    """Resolve the signs of a neume to outlines."""
    out = []
    later = len(neume.notes) > 1
    first_is_below = any(s == Sign("kentemata", "below") for s in neume.signs)
    for one in neume.signs:
        row = tables.rows["neume_sign"][one.name]
        side = one.place.split("_")[0]
        code = str(row.get(f"code_{side}", row["code"]))
        note = 0
        if later and one.name == "kentemata":
            note = 0 if first_is_below else 1
        elif (later and first_is_below) or (later and one.name == "elaphron"):
            note = 1
        order = int(row.get("stack", _ORDER[str(row["kind"])]))
        red = bool(row.get("red", False))
        out.append(Glyph(code, one.place, order, red, note, str(row.get("second_dot", ""))))
    if phthora:
        out.append(Glyph(phthora, "above", _PHTHORA, True, 0))
    return tuple(out)


class _Shape(NamedTuple):
    """Lowest and highest ink in columns."""

    low: tuple[int, ...]
    high: tuple[int, ...]


class _Space:
    """The ink there is so far, by columns."""

    def __init__(self) -> None:
        self.low: dict[int, float] = {}
        self.high: dict[int, float] = {}
        self.pieces: list[Piece] = []

    def add(self, glyph: Glyph, x: float, y: float, size: float = 1.0) -> Piece:
        x = round(x / COLUMN) * COLUMN
        piece = Piece(glyph.code, x, math.ceil(y), size, glyph.red, glyph.note)
        shape = outline(glyph.code)
        for k, (low, high) in enumerate(zip(shape.low, shape.high, strict=True)):
            column = x // COLUMN + int(k * size)
            under, over = low * size + piece.y, high * size + piece.y
            self.low[column] = min(self.low.get(column, math.inf), under)
            self.high[column] = max(self.high.get(column, -math.inf), over)
        self.pieces.append(piece)
        return piece

    def over(self, shape: _Shape, x: float, floor: float) -> float:
        """Lift that sets a shape just over the ink."""
        at = round(x / COLUMN)
        lift = floor - min(shape.low)
        for k, low in enumerate(shape.low):
            for near in range(-_CLEAR, _CLEAR + 1):
                ink = self.high.get(at + k + near)
                if ink is not None:
                    lift = max(lift, ink + _GAP - low)
        return lift

    def under(self, shape: _Shape, x: float, roof: float) -> float:
        """Lift (downward) that sets a shape just under the ink."""
        at = round(x / COLUMN)
        lift = roof - max(shape.high)
        for k, high in enumerate(shape.high):
            for near in range(-_CLEAR, _CLEAR + 1):
                ink = self.low.get(at + k + near)
                if ink is not None:
                    lift = min(lift, ink - _GAP - high)
        return lift

    def before(self, code: str, limit: float) -> float:
        """Left edge that sets an outline just before the ink at its own height."""
        shape = outline(code)
        edge = min(self.low)
        x = edge - len(shape.low) - _CLEAR - 3
        while (x + 1) * COLUMN <= limit and not self._meets(shape.low, shape.high, x + 1):
            x += 1
        return x * COLUMN

    def _meets(self, lows: Sequence[int], highs: Sequence[int], x: int) -> bool:
        for k, (low, high) in enumerate(zip(lows, highs, strict=True)):
            for near in range(-_CLEAR - 1, _CLEAR + 2):
                ink = self.low.get(x + k + near)
                if ink is not None:
                    top = self.high[x + k + near]
                    if low - _GAP < top and high + _GAP > ink:
                        return True
        return False


def _across(glyph: Glyph, base: Piece, row: Sequence[Piece], twice: bool) -> float:
    """Left edge of a sign over or under the base."""
    width = outline(glyph.code).width
    left, _, right, _ = base.box
    if glyph.place == "above_right":
        if twice:  # side by side, both over the base
            return (left + right) / 2 - width - _GAP / 2 + (width + _GAP if row else 0)
        return right + _OVERHANG_RIGHT - width
    if glyph.place == "above_left":
        return left - _OVERHANG_LEFT
    if row and glyph.order == 0 and glyph.place == "above":
        beside = row[-1]
        if beside.x < left:  # a hypsile over the left end leaves room at the right
            return beside.box[2] + _GAP
    return (left + right - width) / 2


def _stack(space: _Space, base: Piece, found: Sequence[Glyph]) -> None:
    above = sorted((g for g in found if g.place.startswith("above")), key=lambda g: g.order)
    twice = sum(g.place == "above_right" for g in above) > 1
    row: list[Piece] = []
    for glyph in above:
        x = _across(glyph, base, row, twice)
        floor = AXIS + 30.0
        if glyph.order > 0:  # later signs stand over the whole base
            floor = max(floor, base.box[3] + _GAP)
        piece = _set(space, glyph, x, partial(space.over, floor=floor))
        if glyph.place != "above":
            row.append(piece)
    roof = base.box[1] - _GAP
    for glyph in sorted((g for g in found if g.place == "below"), key=lambda g: g.order):
        x = _across(glyph, base, (), False)
        _set(space, glyph, x, partial(space.under, roof=roof))


def _set(space: _Space, glyph: Glyph, x: float, lift: Callable[[_Shape, float], float]) -> Piece:
    """Set a sign, with its second dot where it has one."""
    shape = outline(glyph.code)
    own = _Shape(shape.low, shape.high)
    if not glyph.second_dot:
        return space.add(glyph, x, lift(own, x))
    dot = outline(_DOT)
    middle = shape.low[0 if glyph.second_dot == "left" else -1]
    middle = (middle + shape.high[0 if glyph.second_dot == "left" else -1]) // 2
    raised = middle - (dot.bottom + dot.top) / 2 * _DOT_SIZE
    reach = 2 + math.ceil(dot.width * _DOT_SIZE / COLUMN) + 1
    low = math.floor(dot.bottom * _DOT_SIZE + raised)
    high = math.ceil(dot.top * _DOT_SIZE + raised)
    lows, highs = (low,) * reach, (high,) * reach
    x = round(x / COLUMN) * COLUMN
    if glyph.second_dot == "left":
        both, start = _Shape(lows + own.low, highs + own.high), x - reach * COLUMN
        at = start + COLUMN
    else:
        both, start = _Shape(own.low + lows, own.high + highs), x
        at = x + (len(own.low) + 2) * COLUMN
    y = lift(both, start)
    piece = space.add(glyph, x, y)
    space.add(glyph._replace(code=_DOT), at, math.ceil(y) + raised, _DOT_SIZE)
    return piece


@lru_cache(maxsize=4096)
def arrange(found: tuple[Glyph, ...]) -> Cluster:
    """Lay out a cluster."""
    space = _Space()
    base_glyph = next(g for g in found if g.place == "base")
    base = space.add(base_glyph, 0, 0)
    for glyph in found:
        if glyph.place == "right":
            x = max(p.box[2] for p in space.pieces) + _SIDE
            space.add(glyph, math.ceil(x / COLUMN) * COLUMN, 0)
        elif glyph.place == "joined":
            x = base.box[0] - outline(glyph.code).width - _JOINED
            space.add(glyph, math.floor(x / COLUMN) * COLUMN, 0)
    _stack(space, base, found)
    for glyph in found:
        if glyph.place == "before":
            space.add(
                glyph, space.before(glyph.code, base.box[0] - 0.45 * outline(glyph.code).width), 0
            )
    boxes = [p.box for p in space.pieces]
    heads = []
    for note in range(max(g.note for g in found) + 1):
        mine = next(p for p in space.pieces if p.note == note)
        heads.append((mine.box[0], mine.box[2] - mine.box[0]))
    return Cluster(
        tuple(space.pieces),
        tuple(heads),
        min(b[0] for b in boxes),
        max(b[2] for b in boxes),
        min(b[1] for b in boxes),
        max(b[3] for b in boxes),
    )


def cluster(neume: Neume, tables: Tables, phthora: str = "") -> Cluster:
    """Lay out a neume, with a scale sign over it where the scale changes.

    Parameters
    ----------
    neume : Neume
        Its signs.
    tables : Tables
        Codes of the signs.
    phthora : str
        Code of the scale sign, or empty.
    """
    return arrange(glyphs(neume, tables, phthora))
