"""The picture of a take: the hymn's words as a teacher would mark them with a pencil.

One drawing a phrase, in lines as on a page. Over each written note stands its name; under it runs a
dotted line, which is that note's own place, and the pencil's stroke lies as far above or below it
as the voice did. The finer line is the voice itself, and the thin rules are what the level allows.

Conventions
-----------
One morion is the same height everywhere. A note of the picture is as wide as it was long, or as
its words need. What is off has its size written under it, and a wrong note the name of the note
that was sung instead; so nothing is told by colour alone. A stroke further off than the strip is
high lies at its edge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np

from chantwright.ear.alignment import Heard
from chantwright.ear.degrees import off_by
from chantwright.ear.events import is_wrong, sung_degree
from chantwright.ear.expected import to_moria
from chantwright.ear.verdict import Verdict
from chantwright.tuning import degree_name

__all__ = ["MORION", "Drawing", "draw"]


MORION = 3.4
"""Units upward for one morion."""

_SECOND = 64.0  # units across
_LETTER = 8.4  # units across that a letter of the words may need
_NARROW, _MARKED = 26.0, 56.0  # units across for any note, and for one with something under it
_LINE = 740.0
_LEFT, _RIGHT = 12.0, 12.0
_NAMES, _WORDS, _STRIP = 18.0, 40.0, 52.0  # from the top of a line
_REACH = 8.0  # moria that the strip shows above and below the note's place
_MARK, _FOOT = 14.0, 8.0  # a line of what is written under the strip, and the space below all
_TRUSTED = 0.5
_THIN = 2  # contour frames a point of the line

_STYLE = (
    "text{font-family:Georgia,'Times New Roman',serif;fill:#22201c;font-size:16px}"
    ".name{font-size:13px;fill:#6a6256}.mark{font-size:13px;fill:#9d2a1c}"
    ".place{stroke:#22201c;stroke-width:1;stroke-dasharray:1 3}"
    ".allowed{stroke:#ddd4c3;stroke-width:1}"
    ".voice{fill:none;stroke:#8a8073;stroke-width:1;stroke-linejoin:round}"
    ".stroke{stroke:#22201c;stroke-width:3;stroke-linecap:round}"
    ".off{stroke:#9d2a1c;stroke-width:4}.wrong{stroke-dasharray:2 6}"
)


@dataclass(frozen=True, slots=True)
class Drawing:
    """One phrase as sung: its number, the words, and the picture with its size in units."""

    phrase: int
    title: str
    svg: str
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class _Cell:
    """One note in the picture: what is written under it, and how wide it is."""

    heard: Heard
    kind: str
    marks: tuple[str, ...]
    width: float


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


def _amount(moria: float) -> str:
    return f"{abs(moria):.0f} {'high' if moria > 0 else 'low'}"


def _cell(verdict: Verdict, one: Heard) -> _Cell:
    """Say what is marked at a note."""
    expected = verdict.alignment.expected
    known = bool(np.isfinite(one.deviation))
    amount = off_by(one) if known else 0.0
    kind = "stroke"
    marks: tuple[str, ...] = ()
    if is_wrong(one, expected):
        kind = "stroke off wrong"
        marks = (f"as {degree_name(sung_degree(one, expected)).capitalize()}",
                 _amount(one.deviation))  # fmt: skip
    elif abs(amount) >= verdict.limit and one.trust >= _TRUSTED:
        kind, marks = "stroke off", (_amount(amount),)
    width = max((one.end - one.start) * _SECOND, _MARKED if marks else _NARROW)
    if one.asked.first:
        width = max(width, len(one.asked.text) * _LETTER + 6)
    return _Cell(one, kind if known else "", marks, width)


def _lines(cells: list[_Cell]) -> list[list[_Cell]]:
    """Break a phrase into lines of about the same length, none inside a syllable."""
    total = sum(c.width for c in cells)
    fair = total / max(1.0, np.ceil(total / _LINE))
    out: list[list[_Cell]] = [[]]
    for cell in cells:
        full = sum(c.width for c in out[-1]) + cell.width / 2 > fair
        if out[-1] and full and cell.heard.asked.first and len(out) * fair < total - 1:
            out.append([])
        out[-1].append(cell)
    return out


def _phrase(verdict: Verdict, group: list[Heard]) -> Drawing:
    number = group[0].asked.phrase
    words = " ".join(verdict.alignment.expected.hymn.phrases[number].words.split())
    lines = _lines([_cell(verdict, one) for one in group])
    under = max(len(c.marks) for line in lines for c in line)
    high = _STRIP + 2 * _REACH * MORION + _FOOT + _MARK * under
    width = _LEFT + max(sum(c.width for c in line) for line in lines) + _RIGHT
    height = high * len(lines)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'width="{width:.0f}" height="{height:.0f}" role="img">',
        f"<title>Phrase {number + 1}: {escape(words)}</title><style>{_STYLE}</style>",
    ]
    for row, line in enumerate(lines):
        x = _LEFT
        parts += _voice(verdict, line, row * high)
        for cell in line:
            parts += _note(verdict, cell, x, row * high)
            x += cell.width
    parts.append("</svg>")
    return Drawing(number, words, "".join(parts), round(width), round(height))


def _place(top: float, moria: float) -> float:
    """Where so many moria above a note's own place lie."""
    shown = min(max(moria, -_REACH), _REACH)
    return top + _STRIP + (_REACH - shown) * MORION


