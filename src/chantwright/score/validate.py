"""What a hymn must be so that it can be written down and read back unchanged.

The model is frozen but trusting: a program can build a syllable without letters or a note of no
length. `validate` finds that before it reaches a file or a singer. A hymn without ids is legal;
`number` gives it ids when it is written.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from fractions import Fraction

from chantwright.errors import ChantError, Where
from chantwright.score.model import (
    CADENCES,
    ENDINGS,
    MELODY_SOURCES,
    PLACES,
    UNISON,
    Hymn,
    Ison,
    Note,
    Phrase,
    Syllable,
)

__all__ = [
    "HIGHEST",
    "ID",
    "LINE_BREAKS",
    "LOWEST",
    "MAX_BEATS",
    "MAX_BEND",
    "MAX_DENOMINATOR",
    "MAX_HZ",
    "MAX_TEMPO",
    "MIN_HZ",
    "validate",
]

LOWEST, HIGHEST = -14, 21
"""Two octaves under ni to three above it: wider than any voice."""
MAX_BEATS = 999
MAX_DENOMINATOR = 10_000
MAX_BEND = 72
"""Moria; one octave."""
MIN_HZ, MAX_HZ = 1.0, 20_000.0
MAX_TEMPO = 999
LINE_BREAKS = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"
"""Everything that Unicode and Python take for the end of a line."""
ID = re.compile(r"[A-Za-z][A-Za-z0-9_.-]{0,79}")
"""Ids go into pictures and web pages, so they keep to what an XML name allows."""

_FOLLOWS = {
    None: ("single", "begin"),
    "single": ("single", "begin"),
    "end": ("single", "begin"),
    "begin": ("middle", "end"),
    "middle": ("middle", "end"),
}


def _fault(what: str, place: str, remedy: str) -> ChantError:
    return ChantError(what, where=Where(word=place), remedy=remedy)


def _text(text: str, name: str, place: str, *, empty: bool = False) -> None:
    if any(c in LINE_BREAKS for c in text):
        raise _fault(
            f"the {name} holds a line break.", place, "Put it on one line, or make two of it."
        )
    if not text.isascii():
        try:
            text.encode("utf-8")
        except UnicodeEncodeError:
            raise _fault(
                f"the {name} holds a broken character.", place, "Delete it and type it again."
            ) from None
    if not empty and not text.strip():
        raise _fault(f"the {name} is empty.", place, "Write it, or take it out.")


def _name(text: str | None, name: str, place: str) -> None:
    if text is None:
        return
    _text(text, name, place)
    if text.split() != [text]:
        raise _fault(f"the {name} “{text}” is not one word.", place, "Write it without spaces.")


def _number(value: Fraction | int, name: str, place: str) -> None:
    if Fraction(value).denominator > MAX_DENOMINATOR:
        raise _fault(
            f"the {name} is cut too fine.",
            place,
            f"Use fractions with a denominator up to {MAX_DENOMINATOR}.",
        )


def _degree(degree: int, place: str) -> None:
    if not LOWEST <= degree <= HIGHEST:
        raise _fault(
            f"the degree {degree} lies beyond any voice.", place, "Move it by some octaves."
        )


def _ison(ison: Ison, place: str) -> None:
    if ison is None or ison == UNISON:
        return
    if not isinstance(ison, int):
        raise _fault(
            f"the ison “{ison}” is not known.", place, "Give a degree, “unison” or nothing."
        )
    _degree(ison, place)


def _note(note: Note, place: str) -> None:
    _degree(note.degree, place)
    if not 0 < note.beats <= MAX_BEATS:
        raise _fault(
            f"a note lasts {note.beats} beats.",
            place,
            f"Give it more than 0 and up to {MAX_BEATS}.",
        )
    _number(note.beats, "length of a note", place)
    if not -MAX_BEND <= note.bend <= MAX_BEND:
        raise _fault(
            f"a note is bent by {note.bend} moria.", place, "Stay within an octave (72 moria)."
        )
    _number(note.bend, "bend of a note", place)


def _syllable(syllable: Syllable, place: str) -> None:
    _text(syllable.text, "text of the syllable", place)
    if syllable.stress not in (0, 1, 2):
        raise _fault(
            f"the stress {syllable.stress} is not known.",
            place,
            "Use 0 (none), 1 (primary) or 2 (secondary).",
        )
    _ison(syllable.ison, place)
    for note in syllable.notes:
        _note(note, place)


def _words(phrase: Phrase, place: str) -> None:
    if phrase.syllables and phrase.text:
        raise _fault(
            "the phrase holds both its undivided words and its syllables.",
            place,
            "Empty the text once the words are divided.",
        )
    if not phrase.syllables:
        _text(phrase.text, "phrase", place)
        return
    before = None
    for index, syllable in enumerate(phrase.syllables, start=1):
        here = syllable.id or f"{place} syllable {index}"
        _syllable(syllable, here)
        if syllable.place not in PLACES or syllable.place not in _FOLLOWS[before]:
            raise _fault(
                f"the syllable “{syllable.text}” cannot stand in its word as “{syllable.place}”.",
                here,
                "A word is one single, or a begin, any middles and an end.",
            )
        before = syllable.place
    if before in ("begin", "middle"):
        raise _fault("the last word of the phrase has no end.", place, "A phrase ends with a word.")


def _phrase(phrase: Phrase, place: str) -> None:
    _words(phrase, place)
    if phrase.cadence is not None and phrase.cadence not in CADENCES:
        raise _fault(
            f"the cadence “{phrase.cadence}” is not known.", place, f"Use {', '.join(CADENCES)}."
        )
    _name(phrase.scale, "scale", place)
    for line in phrase.rubric.split("\n"):
        _text(line, "rubric", place, empty=True)
    for remark in phrase.remarks:
        _text(remark, "remark", place, empty=True)
    if not 0 <= phrase.rest <= MAX_BEATS:
        raise _fault(
            f"the rest lasts {phrase.rest} beats.", place, f"Give it 0 to {MAX_BEATS} beats."
        )
    _number(phrase.rest, "rest", place)
    _name(phrase.peak or None, "marked word", place)
    if phrase.same_as and not ID.fullmatch(phrase.same_as):
        raise _fault(
            f"“{phrase.same_as}” does not name a phrase.", place, "Use the id of an earlier phrase."
        )


def _heading(hymn: Hymn) -> None:
    for text, name in (
        (hymn.title, "title"),
        (hymn.words_source, "source of the words"),
        (hymn.melody_source, "source of the melody"),
        *((remark, "remark") for remark in hymn.remarks),
    ):
        _text(text, name, "header", empty=True)
    for value, name in (
        (hymn.branch, "branch"),
        (hymn.style, "style"),
        (hymn.language, "language"),
        (hymn.intonation, "intonation"),
    ):
        _name(value, name, "header")
    if hymn.tone is not None and not 1 <= hymn.tone <= 8:
        raise _fault(f"there is no tone {hymn.tone}.", "header", "Tones are 1 to 8.")
    if hymn.tempo is not None and not 1 <= hymn.tempo <= MAX_TEMPO:
        raise _fault(
            f"the tempo is {hymn.tempo}.", "header", f"Give 1 to {MAX_TEMPO} beats a minute."
        )
    if hymn.ending not in ENDINGS:
        raise _fault(f"the ending “{hymn.ending}” is not known.", "header", "Use ordinary or long.")
    if hymn.melody_kind is not None and hymn.melody_kind not in MELODY_SOURCES:
        raise _fault(
            f"the melody kind “{hymn.melody_kind}” is not known.",
            "header",
            f"Use {', '.join(MELODY_SOURCES)}.",
        )
    if hymn.base is not None:
        _degree(hymn.base.degree, "base")
        if not (math.isfinite(hymn.base.hz) and MIN_HZ <= hymn.base.hz <= MAX_HZ):
            raise _fault(
                f"the base sounds at {hymn.base.hz} Hz.", "base", "Give a pitch a voice can sing."
            )


def _ids(hymn: Hymn) -> Iterator[str]:
    for phrase in hymn.phrases:
        yield phrase.id
        for syllable in phrase.syllables:
            yield syllable.id


def validate(hymn: Hymn) -> None:
    """Check that a hymn is sound.

    Parameters
    ----------
    hymn : Hymn
        Numbered or not.

    Raises
    ------
    ChantError
        At the first fault; names the phrase or syllable by its id, or by its place where it has
        none. Faults are: words that are empty, broken or run over a line end; syllables that do
        not make whole words; both undivided words and syllables; a value outside its range or
        list; a note without length; an id that is used twice or holds a letter ids cannot hold.
    """
    _heading(hymn)
    for index, phrase in enumerate(hymn.phrases, start=1):
        _phrase(phrase, phrase.id or f"phrase {index}")
    seen: set[str] = set()
    for name in filter(None, _ids(hymn)):
        if not ID.fullmatch(name):
            raise _fault(
                "this id cannot be used.",
                name,
                "Begin it with a letter and use letters, digits, “_”, “.” and “-” only.",
            )
        if name in seen:
            raise _fault("this id is used twice.", name, "Give one of the two another id.")
        seen.add(name)
