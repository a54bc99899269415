"""A hymn as MusicXML 4.0, for other people's notation programs.

Conventions
-----------
One measure holds one phrase and has no metre. Pitches are written as on our staff (ni = c), with
the nearest sharp or flat. With exact accidentals, `alter` carries the tuning itself, as semitones
with decimals (72 moria are 12 semitones); not every program reads those. Each note keeps its id
from the score; the parts of a tied note add ``.t1``, ``.t2`` to it. What MusicXML has no element
for stands in ``miscellaneous`` fields: tone, branch, base, and for each phrase the cadence, the
stresses, the ison and the bends in moria. `chantwright.score.musicxml` reads it back.

References
----------
W3C Music Notation Community Group, MusicXML 4.0 (2021): note, lyric, time (senza-misura),
miscellaneous, optional unique ids.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from fractions import Fraction

from chantwright.engrave.events import Event, Sheet, sheet
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.printable import printable
from chantwright.engrave.values import Value, values
from chantwright.score import Hymn, Phrase, walk
from chantwright.score.melody import BY_DEGREE, EXACT
from chantwright.score.musicxml import RUBRIC
from chantwright.tones import Tones
from chantwright.tuning import degree_name

__all__ = ["to_musicxml"]

_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}
_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_CLEFS = {"treble": ("G", "2", ""), "men": ("G", "2", "-1"), "bass": ("F", "4", "")}


def _sub(parent: ET.Element, tag: str, text: str = "", /, **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, {k.replace("_", "-"): v for k, v in attributes.items()})
    if text:
        child.text = text
    return child


def _number(value: Fraction) -> str:
    """A decimal number, whole where it can be."""
    return str(value.numerator) if value.denominator == 1 else f"{float(value):.9f}".rstrip("0")


def _ison(phrase: Phrase) -> str:
    out = []
    for syllable in phrase.syllables:
        if syllable.ison is None:
            out.append("-")
        else:
            out.append(syllable.ison if isinstance(syllable.ison, str) else str(syllable.ison))
    return " ".join(out)


def _bends(phrase: Phrase) -> str:
    return " ".join(str(n.bend) for s in phrase.syllables for n in s.notes)


def _facts(hymn: Hymn, *, exact: bool) -> dict[str, str]:
    base = hymn.base
    bent = any(n.bend for _, _, _, n in walk(hymn))
    rows = {
        "tuning": EXACT if exact else BY_DEGREE,
        "tone": "" if hymn.tone is None else str(hymn.tone),
        "branch": hymn.branch or "",
        "style": hymn.style or "",
        "ending": hymn.ending,
        "melody": hymn.melody_kind or "",
        "language": hymn.language,
        "base": "" if base is None else f"{degree_name(base.degree)} {base.hz!r}",
        "cadences": " ".join(p.cadence or "-" for p in hymn.phrases),
        "verses": " ".join("1" if p.verse_start else "0" for p in hymn.phrases),
        "scales": " ".join(p.scale or "-" for p in hymn.phrases),
        "stresses": " / ".join(" ".join(str(s.stress) for s in p.syllables) for p in hymn.phrases),
        "ison": " / ".join(_ison(p) for p in hymn.phrases),
        "bends": " / ".join(_bends(p) for p in hymn.phrases) if bent else "",
    }
    return {name: text for name, text in rows.items() if text}


def _head(root: ET.Element, hymn: Hymn, *, exact: bool) -> None:
    _sub(_sub(root, "work"), "work-title", hymn.title or "Hymn")
    identification = _sub(root, "identification")
    if hymn.melody_source:
        _sub(identification, "creator", hymn.melody_source, type="melody")
    if hymn.words_source:
        _sub(identification, "creator", hymn.words_source, type="words")
    encoding = _sub(identification, "encoding")
    _sub(encoding, "software", "chantwright")
    for element in ("accidental", "beam"):
        _sub(encoding, "supports", element=element, type="yes" if element == "accidental" else "no")
    fields = _sub(identification, "miscellaneous")
    for name, text in _facts(hymn, exact=exact).items():
        _sub(fields, "miscellaneous-field", text, name=f"chant-{name}")
    part = _sub(_sub(root, "part-list"), "score-part", id="P1")
    _sub(part, "part-name", "Melody")


def _divisions(events: Sequence[Event]) -> int:
    """Parts of a beat that every length is a whole number of."""
    out = 1
    for event in events:
        for value in values(event.note.beats, event.syllable.text):
            out = math.lcm(out, value.beats.denominator)
        for value in values(event.phrase.rest) if event.phrase.rest else ():
            out = math.lcm(out, value.beats.denominator)
    return out


class _Writer:
    def __init__(self, drawn: Sheet, options: StaffOptions) -> None:
        self.drawn, self.options = drawn, options
        self.divisions = _divisions(drawn.events)
        self.octave = -1 if options.clef == "bass" else 0
        self.key = dict(drawn.signature)

    def _attributes(self, measure: ET.Element) -> None:
        attributes = _sub(measure, "attributes")
        _sub(attributes, "divisions", str(self.divisions))
        sharps = sum(alteration for _, alteration in self.drawn.signature)
        _sub(_sub(attributes, "key"), "fifths", str(sharps))
        _sub(_sub(attributes, "time", print_object="no"), "senza-misura")
        clef = _sub(attributes, "clef")
        sign, line, octave = _CLEFS[self.options.clef]
        _sub(clef, "sign", sign)
        _sub(clef, "line", line)
        if octave:
            _sub(clef, "clef-octave-change", octave)

    def _direction(self, measure: ET.Element, text: str, id: str = "") -> None:
        direction = _sub(measure, "direction", placement="above")
        named = {"id": id} if id else {}
        _sub(_sub(direction, "direction-type"), "words", text, **named)

    def _tempo(self, measure: ET.Element, tempo: int) -> None:
        direction = _sub(measure, "direction", placement="above")
        mark = _sub(_sub(direction, "direction-type"), "metronome")
        _sub(mark, "beat-unit", "quarter")
        _sub(mark, "per-minute", str(tempo))
        _sub(direction, "sound", tempo=str(tempo))

    def _length(self, note: ET.Element, value: Value) -> None:
        _sub(note, "duration", str(value.beats * self.divisions))

    def _type(self, note: ET.Element, value: Value) -> None:
        _sub(note, "type", _TYPES[value.dur])
        for _ in range(value.dots):
            _sub(note, "dot")

    def _note(
        self, measure: ET.Element, event: Event, index: int, parts: Sequence[Value], shown: bool
    ) -> ET.Element:
        value, count = parts[index], len(parts)
        tail = f".t{index}" if index else ""
        note = _sub(measure, "note", id=f"{event.id}{tail}")
        spelling = event.spelling
        pitch = _sub(note, "pitch")
        _sub(pitch, "step", spelling.step.upper())
        alter = Fraction(spelling.alteration)
        if self.options.accidentals == "exact":
            alter += spelling.remainder / 6
        if alter:
            _sub(pitch, "alter", _number(alter))
        _sub(pitch, "octave", str(spelling.octave + self.octave))
        self._length(note, value)
        ties = [kind for kind, on in (("stop", index > 0), ("start", index + 1 < count)) if on]
        for kind in ties:
            _sub(note, "tie", type=kind)
        _sub(note, "voice", "1")
        self._type(note, value)
        if shown and index == 0:
            _sub(note, "accidental", _ACCIDENTALS[spelling.alteration])
        if value.triplet:
            change = _sub(note, "time-modification")
            _sub(change, "actual-notes", "3")
            _sub(change, "normal-notes", "2")
        self._notations(note, event, index, count, ties)
        if index == 0 and event.first:
            self._lyric(note, event)
        return note

    def _notations(
        self, note: ET.Element, event: Event, index: int, count: int, ties: Sequence[str]
    ) -> None:
        notations = ET.Element("notations")
        for kind in ties:
            _sub(notations, "tied", type=kind)
        many = len(event.syllable.notes) > 1
        if many and event.first and index == 0:
            _sub(notations, "slur", type="start", number="1")
        if many and event.last and index + 1 == count:
            _sub(notations, "slur", type="stop", number="1")
        if event.ends and index + 1 == count:
            _sub(_sub(notations, "articulations"), "breath-mark")
        if len(notations):
            note.append(notations)

    @staticmethod
    def _lyric(note: ET.Element, event: Event) -> None:
        lyric = _sub(note, "lyric", number="1")
        _sub(lyric, "syllabic", event.syllable.place)
        _sub(lyric, "text", event.syllable.text)
        if len(event.syllable.notes) > 1 and event.syllable.place in ("single", "end"):
            _sub(lyric, "extend")

    def _rest(self, measure: ET.Element, length: Fraction) -> None:
        for value in values(length):
            note = _sub(measure, "note")
            _sub(note, "rest")
            self._length(note, value)
            _sub(note, "voice", "1")
            self._type(note, value)
            if value.triplet:
                change = _sub(note, "time-modification")
                _sub(change, "actual-notes", "3")
                _sub(change, "normal-notes", "2")

    def measure(
        self, part: ET.Element, number: int, events: Sequence[Event], rubric: Sequence[str]
    ) -> None:
        phrase = events[0].phrase
        measure = _sub(
            part, "measure", number=str(number), implicit="yes", non_controlling="yes", id=phrase.id
        )
        hymn = self.drawn.hymn
        if number == 1:
            self._attributes(measure)
            if hymn.tempo:
                self._tempo(measure, hymn.tempo)
        for i, line in enumerate(rubric):
            self._direction(measure, line, f"{phrase.id}.{i}{RUBRIC}")
        altered: dict[tuple[str, int], int] = {}
        for event in events:
            if event.moves and event.drone:
                self._direction(measure, event.drone)
            spelling = event.spelling
            place = (spelling.step, spelling.octave)
            usual = altered.get(place, self.key.get(spelling.step, 0))
            shown = usual != spelling.alteration and self.options.accidentals != "none"
            altered[place] = spelling.alteration
            parts = values(event.note.beats, event.syllable.text)
            for index in range(len(parts)):
                self._note(measure, event, index, parts, shown)
        if phrase.rest:
            self._rest(measure, phrase.rest)
        style = "none"
        if events[-1] is self.drawn.events[-1]:
            style = "light-heavy"
        elif events[-1].verse_ends:
            style = "light-light"
        elif phrase.cadence not in (None, "medial"):
            style = "regular"
        _sub(_sub(measure, "barline", location="right"), "bar-style", style)


def to_musicxml(hymn: Hymn, tones: Tones, options: StaffOptions | None = None) -> str:
    """Write a hymn as MusicXML 4.0, one measure a phrase.

    Parameters
    ----------
    hymn : Hymn
        With its melody.
    tones : Tones
        Branches and scales.
    options : StaffOptions, optional
        Clef, ison letters, and whether accidentals are shown.

    Returns
    -------
    str
        XML with declaration and document type.

    Raises
    ------
    ChantError
        If a phrase has no melody, its branch or scale is not known, or a length has no value.
    """
    options = options or StaffOptions()
    drawn = sheet(hymn, tones, options)
    root = ET.Element("score-partwise", {"version": "4.0"})
    _head(root, drawn.hymn, exact=options.accidentals == "exact")
    part = _sub(root, "part", id="P1")
    writer = _Writer(drawn, options)
    start, number = 0, 0
    events = drawn.events
    for i in range(1, len(events) + 1):
        if i == len(events) or events[i].starts:
            lines = (printable(line) for line in hymn.phrases[number].rubric.split("\n"))
            number += 1
            rubric = [line for line in lines if line.strip()]
            writer.measure(part, number, events[start:i], rubric)
            start = i
    ET.indent(root)
    text = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{_DOCTYPE}\n{text}\n'
