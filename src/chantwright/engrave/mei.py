"""Events as MEI 5: unmetered measures, words, letters, drone, breath marks.

One measure holds one phrase, or the part of it that stands on a line. Measures are unmetered
(`metcon` false) and their bar lines invisible, but for a thin one where a full cadence closes, a
double one at the end of a verse and the end sign. A breath mark closes a medial phrase.

What is written keeps to the basic profile, which the other profiles of the standard contain.

References
----------
Music Encoding Initiative, MEI 5.1: Guidelines (elements measure, verse, syl, dir, breath, slur,
tie) and the published schema of the basic profile, mei-basic.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from chantwright.engrave.events import Event, Sheet
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.values import Value, values

__all__ = ["DRONE", "NUMBER", "Part", "bar", "document", "groups", "marks"]

NS = "http://www.music-encoding.org/ns/mei"
_XML_ID = "{http://www.w3.org/XML/1998/namespace}id"
DRONE, NUMBER = "ison.", "moria."
"""Prefixes of the ids of drone letters and moria numbers."""

_ACCID = {-2: "ff", -1: "f", 0: "n", 1: "s", 2: "x"}
_WORDPOS = {"begin": "i", "middle": "m", "end": "t"}
_BREATH_CADENCES = (None, "medial")
LETTER_SIZE = 0.84
"""Size of the solfege letters against the words."""


def _head(root: ET.Element, title: str) -> None:
    file = ET.SubElement(ET.SubElement(root, "meiHead"), "fileDesc")
    ET.SubElement(ET.SubElement(file, "titleStmt"), "title").text = title
    ET.SubElement(file, "pubStmt")


def _staff_def(score: ET.Element, sheet: Sheet, options: StaffOptions) -> None:
    group = ET.SubElement(ET.SubElement(score, "scoreDef"), "staffGrp")
    about = {"n": "1", "lines": "5"}
    if sheet.signature:
        about["keysig"] = f"{len(sheet.signature)}{_ACCID[sheet.signature[0][1]]}"
    staff = ET.SubElement(group, "staffDef", about)
    clef = {"shape": "F", "line": "4"} if options.clef == "bass" else {"shape": "G", "line": "2"}
    if options.clef == "men":
        clef |= {"dis": "8", "dis.place": "below"}
    ET.SubElement(staff, "clef", clef)


def marks(events: Sequence[Event], sheet: Sheet) -> list[str | None]:
    """Accidental printed before each note.

    The signature holds; beyond it every altered note has its own sign, unless the note just
    before is the same. A note of a step that was altered otherwise in this phrase is made plain
    again with a sign of its own.
    """
    key = dict(sheet.signature)
    seen: dict[str, int] = {}
    before: tuple[str, int, int] | None = None
    out: list[str | None] = []
    for event in events:
        s = event.spelling
        if event.starts:
            seen, before = {}, None
        usual = key.get(s.step, 0)
        this = (s.step, s.octave, s.alteration)
        differs = s.alteration != usual or seen.get(s.step, usual) != s.alteration
        out.append(_ACCID[s.alteration] if differs and this != before else None)
        seen[s.step] = s.alteration
        before = this
    return out


@dataclass(frozen=True, slots=True)
class Part:
    """Notes `start` to `stop` (without it) on a line of their own.

    Where it does not begin the hymn, what the drone holds is said again in brackets. `last` says
    that a division ends with it; the engraver does not fill such a line.
    """

    start: int
    stop: int
    last: bool = False


class _Writer:
    """Writes one document; keeps what control events need."""

    def __init__(self, sheet: Sheet, options: StaffOptions, *, level: bool) -> None:
        # The basic profile has no attribute for one height of all letters of the drone.
        self.sheet, self.options, self.level = sheet, options, level
        self.p = options.id_prefix
        self.octave = {"treble": 0, "men": 0, "bass": -1}[options.clef]

    def _name(self, event: Event, index: int = 0) -> str:
        """Id of one of the tied notes that an event is written with."""
        return f"{self.p}{event.id}" + (f"t{index}" if index else "")

    def _note(self, parent: ET.Element, event: Event, value: Value, index: int) -> ET.Element:
        s = event.spelling
        attributes = {
            _XML_ID: self._name(event, index),
            "pname": s.step,
            "oct": str(s.octave + self.octave),
            "dur": str(value.dur),
        }
        if value.dots:
            attributes["dots"] = str(value.dots)
        return ET.SubElement(parent, "note", attributes)

    def _pitch(self, note: ET.Element, event: Event, mark: str | None) -> None:
        alteration = event.spelling.alteration
        if self.options.accidentals == "none":
            return
        if mark is not None:
            ET.SubElement(note, "accid", {"accid": mark})
        elif alteration:
            ET.SubElement(note, "accid", {"accid.ges": _ACCID[alteration]})

    def _words(self, note: ET.Element, event: Event, text: str, hyphen: bool) -> None:
        if text:
            syl = {_XML_ID: f"{self.p}{event.syllable.id}"}
            if event.syllable.place in _WORDPOS:
                syl["wordpos"] = _WORDPOS[event.syllable.place]
            if hyphen:
                syl["con"] = "d"
            elif not event.last:
                syl["con"] = "u"
            verse = ET.SubElement(note, "verse", {"n": "1"})
            ET.SubElement(verse, "syl", syl).text = text
        if event.letter:
            verse = ET.SubElement(note, "verse", {"n": "2"})
            rend = ET.SubElement(
                ET.SubElement(verse, "syl"), "rend", {"fontsize": f"{LETTER_SIZE:.0%}"}
            )
            rend.text = event.letter

    def _event(self, parent: ET.Element, event: Event, mark: str | None) -> None:
        parts = values(event.note.beats, event.syllable.text)
        text = event.syllable.text if event.first else ""
        hyphen = event.syllable.place in ("begin", "middle")
        for index, value in enumerate(parts):
            note = self._note(parent, event, value, index)
            self._pitch(note, event, mark if index == 0 else None)
            if index == 0:
                self._words(note, event, text, hyphen)

    def _layer(
        self, layer: ET.Element, events: Sequence[Event], printed: Sequence[str | None]
    ) -> set[str]:
        """Write notes with beams and triplets; return syllables that one beam joins."""
        joined: set[str] = set()
        for kind, i, j in groups(events):
            parent = layer
            if kind == "tuplet":
                parent = ET.SubElement(layer, "tuplet", {"num": "3", "numbase": "2"})
                parent.set("bracket.visible", "true")
            elif kind == "beam":
                parent = ET.SubElement(layer, "beam")
                if events[i].first and events[j - 1].last:
                    joined.add(events[i].syllable.id)
            for k in range(i, j):
                self._event(parent, events[k], printed[k])
        return joined

    def _control(
        self, measure: ET.Element, events: Sequence[Event], joined: set[str], courtesy: bool
    ) -> None:
        for place, event in enumerate(events):
            at = {"startid": f"#{self._name(event)}", "place": "above"}
            if event.number:
                name = {_XML_ID: f"{self.p}{NUMBER}{event.id}"}
                ET.SubElement(measure, "dir", name | at).text = event.number
            again = courtesy and place == 0 and event.drone and not event.moves
            if self.options.ison and (event.moves or again):
                name = {_XML_ID: f"{self.p}{DRONE}{event.id}"}
                if self.level:
                    name["vgrp"] = "1"
                drone = ET.SubElement(measure, "dir", name | at)
                weight = "normal" if again else "bold"
                rend = ET.SubElement(drone, "rend", {"fontweight": weight, "fontstyle": "normal"})
                rend.text = f"({event.drone})" if again else event.drone
            closes = event.phrase.cadence in _BREATH_CADENCES and not event.verse_ends
            if event.ends and closes:
                ET.SubElement(measure, "breath", {"startid": at["startid"]})
            for index in range(1, len(values(event.note.beats, event.syllable.text))):
                here, there = self._name(event, index - 1), self._name(event, index)
                tie = {"startid": f"#{here}", "endid": f"#{there}"}
                ET.SubElement(measure, "tie", tie)
        if self.options.slurs:
            for first, last in _slurs(events):
                if first.syllable.id not in joined:
                    ends = {"startid": f"#{self.p}{first.id}", "endid": f"#{self.p}{last.id}"}
                    ET.SubElement(measure, "slur", ends)

    def measure(
        self,
        section: ET.Element,
        events: Sequence[Event],
        printed: Sequence[str | None],
        courtesy: bool,
    ) -> None:
        last = events[-1]
        right = bar(last, self.sheet)
        tail = "" if events[0].starts else f".{events[0].id}"
        name = f"{self.p}{events[0].phrase.id}{tail}"
        attributes = {_XML_ID: name, "metcon": "false", "right": right}
        measure = ET.SubElement(section, "measure", attributes)
        staff = ET.SubElement(measure, "staff", {"n": "1"})
        layer = ET.SubElement(staff, "layer", {"n": "1"})
        joined = self._layer(layer, events, printed)
        if last.ends and last.phrase.rest > 0:
            for value in values(last.phrase.rest, last.syllable.text):
                rest = ET.SubElement(layer, "rest", {"dur": str(value.dur)})
                if value.dots:
                    rest.set("dots", str(value.dots))
        self._control(measure, events, joined, courtesy)


def _triplet_end(events: Sequence[Event], i: int) -> int:
    """Where a triplet that begins at `i` ends; `i` when none begins."""
    if events[i].note.beats.denominator % 3:
        return i
    total, j = Fraction(0), i
    while j < len(events) and events[j].note.beats.denominator % 3 == 0:
        total += events[j].note.beats
        j += 1
        if total.denominator % 3:
            break
    return j


def _beam_end(events: Sequence[Event], i: int) -> int:
    """Where a beam that begins at `i` ends: short notes of one syllable, one beat at most."""
    total, j = Fraction(0), i
    while j < len(events) and events[j].note.beats < 1 and events[j].note.beats.denominator % 3:
        if j > i and (events[j].first or total >= 1):
            break
        total += events[j].note.beats
        if total > 1:
            break
        j += 1
    return max(j, i + 1)


def groups(events: Sequence[Event]) -> Iterator[tuple[str, int, int]]:
    """What stands together: kind (tuplet, beam or note), first note, and the one after the last."""
    i = 0
    while i < len(events):
        kind, j = "tuplet", _triplet_end(events, i)
        if j == i:
            j = _beam_end(events, i)
            kind = "beam" if j - i > 1 else "note"
        yield kind, i, j
        i = j


def bar(event: Event, sheet: Sheet) -> str:
    """The bar after a note that ends a phrase or a line, in the words of MEI."""
    if event is sheet.events[-1]:
        return "end"
    if event.verse_ends:
        return "dbl"
    full = event.ends and event.phrase.cadence not in _BREATH_CADENCES
    return "single" if full else "invis"


def _slurs(events: Sequence[Event]) -> Iterable[tuple[Event, Event]]:
    start = 0
    for i in range(1, len(events) + 1):
        if i == len(events) or events[i].first:
            if i - start > 1:
                yield events[start], events[i - 1]
            start = i


def document(
    sheet: Sheet,
    options: StaffOptions,
    parts: Sequence[Part] = (),
) -> str:
    """Write a hymn as an MEI document.

    Parameters
    ----------
    sheet : Sheet
        The whole hymn; the end sign stands only after its last note.
    options : StaffOptions
        Letters, clef and accidentals.
    parts : sequence of Part
        The lines to be drawn; when left out, the hymn is written as one and keeps to the basic
        profile.

    Returns
    -------
    str
        XML with declaration.

    Raises
    ------
    ChantError
        If a length cannot be written as note values.
    """
    root = ET.Element("mei", {"xmlns": NS, "meiversion": "5.1"})
    _head(root, sheet.hymn.title or "Hymn")
    body = ET.SubElement(ET.SubElement(root, "music"), "body")
    writer = _Writer(sheet, options, level=bool(parts))
    section = None
    for part in parts or (Part(0, len(sheet.events)),):
        if section is None:
            score = ET.SubElement(ET.SubElement(body, "mdiv"), "score")
            _staff_def(score, sheet, options)
            section = ET.SubElement(score, "section")
        else:
            ET.SubElement(section, "sb")
        events = sheet.events[part.start : part.stop]
        printed = marks(events, sheet)
        start = 0
        for i in range(1, len(events) + 1):
            if i == len(events) or events[i].starts:
                courtesy = part.start > 0 and start == 0
                writer.measure(section, events[start:i], printed[start:i], courtesy)
                start = i
        if part.last:
            section = None
    text = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'
