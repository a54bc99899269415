"""Where a word is divided in print, once its syllables are known.

Conventions
-----------
Pronunciation decides *how many* syllables there are (the word's code, see `lexicon`); spelling
decides *where* they part. Between two vowels the first of these that speaks wins: a forced place
(a suffix, a compound's joint), the American hyphenation patterns, the consonant rules below. No
syllable is without a vowel letter, and no cut falls inside a digraph.

References
----------
Hyphenation patterns ``en_US`` through pyphen. Consonant rules: the customs of American dictionary
division (short stressed vowels close their syllable, long ones leave it open), from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise

import pyphen

__all__ = ["cuts", "digraph_at", "pieces", "spans"]

VOWEL_SIGNS = "012ab"
DIGRAPHS = ("th", "ch", "sh", "ph", "wh", "gh", "qu", "ck", "rh")
_UNIT = re.compile(r"tch|dg(?=e)|qu|ck|[tcspwgr]h|.")
_ONSETS = frozenset(
    [
        "bl",
        "br",
        "ch",
        "cl",
        "cr",
        "dr",
        "fl",
        "fr",
        "gl",
        "gr",
        "pl",
        "pr",
        "sc",
        "sch",
        "scr",
        "sh",
        "sk",
        "sl",
        "sm",
        "sn",
        "sp",
        "spl",
        "spr",
        "squ",
        "st",
        "str",
        "sw",
        "th",
        "thr",
        "tr",
        "tw",
        "wh",
        "wr",
        "qu",
        "ph",
        "phr",
        "chr",
        "chl",
        "rh",
        "kn",
        "gn",
        "ps",
        "shr",
        "phl",
    ]
)


@lru_cache(maxsize=1)
def _patterns() -> pyphen.Pyphen:
    return pyphen.Pyphen(lang="en_US", left=1, right=1)


def spans(code: str) -> list[tuple[int, int]]:
    """Return start and end of each vowel in a code."""
    out = []
    for i, sign in enumerate(code):
        if sign in VOWEL_SIGNS:
            end = i + 1
            while end < len(code) and code[end] == "+":
                end += 1
            out.append((i, end))
    return out


def digraph_at(word: str, cut: int) -> bool:
    """Whether a cut before letter `cut` would part a digraph."""
    if not 0 < cut < len(word):
        return False
    # gh and rh part freely across "ing-hold" or "ur-h..."; they are sounds only in these settings
    pair = word[cut - 1 : cut + 1]
    if cut == 2 and word.startswith("ackn"):
        return False  # "ac-knowl-edge"
    return pair in DIGRAPHS or word[cut - 2 : cut + 1] == "tch"


def cuts(
    word: str, code: str, forced: Iterable[int] = (), hints: Iterable[int] = ()
) -> tuple[int, ...]:
    """Find the places where a word is divided.

    Parameters
    ----------
    word : str
        Lower-case letters.
    code : str
        Its code.
    forced : iterable of int
        Places that win where they fall between two vowels.
    hints : iterable of int
        Places that win where the patterns are silent.

    Returns
    -------
    tuple of int
        Index of the first letter of each syllable but the first.
    """
    own, softer = frozenset(forced), frozenset(hints)
    patterns = frozenset(int(p) for p in _patterns().positions(word))
    vowels = spans(code)
    found = []
    for (start, end), (following, following_end) in pairwise(vowels):
        room = range(end, following + 1)
        # "foot-hold" but "fran-chise": a joint parts a digraph only where no pattern speaks against
        spoken = patterns.intersection(room)
        told = [
            c for c in room if c in own and (c in spoken or not spoken or not digraph_at(word, c))
        ]
        if told:
            found.append(told[0])
            continue
        ruled = _by_rule(word, code, start, end, following, following_end)
        legal = [c for c in room if c in patterns and not digraph_at(word, c)]
        legal = legal or [c for c in room if c in softer and not digraph_at(word, c)]
        if ruled in legal or not legal:
            found.append(ruled)
        else:
            found.append(min(legal, key=lambda c: abs(c - ruled)))
    return tuple(found)


def _by_rule(word: str, code: str, start: int, end: int, following: int, following_end: int) -> int:
    """Cut between two vowels by their consonants alone."""
    middle = word[end:following]
    if not middle:
        return end
    if word[following] == "e" and following_end >= len(word.rstrip("sd")) and middle[-1] == "l":
        # "peo-ple", "sim-ple", but "sick-le"
        back = 1 if middle.endswith("ckl") else 3 if middle[-3:-1] in DIGRAPHS else 2
        return end + (len(middle) - back if len(middle) > 1 else 0)
    silent = middle.find("e")
    if silent >= 0 and silent + 1 < len(middle):
        return end + silent + 1  # "love-ly"
    return end + _between(_UNIT.findall(middle), closed=code[start] in "ab")


def _between(units: list[str], *, closed: bool) -> int:
    """How many letters of a run of consonant units stay with the vowel before them."""
    if len(units) == 1:
        stays = units[0] in ("x", "ck") or (closed and units[0] != "qu")
        return len(units[0]) if stays else 0
    for k in range(len(units)):
        onset = "".join(units[k:])
        if k == 0 and (closed or onset not in _ONSETS or onset[-1] not in "lr"):
            continue
        if onset != "ck" and (k == len(units) - 1 or onset in _ONSETS):
            return len("".join(units[:k]))
    return len("".join(units))


def pieces(word: str, where: Iterable[int]) -> tuple[str, ...]:
    """Cut a word at places."""
    at = [0, *where, len(word)]
    return tuple(word[a:b] for a, b in pairwise(at))
