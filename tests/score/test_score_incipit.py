"""A hymn without a title is called by its first words (common practice of indexes of hymns)."""

from __future__ import annotations

import pytest

from chantwright.score import called, incipit, titled
from chantwright.score.hymnfile import loads


@pytest.mark.parametrize(
    ("words", "name"),
    [
        # King James Version, Psalms 23:1, 130:1, 148:1; cut as an index of first lines cuts.
        ("The LORD is my shepherd; I shall not want.", "The LORD is my shepherd"),
        ("Out of the depths have I cried unto thee, O LORD.", "Out of the depths have I"),
        ("Praise ye the LORD.", "Praise ye the LORD"),
        # One word before a comma tells no hymn from another.
        ("LORD, I cry unto thee: make haste unto me.", "LORD, I cry unto thee"),
        ("in·cénse | ~ be set forth", "incénse be set forth"),
    ],
)
def test_first_words_as_far_as_the_first_pause(words: str, name: str) -> None:
    assert incipit(loads(words)) == name


def test_divided_words_are_joined_again() -> None:
    hymn = loads("tone: 1\n\nHea-ven-ly Fa-ther, |\nnotes: pa pa pa pa pa\n")
    assert titled(hymn).title == "Heavenly Father"


def test_a_title_stays() -> None:
    hymn = loads("title: At the lamps\n\nThe evening is here.")
    assert titled(hymn) is hymn
    assert called(hymn) == "At the lamps"


def test_a_hymn_without_words_is_still_called_something() -> None:
    assert called(loads("tone: 1\n")) == "this hymn"
