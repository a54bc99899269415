"""A text written out with all its readings as marks, to be corrected and read again."""

from __future__ import annotations

import unicodedata

from chantwright.words.cleaning import MARKS
from chantwright.words.phrasing import split
from chantwright.words.text import Text, Word

__all__ = ["marked", "own_marks"]

_ACUTE, _GRAVE = "\u0301", "\u0300"
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
        Read again, it gives the same words, marks, bars, verses and rubrics (a stray apostrophe
        before a word may become the word's own); and a text that is
        written in this way already comes back letter by letter: one space between words, a line
        for each phrase that ends with a bar, a blank line before a verse.
    """
    out = ""
    for i, word in enumerate(text.words):
        if word.verse_start and i:
            out = out.rstrip() + "\n\n"
        out += "".join(f"{{{line}}} " for line in word.rubric.split("\n") if line)
        out += _plain(word.before) + _composed(word.marked) + _plain(word.after)
        if word.keep:
            out += "~"
        else:
            out += f" {word.bar}\n" if word.bar else " "
    return out.strip()


def _composed(letters: str) -> str:
    return unicodedata.normalize("NFC", letters)


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
