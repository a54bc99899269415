"""Scores for a page that shows them at every width: two cuts, three readings, one set of shapes.

Conventions
-----------
A cut is a line length on paper. The page shows a line at a share of its own width, so the words of
the narrow cut are 17 pixels high on a page of 328 pixels and those of the wide one 19 on 700.
Every shape that several lines use is kept once, in a drawing of its own that shows nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from lxml import etree
from markupsafe import Markup, escape

from chantwright.engrave import StaffOptions, blocks
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = ["CUTS", "SHOWN", "Score", "draw_score", "id_prefix"]

SHOWN = ("staff", "neumes", "letters")
"""The readings that a singer can choose among."""

CUTS = {"narrow": (100.0, 15.0), "wide": (180.0, 14.0)}
"""Name of a cut -> longest line in millimetres, size of the words in points."""

_SVG = "{http://www.w3.org/2000/svg}"
_ATTRIBUTES = re.compile(r' (?:width|height)="[^"]*"')


@dataclass(frozen=True, slots=True)
class Score:
    """A drawn hymn.

    Attributes
    ----------
    html : Markup
        Readings and cuts; the page's style shows one of each.
    prefixes : tuple of str
        What may stand before the id of a note or syllable in it.
    """

    html: Markup
    prefixes: tuple[str, ...]


def id_prefix(hymn: str, reading: str, cut: str) -> str:
    """What stands before the ids of one drawing."""
    return f"{hymn}-{cut}-{reading}-"


class _Shapes:
    """Shapes of all lines, each kept once."""

    def __init__(self, hymn: str) -> None:
        self.hymn = hymn
        self.names: dict[str, str] = {}

    def taken_from(self, svg: str) -> str:
        """Return the drawing without its own shapes."""
        root = etree.fromstring(svg.encode())
        renamed: dict[str, str] = {}
        for defs in root.findall(f"{_SVG}defs"):
            for shape in defs:
                own = str(shape.attrib.pop("id"))
                shape.tail = None
                text = _plain(shape)
                renamed[own] = self.names.setdefault(text, f"{self.hymn}-g{len(self.names)}")
            root.remove(defs)
        for use in root.iter(f"{_SVG}use"):
            name = str(use.get("href", "")).removeprefix("#")
            if name in renamed:
                use.set("href", f"#{renamed[name]}")
        return _plain(root)

    def drawing(self) -> str:
        kept = "".join(
            re.sub(r"^<(\w+)", rf'<\1 id="{name}"', text, count=1)
            for text, name in self.names.items()
        )
        return (
            f'<svg class="shapes" aria-hidden="true" width="0" height="0"><defs>{kept}</defs></svg>'
        )


def _plain(element: etree._Element) -> str:
    text: str = etree.tostring(element, encoding="unicode")
    return text.replace(' xmlns="http://www.w3.org/2000/svg"', "")


def _lines(
    hymn: Hymn, tones: Tones, reading: str, cut: str, options: StaffOptions, shapes: _Shapes
) -> Iterator[str]:
    width, words = CUTS[cut]
    prefix = id_prefix(shapes.hymn, reading, cut)
    own = replace(options, width_mm=width, words_pt=words, id_prefix=prefix)
    for block in blocks(hymn, tones, (reading,), own):
        if block.rubric:
            yield f'<p class="rubric">{escape(block.rubric)}</p>'
        for _, system in block.systems:
            svg = shapes.taken_from(system.svg)
            head, rest = svg.split(">", 1)
            share = min(100.0, 100 * system.width_mm / width)
            verse = " verse" if block.verse_start else ""
            head = _ATTRIBUTES.sub("", head).replace('class="system"', f'class="system{verse}"')
            yield f'{head} width="{share:.1f}%">{rest}'


def draw_score(hymn: Hymn, tones: Tones, options: StaffOptions, name: str) -> Score:
    """Draw a hymn in every reading and cut.

    Parameters
    ----------
    hymn : Hymn
        With its melody, numbered.
    tones : Tones
        Branches and scales.
    options : StaffOptions
        Letters; width, size of the words and ids are set here.
    name : str
        The hymn's id on the page.
    """
    shapes = _Shapes(name)
    parts, prefixes = [], []
    for reading in SHOWN:
        parts.append(f'<div class="reading {reading}">')
        for cut in CUTS:
            prefixes.append(id_prefix(name, reading, cut))
            parts.append(f'<div class="cut {cut}">')
            parts += _lines(hymn, tones, reading, cut, options, shapes)
            parts.append("</div>")
        parts.append("</div>")
    return Score(Markup(shapes.drawing() + "".join(parts)), tuple(prefixes))
