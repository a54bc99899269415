from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.engrave.spelling import PLACES, departures, moria_text, signature, spell
from chantwright.tuning import load_scales, parse_degree

SCALES = load_scales()
STEPS = "cdefgab"


def written(scale: str, note: str, bend: int = 0) -> tuple[str, int, int]:
    found = spell(SCALES[scale], parse_degree(note), Fraction(bend))
    return found.step, found.octave, found.alteration


# Staff transcriptions with ni = c (common practice): the diatonic scale is plain, the enharmonic
# scale of ga is F major, the hard chromatic scale of pa has e flat, f sharp, b flat, c sharp.
@pytest.mark.parametrize(
    ("scale", "note", "bend", "expected"),
    [
        ("diatonic", "ni", 0, ("c", 4, 0)),
        ("diatonic", "vou", 0, ("e", 4, 0)),
        ("diatonic", "zo", 0, ("b", 4, 0)),
        ("diatonic", "zo", -4, ("b", 4, -1)),
        ("diatonic", "ni", 6, ("c", 4, 1)),
        ("diatonic", "zo_", 0, ("b", 3, 0)),
        ("enharmonic", "zo", 0, ("b", 4, -1)),
        ("enharmonic", "vou'", 0, ("e", 5, 0)),
        ("soft_chromatic", "ke", 0, ("a", 4, -1)),
        ("soft_chromatic", "di", 0, ("g", 4, 0)),
        ("hard_chromatic", "vou", 0, ("e", 4, -1)),
        ("hard_chromatic", "ga", 0, ("f", 4, 1)),
        ("hard_chromatic", "zo", 0, ("b", 4, -1)),
        ("hard_chromatic", "ni'", 0, ("c", 5, 1)),
    ],
)
def test_usual_transcription(
    scale: str, note: str, bend: int, expected: tuple[str, int, int]
) -> None:
    assert written(scale, note, bend) == expected


def test_signatures() -> None:
    assert signature(SCALES["diatonic"], range(8)) == ()
    assert signature(SCALES["enharmonic"], range(2, 10)) == (("b", -1),)
    assert signature(SCALES["hard_chromatic"], range(1, 8)) == (("b", -1), ("e", -1))
    assert signature(SCALES["soft_chromatic"], range(2, 8)) == ()


def test_departures_of_the_diatonic_scale() -> None:
    # Committee of 1881: vou is 22 and zo 64 moria over ni; e and b of the keyboard are 24 and 66.
    assert departures(SCALES["diatonic"], range(7)) == ((2, Fraction(-2)), (6, Fraction(-2)))


@settings(deadline=None)
@given(
    st.sampled_from(sorted(SCALES)),
    st.integers(-10, 16),
    st.fractions(-6, 6, max_denominator=4),
)
def test_nothing_is_lost(scale: str, degree: int, bend: Fraction) -> None:
    found = spell(SCALES[scale], degree, bend)
    place = 72 * (found.octave - 4) + PLACES[STEPS.index(found.step)]
    sounding = SCALES[scale].moria(degree) + bend
    assert place + 6 * found.alteration + found.remainder == sounding
    assert abs(found.remainder) <= 3 or abs(found.alteration) == 2


def test_moria_in_words() -> None:
    assert [moria_text(Fraction(n, 2)) for n in (-8, 12, -1, 3)] == ["−4", "+6", "−½", "+1½"]
