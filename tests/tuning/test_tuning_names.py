"""Names of the notes: every spelling in use, and the traps. Common practice unless said."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.tuning import NAMINGS, degree_name, parse_degree

SPELLINGS = {
    0: "ni Ni NI nee Nee Νη ΝΗ Νή do C c Ни ني نى ut",
    1: "pa Pa PA Πα ΠΑ Πά re D d Па با",
    2: "vou Vou vu Vu Bou boy Βου ΒΟΥ Βού mi E e Ву فو",
    3: "ga Ga Gha Γα ΓΑ fa F f Га غا",
    4: "di Di Dhi Thi Δι ΔΙ Δί sol so G g Ди ذي دي",
    5: "ke Ke Keh Κε ΚΕ Κέ la A a Ке كه كي",
    6: "zo Zo ZO Zw Ζω ΖΩ Ζώ ti si te B b Зо زو",
}


@pytest.mark.parametrize(
    ("degree", "spelling"), [(d, s) for d, line in SPELLINGS.items() for s in line.split()]
)
def test_every_spelling(degree: int, spelling: str) -> None:
    assert parse_degree(spelling) == degree
    assert parse_degree(f" {spelling}' ") == degree + 7
    assert parse_degree(f"{spelling}__") == degree - 14


def test_syllables_hide_the_greek_alphabet() -> None:
    # pA Vou Ga Di kE Zo nI: alpha to eta, pa first and ni seventh (Chrysanthos 1832)
    hidden = "αβγδεζη"
    order = [degree_name(d, "greek").casefold() for d in (1, 2, 3, 4, 5, 6, 0)]
    assert [letter in name for letter, name in zip(hidden, order, strict=True)] == [True] * 7


def test_traps() -> None:
    assert parse_degree("Ζω") == parse_degree("B") == 6  # not C
    assert parse_degree("C") == parse_degree("Νη") == 0
    assert degree_name(6, "letter") == "B"
    assert parse_degree("so") == parse_degree("sol") == 4
    assert parse_degree("si") == parse_degree("ti") == 6
    # combining and composed accents are the same word
    assert parse_degree("Νη\u0301") == parse_degree("Ν\u03ae") == 0
    assert parse_degree("نِي") == 0


@pytest.mark.parametrize("mark", ["'", "’", "ʹ", "′", "΄", "´"])
def test_octave_marks(mark: str) -> None:
    assert parse_degree(f"pa{mark}") == 8
    assert parse_degree(f"pa{mark}{mark}") == 15
    assert [parse_degree(t) for t in ("pa″", 'pa"', "pa”", "ke͵", "ke,,")] == [15, 15, 15, -2, -9]


@pytest.mark.parametrize(("naming", "first"), [("english", "ni"), ("western", "do")])
def test_written_forms(naming: str, first: str) -> None:
    assert degree_name(0, naming) == first
    assert degree_name(7, naming) == f"{first}'"
    assert degree_name(-14, naming) == f"{first}__"
    assert degree_name(-1) == "zo_"


@given(st.integers(-28, 35), st.sampled_from(NAMINGS))
@settings(deadline=None, max_examples=300)
def test_reading_what_was_written(degree: int, naming: str) -> None:
    assert parse_degree(degree_name(degree, naming)) == degree


@pytest.mark.parametrize(
    ("word", "remedy"), [("vuo", "vou"), ("", "ni pa vou"), ("'", "ni pa vou"), ("H", "ni pa vou")]
)
def test_no_note(word: str, remedy: str) -> None:
    with pytest.raises(ChantError, match="is not a note") as caught:
        parse_degree(word)
    assert remedy in caught.value.remedy


def test_no_naming() -> None:
    with pytest.raises(ChantError, match="no way of naming"):
        degree_name(0, "klingon")


@given(st.text(max_size=6))
@settings(deadline=None)
def test_any_word_is_a_note_or_a_sentence(word: str) -> None:
    try:
        assert parse_degree(degree_name(parse_degree(word))) == parse_degree(word)
    except ChantError as exc:
        assert exc.remedy
