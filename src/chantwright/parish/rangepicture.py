"""The picture of a range that was sung: the line of the voice, and where it is comfortable.

Time runs to the right and pitch upwards, one rule for each C and G. The pale band is the
comfortable range that was found; the two broken lines are the outermost notes that were held. It
is small enough for a phone held upright, with letters of 16 points.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

import numpy as np

from chantwright.ear.compass import Compass
from chantwright.ear.contour import Contour
from chantwright.engrave import pitch_name

__all__ = ["pitch_text", "range_picture"]

_WIDTH, _HEIGHT, _LEFT, _EDGE = 320.0, 250.0, 44.0, 10.0
_BAND, _LINE, _INK, _RULE, _RED = "#e6dcc8", "#3d362b", "#22201c", "#d5cbb8", "#97271a"
_MARGIN = 250.0  # cents above and below what was held
_POINTS = 1500  # most points of the line that are drawn
_RULES = (-900, -200)  # C and G, cents from an A


def _cents(hz: float) -> float:
    return 1200 * math.log2(hz / 440.0)


def pitch_text(hz: float) -> str:
    """Nearest key of the keyboard, and the cents that remain where they can be heard."""
    name, cents = pitch_name(hz)
    return f"{name} {cents:+d} cents" if abs(cents) >= 10 else name


def range_picture(contour: Contour, compass: Compass) -> str:
    """Draw a range test.

    Parameters
    ----------
    contour : Contour
        What was sung.
    compass : Compass
        What was found in it.

    Returns
    -------
    str
        SVG, 320 points wide.
    """
    low = _cents(compass.lowest_hz) - _MARGIN
    high = _cents(compass.highest_hz) + _MARGIN
    times, voiced = contour.times, contour.voiced
    first, last = float(times[voiced][0]), float(times[voiced][-1])
    room = max(last - first, 0.1)

    def x(at: float) -> float:
        return _LEFT + (at - first) / room * (_WIDTH - _LEFT - _EDGE)

    def y(cents: float) -> float:
        return _HEIGHT - _EDGE - (cents - low) / (high - low) * (_HEIGHT - 2 * _EDGE)

    top, bottom = y(_cents(compass.high_hz)), y(_cents(compass.low_hz))
    parts = [
        f'<rect x="{_LEFT:.1f}" y="{top:.1f}" width="{_WIDTH - _LEFT - _EDGE:.1f}" '
        f'height="{bottom - top:.1f}" fill="{_BAND}"/>'
    ]
    for octave in range(math.floor(low / 1200), math.ceil(high / 1200) + 1):
        for step in _RULES:
            cents = 1200 * octave + step
            if not low + 40 < cents < high - 40:
                continue
            name, _ = pitch_name(440.0 * 2 ** (cents / 1200))
            parts.append(
                f'<line x1="{_LEFT}" y1="{y(cents):.1f}" x2="{_WIDTH - _EDGE}" '
                f'y2="{y(cents):.1f}" stroke="{_RULE}"/><text x="{_LEFT - 6}" '
                f'y="{y(cents) + 5:.1f}" font-size="16" text-anchor="end" fill="{_INK}">'
                f"{escape(name)}</text>"
            )
    for hz in (compass.lowest_hz, compass.highest_hz):
        parts.append(
            f'<line x1="{_LEFT}" y1="{y(_cents(hz)):.1f}" x2="{_WIDTH - _EDGE}" '
            f'y2="{y(_cents(hz)):.1f}" stroke="{_RED}" stroke-dasharray="5 4"/>'
        )
    parts.append(
        f'<path d="{_path(contour, x, y, low, high)}" fill="none" stroke="{_LINE}" '
        'stroke-width="2" stroke-linejoin="round"/>'
    )
    told = (
        f"Held from {pitch_text(compass.lowest_hz)} to {pitch_text(compass.highest_hz)}; "
        f"comfortable from {pitch_text(compass.low_hz)} to {pitch_text(compass.high_hz)}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:.0f} {_HEIGHT:.0f}" '
        f'width="{_WIDTH:.0f}" height="{_HEIGHT:.0f}" role="img" font-family="Libertinus Serif, '
        f'Georgia, serif"><title>{escape(told)}</title>{"".join(parts)}</svg>'
    )


def _path(
    contour: Contour,
    x: Callable[[float], float],
    y: Callable[[float], float],
    low: float,
    high: float,
) -> str:
    """The line of the voice, broken where nothing was sung or it left the picture."""
    cents = 1200 * np.log2(contour.f0 / 440.0)
    inside = contour.voiced & (cents > low) & (cents < high)
    step = max(1, int(inside.sum()) // _POINTS)
    out: list[str] = []
    pen = False
    for i in range(0, cents.size, step):
        if not inside[i]:
            pen = False
            continue
        out.append(
            f"{'L' if pen else 'M'}{x(float(contour.times[i])):.1f} {y(float(cents[i])):.1f}"
        )
        pen = True
    return "".join(out)
