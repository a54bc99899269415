"""The scale of a tone as a ladder, each step drawn to its true size.

Rungs stand as far apart as the steps are wide, so that a singer sees why vou is not a piano's e.
Names stand on both sides (pa vou ga, re mi fa), the moria of each step between the rungs, and on
the right edge grey ticks where a keyboard tuned to the base would have its keys.

References
----------
72 moria to the octave (Patriarchal committee of 1881); a keyboard's semitone is 6 of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from html import escape

from chantwright.engrave.options import FONT
from chantwright.engrave.spelling import moria_text
from chantwright.tones import Branch, Tones
from chantwright.tuning import Scale, degree_name

__all__ = ["Ladder", "ladder"]

_LEFT, _RIGHT = 13.0, 56.0
_RAILS = 20.0
_HEAD = 5.0
_RED, _GREY, _INK = "#a3121f", "#8a857c", "#000000"


@dataclass(frozen=True, slots=True)
class Ladder:
    """A drawn ladder.

    Attributes
    ----------
    svg : str
        The drawing; lengths in it are millimetres.
    width_mm, height_mm : float
        Its size.
    words : str
        The same in words, for those who do not see it.
    mm_per_morion : float
        Its measure.
    """

    svg: str
    width_mm: float
    height_mm: float
    words: str
    mm_per_morion: float


def _name(degree: int, naming: str) -> str:
    name = degree_name(degree, naming)
    return (name[:1].upper() + name[1:]).replace("_", "ˌ").replace("'", "ʹ")


def _text(x: float, y: float, size: float, text: str, more: str = "") -> str:
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" font-family="{FONT}"{more}>'
        f"{escape(text)}</text>"
    )


def _line(x1: float, y1: float, x2: float, y2: float, width: float, colour: str) -> str:
    return (
        f'<line x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}" '
        f'stroke="{colour}" stroke-width="{width:g}"/>'
    )


def _roles(branch: Branch, degree: int) -> str:
    """What the melody does on a degree."""
    said = []
    if degree == branch.base:
        said.append("base")
    if degree in branch.dominating and degree != branch.base:
        said.append("often dwelt on")
    if degree in branch.final:
        said.append("the end")
    elif degree in branch.complete:
        said.append("full close")
    elif degree in branch.incomplete:
        said.append("half close")
    return ", ".join(said)


def _size(moria: Fraction) -> str:
    return moria_text(moria).lstrip("+")


def ladder(
    branch: Branch,
    tones: Tones,
    *,
    mm_per_morion: float = 1.6,
    black: bool = False,
    sung: Sequence[int] = (),
) -> Ladder:
    """Draw the ladder of a branch over its usual compass.

    Parameters
    ----------
    branch : Branch
        Base, closes, compass and attractions.
    tones : Tones
        Scales and attractions.
    mm_per_morion : float
        Height of one morion on paper.
    black : bool
        Black only.
    sung : sequence of int
        Degrees of a hymn that must be on it.
    """
    scale: Scale = tones.scales[branch.scale]
    red = _INK if black else _RED
    low, high = branch.usual
    low, high = min(low, branch.base, *sung), max(high, *sung) if sung else high
    degrees = range(low, high + 1)
    top, bottom = scale.moria(high), scale.moria(low)

    def y(moria: Fraction | float) -> float:
        return _HEAD + (float(top) - float(moria)) * mm_per_morion

    height = y(bottom) + _HEAD
    x1, x2 = _LEFT, _LEFT + _RAILS
    width = x2 + _RIGHT
    parts = [_line(x, y(top), x, y(bottom), 0.5, _INK) for x in (x1, x2)]
    base = scale.moria(branch.base)
    for key in range(math.ceil((bottom - base) / 6), math.floor((top - base) / 6) + 1):
        at = y(base + 6 * key)
        parts.append(_line(x2 + 1.2, at, x2 + 3.2, at, 0.25, _GREY))
    said = []
    for degree in degrees:
        place = scale.moria(degree)
        heavy = degree == branch.base
        parts.append(_line(x1, y(place), x2, y(place), 1.1 if heavy else 0.5, _INK))
        weight = ' font-weight="bold"' if heavy else ""
        names = _name(degree, "english"), _name(degree, "western")
        parts.append(_text(x1 - 2, y(place) + 1.5, 5, names[0], f' text-anchor="end"{weight}'))
        parts.append(_text(x2 + 4.4, y(place) + 1.4, 4, names[1], f' fill="{_INK}"'))
        roles = _roles(branch, degree)
        if roles:
            parts.append(_text(x2 + 14, y(place) + 1.3, 3.6, roles, f' fill="{red}"'))
        if degree in branch.dominating:
            parts.append(
                f'<circle cx="{(x1 + x2) / 2:.2f}" cy="{y(place):.2f}" r="1.5" fill="{red}"/>'
            )
        said.append(names[0] + (f" ({roles})" if roles else ""))
        if degree < high:
            step = scale.moria(degree + 1) - place
            middle = (y(place) + y(place + step)) / 2
            parts.append(
                _text((x1 + x2) / 2, middle + 1.2, 3.6, _size(step), ' text-anchor="middle"')
            )
            said.append(f"{_size(step)} moria")
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}mm" height="{height:.2f}mm" '
        f'viewBox="0 0 {width:.2f} {height:.2f}">{"".join(parts)}</svg>'
    )
    words = "Ladder from low to high: " + ", ".join(said) + "."
    return Ladder(svg, width, height, words, mm_per_morion)
