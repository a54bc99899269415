"""A listed word as material for longer ones: its code and the places where it must be cut."""

from __future__ import annotations

import re
from dataclasses import dataclass

from chantwright.words.lexicon import Lists, Written, lookup

__all__ = ["Stem", "code_of", "listed"]

_VOWELS = re.compile(r"(?<!^)[aeiouy]+|^[aeiou][aeiouy]*|^y(?![aeiou])")


@dataclass(frozen=True, slots=True)
class Stem:
    """A word, its code (see `lexicon`) and its forced cuts."""

    word: str
    code: str
    forced: frozenset[int] = frozenset()

    def kept(self, size: int) -> Stem:
        """Only its first letters."""
        return Stem(
            self.word[:size], self.code[:size], frozenset(f for f in self.forced if f < size)
        )

    def plus(self, letters: str, code: str, *, cut: bool = False) -> Stem:
        """Add letters at its end, with a forced cut before them or without."""
        forced = self.forced | {len(self.word)} if cut else self.forced
        return Stem(self.word + letters, self.code + code, forced)


def code_of(written: Written) -> tuple[str, frozenset[int]]:
    """Turn a hand-written reading into a code and its forced cuts."""
    signs = ""
    places = []
    for part, stress in zip(written.syllables, written.stress, strict=True):
        if signs:
            places.append(len(signs))
        skip = 2 if part.startswith("qu") and len(part) > 2 else 0
        found = _VOWELS.search(part) if not skip else re.compile("[aeiouy]+").search(part, skip)
        start, end = found.span() if found else (0, 1)
        signs += "." * start + str(stress) + "+" * (end - start - 1) + "." * (len(part) - end)
    return signs, frozenset(places)


def listed(word: str, lists: Lists) -> Stem | None:
    """Look a lower-case word up in the hand-made lists, then in the lexicon."""
    if (own := lists.words.get(word)) is not None:
        code, forced = code_of(own.read)
        return Stem(word, code, forced)
    if codes := lookup(word):
        return Stem(word, codes[0])
    return None
