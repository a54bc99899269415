"""A hymn as staff notation: MEI, and drawn systems.

Each system is a drawing of its own, cut close, so that a page can keep it whole. The work goes
in three steps: the hymn on one endless line tells where the notes naturally stand
(`chantwright.engrave.metrics`), the line ends are chosen (`chantwright.engrave.breaking`), and
each line is drawn at its width and cleaned (`chantwright.engrave.drawing`).
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from chantwright.engrave.breaking import Line, Place, break_lines
from chantwright.engrave.drawing import SPACE, clean, note_heads, parse, staff_right
from chantwright.engrave.events import Event, Sheet, check_letters, sheet
from chantwright.engrave.mei import document
from chantwright.engrave.metrics import draw
from chantwright.engrave.options import StaffOptions
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = ["System", "lines", "systems", "to_mei"]

_UNIT = 9.0  # the engraver's half staff space, so that its drawing has 180 units to the space
_PER_SPACE = 2 * _UNIT
_WIDEST = 100_000.0


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


def _engraver(options: StaffOptions, width: float, seed: int, *, endless: bool) -> dict[str, Any]:
    return {
        "adjustPageHeight": True,
        "breaks": "none" if endless else "encoded",
        "footer": "none",
        "header": "none",
        "lyricSize": min(8.0, options.words_spaces * 2),
        "lyricTopMinMargin": 2.4,
        "lyricWordSpace": 1.8,
        "mnumInterval": 0,
        "minLastJustification": 0.0,
        "pageHeight": 60000,
        "pageMarginBottom": 0,
        "pageMarginLeft": 0,
        "pageMarginRight": 0,
        "pageMarginTop": 0,
        "pageWidth": max(100, min(_WIDEST, round(width))),
        "spacingLinear": 0.2,
        "spacingNonLinear": 0.55,
        "svgFormatRaw": True,
        "unit": _UNIT,
        "xmlIdSeed": seed,
    }


def _places(
    events: Sequence[Event], heads: dict[str, tuple[float, float]], options: StaffOptions
) -> list[Place]:
    p = options.id_prefix
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
        out.append(Place(i, heads[p + event.id][0], kind, edge, i > 0 and must))
    return out


def _lines(drawn: Sheet, options: StaffOptions) -> list[Line]:
    mei = document(drawn, drawn.events, options, bare=True)
    root = parse(draw(mei, _engraver(options, _WIDEST, 1, endless=True)))
    heads = note_heads(root)
    places = _places(drawn.events, heads, options)
    # A sign before a note, or a syllable centred under it, reaches to the left of its head.
    head = places[0].x + 0.5 * SPACE
    width = options.width_mm / options.space_mm * SPACE
    return break_lines(places, staff_right(root), head, width)


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
    return document(drawn, drawn.events, options)


def lines(hymn: Hymn, tones: Tones, options: StaffOptions | None = None) -> tuple[System, ...]:
    """Draw a hymn, one system after the other.

    Parameters and errors are those of `to_mei`; a letter without a font is an error too.
    """
    options = options or StaffOptions()
    drawn = sheet(hymn, tones, options)
    check_letters(drawn.hymn)
    out = []
    for line in _lines(drawn, options):
        events = drawn.events[line.start : line.stop]
        mei = document(drawn, events, options, courtesy=line.start > 0, level=True)
        width = line.width / SPACE * _PER_SPACE
        svg = draw(mei, _engraver(options, width, zlib.crc32(mei.encode()) >> 1, endless=False))
        picture = clean(svg, events, options)
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
