"""The picture of a pitch choice: every singer's comfortable range, and where the hymn lies in it.

One row a singer on one axis of pitch. The pale bar is the comfortable range, the dark marks are the
hymn's notes at the chosen base, as thick as they are long in time; what falls outside is marked in
red and said in words as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from chantwright.engrave import pitch_name
from chantwright.parish.pitch import Fit, span_of
from chantwright.parish.singers import Singer
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = ["comfort_picture"]

_LEFT, _RIGHT, _TOP, _ROW = 180.0, 170.0, 30.0, 34.0
_SEMITONE = 15.0
_PALE, _DARK, _RED, _INK, _RULE = "#e6dcc8", "#5d5344", "#a3121f", "#22201c", "#cfc5b2"


def _cents(hz: float) -> float:
    return 1200 * math.log2(hz / 440.0)


def comfort_picture(
    hymn: Hymn, tones: Tones, singers: Sequence[Singer], fits: Sequence[Fit]
) -> str:
    """Draw who sings the hymn in comfort.

    Parameters
    ----------
    hymn : Hymn
        With its base.
    tones : Tones
        For its scale.
    singers : sequence of Singer
        Their ranges.
    fits : sequence of Fit
        One for each singer, from `chantwright.parish.pitch.fits_at`.

    Returns
    -------
    str
        SVG; empty when the hymn has no base or nobody sings.
    """
    if hymn.base is None or hymn.branch is None or not singers:
        return ""
    branch = tones.branch(hymn.branch)
    notes, beats = span_of(hymn, branch, tones.scales[branch.scale])
    base, whole = _cents(hymn.base.hz), float(beats.sum())
    ends = [c for s in singers for c in (_cents(s.low_hz), _cents(s.high_hz))]
    ends += [base + 1200 * f.octave + float(n) for f in fits for n in (notes[0], notes[-1])]
    low = 100 * math.floor(min(ends) / 100) - 100
    high = 100 * math.ceil(max(ends) / 100) + 100
    width = _LEFT + (high - low) / 100 * _SEMITONE + _RIGHT
    height = _TOP + _ROW * len(singers) + 30

    def x(cents: float) -> float:
        return _LEFT + (cents - low) / 100 * _SEMITONE

    parts = []
    for c in range(int(1200 * math.ceil(low / 1200)), int(high) + 1, 300):
        name, _ = pitch_name(440.0 * 2 ** (c / 1200))
        parts.append(
            f'<line x1="{x(c):.1f}" y1="{_TOP - 6}" x2="{x(c):.1f}" y2="{height - 24}" '
            f'stroke="{_RULE}"/><text x="{x(c):.1f}" y="{height - 6}" font-size="16" '
            f'text-anchor="middle" fill="{_INK}">{escape(name)}</text>'
        )
    for row, (singer, fit) in enumerate(zip(singers, fits, strict=True)):
        y = _TOP + _ROW * row
        a, b = _cents(singer.low_hz), _cents(singer.high_hz)
        parts.append(
            f'<text x="{_LEFT - 10}" y="{y + 15}" font-size="16" text-anchor="end" '
            f'fill="{_INK}">{escape(singer.name[:20])}</text>'
            f'<rect x="{x(a):.1f}" y="{y + 2}" width="{x(b) - x(a):.1f}" height="18" '
            f'fill="{_PALE}"/>'
        )
        for note, time in zip(notes, beats, strict=True):
            at = base + 1200 * fit.octave + float(note)
            out = at < a - 0.5 or at > b + 0.5
            size = 3 + 15 * math.sqrt(float(time) / whole)
            parts.append(
                f'<rect x="{x(at) - 2:.1f}" y="{y + 11 - size / 2:.1f}" width="4" '
                f'height="{size:.1f}" fill="{_RED if out else _DARK}"/>'
            )
        said = f"{fit.comfortable:.0%}" + (", octave up" if fit.octave else "")
        colour = _INK if fit.comfortable > 0.995 else _RED
        parts.append(
            f'<text x="{x(high) + 8:.1f}" y="{y + 15}" font-size="16" fill="{colour}">{said}</text>'
        )
    told = "; ".join(f"{f.name} {f.comfortable:.0%}" for f in fits)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img" font-family="Libertinus Serif, '
        f'Georgia, serif"><title>Part of the hymn in comfort: {escape(told)}</title>'
        f"{''.join(parts)}</svg>"
    )
