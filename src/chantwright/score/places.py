"""Where things stand in a hymn, and the hymn with something else in their place."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from chantwright.errors import ChantError, Where
from chantwright.score.model import Hymn, Phrase, Syllable, number
from chantwright.score.validate import validate

__all__ = [
    "change_phrase",
    "change_syllable",
    "done",
    "find_note",
    "find_phrase",
    "find_syllable",
    "with_phrases",
    "with_syllables",
]


def _missing(kind: str, name: str) -> ChantError:
    return ChantError(
        f"the hymn has no {kind} “{name}”.",
        where=Where(word=name),
        remedy="It may have been joined or taken away; look at the hymn again.",
    )


def find_phrase(hymn: Hymn, phrase_id: str) -> int:
    """Place of a phrase in the hymn, counted from 0.

    Raises
    ------
    ChantError
        If the hymn has none of that id.
    """
    for i, phrase in enumerate(hymn.phrases):
        if phrase.id and phrase.id == phrase_id:
            return i
    raise _missing("phrase", phrase_id)


def find_syllable(hymn: Hymn, syllable_id: str) -> tuple[int, int]:
    """Places of a syllable: of its phrase in the hymn, and its own in the phrase, from 0.

    Raises
    ------
    ChantError
        If the hymn has none of that id.
    """
    for i, phrase in enumerate(hymn.phrases):
        for j, syllable in enumerate(phrase.syllables):
            if syllable.id and syllable.id == syllable_id:
                return i, j
    raise _missing("syllable", syllable_id)


def find_note(hymn: Hymn, note_id: str) -> tuple[int, int, int]:
    """Places of a note: phrase in the hymn, syllable in the phrase, note in the syllable, from 0.

    Raises
    ------
    ChantError
        If the hymn has none of that id.
    """
    syllable_id, _, place = note_id.rpartition("n")
    if not (syllable_id and place.isascii() and place.isdigit() and len(place) < 6):
        raise _missing("note", note_id)
    i, j = find_syllable(hymn, syllable_id)
    if not 1 <= int(place) <= len(hymn.phrases[i].syllables[j].notes):
        raise _missing("note", note_id)
    return i, j, int(place) - 1


def done(hymn: Hymn) -> Hymn:
    """Check a new hymn and number what is new in it."""
    validate(hymn)
    return number(hymn)


def with_phrases(hymn: Hymn, start: int, stop: int, new: Iterable[Phrase]) -> Hymn:
    """Put phrases in the place of those from `start` to before `stop`."""
    return done(replace(hymn, phrases=(*hymn.phrases[:start], *new, *hymn.phrases[stop:])))


def with_syllables(hymn: Hymn, i: int, start: int, stop: int, new: Iterable[Syllable]) -> Hymn:
    """Put syllables in the place of those from `start` to before `stop` of phrase number `i`."""
    old = hymn.phrases[i]
    syllables = (*old.syllables[:start], *new, *old.syllables[stop:])
    return with_phrases(hymn, i, i + 1, [replace(old, syllables=syllables)])


def change_syllable(hymn: Hymn, syllable_id: str, change: Callable[[Syllable], Syllable]) -> Hymn:
    """Change one syllable."""
    i, j = find_syllable(hymn, syllable_id)
    return with_syllables(hymn, i, j, j + 1, [change(hymn.phrases[i].syllables[j])])


def change_phrase(hymn: Hymn, phrase_id: str, change: Callable[[Phrase], Phrase]) -> Hymn:
    """Change one phrase."""
    i = find_phrase(hymn, phrase_id)
    return with_phrases(hymn, i, i + 1, [change(hymn.phrases[i])])
