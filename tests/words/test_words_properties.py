"""What must hold for any text at all."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.words import Text, marked, read_words, to_phrases
from chantwright.words.lexicon import entries, load_lists
from chantwright.words.phrasing import split
from chantwright.words.reading import readings

LETTERS = "abcdefghijklmnopqrstuvwxyz"
KNOWN = sorted(entries())[::50]
WORDS = st.one_of(st.sampled_from(KNOWN), st.text(LETTERS, min_size=1, max_size=14))
STOPS = st.sampled_from(["", "", "", ",", ".", ";", ":", "!", " |", " ||", "~"])
RUNNING = st.lists(st.tuples(WORDS, STOPS), min_size=1, max_size=40).map(
    lambda ws: " ".join(w + s for w, s in ws)
)
MESS = st.text(
    st.one_of(
        st.sampled_from(
            "abceiouthLORD  \n\n.,;:!?-–—'’“”()[]{}|~·‿/*\\0123²ﬁ\u00ad\u00a0é\u0301\u0300"
        ),
        st.characters(exclude_categories=["Cs"]),
    ),
    max_size=120,
)


def whole(text: Text) -> None:
    """Check what every text that was read must be."""
    assert text.words
    for word in text.words:
        assert word.text
        assert "".join(s.text for s in word.syllables) == word.text
        assert all(s.text and s.stress in (0, 1, 2) and 0 <= s.level <= 5 for s in word.syllables)
        assert word.line >= 1
        assert word.column >= 1
    spans = split(text)
    assert spans[0].first == 0
    assert spans[-1].stop == len(text.words)
    phrases = to_phrases(text)
    assert len(phrases) == len(spans)
    assert phrases[-1].cadence == "final"
    assert all(p.syllables for p in phrases)
    text.to_json()


@settings(deadline=None, max_examples=300)
@given(MESS)
def test_any_text_gives_words_or_a_sentence(raw: str) -> None:
    try:
        text = read_words(raw)
    except ChantError as exc:
        assert str(exc)
        return
    whole(text)


def letters(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFD", text).lower() if c in LETTERS)


@settings(deadline=None, max_examples=200)
@given(
    st.lists(st.sampled_from(KNOWN), min_size=1, max_size=30), st.sampled_from([" ", ", ", "; "])
)
def test_no_letter_is_lost(words: list[str], between: str) -> None:
    raw = between.join(words)
    text = read_words(raw)
    assert letters("".join(w.text for w in text.words)) == letters(raw)
    assert letters("".join(s.text for p in to_phrases(text) for s in p.syllables)) == letters(raw)


@settings(deadline=None, max_examples=200)
@given(RUNNING)
def test_running_words(raw: str) -> None:
    try:
        whole(read_words(raw))
    except ChantError as exc:
        assert "only" in str(exc)


@settings(deadline=None, max_examples=300)
@given(st.from_regex(r"[a-z]{1,50}(?:['-][a-z]{1,9}){0,5}'?", fullmatch=True))
def test_any_word_has_a_reading(word: str) -> None:
    for reading in readings(word, load_lists()):
        assert "".join(reading.syllables) == word
        assert len(reading.syllables) == len(reading.stress)
        assert all(reading.syllables)


@settings(deadline=None, max_examples=100)
@given(st.lists(st.sampled_from(KNOWN), min_size=1, max_size=25))
def test_marked_and_read_again(words: list[str]) -> None:
    text = read_words(" ".join(words))
    again = read_words(marked(text))
    assert [[s.text for s in w.syllables] for w in again.words] == [
        [s.text for s in w.syllables] for w in text.words
    ]
    assert [p.words for p in to_phrases(again)] == [p.words for p in to_phrases(text)]


@settings(deadline=None, max_examples=100)
@given(
    st.lists(st.sampled_from(["Lord", "mercy", "the", "of", "heaven", "and"]), min_size=2),
    st.data(),
)
def test_a_kept_place_never_ends_a_phrase(words: list[str], data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(words) - 2))
    text = read_words(" ".join(words[: at + 1]) + "~" + " ".join(words[at + 1 :]))
    assert at + 1 not in {s.stop for s in split(text)}


@pytest.mark.parametrize(
    "raw",
    [
        "alleluia " * 10_000,
        "the of a " * 3_400,
        "a" * 20_000,
        "x-" * 5_000 + "x",
        "·" * 20_000 + "a",
        "{" * 10_000 + "Amen",
        "(Amen " * 3_000,
        "1 2 3 " * 5_000 + "Amen",
        "Lord,\n" * 5_000,
        "he'e'" * 5_000,
    ],
    ids=[
        "words",
        "forbidden",
        "long",
        "hyphens",
        "dots",
        "braces",
        "brackets",
        "numbers",
        "lines",
        "apostrophes",
    ],
)
def test_ten_thousand_words_come_back(raw: str) -> None:
    whole(read_words(raw))
