"""Read a single-line melody with words from MusicXML.

What is read: the first part (or the one named) and in it the first voice, the upper note of a
chord, ties joined, the first line of lyrics, grace and cue notes left out. A phrase ends at a
breath mark or caesura, at a rest, at a double or final bar line, at a measure of our own files,
and after words that end with a stop, when at least four notes stand before it.

References
----------
W3C Music Notation Community Group, MusicXML 4.0 (2021).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import cast

from lxml import etree

from chantwright.errors import ChantError, Where
from chantwright.score.melody import KEYS, Colon, Melody, Sung
from chantwright.score.model import PLACES, Place
from chantwright.score.packed import parse_xml, read_limited, unpacked

__all__ = ["loads_musicxml", "read_musicxml"]

_STEPS = "CDEFGAB"
_STOP = re.compile(r"[.;:!?·,]['”’\")]*$")
_CLOSING_BARS = ("light-light", "light-heavy", "heavy-light", "heavy-heavy", "heavy")
_FEWEST = 4
_MIDDLE_OCTAVE = 4
_FACT = "chant-"
RUBRIC = ".rubric"
"""How the ids of our rubrics end."""
_NOTE_ID = re.compile(r"(.+)n\d+")
_MOST_NOTES = 20_000


def _bad(what: str, file: str, line: int | None, remedy: str, word: str = "") -> ChantError:
    return ChantError(what, where=Where(file, line or 0, word=word), remedy=remedy)


def _decimal(text: str | None, name: str, file: str, line: int | None) -> Fraction:
    try:
        value = Fraction((text or "").strip())
    except (ValueError, ZeroDivisionError):
        raise _bad(
            f"“{(text or '').strip()[:30]}” is no number for {name}.",
            file,
            line,
            "Export the file anew from the program that made it.",
        ) from None
    if abs(value) > 1_000_000:
        raise _bad(f"the {name} is far too large.", file, line, "Export the file anew.")
    return value


@dataclass(slots=True)
class _Reader:
    """What has been read so far."""

    file: str
    own: bool
    divisions: Fraction = Fraction(1)
    notes: list[Sung] = field(default_factory=list)
    cola: list[Colon] = field(default_factory=list)
    tied: bool = False
    voice: str | None = None
    rubric: str = ""
    id: str = ""
    tempo: int | None = None
    count: int = 0

    def close(self, rest: Fraction = Fraction(0)) -> None:
        if self.notes:
            self.cola.append(Colon(tuple(self.notes), rest, self.rubric, self.id))
            self.notes, self.rubric, self.id = [], "", ""
        elif self.cola and rest:
            self.cola[-1] = replace(self.cola[-1], rest=self.cola[-1].rest + rest)

    def _pitch(self, note: etree._Element, pitch: etree._Element) -> tuple[int, Fraction]:
        line = note.sourceline
        letter = (pitch.findtext("{*}step") or "").strip().upper()
        if len(letter) != 1 or letter not in _STEPS:
            raise _bad(f"“{letter[:20]}” is no note letter.", self.file, line, "Use A to G.")
        octave = _decimal(pitch.findtext("{*}octave"), "the octave", self.file, line)
        alter = pitch.findtext("{*}alter")
        semitones = Fraction(0)
        if alter is not None:
            semitones = _decimal(alter, "the alteration", self.file, line)
        turns = int(octave) - _MIDDLE_OCTAVE
        index = _STEPS.index(letter)
        # Written decimals stand for plain fractions of a semitone.
        moria = (6 * semitones).limit_denominator(10_000) + KEYS[index] + 72 * turns
        return 7 * turns + index, moria

    def _lyric(self, note: etree._Element) -> tuple[str, Place]:
        for lyric in note.iterfind("{*}lyric"):
            if lyric.get("number", "1") not in ("1", "verse1", "part1verse1"):
                continue
            text = "".join((t.text or "") for t in lyric.iterfind("{*}text"))
            kind = (lyric.findtext("{*}syllabic") or "single").strip()
            text = " ".join(text.split())
            if text:
                return text, cast(Place, kind) if kind in PLACES else "single"
        return "", "single"

    def note(self, note: etree._Element) -> None:
        if note.find("{*}grace") is not None or note.find("{*}cue") is not None:
            return
        voice = (note.findtext("{*}voice") or "1").strip()
        if self.voice is None and note.find("{*}rest") is None:
            self.voice = voice
        if voice != (self.voice or voice):
            return
        line = note.sourceline
        length = _decimal(note.findtext("{*}duration"), "the duration", self.file, line)
        beats = length / self.divisions
        if beats <= 0 or beats > 999:
            raise _bad("a note has no length that can be sung.", self.file, line, "Mend it.")
        if note.find("{*}rest") is not None:
            self.close(beats)
            return
        pitch = note.find("{*}pitch")
        if pitch is None:
            return
        step, moria = self._pitch(note, pitch)
        if note.find("{*}chord") is not None:
            if self.notes and moria > self.notes[-1].moria:
                self.notes[-1] = replace(self.notes[-1], step=step, moria=moria)
            return
        kinds = {tie.get("type") for tie in note.iterfind("{*}tie")}
        if self.tied and "stop" in kinds and self.notes and self.notes[-1].moria == moria:
            before = self.notes[-1]
            self.notes[-1] = replace(before, beats=before.beats + beats)
        else:
            self.count += 1
            if self.count > _MOST_NOTES:
                raise _bad("there are too many notes.", self.file, line, "Export one hymn only.")
            text, place = self._lyric(note)
            name = _syllable_id(note.get("id", "")) if self.own and text else ""
            self.notes.append(Sung(moria, beats, step, text, place, line or 0, name))
        self.tied = "start" in kinds
        if not self.tied and self._ends(note):
            self.close()

    def _ends(self, note: etree._Element) -> bool:
        for marks in note.iterfind("{*}notations/{*}articulations"):
            if marks.find("{*}breath-mark") is not None or marks.find("{*}caesura") is not None:
                return True
        return False

    def after_words(self) -> None:
        """Close a phrase before a new syllable when its words end with a stop."""
        if self.own or len(self.notes) < _FEWEST:
            return
        said = next((n.text for n in reversed(self.notes) if n.text), "")
        if _STOP.search(said):
            self.close()

    def direction(self, direction: etree._Element) -> None:
        sound = direction.find("{*}sound")
        if sound is not None and sound.get("tempo") and self.tempo is None:
            value = _decimal(sound.get("tempo"), "the tempo", self.file, direction.sourceline)
            if 10 <= value <= 999:
                self.tempo = round(value)
        for words in direction.iterfind("{*}direction-type/{*}words"):
            if self.own and words.get("id", "").endswith(RUBRIC):
                self.rubric += ("\n" if self.rubric else "") + (words.text or "")


def _syllable_id(note: str) -> str:
    found = _NOTE_ID.fullmatch(note)
    return found[1] if found else ""


def _starts_syllable(note: etree._Element) -> bool:
    return any((t.text or "").strip() for t in note.iterfind("{*}lyric/{*}text"))


def _closes(barline: etree._Element) -> bool:
    style = (barline.findtext("{*}bar-style") or "").strip()
    return barline.get("location", "right") == "right" and style in _CLOSING_BARS


def _measure(reader: _Reader, measure: etree._Element) -> None:
    if reader.own:
        reader.id = measure.get("id", "")
    for element in measure:
        if not isinstance(element.tag, str):
            continue
        name = etree.QName(element).localname
        if name == "attributes":
            text = element.findtext("{*}divisions")
            if text is not None:
                value = _decimal(text, "the divisions", reader.file, element.sourceline)
                if value <= 0:
                    raise _bad(
                        "the divisions of a beat are not above 0.",
                        reader.file, element.sourceline, "Export the file anew.",
                    )  # fmt: skip
                reader.divisions = value
        elif name == "note":
            if _starts_syllable(element):
                reader.after_words()
            reader.note(element)
        elif name == "direction":
            reader.direction(element)
        elif name == "barline" and _closes(element):
            reader.close()
    if reader.own:
        reader.close()


def _facts(root: etree._Element) -> Mapping[str, str]:
    out = {}
    for row in root.iterfind("{*}identification/{*}miscellaneous/{*}miscellaneous-field"):
        name = row.get("name", "")
        if name.startswith(_FACT):
            out[name.removeprefix(_FACT)] = (row.text or "").strip()
    return MappingProxyType(out)


def _creators(root: etree._Element, kinds: tuple[str, ...]) -> str:
    found = root.iterfind("{*}identification/{*}creator")
    return ", ".join(" ".join((c.text or "").split()) for c in found if c.get("type") in kinds)


def loads_musicxml(data: bytes, *, part: int = 1, file: str = "") -> Melody:
    """Read a melody from the bytes of a MusicXML file, packed or not.

    Parameters
    ----------
    data : bytes
        A ``score-partwise`` document, or a packed one.
    part : int
        Which part is the melody, from 1.
    file : str
        Named in errors.

    Raises
    ------
    ChantError
        If the file is damaged, is no such score, or has no such part; names the line.
    """
    root = parse_xml(unpacked(data, file), file)
    kind = etree.QName(root).localname
    if kind != "score-partwise":
        raise _bad(
            f"this is a “{kind[:40]}” file, not a score in parts.",
            file,
            root.sourceline,
            "Export it as MusicXML (score-partwise).",
        )
    parts = list(root.iterfind("{*}part"))
    if not 1 <= part <= len(parts):
        raise _bad(
            f"the file has {len(parts)} part(s), so there is no part {part}.",
            file,
            None,
            "Name a part that is there.",
        )
    facts = _facts(root)
    reader = _Reader(file, own=bool(facts.get("tuning")))
    for measure in parts[part - 1].iterfind("{*}measure"):
        _measure(reader, measure)
    reader.close()
    title = root.findtext("{*}work/{*}work-title") or root.findtext("{*}movement-title") or ""
    return Melody(
        title=" ".join(title.split()),
        cola=tuple(reader.cola),
        facts=facts,
        tempo=reader.tempo,
        words_source=_creators(root, ("words", "lyricist", "poet")),
        melody_source=_creators(root, ("melody", "composer", "arranger")),
    )


def read_musicxml(path: str | Path, *, part: int = 1) -> Melody:
    """Read a melody from a MusicXML file (.musicxml, .xml, .mxl).

    Errors are those of `loads_musicxml`, and of a file that cannot be read.
    """
    return loads_musicxml(read_limited(Path(path)), part=part, file=str(path))
