"""A hymn in neumes as drawn systems: one picture a line, cut close.

The drawing's unit is 1/1000 of the size of the neumes. It has no style sheet and no style
attributes, and keeps the ids of phrases, syllables and notes. Words and letters are text in the
booklet's font; the neumes are outlines.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from chantwright.engrave.breaking import FULL, MAX_STRETCH
from chantwright.engrave.events import Event, Sheet, check_letters, sheet
from chantwright.engrave.lyrics import SVG, add, draw_letters, draw_words, place, text
from chantwright.engrave.metrics import text_width
from chantwright.engrave.neumes.cluster import Piece, cluster
from chantwright.engrave.neumes.marks import martyria, phthora_code
from chantwright.engrave.neumes.model import NeumeScore
from chantwright.engrave.neumes.options import NeumeOptions
from chantwright.engrave.neumes.outlines import outline
from chantwright.engrave.neumes.score import to_neumes
from chantwright.engrave.neumes.spacing import (
    Slot,
    breaks,
    cut,
    fill,
    letters_of,
    natural,
    words_of,
)
from chantwright.engrave.neumes.tables import Tables, load_tables
from chantwright.engrave.options import FONT
from chantwright.engrave.staff import System
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = ["RED", "Canvas", "slots_of", "spoken_words", "systems", "written_kind"]

RED = "#a3121f"
_ISON = 0.8
_REMINDER = 0.72
_HELD_GAP = 0.25
_OVER_GAP = 0.22
"""Between the letters of the drone and the highest sign under them, in sizes of these letters."""


@dataclass(slots=True)
class Canvas:
    """A drawing in the making: its root, and the outlines it uses."""

    root: ET.Element
    defs: ET.Element
    tag: str
    black: bool
    used: set[str]

    @classmethod
    def new(cls, tag: str, *, black: bool) -> Canvas:
        """Begin a drawing; `tag` keeps the names of its outlines apart from those of others."""
        root = ET.Element(f"{SVG}svg")
        return cls(root, ET.SubElement(root, f"{SVG}defs"), tag, black, set())

    def piece(self, parent: ET.Element, one: Piece, x: float, base: float) -> None:
        """Draw an outline; `base` is where height 0 lies in the drawing."""
        name = f"{one.code}-{self.tag}"
        if name not in self.used:
            self.used.add(name)
            path = {"id": name, "d": outline(one.code).path}
            ET.SubElement(self.defs, f"{SVG}path", path)
        move = f"translate({x + one.x:.0f} {base - one.y:.0f})"
        if one.size != 1:
            move += f" scale({one.size:g})"
        attributes = {"href": f"#{name}", "transform": move}
        if one.red and not self.black:
            attributes["fill"] = RED
        ET.SubElement(parent, f"{SVG}use", attributes)

    def finish(self, width: float, height: float, label: str) -> str:
        """Close the drawing and write it."""
        root = self.root
        # Places are rounded to whole units, so that ink may reach one further.
        root.set("viewBox", f"0 0 {math.ceil(width) + 2} {math.ceil(height) + 2}")
        root.set("class", "system")
        root.set("font-family", f"'{FONT}', serif")
        root.set("fill", "currentColor")
        root.set("role", "img")
        root.set("aria-label", label or "the last syllable goes on")
        return ET.tostring(root, encoding="unicode")


def slots_of(
    score: NeumeScore, drawn: Sheet, tones: Tones, tables: Tables, size: float
) -> list[Slot]:
    """Lay out every cluster of a hymn, with rests and martyriai, in order."""
    events = {e.id: (i, e) for i, e in enumerate(drawn.events)}
    counts: dict[str, int] = {}
    for event in drawn.events:
        counts[event.syllable.id] = counts.get(event.syllable.id, 0) + 1
    out: list[Slot] = []
    for line in score.lines:
        scale = tones.scales[line.scale]
        sign = ""
        if line.phthora:
            first = events[line.neumes[0].notes[0]][1]
            sign = phthora_code(first.note.degree, scale, tables)
        for neume in line.neumes:
            shape = cluster(neume, tables, sign)
            sign = ""
            if not neume.notes:
                at = out[-1].stop if out else 0
                out.append(Slot(shape, (), at, at, 0.0, 0.0, "mark", False))
                continue
            at = events[neume.notes[0]][0]
            sung = tuple(events[n][1] for n in neume.notes)
            begins = next((e for e in sung if e.first), None)
            left = right = 0.0
            if begins is not None:
                left, right = words_of(shape, sung, counts[begins.syllable.id] > 1, size)
            out.append(
                Slot(
                    shape,
                    sung,
                    at,
                    at + len(sung),
                    left,
                    right,
                    written_kind(sung[0]),
                    begins is not None and begins.syllable.place in ("begin", "middle"),
                    *letters_of(shape, sung, size),
                )
            )
        at = out[-1].stop
        named = martyria(line.close, scale, tables)
        out.append(Slot(named, (), at, at, 0.0, 0.0, "mark", False))
    return out


def written_kind(event: Event) -> str:
    """What begins with a note: phrase, word, syllable or note."""
    if event.starts:
        return "phrase"
    if event.begins_word:
        return "word"
    return "syllable" if event.first else "note"


@dataclass(frozen=True, slots=True)
class _Held:
    """A letter of the drone: where it stands, what it says, its size and width."""

    event: Event
    words: str
    reminder: bool
    size: float
    width: float


def _held(events: Sequence[Event], options: NeumeOptions, *, goes_on: bool) -> list[_Held]:
    """Letters over a line: each change, and at its start in brackets what goes on."""
    out = []
    for k, event in enumerate(events if options.ison else ()):
        reminder = k == 0 and goes_on and not event.moves
        if event.drone and (event.moves or reminder):
            words = f"({event.drone})" if reminder else event.drone
            size = options.words * (_REMINDER if reminder else _ISON)
            width = text_width(words, bold=not reminder) * size
            out.append(_Held(event, words, reminder, size, width))
    return out


def _drone(
    parent: ET.Element,
    held: Sequence[_Held],
    heads: dict[str, tuple[float, float]],
    options: NeumeOptions,
    line: tuple[float, float],
) -> None:
    """Letters of the drone over the line; `line` is its height and the end of the line."""
    wanted = [heads[options.id_prefix + h.event.id][0] for h in held]
    gaps = [_HELD_GAP * options.words] * len(held)
    lefts = place(wanted, [h.width for h in held], gaps, 0.0, line[1])
    for one, left in zip(held, lefts, strict=True):
        letters = text(
            left,
            line[0],
            one.size,
            one.words,
            id=f"{options.id_prefix}ison-{one.event.id}",
            class_="ison",
            font_weight="" if one.reminder else "bold",
            fill="" if options.black else RED,
        )
        add(parent, [letters])


def _neume(
    canvas: Canvas, parent: ET.Element, slot: Slot, x: float, base: float, prefix: str
) -> None:
    """Draw a slot; each note's signs stand in a group with its id."""
    if not slot.events:
        group = ET.SubElement(parent, f"{SVG}g", {"class": "mark"})
        for piece in slot.cluster.pieces:
            canvas.piece(group, piece, x, base)
        return
    groups = []
    into = parent
    for k, event in enumerate(slot.events):
        into = ET.SubElement(into, f"{SVG}g", {"class": "note", "id": prefix + event.id})
        groups.append(into)
        if len(slot.cluster.heads) == len(slot.events):
            into = groups[0] if k == 0 else into
    for piece in slot.cluster.pieces:
        canvas.piece(groups[min(piece.note, len(groups) - 1)], piece, x, base)
    if len(groups) > len(slot.cluster.heads):  # one sign for two notes: both names hold it
        for use in [c for c in groups[0] if c.tag == f"{SVG}use"]:
            groups[0].remove(use)
            groups[-1].append(use)


