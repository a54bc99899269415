"""The door of the package: a text in, divided words out; and words into score phrases."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from chantwright.errors import ChantError, Where
from chantwright.score import Hymn, Phrase, Place, Syllable, number
from chantwright.words.cleaning import clean
from chantwright.words.lexicon import load_lists
from chantwright.words.phrasing import split, split_words
from chantwright.words.reading import known
from chantwright.words.source import source_text
from chantwright.words.stress import accent
from chantwright.words.text import Span, Text, Word
from chantwright.words.tokens import tokens
from chantwright.words.tongues import read_tongues

__all__ = ["divide", "read_words", "to_phrases"]

LANGUAGES = ("en", "el", "grc")


def read_words(
    raw: str, *, language: str = "en", overrides: Iterable[Path] = (), file: str = ""
) -> Text:
    """Read a text in any pasted state.

    Parameters
    ----------
    raw : str
        The text, with or without the teacher's marks.
    language : str
        ``en``; ``el`` or ``grc`` for Greek, whose stress is that of its accents. Words of the
        other of the two are read by its own rules, and listed.
    overrides : iterable of Path
        Parish files; their ``[[word]]``, ``[[level]]`` ... rows win over ours.
    file : str
        File name for errors.

    Returns
    -------
    Text
        Words, divided and accented, and everything that was changed.

    Raises
    ------
    ChantError
        If nothing is left to sing, or the letters are not of the language.
    """
    tongue = language.split("-", maxsplit=1)[0].lower()
    if tongue not in LANGUAGES:
        raise ChantError(
            f"there are no rules for dividing words of the language “{language}”.",
            where=Where(file),
            remedy=f"Known are: {', '.join(LANGUAGES)}.",
        )
    lists = load_lists(overrides)
    cleaned = clean(raw, lists, lambda w: known(w, lists), tongue)
    found = tokens(cleaned)
    if not found:
        raise _nothing(raw, cleaned.text, file)
    words, other = read_tongues(found, tongue, lists, file)
    spans, long = split_words(words, lists)
    words = accent(words, lists, {s.stop - 1 for s in spans})
    return Text(words, (*cleaned.changes, *other, *long), tongue, file, spans)


def _nothing(raw: str, left: str, file: str) -> ChantError:
    if not raw.strip():
        what = "there are no words to sing: the text is empty."
    elif "{" in left:
        what = "there are no words to sing: the text is only a rubric."
    elif any(c.isdigit() for c in raw) and not any(c.isalpha() for c in raw):
        what = "there are no words to sing: the text is only numbers."
    else:
        what = "there are no words to sing: the text is only signs."
    return ChantError(what, where=Where(file), remedy="Write or paste the words of the hymn.")


def to_phrases(text: Text) -> tuple[Phrase, ...]:
    """Make score phrases of a text: syllables, stress, cadence; no notes.

    A bar ``|`` is a medial cadence, ``||`` a full one, ``|||`` a final one; the end of a verse is
    full; the last phrase is final; elsewhere the punctuation decides (comma or nothing: medial;
    full stop, semicolon, colon, question or exclamation mark: full).

    Parameters
    ----------
    text : Text
        From `read_words`.

    Returns
    -------
    tuple of Phrase
        Without ids.
    """
    return tuple(_phrase(text.words, span) for span in split(text))


def _phrase(words: Sequence[Word], span: Span) -> Phrase:
    own = words[span.first : span.stop]
    return Phrase(
        syllables=tuple(s for w in own for s in _syllables(w)),
        cadence=span.cadence,
        rubric="\n".join(w.rubric for w in own if w.rubric),
        verse_start=span.first > 0 and own[0].verse_start,
    )


def _syllables(word: Word) -> list[Syllable]:
    last = len(word.syllables) - 1
    found = []
    for i, syl in enumerate(word.syllables):
        place: Place = "middle"
        if last == 0:
            place = "single"
        elif i == 0:
            place = "begin"
        elif i == last:
            place = "end"
        printed = syl.text
        if i == 0:
            printed = word.before + printed
        if i == last:
            printed += word.after
        found.append(Syllable(printed, place, syl.stress))
    return found


def divide(hymn: Hymn, overrides: Iterable[Path] = ()) -> Hymn:
    """Divide the words of a hymn that has words alone.

    Phrases that are divided already stay as they are. A phrase of words may become several: its
    bars and verses decide, then sense and length. A hymn of words alone is read as one text, so
    that lines wrapped by a page are joined first (`chantwright.words.layout`). A cadence, scale,
    rubric or verse start that the phrase has already is kept at its edge.

    Parameters
    ----------
    hymn : Hymn
        With phrases whose `text` holds words, marks and all.
    overrides : iterable of Path
        Parish files.

    Returns
    -------
    Hymn
        Every phrase divided, every syllable with an id.

    Raises
    ------
    ChantError
        As `read_words`; the word is named.
    """
    paths = tuple(overrides)
    if _plain(hymn):
        whole = read_words(source_text(hymn), language=hymn.language, overrides=paths)
        return number(replace(hymn, phrases=to_phrases(whole)))
    done: list[Phrase] = []
    last = len(hymn.phrases) - 1
    for i, phrase in enumerate(hymn.phrases):
        if phrase.syllables or not phrase.text.strip():
            done.append(phrase)
            continue
        own = to_phrases(read_words(phrase.text, language=hymn.language, overrides=paths))
        done += _dressed(own, phrase, hymn.phrases[i + 1] if i < last else None)
    return number(replace(hymn, phrases=tuple(done)))


def _plain(hymn: Hymn) -> bool:
    """Whether the hymn is words alone, so that they can be read as one text."""
    return bool(hymn.phrases) and all(
        p.text.strip()
        and not (p.syllables or p.scale or p.rest or p.remarks or p.same_as or p.peak)
        and p.cadence != "long"
        for p in hymn.phrases
    )


def _dressed(own: Sequence[Phrase], phrase: Phrase, following: Phrase | None) -> list[Phrase]:
    """Give the pieces of a phrase what the whole had."""
    pieces = list(own)
    rubric = "\n".join(r for r in (phrase.rubric, pieces[0].rubric) if r)
    pieces[0] = replace(
        pieces[0],
        rubric=rubric,
        scale=phrase.scale,
        verse_start=phrase.verse_start or pieces[0].verse_start,
        id=phrase.id,
        same_as=phrase.same_as if len(pieces) == 1 else "",
    )
    if phrase.peak:
        at = next((i for i, p in enumerate(pieces) if phrase.peak in p.words.split()), 0)
        pieces[at] = replace(pieces[at], peak=phrase.peak)
    end = pieces[-1]
    cadence = phrase.cadence
    if cadence is None:
        cadence = end.cadence
        if following is not None and cadence == "final":
            stops = end.syllables[-1].text.rstrip("”’\"')")[-1:] in ".;:!?…"
            cadence = "full" if following.verse_start or stops else "medial"
    pieces[-1] = replace(end, cadence=cadence, rest=phrase.rest)
    return pieces
