"""A text written out with all its readings as marks, to be corrected and read again."""

from __future__ import annotations

import unicodedata

from chantwright.words.phrasing import split
from chantwright.words.text import Text, Word

__all__ = ["marked"]

_ACUTE, _GRAVE = "\u0301", "\u0300"
_BARS = {"medial": " |", "full": " ||", "final": " |||", "long": " |||"}


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
        between syllables, an acute on the primary stress, a grave on a content word of one
        syllable that is not stressed. Read again, it gives the same syllables, the same primary
        stresses and the same phrases.
    """
    lines: list[str] = []
    for span in split(text):
        own = text.words[span.first : span.stop]
        if own[0].verse_start and lines:
            lines.append("")
        lines += [f"{{{line}}}" for w in own for line in w.rubric.split("\n") if line]
        words = " ".join(w.before + _word(w) + w.after + ("~" if w.keep else "") for w in own)
        lines.append(words.replace("~ ", "~") + _BARS[span.cadence])
    return "\n".join(lines)


def _word(word: Word) -> str:
    parts = []
    for syllable in word.syllables:
        part = syllable.text
        if syllable.stress == 1:
            part = _accented(part, _ACUTE)
        elif len(word.syllables) == 1:
            part = _accented(part, _GRAVE)
        parts.append(part)
    return "·".join(parts)


def _accented(part: str, accent: str) -> str:
    """Put an accent on the first vowel letter; on the first letter when there is none."""
    plain = [unicodedata.normalize("NFD", c)[0].lower() for c in part]
    at = next((i for i, c in enumerate(plain) if c in "aeiou"), None)
    if at is None:
        at = next((i for i, c in enumerate(plain) if c == "y"), 0)
    return unicodedata.normalize("NFC", part[: at + 1] + accent + part[at + 1 :])
