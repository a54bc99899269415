"""Outlines of the signs, taken from a free font.

Lengths are in 1/1000 of the font's size, with the vertical axis upward; the path's own axis points
downward, as in SVG. The left edge of every outline is 0. A profile gives the lowest and highest ink
in columns of ten units, so that signs can be set close without touching.

References
----------
Noto Music, SIL Open Font License 1.1; made by ``tools/neume_outlines.py``.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

__all__ = ["COLUMN", "Outline", "has_outline", "outline"]

COLUMN = 10


@dataclass(frozen=True, slots=True)
class Outline:
    """One glyph.

    Attributes
    ----------
    path : str
        SVG path, vertical axis downward.
    width, bottom, top : int
        Its box, vertical axis upward.
    low, high : tuple of int
        Lowest and highest ink in each column.
    """

    path: str
    width: int
    bottom: int
    top: int
    low: tuple[int, ...]
    high: tuple[int, ...]


@lru_cache(maxsize=1)
def _all() -> dict[str, Outline]:
    text = (resources.files("chantwright.engrave.neumes") / "data" / "outlines.json").read_text(
        encoding="utf-8"
    )
    out = {}
    for code, glyph in json.loads(text)["glyphs"].items():
        _, bottom, width, top = glyph["box"]
        out[code] = Outline(
            glyph["d"], width, bottom, top, tuple(glyph["low"]), tuple(glyph["high"])
        )
    return out


def outline(code: str) -> Outline:
    """Outline of a sign by its code, such as ``1D047``.

    Raises
    ------
    KeyError
        If the outline is not among those shipped.
    """
    return _all()[code]


def has_outline(code: str) -> bool:
    """Whether there is an outline for a code."""
    return code in _all()
