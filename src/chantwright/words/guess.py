"""A guess at a word that no list and no rule knows: three small linear models of its letters.

The first goes through the vowel letters from left to right and says of each whether a syllable
begins there; the second ranks the syllables for the primary stress; the third says whether the
stressed vowel is short. Everything read this way is marked ``guess``, so that the teacher looks at
it. The models are averaged perceptrons over hashed letter windows, trained by
``tools/words/train_guess.py`` on nine tenths of the lexicon and nothing else; the last tenth
(`withheld`) is left out so that anybody can measure them.

References
----------
Averaged perceptron: Collins, "Discriminative training methods for hidden Markov models", EMNLP
2002. Feature hashing: Weinberger et al., ICML 2009.
"""

from __future__ import annotations

import gzip
from array import array
from collections.abc import Sequence
from functools import lru_cache
from importlib import resources
from zlib import crc32

__all__ = ["BITS", "TABLES", "VOWELS", "code", "stress_features", "vowel_features", "withheld"]

VOWELS = "aeiouy"
BITS = 18
"""Each table has ``2 ** BITS`` weights."""
TABLES = ("vowel", "stress", "short")
_MASK = (1 << BITS) - 1


def withheld(word: str) -> bool:
    """Whether a lexicon word was kept out of the training, with all words that begin like it."""
    return crc32(word[:5].encode()) % 10 == 0


def _hashed(names: Sequence[str]) -> list[int]:
    return [crc32(name.encode()) & _MASK for name in names]


def vowel_features(word: str, at: int, previous: int) -> list[int]:
    """Features of a vowel letter: windows, ends, and the last syllable begun before it.

    Parameters
    ----------
    word : str
        Lower-case letters.
    at : int
        Index of the letter.
    previous : int
        Index of the vowel of the syllable before, -1 when there is none.

    Returns
    -------
    list of int
        Indexes into a table.
    """
    padded = f"^^^^{word}$$$$"
    j = at + 4
    names = [
        f"{left}{right}{padded[j - left : j + right + 1]}"
        for left in range(5)
        for right in range(5)
        if 0 < left + right <= 6
    ]
    gap = "none" if previous < 0 else word[previous : at + 1] if at - previous <= 5 else ".."
    begun = "0" if previous < 0 else "1"
    names += [
        f"S{word[at:]}",
        f"P{word[: at + 1]}",
        f"E{min(len(word) - at, 4)}{word[at]}",
        f"D{gap}",
        f"F{gap}{word[at + 1 : at + 3]}",
        f"Z{gap}{word[at + 1 : at + 2]}",
        f"A{begun}{word[max(0, at - 1) : at + 2]}",
    ]
    return _hashed(names)


def stress_features(word: str, vowels: Sequence[int], k: int) -> list[int]:
    """Features of one syllable as the bearer of the primary stress.

    Parameters
    ----------
    word : str
        Lower-case letters.
    vowels : sequence of int
        Index of the vowel of each syllable.
    k : int
        Which syllable.

    Returns
    -------
    list of int
        Indexes into a table.
    """
    count = len(vowels)
    ahead = count - 1 - k
    bounds = [*vowels, len(word), len(word)]
    here, after, later = bounds[k], bounds[k + 1], bounds[k + 2]
    before = vowels[k - 1] if k else 0
    first, last = f"{k}/{count}", f"{ahead}/{count}"
    names = [first]
    names += [f"s{m}{ahead}{word[-m:]}" for m in range(2, 7)]
    names += [f"p{m}{k}{word[:m]}" for m in range(2, 6)]
    names += [
        f"t{word[here:]}",
        f"h{word[:after]}{ahead}",
        f"g{word[here:after]}{last}",
        f"G{word[here:after]}",
        f"o{word[before:here]}|{word[here:after]}",
        f"c{after - here}{last}",
        f"n{word[after:later]}{last}",
        f"N{word[here:later]}",
        f"v{word[here : here + 2]}{last}",
        f"V{word[after : after + 2]}{word[here]}{last}",
        f"b{word[before:here]}{first}",
        f"x{word[after:]}",
        f"y{word[:here]}",
    ]
    return _hashed(names)


@lru_cache(maxsize=1)
def _tables() -> dict[str, array[int]]:
    raw = gzip.decompress(
        (resources.files("chantwright.words") / "data" / "guess.bin.gz").read_bytes()
    )
    size = 1 << BITS
    return {name: array("b", raw[n * size : (n + 1) * size]) for n, name in enumerate(TABLES)}


def _sum(table: str, features: Sequence[int]) -> int:
    weights = _tables()[table]
    return sum(weights[f] for f in features)


@lru_cache(maxsize=4096)
def code(word: str) -> str:
    """Guess the code of a lower-case word (see `lexicon`).

    Parameters
    ----------
    word : str
        Letters and apostrophes.

    Returns
    -------
    str
        One sign for each letter; one primary stress.
    """
    vowels: list[int] = []
    previous = -1
    for at, letter in enumerate(word):
        if letter in VOWELS and _sum("vowel", vowel_features(word, at, previous)) > 0:
            vowels.append(at)
            previous = at
    if not vowels:
        vowels = [next((i for i, c in enumerate(word) if c in "aeiouyw"), 0)]
    strong = max(range(len(vowels)), key=lambda k: _sum("stress", stress_features(word, vowels, k)))
    signs = ["."] * len(word)
    for k, at in enumerate(vowels):
        stop = vowels[k + 1] if k + 1 < len(vowels) else len(word)
        end = at + 1
        while end < stop and word[end] in VOWELS:
            signs[end] = "+"
            end += 1
        signs[at] = "0"
    at = vowels[strong]
    short = _sum("short", vowel_features(word, at, vowels[strong - 1] if strong else -1)) > 0
    signs[at] = "a" if short else "1"
    return "".join(signs)
