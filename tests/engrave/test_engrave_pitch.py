from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.engrave import pitch_name, pitch_words
from chantwright.errors import ChantError


# Equal-tempered frequencies at A4 = 440 Hz as printed in physics tables (from memory).
@pytest.mark.parametrize(
    ("hz", "name"),
    [(440.0, "A4"), (261.63, "C4"), (146.83, "D3"), (116.54, "B♭2"), (185.00, "F♯3"), (27.5, "A0")],
)
def test_names_the_keys_of_the_keyboard(hz: float, name: str) -> None:
    assert pitch_name(hz) == (name, 0)


def test_says_cents_in_words() -> None:
    assert pitch_name(440 * 2 ** (4 / 1200)) == ("A4", 4)
    assert pitch_words(146.83) == "D3 (re), 146.8 Hz"
    assert pitch_words(146.83, fixed=False) == "D3, 146.8 Hz"
    assert "3 cents low" in pitch_words(146.83 * 2 ** (-3 / 1200))
    assert pitch_name(432, a4=432) == ("A4", 0)


@settings(deadline=None)
@given(st.floats(20, 5000))
def test_name_and_cents_give_the_pitch_back(hz: float) -> None:
    name, cents = pitch_name(hz)
    keys = ["C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"]
    octave = int(name.lstrip("ABCDEFG♯♭"))
    step = keys.index(name.rstrip("-0123456789"))
    back = 440 * 2 ** ((12 * (octave + 1) + step - 69 + cents / 100) / 12)
    assert abs(1200 * math.log2(back / hz)) <= 0.51
    assert -50 <= cents <= 50


@pytest.mark.parametrize("hz", [0, -3, math.nan, math.inf])
def test_no_pitch_is_a_sentence(hz: float) -> None:
    with pytest.raises(ChantError, match="cannot be named"):
        pitch_name(hz)
