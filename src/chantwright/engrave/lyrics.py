"""Where the words and letters stand under the notes.

A syllable of one note is centred under it, a syllable of several notes begins at the first, and
all are moved apart as little as possible so that none touches the next. That is a least-squares
problem with ordered positions, solved by pooling adjacent violators.

Widths are those of the printed font. The unit is the drawing's: 1/180 of a staff space.

References
----------
R. E. Barlow and others, Statistical Inference under Order Restrictions (1972): pooling adjacent
violators. Placement of syllables, hyphens and extenders: common practice of vocal engraving.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from chantwright.engrave.events import Event
from chantwright.engrave.mei import LETTER_SIZE
from chantwright.engrave.metrics import text_width
from chantwright.engrave.options import StaffOptions

__all__ = [
    "SVG",
    "Heads",
    "Mark",
    "add",
    "draw_letters",
    "draw_words",
    "place",
    "text",
    "written",
]

SVG = "{http://www.w3.org/2000/svg}"
Mark = tuple[str, dict[str, str], str]
"""An element of a drawing: its name, attributes and text."""
Heads = Mapping[str, tuple[float, float]]
"""Note id (with prefix) -> left edge and width of its head."""

_WORD_GAP, _HYPHEN_GAP, _LETTER_GAP = 0.3, 0.44, 0.24  # in ems
_HYPHEN, _THICK, _RISE = 0.25, 0.05, 0.27
_PUNCTUATION = ",.;:!?·’”)"
_GREY = "#4a4a4a"


def place(
    wanted: Sequence[float], widths: Sequence[float], gaps: Sequence[float], low: float, high: float
) -> list[float]:
    """Move boxes apart as little as possible.

    Parameters
    ----------
    wanted : sequence of float
        Left edges as they should be.
    widths : sequence of float
        Widths of the boxes.
    gaps : sequence of float
        Least room after each box.
    low, high : float
        No left edge before `low`, no right edge after `high`, if everything fits.

    Returns
    -------
    list of float
        Left edges: each at least the width and gap of the one before to its right, with the least
        sum of squared moves.
    """
    offsets = [0.0]
    for width, gap in zip(widths[:-1], gaps[:-1], strict=True):
        offsets.append(offsets[-1] + width + gap)
    pools: list[tuple[float, int]] = []  # mean, size
    for want, offset in zip(wanted, offsets, strict=False):
        mean, size = want - offset, 1
        while pools and pools[-1][0] > mean:
            before, count = pools.pop()
            mean = (mean * size + before * count) / (size + count)
            size += count
        pools.append((mean, size))
    top = high - offsets[len(wanted) - 1] - widths[-1] if wanted else high
    shifts = [max(low, min(mean, top)) for mean, size in pools for _ in range(size)]
    return [s + o for s, o in zip(shifts, offsets, strict=False)]


def text(x: float, y: float, size: float, words: str, **more: str) -> Mark:
    """Make a line of text; other attributes by name, with ``_`` for ``-``."""
    attributes = {"x": f"{x:.0f}", "y": f"{y:.0f}", "font-size": f"{size:.0f}"}
    attributes |= {k.strip("_").replace("_", "-"): v for k, v in more.items() if v}
    return "text", attributes, words


def _rule(x: float, y: float, width: float, height: float, kind: str) -> Mark:
    box = {"x": f"{x:.0f}", "y": f"{y:.0f}", "width": f"{width:.0f}", "height": f"{height:.0f}"}
    return "rect", {"class": kind} | box, ""


def add(parent: ET.Element, marks: Iterable[Mark]) -> None:
    """Put marks into a drawing that is held as a tree."""
    for tag, attributes, words in marks:
        ET.SubElement(parent, f"{SVG}{tag}", attributes).text = words or None


def written(marks: Iterable[Mark]) -> str:
    """Write marks as SVG."""
    out = []
    for tag, attributes, words in marks:
        named = "".join([f' {k}="{escape(v)}"' for k, v in attributes.items()])
        close = f">{escape(words, quote=False)}</{tag}>" if words else "/>"
        out.append(f"<{tag}{named}{close}")
    return "".join(out)


ET.register_namespace("", "http://www.w3.org/2000/svg")


@dataclass(frozen=True, slots=True)
class _Placed:
    """A syllable in its place; `until` is the right edge of its last note, 0 for one note."""

    event: Event
    left: float
    right: float
    until: float


def _syllables(
    events: Sequence[Event], heads: Heads, options: StaffOptions, size: float, right: float
) -> list[_Placed]:
    starts = [i for i, e in enumerate(events) if e.first]
    if not starts:
        return []
    wanted, wide, gaps, ends = [], [], [], []
    for i, stop in zip(starts, [*starts[1:], len(events)], strict=True):
        words = events[i].syllable.text
        x, head = heads[options.id_prefix + events[i].id]
        several = stop - i > 1
        core = text_width(words.rstrip(_PUNCTUATION)) * size
        wanted.append(x if several else x + head / 2 - core / 2)
        wide.append(text_width(words) * size)
        joined = events[i].syllable.place in ("begin", "middle")
        gaps.append((_HYPHEN_GAP if joined else _WORD_GAP) * size)
        tail, tail_width = heads[options.id_prefix + events[stop - 1].id]
        ends.append(tail + tail_width if several else 0.0)
    lefts = place(wanted, wide, gaps, 0.0, right)
    return [
        _Placed(events[i], left, left + width, end)
        for i, left, width, end in zip(starts, lefts, wide, ends, strict=True)
    ]


def _hyphens(left: float, right: float, y: float, size: float) -> Iterator[Mark]:
    room = right - left
    if room < 0.12 * size:  # no room: the syllables close up and read as one word
        return
    length = min(_HYPHEN * size, room * 0.8)
    count = max(1, round(room / (4.5 * size)))
    for k in range(count):
        centre = left + room * (k + 0.5) / count
        yield _rule(centre - length / 2, y - _RISE * size, length, _THICK * size, "hyphen")


def _extender(left: float, right: float, y: float, size: float) -> Iterator[Mark]:
    if right - left > 0.6 * size:
        yield _rule(left, y - _THICK * size, right - left, _THICK * size, "extender")


def draw_words(
    events: Sequence[Event],
    heads: Heads,
    options: StaffOptions,
    y: float,
    size: float,
    right: float,
) -> Iterator[Mark]:
    """Draw the words of a system with hyphens and extender lines.

    Parameters
    ----------
    events : sequence of Event
        Notes of the system.
    heads : Heads
        Where they stand.
    options : StaffOptions
        For the prefix of ids.
    y, size, right : float
        Baseline, size of the words and right edge of the system.

    Yields
    ------
    Mark
    """
    found = _syllables(events, heads, options, size, right)
    before = events[: _lead(events)]
    if before:  # the line goes on with a syllable that began on the line before
        left = heads[options.id_prefix + before[0].id][0]
        tail, tail_width = heads[options.id_prefix + before[-1].id]
        stop = min(tail + tail_width, found[0].left - 0.12 * size if found else right)
        if before[0].syllable.place in ("begin", "middle"):
            yield from _hyphens(left, found[0].left if found else stop, y, size)
        else:
            yield from _extender(left, stop, y, size)
    for number, one in enumerate(found):
        syllable = one.event.syllable
        name = options.id_prefix + syllable.id
        yield text(one.left, y, size, syllable.text, id=name, class_="syl")
        after = found[number + 1] if number + 1 < len(found) else None
        if syllable.place in ("begin", "middle"):
            stop = after.left if after else max(one.until, one.right + 0.5 * size)
            yield from _hyphens(one.right, min(stop, right) if not after else stop, y, size)
        elif one.until:
            stop = min(one.until, after.left - 0.12 * size if after else right)
            yield from _extender(one.right + 0.1 * size, stop, y, size)


def _lead(events: Sequence[Event]) -> int:
    """Number of notes before the first syllable that begins here."""
    return next((i for i, e in enumerate(events) if e.first), len(events))


def draw_letters(
    events: Sequence[Event],
    heads: Heads,
    options: StaffOptions,
    y: float,
    size: float,
    right: float,
) -> Iterator[Mark]:
    """Draw the solfege letters of a system, each centred under its note; see `draw_words`."""
    size *= LETTER_SIZE
    wide = [text_width(e.letter) * size for e in events]
    wanted = []
    for event, width in zip(events, wide, strict=True):
        x, head = heads[options.id_prefix + event.id]
        wanted.append(x + head / 2 - width / 2)
    lefts = place(wanted, wide, [_LETTER_GAP * size] * len(events), 0.0, right)
    colour = "" if options.black else _GREY
    for event, left in zip(events, lefts, strict=True):
        yield text(left, y, size, event.letter, class_="letter", fill=colour)
