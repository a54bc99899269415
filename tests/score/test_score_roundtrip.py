"""What is written can be read back unchanged, whatever it is; whatever is read can be written."""

from __future__ import annotations

import unicodedata
from dataclasses import fields, replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import etree
from score_strategies import TRICKY, hymns, ids

from chantwright.errors import ChantError
from chantwright.score import Base, Hymn, Note, Phrase, Syllable, number
from chantwright.score.hymnfile import dumps, loads, read, write
from chantwright.score.tokens import HEADER_KEYS, PHRASE_KEYS, read_fraction, write_fraction
from chantwright.score.validate import LINE_BREAKS, validate

_BITS = st.sampled_from(
    [
        *TRICKY,
        *(f"{key}:" for key in (*HEADER_KEYS, *PHRASE_KEYS)),
        *("pa", "ga:2", "zo'(-4)", "pa+vou:1/3", "(", ")", "+", "-", ":", "\n", "\n\n", "\r\n"),
        *(" ", "un-to", "thee", "1 10", "unison", " |", " ||"),
    ]
)
soup = st.one_of(
    st.text(),
    st.lists(_BITS, max_size=25).map(" ".join),
    st.lists(_BITS, max_size=25).map("".join),
    st.lists(_BITS | st.text(max_size=4), max_size=20).map("".join),
)


@settings(deadline=None, max_examples=300)
@given(hymns())
@example(Hymn())
@example(Hymn(remarks=("",)))
@example(number(Hymn(phrases=(Phrase(text="title: x", verse_start=True, remarks=("a",)),))))
@example(number(Hymn(phrases=(Phrase(syllables=(Syllable("\\"),)),))))
def test_every_legal_hymn_comes_back_equal(hymn: Hymn) -> None:
    text = dumps(hymn)
    assert loads(text) == hymn
    assert dumps(loads(text)) == text


@settings(deadline=None, max_examples=600)
@given(soup)
def test_any_text_is_a_hymn_or_an_error_with_its_line(text: str) -> None:
    try:
        hymn = loads(text, file="psalm.txt")
    except ChantError as exc:
        assert exc.where.file == "psalm.txt"
        assert 1 <= exc.where.line <= len(text.splitlines())
        assert exc.what and exc.remedy
        row = text.splitlines()[exc.where.line - 1]
        assert 0 <= exc.where.column <= len(row) + 1
        return
    validate(hymn)
    written = dumps(hymn)
    assert loads(written) == hymn
    assert dumps(loads(written)) == written


@settings(deadline=None, max_examples=100)
@given(st.lists(st.text("abcdé ,.;:!?*~'·-", max_size=30), max_size=8))
def test_pasted_words_lose_no_letter(rows: list[str]) -> None:
    hymn = loads("\n".join(rows))
    assert [p.text for p in hymn.phrases] == [r.strip() for r in rows if r.strip()]


@settings(deadline=None, max_examples=100)
@given(hymns(), st.sampled_from(["\r\n", "\r", "\u2028"]))
def test_the_kind_of_line_end_does_not_matter(hymn: Hymn, end: str) -> None:
    assert loads(dumps(hymn).replace("\n", end)) == hymn


def test_a_hymn_without_ids_is_numbered_when_it_is_written() -> None:
    hymn = Hymn(phrases=(Phrase((Syllable("Lord", stress=1),)), Phrase(text="make haste")))
    assert loads(dumps(hymn)) == number(hymn)
    assert "ids:" not in dumps(hymn)


def test_every_field_of_a_hymn_has_its_header_line() -> None:
    # The file format must grow with the model: a new field without a key would be lost.
    assert len(HEADER_KEYS) == len(fields(Hymn)) - len(("remarks", "phrases"))


@settings(deadline=None, max_examples=200)
@given(st.fractions(0, 999, max_denominator=10_000))
def test_numbers_agree_with_the_standard_library(value: Fraction) -> None:
    text = write_fraction(value)
    assert Fraction(text) == value  # fractions.Fraction reads "3/4", "1.25" and ".5" itself
    assert read_fraction(text) == value


@pytest.mark.parametrize("sign", "½¼¾⅓⅔⅛")
def test_fraction_signs_are_worth_what_unicode_says(sign: str) -> None:
    value = Fraction(unicodedata.numeric(sign)).limit_denominator(10)
    assert unicodedata.name(sign).startswith("VULGAR FRACTION")
    assert read_fraction(sign) == value
    assert read_fraction(f"2{sign}") == 2 + value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1,5", Fraction(3, 2)),  # decimal comma, common practice in Greece
        ("1.50", Fraction(3, 2)),
        ("4 / 6", Fraction(2, 3)),
    ],
)
def test_numbers_in_other_hands(text: str, value: Fraction) -> None:
    assert read_fraction(text) == value


@pytest.mark.parametrize("text", ["", ".", "1/0", "-1", "1e3", "inf", "٣", "²", "9" * 5000, "1/"])
def test_what_is_no_number(text: str) -> None:
    assert read_fraction(text) is None


