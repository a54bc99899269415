"""How one English word is read: from lists, from rules, or by a guess.

The order of trust: parish list, preferred readings, lexicon, rules on known words, guess. Context
(which of several readings) is settled in `english`.
"""

from __future__ import annotations

from dataclasses import dataclass

from chantwright.words.affixes import joints, made, with_ending
from chantwright.words.division import cuts, pieces, spans
from chantwright.words.leaning import guessed
from chantwright.words.lexicon import Lists, Preference, lookup
from chantwright.words.stems import Stem, listed
from chantwright.words.text import Source, written

__all__ = ["Reading", "known", "readings"]

LONGEST_WORD = 40
"""Letters; rules are not tried on anything longer, which is no word."""
_LIGHT_ENDS = ("ow", "ows", "ew", "ews", "y", "o", "os", "ue", "uge", "uce")
"""Last syllables that are no second words, whatever weight a dictionary gives their vowel."""
_STRESS = {"0": 0, "1": 1, "2": 2, "a": 1, "b": 2}


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: syllables, their stress, and who says so."""

    syllables: tuple[str, ...]
    stress: tuple[int, ...]
    source: Source

    def __str__(self) -> str:
        return written(self.syllables, self.stress)


def known(word: str, lists: Lists) -> bool:
    """Whether a lower-case word is in a list, or follows from one by an ending."""
    if len(word) > LONGEST_WORD:
        return False
    return listed(word, lists) is not None or with_ending(word, lists) is not None


def readings(word: str, lists: Lists) -> tuple[Reading, ...]:
    """All readings of a word, best first; never empty.

    Parameters
    ----------
    word : str
        Letters, with inner apostrophes or hyphens, in lower case.
    lists : Lists
        Hand-made lists.

    Returns
    -------
    tuple of Reading
        Syllables joined are the word.
    """
    if (own := lists.words.get(word)) is not None:
        return _preferred(own)
    if codes := lookup(word):
        return _distinct([_spoken(Stem(word, c), "lexicon", lists) for c in codes])
    if "-" in word:
        return (_hyphened(word, lists),)
    if len(word) <= LONGEST_WORD and (stem := made(word, lists)) is not None:
        return (_spoken(stem, "rule", lists),)
    return (_spoken(Stem(word, guessed(word, lists.leanings)), "guess", lists),)


def _preferred(own: Preference) -> tuple[Reading, ...]:
    rows = (own.read, *own.also, own.verb, own.finite)
    return _distinct([Reading(w.syllables, w.stress, own.source) for w in rows if w is not None])


def _distinct(found: list[Reading]) -> tuple[Reading, ...]:
    return tuple(dict.fromkeys(found))


def _spoken(stem: Stem, source: Source, lists: Lists) -> Reading:
    none: frozenset[int] = frozenset()
    long = len(stem.word) > LONGEST_WORD
    forced, hints = (none, none) if long else joints(stem, lists)
    parts = pieces(stem.word, cuts(stem.word, stem.code, stem.forced | forced, hints))
    stress = [_STRESS[stem.code[start]] for start, _ in spans(stem.code)]
    if 1 not in stress and len(stress) > 1:
        # a weak form in the lexicon; a word of two syllables or more needs one stress
        stress[stress.index(2) if 2 in stress else 0] = 1
    first = stress.index(1) if 1 in stress else 0
    stress = [2 if s == 1 and i > first else s for i, s in enumerate(stress)]
    if first and stress[first - 1] == 2:
        stress[first - 1] = 0  # "in-her-it": nothing sounds secondary right before the primary
    if first + 1 < len(stress) and stress[first + 1] == 2 and parts[first + 1] in _LIGHT_ENDS:
        stress[first + 1] = 0  # "shad-ow", but "by-word"
    return Reading(parts, tuple(stress), source)


def _hyphened(word: str, lists: Lists) -> Reading:
    syllables: list[str] = []
    stress: list[int] = []
    source: Source = "rule"
    parts = word.split("-")
    for i, part in enumerate(parts):
        one = readings(part, lists)[0]
        source = "guess" if one.source == "guess" else source
        own = list(one.syllables)
        if i < len(parts) - 1:
            own[-1] += "-"
        syllables += own
        # the first part leads; later ones step back to secondary
        stress += [2 if s == 1 and 1 in stress else s for s in one.stress]
    return Reading(tuple(syllables), tuple(stress), source)
