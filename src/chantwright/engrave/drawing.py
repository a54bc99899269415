"""From the engraver's drawing to a clean system.

The drawing has no style sheet and no style attributes, keeps the ids of the score and drops all
others, has its words and letters placed by `chantwright.engrave.lyrics`, and is cut close to its
ink. Its unit is 1/180 of a staff space.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from chantwright.engrave.events import Event
from chantwright.engrave.lyrics import SVG, draw_letters, draw_words, text
from chantwright.engrave.mei import DRONE, NUMBER
from chantwright.engrave.options import FONT, StaffOptions

__all__ = ["SPACE", "Drawing", "clean", "note_heads", "parse", "staff_right"]

SPACE = 180.0
"""Drawing units in a staff space."""
_XLINK = "{http://www.w3.org/1999/xlink}href"
_RED = "#a3121f"
_REMINDER = 0.84
"""A reminder that the drone goes on is smaller than a change."""
_HEAD_WIDTH = {"E0A2": 1.69, "E0A3": 1.18, "E0A4": 1.18}
_TRANSLATE = re.compile(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)")
_EMPTY = ("mdiv", "score", "section", "systemMilestoneEnd", "pageMilestoneEnd", "pageMilestone")

ET.register_namespace("", "http://www.w3.org/2000/svg")


@dataclass(frozen=True, slots=True)
class Drawing:
    """A system: SVG text, its words, and its width and height in drawing units."""

    svg: str
    words: str
    width: float
    height: float


def parse(svg: str) -> ET.Element:
    """Read the engraver's page; return the part that holds the music, with its own view box."""
    outer = ET.fromstring(svg)
    inner = outer.find(f"{SVG}svg")
    if inner is None:
        raise RuntimeError("the staff engraver drew no music")
    defs = outer.find(f"{SVG}defs")
    if defs is not None:
        inner.insert(0, defs)
    return inner


def note_heads(root: ET.Element) -> dict[str, tuple[float, float]]:
    """Note id -> left edge and width of its head."""
    out = {}
    for note in root.iter(f"{SVG}g"):
        if note.get("class") != "note" or not (name := note.get("id")):
            continue
        head = next((g for g in note if g.get("class") == "notehead"), None)
        use = head.find(f"{SVG}use") if head is not None else None
        if use is not None and (at := _TRANSLATE.search(use.get("transform", ""))):
            code = use.get(_XLINK, "")[1:5]
            out[name] = (float(at[1]), _HEAD_WIDTH.get(code, 1.18) * SPACE)
    return out


def staff_right(root: ET.Element) -> float:
    """Right end of the staff lines."""
    return max((x for x, _ in _staff_ends(root)), default=0.0)


def _staff_ends(root: ET.Element) -> list[tuple[float, float]]:
    """Right end and height of each staff line."""
    out = []
    for group in root.iter(f"{SVG}g"):
        if group.get("class") == "staff":
            for path in group.findall(f"{SVG}path"):
                if at := re.fullmatch(r"M\S+ \S+ L(\S+) (\S+)", path.get("d", "")):
                    out.append((float(at[1]), float(at[2])))
    return out


def _baseline(root: ET.Element) -> float | None:
    """Baseline of the words as the engraver stacked them under the notes."""
    lows = [
        float(t.get("y", "0"))
        for g in root.iter(f"{SVG}g")
        if g.get("class") == "syl"
        for t in g.findall(f"{SVG}text")
    ]
    return min(lows, default=None)


def _tidy(element: ET.Element, keep: set[str], tag: str) -> None:
    """Drop verses, empty groups, foreign ids and inherited styles, in place."""
    for child in list(element):
        kind = child.get("class", "")
        name = child.get("id")
        if kind == "verse" or child.tag in (f"{SVG}style", f"{SVG}desc"):
            element.remove(child)
            continue
        if child.tag == f"{SVG}g" and kind.split(" ")[0] in ("section", *_EMPTY):
            element.remove(child)
            continue
        if kind in ("dir",):
            element.remove(child)
            continue
        _tidy(child, keep, tag)
        if child.tag == f"{SVG}g" and len(child) == 0:
            element.remove(child)
            continue
        if name and name not in keep:
            if element.tag == f"{SVG}defs":
                child.set("id", f"{name.split('-')[0]}-{tag}")
            else:
                del child.attrib["id"]
        if link := child.attrib.pop(_XLINK, ""):
            child.set("href", f"{link.split('-')[0]}-{tag}")
        if child.get("stroke-width"):
            child.set("stroke", "currentColor")