def _note(verdict: Verdict, cell: _Cell, x: float, top: float) -> Iterator[str]:
    asked = cell.heard.asked
    name = degree_name(asked.degree).capitalize()
    yield f'<text class="name" x="{x:.1f}" y="{top + _NAMES:.1f}">{escape(name)}</text>'
    if asked.first:
        yield f'<text x="{x:.1f}" y="{top + _WORDS:.1f}">{escape(asked.text)}</text>'
    right = x + cell.width - 4
    for kind, moria in (
        ("allowed", asked.low - asked.moria - verdict.limit),
        ("place", 0.0),
        ("allowed", asked.high - asked.moria + verdict.limit),
    ):
        y = _place(top, moria)
        yield f'<line class="{kind}" x1="{x:.1f}" x2="{right:.1f}" y1="{y:.1f}" y2="{y:.1f}"/>'
    if cell.kind:
        y = _place(top, cell.heard.deviation)
        yield (
            f'<line id="{escape(asked.id)}-{round(cell.heard.start * 100)}" class="{cell.kind}" '
            f'x1="{x + 2:.1f}" x2="{right - 2:.1f}" y1="{y:.1f}" y2="{y:.1f}"/>'
        )
    for row, mark in enumerate(cell.marks):
        y = top + _STRIP + 2 * _REACH * MORION + _MARK * (row + 1)
        yield f'<text class="mark" x="{x:.1f}" y="{y:.1f}">{escape(mark)}</text>'


def _voice(verdict: Verdict, line: list[_Cell], top: float) -> Iterator[str]:
    """Draw the voice about each note's own place; it is parted where the strip ends."""
    assert verdict.alignment.fit is not None
    times = verdict.contour.times
    x = _LEFT
    for cell in line:
        one = cell.heard
        inside = np.flatnonzero((times >= one.start) & (times < one.end))[::_THIN]
        base = verdict.alignment.fit.line.at(times[inside])
        moria = to_moria(verdict.contour.f0[inside]) - base - one.asked.moria
        part = (times[inside] - one.start) / max(one.end - one.start, 1e-6)
        points: list[str] = []
        for where, height in zip([*part, 1.0], [*moria, np.nan], strict=True):
            if np.isfinite(height) and abs(height) <= _REACH:
                across = x + where * (cell.width - 4)
                points.append(f"{across:.1f},{_place(top, float(height)):.1f}")
                continue
            if len(points) > 1:
                yield f'<polyline class="voice" points="{" ".join(points)}"/>'
            points = []
        x += cell.width
