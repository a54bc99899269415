"""Divided words: what `read_words` returns.

Conventions
-----------
A *level* is how strongly a syllable wants the accent: 0 never (an article) to 5 (a content word).
*Stress* is what is sung: 0 none, 1 primary, 2 secondary. Lines and columns count from 1 in the
text as it was given. Letters of the syllables of a word, joined, are the letters of the word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from chantwright.score import Cadence

__all__ = ["Change", "Source", "Span", "Syl", "Text", "Word", "close_of", "written"]

Source = Literal["teacher", "parish", "preference", "lexicon", "rule", "guess"]


def written(syllables: Sequence[str], stress: Sequence[int]) -> str:
    """Write a reading as word lists have it; a hyphen of the word itself becomes ``=``."""
    letters = "-".join(s.replace("-", "=") for s in syllables).replace("=-", "=")
    return letters + ":" + "".join(map(str, stress))


@dataclass(frozen=True, slots=True)
class Change:
    """Something that was changed, taken out or doubted while reading a text.

    Attributes
    ----------
    kind : str
        Short name, such as ``verse number`` or ``line-end hyphen``.
    before, after : str
        What stood there and what stands there now.
    line, column : int
        Place in the text as given; 0 when the change is not in one place.
    note : str
        What the teacher may want to do about it.
    """

    kind: str
    before: str
    after: str = ""
    line: int = 0
    column: int = 0
    note: str = ""

    def __str__(self) -> str:
        place = f"line {self.line}: " if self.line else ""
        now = f"“{self.after}”" if self.after else "left out"
        tail = f" ({self.note})" if self.note else ""
        if self.before == self.after:
            return f"{place}{self.kind} “{self.before}”{tail}"
        return f"{place}{self.kind}: “{self.before}” → {now}{tail}".replace("\n", "↵")


@dataclass(frozen=True, slots=True)
class Syl:
    """One syllable: its letters, its level 0..5 and its stress 0, 1 or 2."""

    text: str
    level: int
    stress: int


@dataclass(frozen=True, slots=True)
class Word:
    """One word, divided.

    Attributes
    ----------
    text : str
        The letters as printed, without punctuation and without marks.
    syllables : tuple of Syl
        Their texts joined are `text`.
    source : str
        Who says so: teacher, parish, preference, lexicon, rule or guess.
    alternatives : tuple of str
        Other readings, each as ``syl-la-bles:100``.
    line, column : int
        Place in the text as given.
    before, after : str
        Punctuation that belongs to it.
    marked : str
        The word as the teacher wrote it, marks and all.
    bar : str
        Phrase bar after it: ``|`` medial, ``||`` full, ``|||`` final, or nothing.
    keep : bool
        The teacher forbids a phrase end after it (``~``).
    verse_start : bool
        A blank line or a verse number stands before it.
    rubric : str
        Printed in red before it, never sung.
    fixed : bool
        The teacher marked its stress: no rule of rhythm may move it.
    """

    text: str
    syllables: tuple[Syl, ...]
    source: Source
    alternatives: tuple[str, ...] = ()
    line: int = 0
    column: int = 0
    before: str = ""
    after: str = ""
    marked: str = ""
    bar: str = ""
    keep: bool = False
    verse_start: bool = False
    rubric: str = ""
    fixed: bool = False

    @property
    def stress(self) -> tuple[int, ...]:
        """Stress of each syllable."""
        return tuple(s.stress for s in self.syllables)

    @property
    def reading(self) -> str:
        """The reading as written in word lists: ``heav-en:10``."""
        return written([s.text for s in self.syllables], self.stress)

    def to_json(self) -> dict[str, Any]:
        """Return the word as plain values; see `Text.to_json`."""
        return {
            "text": self.text,
            "syllables": [s.text for s in self.syllables],
            "stress": list(self.stress),
            "level": [s.level for s in self.syllables],
            "source": self.source,
            "alternatives": list(self.alternatives),
            "line": self.line,
            "column": self.column,
            "before": self.before,
            "after": self.after,
            "bar": self.bar,
            "verse_start": self.verse_start,
            "rubric": self.rubric,
        }


def close_of(words: Sequence[Word]) -> tuple[int, ...]:
    """Stresses of some words from their last primary stress on; empty when there is none."""
    stress = [n for w in words for n in w.stress]
    strong = [i for i, n in enumerate(stress) if n == 1]
    return tuple(stress[strong[-1] :]) if strong else ()


@dataclass(frozen=True, slots=True)
class Span:
    """A phrase as a run of words.

    Attributes
    ----------
    first, stop : int
        Indexes of its first word and of the word after its last.
    cadence : str
        medial, full or final.
    """

    first: int
    stop: int
    cadence: Cadence

    def to_json(self, words: Sequence[Word]) -> dict[str, Any]:
        """Return the span as plain values; see `Text.to_json`."""
        own = words[self.first : self.stop]
        return {
            "first": self.first,
            "last": self.stop - 1,
            "words": " ".join(w.before + w.text + w.after for w in own),
            "syllables": sum(len(w.syllables) for w in own),
            "cadence": self.cadence,
            "close": list(close_of(own)),
            "verse_start": own[0].verse_start and self.first > 0,
            "rubric": "\n".join(w.rubric for w in own if w.rubric),
        }


@dataclass(frozen=True, slots=True)
class Text:
    """A text that was read: its words and everything that was changed.

    Attributes
    ----------
    words : tuple of Word
        In order.
    changes : tuple of Change
        In the order of the text.
    spans : tuple of Span
        Its phrases; see `chantwright.words.phrasing`.
    language : str
        ``en``, ``el`` or ``grc``.
    file : str
        Name used in errors.
    """

    words: tuple[Word, ...]
    changes: tuple[Change, ...] = ()
    language: str = "en"
    file: str = ""
    spans: tuple[Span, ...] = ()

    @property
    def guessed(self) -> tuple[Word, ...]:
        """Words that no list and no rule knew."""
        return tuple(w for w in self.words if w.source == "guess")

    def to_json(self) -> dict[str, Any]:
        """Return the text as plain values.

        ``{"language", "words": [{"text", "syllables": [...], "stress": [0|1|2 ...],
        "level": [0..5 ...], "source", "alternatives": ["ho-ur:10"], "line", "column", "before",
        "after", "bar", "verse_start", "rubric"}], "phrases": [{"first", "last" (indexes of words,
        last included), "words", "syllables" (count), "cadence", "close" (stresses from the last
        primary stress on), "verse_start", "rubric"}], "changes": [{"kind", "before", "after",
        "line", "column", "note"}]}``
        """
        return {
            "language": self.language,
            "words": [w.to_json() for w in self.words],
            "phrases": [s.to_json(self.words) for s in self.spans],
            "changes": [
                {
                    "kind": c.kind,
                    "before": c.before,
                    "after": c.after,
                    "line": c.line,
                    "column": c.column,
                    "note": c.note,
                }
                for c in self.changes
            ],
        }