def _line(
    slots: Sequence[Slot], options: NeumeOptions, width: float, *, last: bool, goes_on: bool
) -> System:
    size = options.words
    events = [e for s in slots for e in s.events]
    held = _held(events, options, goes_on=goes_on)
    xs, wide = natural(slots, size)
    wide = max(wide, sum(h.width + _HELD_GAP * size for h in held))
    if options.justify and wide < width:
        stretch = width / wide
        if stretch < FULL or (not last and stretch <= MAX_STRETCH):
            xs, wide = fill(slots, xs, wide, width), width
    prefix = options.id_prefix
    heads: dict[str, tuple[float, float]] = {}
    for slot, x in zip(slots, xs, strict=True):
        for k, event in enumerate(slot.events):
            left, across = slot.cluster.heads[min(k, len(slot.cluster.heads) - 1)]
            heads[prefix + event.id] = (x + left, across)
    top = max(s.cluster.top for s in slots)
    bottom = min(s.cluster.bottom for s in slots)
    # Parentheses and accented capitals reach higher and lower than plain letters.
    over = (0.95 + 0.25 + _OVER_GAP) * size * _ISON if held else 0.0
    base = top + over + 6
    baseline = base - bottom + 0.98 * size
    key = f"{prefix}{events[0].id}:{events[-1].id}"
    canvas = Canvas.new(f"n{zlib.crc32(key.encode()):08x}", black=options.black)
    for phrase in dict.fromkeys(e.phrase.id for e in events):
        group = ET.SubElement(canvas.root, f"{SVG}g", {"class": "phrase"})
        if any(e.starts and e.phrase.id == phrase for e in events):
            group.set("id", prefix + phrase)
        for slot, x in _of_phrase(slots, xs, phrase):
            _neume(canvas, group, slot, x, base, prefix)
    staff = options.staff()
    words = ET.SubElement(canvas.root, f"{SVG}g", {"class": "words"})
    add(words, draw_words(events, heads, staff, baseline, size, wide))
    low = baseline + 0.3 * size
    if options.letters:
        letters = ET.SubElement(canvas.root, f"{SVG}g", {"class": "letters"})
        low = baseline + 1.02 * size
        add(letters, draw_letters(events, heads, staff, low, size, wide))
        low = baseline + 1.27 * size
    if held:
        group = ET.SubElement(canvas.root, f"{SVG}g", {"class": "over"})
        height = 0.95 * size * _ISON
        _drone(group, held, heads, options, (height, wide))
    spoken = spoken_words(events)
    first = events[0]
    return System(
        svg=canvas.finish(wide, low, spoken),
        width_mm=wide * options.unit_mm,
        height_mm=low * options.unit_mm,
        words=spoken,
        rubric=first.phrase.rubric if first.starts else "",
        verse_start=first.starts and first.phrase.verse_start and slots[0].first > 0,
        phrases=tuple(dict.fromkeys(e.phrase.id for e in events)),
        start=first.id,
    )


