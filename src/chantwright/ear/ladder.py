"""The picture of a take: the sung line over the hymn's ladder of notes, to true size in moria.

One drawing a phrase. Across runs time, upward runs pitch; one morion is the same height
everywhere, so a step of 8 moria looks smaller than one of 12, as it is. A box is a written note
(as high as the pitches that are right there), the line is what was sung, on the singer's own base.
What is off is marked by a number and a thicker outline, never by colour alone.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np

from chantwright.ear.alignment import Heard
from chantwright.ear.degrees import off_by
from chantwright.ear.events import is_wrong
from chantwright.ear.expected import to_moria
from chantwright.ear.verdict import Verdict
from chantwright.tuning import degree_name

__all__ = ["Drawing", "draw"]

_Scale = Callable[[float], float]

_SECOND = 88.0  # units across
_MORION = 3.4  # units upward
_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 14.0, 20.0, 34.0
_LEAST_BOX = 3.0
_SPARE = 7.0  # moria above and below the notes
_THIN = 2  # contour frames a point of the line

_STYLE = (
    "text{font-family:Georgia,'Times New Roman',serif;fill:#222}"
    ".rung{stroke:#c9c2b4;stroke-width:1}.home{stroke:#8a7f6a;stroke-width:1.6}"
    ".name{font-size:13px;text-anchor:end}.word{font-size:14px}.mark{font-size:12px;"
    "text-anchor:middle;font-weight:bold}.box{fill:#e9e2d2;stroke:#a79c84;stroke-width:1}"
    ".off{fill:#f6dfc9;stroke:#9a4a12;stroke-width:2}"
    ".wrong{fill:none;stroke:#9a1b1b;stroke-width:2;stroke-dasharray:5 3}"
    ".sung{fill:none;stroke:#1d4f7c;stroke-width:2;stroke-linejoin:round;stroke-linecap:round}"
    ".end{stroke:#c9c2b4;stroke-dasharray:2 4}"
)


@dataclass(frozen=True, slots=True)
class Drawing:
    """One phrase as sung: its number, the words, and the picture with its size in units."""

    phrase: int
    title: str
    svg: str
    width: float
    height: float


def _groups(heard: tuple[Heard, ...]) -> list[list[Heard]]:
    """Runs of notes of one phrase, a restart beginning a new one."""
    out: list[list[Heard]] = []
    for one in heard:
        new = not out or out[-1][-1].asked.phrase != one.asked.phrase
        again = bool(out) and one.index < out[-1][-1].index - 3
        if new or again:
            out.append([])
        out[-1].append(one)
    return out


def draw(verdict: Verdict) -> tuple[Drawing, ...]:
    """Draw a take, phrase by phrase.

    Parameters
    ----------
    verdict : Verdict
        Of a take that could be judged; nothing is drawn otherwise.
    """
    if not verdict.counted or verdict.alignment.fit is None:
        return ()
    return tuple(_phrase(verdict, g) for g in _groups(verdict.alignment.heard))


def _phrase(verdict: Verdict, group: list[Heard]) -> Drawing:
    expected = verdict.alignment.expected
    number = group[0].asked.phrase
    scale = expected.scales[number]
    degrees = {h.asked.degree for h in group}
    places = [h.asked.moria for h in group]
    sung = [h.asked.moria + h.deviation for h in group if np.isfinite(h.deviation)]
    low = min([*places, *(h.asked.low for h in group), *sung]) - _SPARE
    high = max([*places, *(h.asked.high for h in group), *sung]) + _SPARE
    begin, end = group[0].start - 0.1, group[-1].end + 0.1
    width = _LEFT + (end - begin) * _SECOND + _RIGHT
    height = _TOP + (high - low) * _MORION + _BOTTOM

    def across(seconds: float) -> float:
        return round(_LEFT + (seconds - begin) * _SECOND, 1)

    def up(moria: float) -> float:
        return round(_TOP + (high - moria) * _MORION, 1)

    words = " ".join(expected.hymn.phrases[number].words.split())
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img">',
        f"<title>Phrase {number + 1}: {escape(words)}</title><style>{_STYLE}</style>",
    ]
    for degree in range(min(degrees) - 3, max(degrees) + 4):
        place = float(scale.moria(degree))
        if not low < place < high:
            continue
        kind = "rung home" if degree == expected.branch.base else "rung"
        parts.append(
            f'<line class="{kind}" x1="{_LEFT - 4:.0f}" x2="{width - 4:.0f}" '
            f'y1="{up(place)}" y2="{up(place)}"/>'
            f'<text class="name" x="{_LEFT - 9:.0f}" y="{up(place) + 4:.1f}">'
            f"{escape(degree_name(degree))}</text>"
        )
    parts += [_note(verdict, one, across, up) for one in group]
    parts += _line(verdict, begin, end, across, up, (low, high))
    parts += [
        f'<text class="word" x="{across(h.start)}" y="{height - 10:.1f}">'
        f"{escape(h.asked.text)}</text>"
        for h in group
        if h.asked.first
    ]
    parts.append("</svg>")
    return Drawing(number, words, "".join(parts), round(width), round(height))


def _note(verdict: Verdict, one: Heard, across: _Scale, up: _Scale) -> str:
    expected = verdict.alignment.expected
    wrong = is_wrong(one, expected)
    amount = off_by(one) if np.isfinite(one.deviation) else 0.0
    off = not wrong and abs(amount) >= verdict.limit and one.trust >= 0.5
    top, bottom = up(one.asked.high), up(one.asked.low)
    if bottom - top < _LEAST_BOX * 2:
        middle = (top + bottom) / 2
        top, bottom = middle - _LEAST_BOX, middle + _LEAST_BOX
    x, wide = across(one.start), max(across(one.end) - across(one.start) - 1.0, 2.0)
    kind = "wrong" if wrong else "off" if off else "box"
    note = (
        f'<rect id="{escape(one.asked.id)}-{round(one.start * 100)}" class="{kind}" x="{x}" '
        f'y="{top:.1f}" width="{wide:.1f}" height="{bottom - top:.1f}" rx="2"/>'
    )
    if wrong or off:
        size = one.deviation if wrong else amount
        above = up(max(one.asked.high, one.asked.moria + one.deviation)) - 6
        note += (
            f'<text class="mark" x="{x + wide / 2:.1f}" y="{max(above, 12):.1f}">{size:+.0f}</text>'
        )
    return note


def _line(
    verdict: Verdict,
    begin: float,
    end: float,
    across: _Scale,
    up: _Scale,
    limits: tuple[float, float],
) -> list[str]:
    assert verdict.alignment.fit is not None
    contour = verdict.contour
    times = contour.times
    inside = np.flatnonzero((times >= begin) & (times <= end))
    moria = to_moria(contour.f0[inside]) - verdict.alignment.fit.line.at(times[inside])
    shown = np.isfinite(moria) & (moria > limits[0]) & (moria < limits[1])
    out: list[str] = []
    run: list[str] = []
    for k in range(0, len(inside), _THIN):
        if shown[k]:
            run.append(f"{across(float(times[inside[k]]))},{up(float(moria[k]))}")
        if run and (not shown[k] or k + _THIN >= len(inside)):
            if len(run) > 1:
                out.append(f'<polyline class="sung" points="{" ".join(run)}"/>')
            run = []
    return out