def _directions(root: ET.Element) -> list[tuple[str, float, float, float, str]]:
    """Texts over the staff: id, x, y, size, words."""
    out = []
    for group in root.iter(f"{SVG}g"):
        if group.get("class") != "dir":
            continue
        for line in group.findall(f"{SVG}text"):
            sizes = [t.get("font-size", "0px") for t in line.iter(f"{SVG}tspan")]
            size = max((float(s.removesuffix("px")) for s in sizes if s.endswith("px")), default=0)
            words = "".join(line.itertext()).strip()
            at = float(line.get("x", "0")), float(line.get("y", "0"))
            out.append((group.get("id", ""), *at, size, words))
    return out


def clean(svg: str, events: Sequence[Event], options: StaffOptions) -> Drawing:
    """Make a system of the engraver's page.

    Parameters
    ----------
    svg : str
        One page with one system.
    events : sequence of Event
        Its notes.
    options : StaffOptions
        Sizes, colours, prefix of the ids.

    Returns
    -------
    Drawing
    """
    root = parse(svg)
    words_text = _spoken(events)
    heads = note_heads(root)
    right = staff_right(root)
    box = [float(n) for n in root.get("viewBox", "0 0 0 0").split()]
    size = options.words_spaces * SPACE
    lowest_line = max((y for _, y in _staff_ends(root)), default=0.0)
    baseline = _baseline(root) or lowest_line + 2 * SPACE + size
    directions = _directions(root)
    tag = f"{zlib.crc32(svg.encode()):08x}"
    p = options.id_prefix
    keep = {p + e.id for e in events} | {p + e.phrase.id for e in events}
    keep |= set(heads) | {f"{p}{e.phrase.id}.{e.id}" for e in events}
    _tidy(root, keep, tag)
    words = ET.SubElement(root, f"{SVG}g", {"class": "words"})
    draw_words(words, events, heads, options, baseline, size, right)
    bottom = baseline + 0.27 * size
    if options.letters:
        group = ET.SubElement(root, f"{SVG}g", {"class": "letters"})
        low = baseline + 1.02 * size
        draw_letters(group, events, heads, options, low, size, right)
        bottom = low + 0.22 * size
    over = ET.SubElement(root, f"{SVG}g", {"class": "over"})
    for name, x, y, text_size, line in directions:
        if name.startswith(p + DRONE):
            colour = "" if options.black else _RED
            goes_on = line.startswith("(")
            text(
                over,
                x,
                y,
                text_size * (_REMINDER if goes_on else 1),
                line,
                id=name,
                class_="ison",
                font_weight="" if goes_on else "bold",
                fill=colour,
            )
        elif name.startswith(p + NUMBER):
            text(over, x, y, text_size, line, id=name, class_="moria")
    if len(over) == 0:
        root.remove(over)
    # Below the words nothing is drawn; the engraver's own box still counts room for its own.
    width = right or box[2]
    for name in ("color", "class", "version", "overflow"):
        root.attrib.pop(name, None)
    root.set("viewBox", f"0 0 {width:.0f} {bottom:.0f}")
    root.set("class", "system")
    root.set("font-family", f"'{FONT}', serif")
    root.set("fill", "currentColor")
    root.set("role", "img")
    # A long melisma may fill a whole line, with no new syllable in it.
    root.set("aria-label", words_text or "the last syllable goes on")
    return Drawing(ET.tostring(root, encoding="unicode"), words_text, width, bottom)


def _spoken(events: Sequence[Event]) -> str:
    """The words of a system, undivided."""
    out = ""
    for event in events:
        if event.first:
            gap = " " if out and event.begins_word else ""
            out += gap + event.syllable.text
    return out