@settings(deadline=None)
@given(ids)
def test_ids_are_names_in_xml(name: str) -> None:
    # lxml refuses what the XML 1.0 rules do not allow as a name.
    assert etree.Element(name).tag == name


# --- what cannot be a hymn ------------------------------------------------------------------

_WORD = (Syllable("un", "begin"), Syllable("to", "end"))

UNSOUND = {
    "line break in the title": Hymn(title="a\nb"),
    "no such tone": Hymn(tone=9),
    "tempo of nothing": Hymn(tempo=0),
    "branch with a blank": Hymn(branch="t1 slow"),
    "scale with a blank": Hymn(phrases=(Phrase(text="a", scale="soft chromatic"),)),
    "scale without a name": Hymn(phrases=(Phrase(text="a", scale=""),)),
    "no language": Hymn(language=""),
    "base beyond hearing": Hymn(base=Base(1, 30_000.0)),
    "base that is no number": Hymn(base=Base(1, float("nan"))),
    "half a character": Hymn(title="\ud800"),
    "no words": Hymn(phrases=(Phrase(),)),
    "blank words": Hymn(phrases=(Phrase(text=" \t"),)),
    "two lines of words": Hymn(phrases=(Phrase(text="a\u2028b"),)),
    "both kinds of words": Hymn(phrases=(Phrase(_WORD, text="unto"),)),
    "syllable without letters": Hymn(phrases=(Phrase((Syllable(""),)),)),
    "word without an end": Hymn(phrases=(Phrase(_WORD[:1]),)),
    "word without a beginning": Hymn(phrases=(Phrase(_WORD[1:]),)),
    "a beginning in a word": Hymn(phrases=(Phrase((_WORD[0], *_WORD)),)),
    "stress of 3": Hymn(phrases=(Phrase((Syllable("a", stress=3),)),)),
    "note of no length": Hymn(phrases=(Phrase((Syllable("a", notes=(Note(0, Fraction(0)),)),)),)),
    "note beyond any voice": Hymn(phrases=(Phrase((Syllable("a", notes=(Note(70),)),)),)),
    "bend past the octave": Hymn(
        phrases=(Phrase((Syllable("a", notes=(Note(0, bend=Fraction(73)),)),)),)
    ),
    "rest below nothing": Hymn(phrases=(Phrase(text="a", rest=Fraction(-1)),)),
    "id twice": Hymn(phrases=(Phrase(text="a", id="p1"), Phrase(text="b", id="p1"))),
    "id with a blank": Hymn(phrases=(Phrase(text="a", id="p 1"),)),
}


@pytest.mark.parametrize("name", UNSOUND)
def test_an_unsound_hymn_is_not_written(name: str, tmp_path: Path) -> None:
    with pytest.raises(ChantError) as caught:
        write(tmp_path / "a.txt", UNSOUND[name])
    assert caught.value.remedy
    assert not list(tmp_path.iterdir())


@settings(deadline=None, max_examples=100)
@given(hymns(min_phrases=1), st.sampled_from(LINE_BREAKS))
def test_no_line_break_gets_into_a_file_by_the_words(hymn: Hymn, char: str) -> None:
    first = replace(hymn.phrases[0], syllables=(), text=f"a{char}b")
    with pytest.raises(ChantError):
        dumps(replace(hymn, phrases=(first, *hymn.phrases[1:])))


# --- on the disk ----------------------------------------------------------------------------


@settings(deadline=None, max_examples=30)
@given(hymn=hymns())
def test_files_hold_the_same_hymn(hymn: Hymn, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("hymns") / "psalm.txt"
    write(path, hymn)
    assert read(path) == hymn
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert read(path) == hymn


def test_the_version_before_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "psalm.txt"
    first, second = Hymn(title="first"), Hymn(title="second")
    write(path, first)
    assert [p.name for p in tmp_path.iterdir()] == ["psalm.txt"]
    write(path, second)
    write(path, second)  # nothing changed: the last real change stays the one that is kept
    assert read(path) == second
    assert read(tmp_path / "psalm.txt~") == first
    assert len(list(tmp_path.iterdir())) == 2


def test_a_file_in_another_encoding_says_where(tmp_path: Path) -> None:
    path = tmp_path / "psalm.txt"
    path.write_bytes("title: x\n\nLord\nΚύριε caf".encode() + "é".encode("latin-1") + b" x")
    with pytest.raises(ChantError) as caught:
        read(path)
    assert (caught.value.where.line, caught.value.where.column) == (4, 10)
    assert "UTF-8" in str(caught.value)


@pytest.mark.parametrize("name", ["none.txt", ".", "a\0b", "x" * 300])
def test_a_file_that_cannot_be_opened(name: str, tmp_path: Path) -> None:
    with pytest.raises(ChantError) as caught:
        read(tmp_path / name)
    assert caught.value.remedy
