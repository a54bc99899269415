"""A hymn as staff notation: MEI, and drawn systems.

Each system is a drawing of its own, cut close, so that a page can keep it whole. The work goes
in three steps: where the notes would stand on one endless line is worked out
(`chantwright.engrave.natural`), the line ends are chosen (`chantwright.engrave.breaking`), and all
lines are drawn at once, each filled to its width, parted and cleaned
(`chantwright.engrave.drawing`).
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from chantwright.engrave.breaking import FULL, Line, Place, break_lines
from chantwright.engrave.drawing import SPACE, Cut, clean, cut
from chantwright.engrave.events import Event, Sheet, check_letters, sheet
from chantwright.engrave.mei import Part, document
from chantwright.engrave.metrics import draw
from chantwright.engrave.natural import natural
from chantwright.engrave.options import StaffOptions
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = ["System", "lines", "systems", "to_mei"]

_UNIT = 9.0  # the engraver's half staff space, so that its drawing has 180 units to the space
_PER_SPACE = 2 * _UNIT
_WIDEST = 100_000.0
_DOUBT = 1.015  # widths are worked out to so much; a line is never taken for narrower than it is


@dataclass(frozen=True, slots=True)
class System:
    """One line of music.

    Attributes
    ----------
    svg : str
        The drawing, cut close.
    width_mm, height_mm : float
        Its size on paper.
    words : str
        Its words, undivided.
    rubric : str
        To be printed before it; never sung.
    verse_start : bool
        A new verse begins with it.
    phrases : tuple of str
        Ids of the phrases in it.
    start : str
        Id of its first note, without a prefix; empty where there are no notes.
    """

    svg: str
    width_mm: float
    height_mm: float
    words: str
    rubric: str
    verse_start: bool
    phrases: tuple[str, ...]
    start: str = ""


def _engraver(options: StaffOptions, width: float, *, endless: bool = False) -> dict[str, Any]:
    return {
        "adjustPageHeight": True,
        "breaks": "none" if endless else "encoded",
        "footer": "none",
        "header": "none",
        "lyricSize": min(8.0, options.words_spaces * 2),
        "lyricTopMinMargin": 2.4,
        "lyricWordSpace": 1.8,
        "mnumInterval": 0,
        # The last line of a division is filled only when it is nearly full already.
        "mdivAll": True,
        "minLastJustification": 1 / FULL,
        "pageHeight": 60000,
        "pageMarginBottom": 0,
        "pageMarginLeft": 0,
        "pageMarginRight": 0,
        "pageMarginTop": 0,
        "pageWidth": max(100, min(_WIDEST, round(width / SPACE * _PER_SPACE))),
        "spacingLinear": 0.2,
        "spacingNonLinear": 0.55,
        "svgFormatRaw": True,
        "svgRemoveXlink": True,
        "unit": _UNIT,
        "xmlIdSeed": 1,
    }


def _places(events: Sequence[Event], xs: Sequence[float], options: StaffOptions) -> list[Place]:
    words: dict[str, list[int]] = {}
    for i, event in enumerate(events):
        if event.begins_word:
            words.setdefault(event.phrase.id, []).append(i)
    out = []
    for i, event in enumerate(events):
        kind = "note"
        edge = 0
        if event.starts:
            kind = "phrase"
        elif event.begins_word:
            kind = "word"
            starts = words[event.phrase.id]
            at = starts.index(i)
            edge = min(at - 1, len(starts) - at - 1)
        elif event.first:
            kind = "syllable"
        must = event.must_break or (options.by_phrase and event.starts)
        out.append(Place(i, xs[i], kind, edge, i > 0 and must))
    return out


def _lines(drawn: Sheet, options: StaffOptions, width: float) -> list[Line]:
    found = natural(drawn, options)
    xs = [x * _DOUBT for x in found.xs]
    places = _places(drawn.events, xs, options)
    # A sign before a note, or a syllable centred under it, reaches to the left of its head.
    head = xs[0] + 0.5 * SPACE
    return break_lines(places, found.end * _DOUBT, head, width)


def _drawn(
    drawn: Sheet, chosen: Sequence[Line], options: StaffOptions, width: float
) -> dict[int, Cut]:
    """Draw the lines, and tell them by their first note: all that fit at once, others alone."""

    def systems(group: Sequence[Line], *, endless: bool = False) -> list[Cut]:
        parts = [Part(line.start, line.stop, line.width < width) for line in group]
        pages = draw(document(drawn, options, parts), _engraver(options, width, endless=endless))
        return [system for page in pages for system in cut(page)]

    fit = [line for line in chosen if line.natural <= width]
    cuts = systems(fit) if fit else []
    if len(cuts) != len(fit):  # a line was wider than it was taken for, and the engraver broke it
        fit, cuts = [], []
    out = {line.start: system for line, system in zip(fit, cuts, strict=True)}
    for line in chosen:
        if line.start not in out:
            alone = systems([line]) if line.natural <= width else []
            out[line.start] = alone[0] if len(alone) == 1 else systems([line], endless=True)[0]
    return out


def to_mei(hymn: Hymn, tones: Tones, options: StaffOptions | None = None) -> str:
    """Write a hymn as MEI 5, one measure a phrase.

    Parameters
    ----------
    hymn : Hymn
        With its melody.
    tones : Tones
        Branches and scales.
    options : StaffOptions, optional
        Letters, clef, accidentals.

    Returns
    -------
    str
        XML.

    Raises
    ------
    ChantError
        If a phrase has no melody, its branch or scale is not known, or a length has no value.
    """
    options = options or StaffOptions()
    drawn = sheet(hymn, tones, options)
    return document(drawn, options)


def lines(hymn: Hymn, tones: Tones, options: StaffOptions | None = None) -> tuple[System, ...]:
    """Draw a hymn, one system after the other.

    Parameters and errors are those of `to_mei`; a letter without a font is an error too.
    """
    options = options or StaffOptions()
    drawn = sheet(hymn, tones, options)
    check_letters(drawn.hymn)
    width = options.width_mm / options.space_mm * SPACE
    chosen = _lines(drawn, options, width)
    cuts = _drawn(drawn, chosen, options, width)
    out = []
    for line in chosen:
        events = drawn.events[line.start : line.stop]
        system = cuts[line.start]
        tag = f"{zlib.crc32((options.id_prefix + system.body).encode()):08x}"
        picture = clean(system, events, options, tag)
        first = events[0]
        out.append(
            System(
                svg=picture.svg,
                width_mm=picture.width / SPACE * options.space_mm,
                height_mm=picture.height / SPACE * options.space_mm,
                words=picture.words,
                rubric=first.phrase.rubric if first.starts else "",
                verse_start=first.starts and first.phrase.verse_start and line.start > 0,
                phrases=tuple(dict.fromkeys(e.phrase.id for e in events)),
                start=first.id,
            )
        )
    return tuple(out)


def systems(hymn: Hymn, tones: Tones, options: StaffOptions | None = None) -> list[str]:
    """Draw a hymn as SVG, one string a system.

    Parameters and errors are those of `to_mei`.
    """
    return [system.svg for system in lines(hymn, tones, options)]
