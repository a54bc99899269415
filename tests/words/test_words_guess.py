"""The guess at unknown words, measured on words kept out of its training.

Reference: the Carnegie Mellon Pronouncing Dictionary, of which `guess.withheld` picks one tenth by
the first five letters, so that no inflection of a word that is tested was trained on.
"""

from __future__ import annotations

import re
from functools import lru_cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.words import guess, psalm
from chantwright.words.division import spans
from chantwright.words.lexicon import entries, load_lists
from chantwright.words.reading import readings


def stress(code: str) -> list[int]:
    """Primary stress of each syllable of a code."""
    return [int(code[start] in "1a") for start, _ in spans(code)]


@lru_cache(maxsize=1)
def withheld_words() -> dict[str, list[list[int]]]:
    return {
        word: [stress(c) for c in codes.split()]
        for word, codes in entries().items()
        if "'" not in word and len(word) > 1 and guess.withheld(word)
    }


def shares(words: dict[str, list[list[int]]]) -> tuple[float, float]:
    """Percent of words with the right count; of longer words, count and stress right."""
    counts = strong = longer = 0
    for word, own in words.items():
        found = stress(guess.code(word))
        counts += any(len(o) == len(found) for o in own)
        if len(own[0]) > 1:
            longer += 1
            strong += found in own
    return 100 * counts / len(words), 100 * strong / longer


def test_a_tenth_is_withheld() -> None:
    share = len(withheld_words()) / sum("'" not in w for w in entries())
    assert 0.08 < share < 0.12
    # what begins alike goes together: an inflection cannot give a word away
    assert guess.withheld("salvation") == guess.withheld("salvage")


def test_guesses_on_withheld_words() -> None:
    # names of every language are in the dictionary; measured when trained: 96.3 and 86.3
    every = dict(list(withheld_words().items())[::3])
    count, strong = shares(every)
    assert count >= 95.5
    assert strong >= 85


def test_guesses_on_withheld_words_of_the_psalter() -> None:
    text = " ".join(psalm(str(n)).text for n in range(1, 151)).lower()
    own = set(re.findall("[a-z]+", text))
    count, strong = shares({w: s for w, s in withheld_words().items() if w in own})
    assert count >= 96
    assert strong >= 85


def test_the_first_syllable_is_no_match_for_it() -> None:
    # "always the first syllable" is right in about 6 of 10 words: the guess must know more
    longer = {w: s for w, s in list(withheld_words().items())[::7] if len(s[0]) > 2}
    first = sum(any(o[0] for o in own) for own in longer.values()) / len(longer)
    assert shares(longer)[1] > 100 * first + 20


# Terms of chant that are in no list; syllables by common practice, from memory.
UNKNOWN = [
    ("kontakion", 4),
    ("akathist", 3),
    ("polyeleos", 5),
    ("prokeimenon", 4),
    ("troparion", 4),
    ("typikon", 3),
]


@pytest.mark.parametrize(("word", "count"), UNKNOWN)
def test_chant_terms(word: str, count: int) -> None:
    best = readings(word, load_lists())[0]
    assert best.source == "guess"
    assert len(best.syllables) == count
    assert "".join(best.syllables) == word


@settings(deadline=None, max_examples=150)
@given(st.text("abcdefghijklmnopqrstuvwxyz'", min_size=1, max_size=30))
def test_any_letters_get_a_code(word: str) -> None:
    code = guess.code(word)
    assert len(code) == len(word)
    assert set(code) <= set(".+01a")
    assert stress(code).count(1) == 1
