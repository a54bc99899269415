"""A text written out with all its readings as marks, to be corrected and read again."""

from __future__ import annotations

import unicodedata
from typing import Any

from chantwright.errors import ChantError
from chantwright.words.cleaning import MARKS
from chantwright.words.lines import read_words
from chantwright.words.phrasing import split
from chantwright.words.text import Text, Word

__all__ = ["marked", "own_marks"]

_ACUTE, _GRAVE = "\u0301", "\u0300"
_ASCII, _EVERYTHING = 128, 2
_ROUNDS = 6
"""Readings after which a heap of stray signs has long come to rest."""
_BARS = {"medial": " |", "full": " ||", "final": " |||", "long": " |||"}


def own_marks(text: Text) -> str:
    """Write out a text with the teacher's own marks and no others.

    Parameters
    ----------
    text : Text
        As read.

    Returns
    -------
    str
        Read again, it gives the same words, marks, bars, verses and rubrics. A text that is written
        in this way already comes back letter by letter: one space between words, a line for each
        phrase that ends with a bar, a blank line before a verse. Where a word would be taken for
        something else (*Glory* alone on a line for a heading), a backslash stands before it; a sign
        that could not come back where it stands in any way (an apostrophe between two words, as a
        rule) goes where it would be read.
    """
    for _ in range(_ROUNDS):
        for guard in range(_EVERYTHING + 1):
            out = _own(text, guard)
            again = _again(out, text)
            if again is not None and _kept(again) == _kept(text):
                return out
        text = text if again is None else again
    return out


def _again(out: str, text: Text) -> Text | None:
    try:
        return read_words(out, language=text.language)
    except ChantError:
        return None


def _kept(text: Text) -> list[tuple[Any, ...]]:
    """What must come back of a text."""
    return [
        (w.before, w.marked, w.after, w.bar, w.keep, w.verse_start, w.rubric) for w in text.words
    ]


def _own(text: Text, guard: int) -> str:
    out = ""
    for i, word in enumerate(text.words):
        if word.verse_start and i:
            out = out.rstrip() + "\n\n"
        out += "".join(f"{{{line}}} " for line in word.rubric.split("\n") if line)
        out += _guarded(word, guard, first=out[-1:] in ("", "\n"))
        if word.keep:
            out += "~"
        else:
            out += f" {word.bar}\n" if word.bar else " "
    return out.strip()


def _guarded(word: Word, guard: int, *, first: bool) -> str:
    """A word with its signs; guarded, a backslash before the first of a line (1), or all (2)."""
    mark = "\\" if guard == _EVERYTHING or (guard and first) else ""
    after = _plain(word.after)
    if guard == _EVERYTHING:
        after = "".join(f"\\{c}" if ord(c) < _ASCII and not c.isspace() else c for c in word.after)
    return _plain(word.before) + mark + word.marked + after


def _plain(signs: str) -> str:
    """Put a backslash before each sign that would be read as a mark."""
    return "".join(f"\\{c}" if c in MARKS else c for c in signs)


def marked(text: Text) -> str:
    """Write out a text with the teacher's own marks.

    Parameters
    ----------
    text : Text
        As read.

    Returns
    -------
    str
        A line a phrase with its bar, a blank line before a verse, rubrics in braces; middle dots
        between syllables; in English an acute on each primary stress, and a grave on a longer word
        that has none.
        Read again, it gives the same syllables, the same primary stresses and the same phrases.
    """
    lines: list[str] = []
    for span in split(text):
        own = text.words[span.first : span.stop]
        if own[0].verse_start and lines:
            lines.append("")
        lines += [f"{{{line}}}" for w in own for line in w.rubric.split("\n") if line]
        words = " ".join(
            _plain(w.before) + _marked(w) + _plain(w.after) + ("~" if w.keep else "") for w in own
        )
        lines.append(words.replace("~ ", "~") + _BARS[span.cadence])
    return "\n".join(lines)


def _marked(word: Word) -> str:
    greek = any("GREEK" in unicodedata.name(c, "") for c in word.text)
    return _dotted(word) if greek else _english(word)


def _dotted(word: Word) -> str:
    return "·".join(s.text for s in word.syllables)


def _english(word: Word) -> str:
    parts = [_accented(s.text, _ACUTE) if s.stress == 1 else s.text for s in word.syllables]
    if 1 not in word.stress and (len(parts) > 1 or word.fixed):
        # without a grave, its reading would give it back its stress
        at = max(range(len(parts)), key=lambda i: word.syllables[i].level)
        parts[at] = _accented(parts[at], _GRAVE)
    return "·".join(parts)


def _accented(part: str, accent: str) -> str:
    """Put an accent on the first vowel letter; on the first letter when there is none."""
    plain = [unicodedata.normalize("NFD", c)[0].lower() for c in part]
    at = next((i for i, c in enumerate(plain) if c in "aeiou"), None)
    if at is None:
        at = next((i for i, c in enumerate(plain) if c == "y"), 0)
    return unicodedata.normalize("NFC", part[: at + 1] + accent + part[at + 1 :])
