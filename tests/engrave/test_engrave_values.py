from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.engrave.values import values
from chantwright.errors import ChantError


def length(dur: int, dots: int, triplet: bool) -> Fraction:
    """Common music notation: a quarter is a beat, a dot adds half, a triplet takes a third off."""
    beats = Fraction(4, dur) * (Fraction(3, 2) if dots else 1)
    return beats * Fraction(2, 3) if triplet else beats


@settings(deadline=None)
@given(st.integers(1, 200), st.sampled_from([1, 2, 4, 8]), st.booleans())
def test_values_add_up(numerator: int, denominator: int, third: bool) -> None:
    beats = Fraction(numerator, denominator * (3 if third else 1))
    found = values(beats)
    assert sum((length(v.dur, v.dots, v.triplet) for v in found), Fraction(0)) == beats
    assert [v.beats for v in found] == sorted((v.beats for v in found), reverse=True)


@pytest.mark.parametrize(
    ("beats", "expected"),
    [("1", (4, 0)), ("2", (2, 0)), ("3", (2, 1)), ("4", (1, 0)), ("1/2", (8, 0)), ("3/2", (4, 1))],
)
def test_plain_lengths_are_one_note(beats: str, expected: tuple[int, int]) -> None:
    (found,) = values(Fraction(beats))
    assert (found.dur, found.dots) == expected


@pytest.mark.parametrize("beats", ["1/5", "0", "-1", "1/64", "1000"])
def test_a_length_without_a_value_is_a_sentence(beats: str) -> None:
    with pytest.raises(ChantError, match="cannot be printed") as caught:
        values(Fraction(beats), "glo")
    assert caught.value.where.word == "glo"
    assert caught.value.remedy