def _of_phrase(slots: Sequence[Slot], xs: Sequence[float], phrase: str) -> list[tuple[Slot, float]]:
    out, current = [], ""
    for slot, x in zip(slots, xs, strict=True):
        if slot.events:
            current = slot.events[0].phrase.id
        if current == phrase:
            out.append((slot, x))
    return out


def spoken_words(events: Sequence[Event]) -> str:
    """The words of a line, undivided."""
    out = ""
    for event in events:
        if event.first:
            out += (" " if out and event.begins_word else "") + event.syllable.text
    return out


def systems(hymn: Hymn, tones: Tones, options: NeumeOptions | None = None) -> tuple[System, ...]:
    """Draw a hymn in neumes, one system after the other.

    Parameters
    ----------
    hymn : Hymn
        With its melody.
    tones : Tones
        Branches and scales.
    options : NeumeOptions, optional
        Sizes, letters, colours.

    Returns
    -------
    tuple of System

    Raises
    ------
    ChantError
        If a phrase has no melody, a leap or a length has no sign, a letter has no font, or the
        branch or a scale is not known.
    """
    options = options or NeumeOptions()
    tables = load_tables(options.overrides)
    drawn = sheet(hymn, tones, options.staff())
    check_letters(drawn.hymn)
    score = to_neumes(drawn.hymn, tones, tables)
    width = options.width_mm / options.unit_mm
    slots = slots_of(score, drawn, tones, tables, options.words)
    must = breaks(slots, options)
    lines = cut(slots, options.words, width, must)
    out = []
    for number, line in enumerate(lines):
        after = lines[number + 1] if number + 1 < len(lines) else None
        last = after is None or bool(
            after[0].events[0].must_break or (options.by_phrase and after[0].events[0].starts)
        )
        out.append(_line(line, options, width, last=last, goes_on=number > 0))
    return tuple(out)
