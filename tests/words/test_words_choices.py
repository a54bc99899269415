"""Several ways to divide a verse, words of two languages, and the teacher's text given back.

Ways to divide: what must hold of any list of the best (common practice of k-best search), and
verses whose good divisions a chanter would name (King James Version, own judgement).
"""

from __future__ import annotations

import json
import unicodedata

import pytest
from click.testing import CliRunner
from hypothesis import example, given, settings
from hypothesis import strategies as st

from chantwright.cli import main
from chantwright.errors import ChantError
from chantwright.words import Text, divisions, marked, own_marks, psalm, read_words, to_phrases
from chantwright.words.lexicon import load_lists
from chantwright.words.phrasing import LONGEST, forbidden
from chantwright.words.text import close_of

VERSES = ["1", "23", "68:1-9", "104:1-24", "141"]


@pytest.mark.parametrize("which", VERSES)
def test_the_best_way_is_the_one_that_is_sung(which: str) -> None:
    text = read_words(psalm(which).text)
    own = divisions(text)
    assert tuple(s for verse in own for s in verse[0].spans) == text.spans
    closes = [c for verse in own for c in verse[0].closes]
    assert closes == [close_of(text.words[s.first : s.stop]) for s in text.spans]


@pytest.mark.parametrize("which", VERSES)
def test_three_ways_that_differ_and_could_be_sung(which: str) -> None:
    text = read_words(psalm(which).text)
    lists = load_lists()
    several = 0
    for verse in divisions(text):
        assert 1 <= len(verse) <= 3
        several += len(verse) == 3
        assert len({v.spans for v in verse}) == len(verse)
        assert [v.price for v in verse] == sorted(v.price for v in verse)
        for way in verse:
            assert way.spans[0].first == verse[0].spans[0].first
            assert way.spans[-1].stop == verse[0].spans[-1].stop
            for span, close in zip(way.spans, way.closes, strict=True):
                words = text.words[span.first : span.stop]
                assert sum(len(w.syllables) for w in words) <= LONGEST + 6
                assert close == () or close[0] == 1
            assert not any(forbidden(text.words, s.stop - 1, lists) for s in way.spans[:-1])
    assert several > 0.5 * len(divisions(text))


def test_a_verse_with_two_good_ways_offers_both() -> None:
    # Psalm 1:3 "like a tree planted | by the rivers" or "like a tree | planted by the rivers"
    text = read_words("And he shall be like a tree planted by the rivers of water, that bringeth "
                      "forth his fruit in his season.")  # fmt: skip
    (verse,) = divisions(text, 5)
    first = {" ".join(w.text for w in text.words[: v.spans[0].stop]) for v in verse}
    assert "And he shall be like a tree planted by the rivers of water" in first
    assert len(first) > 1


def test_the_teachers_bars_leave_one_way() -> None:
    text = read_words("Praise the Lord | O my soul || while I live will I praise the Lord")
    assert [len(v) for v in divisions(text)] == [1]


def test_the_verb_shows_other_ways() -> None:
    shown = CliRunner().invoke(main, ["words", "--psalm", "1:3", "--choices", "3"])
    assert shown.exit_code == 0, shown.output
    tail = shown.output.split("Other ways to divide")[1].splitlines()[1:]
    assert len(tail) == 2
    assert all(line.startswith("  verse 1: And he shall be like a tree") for line in tail)
    given = CliRunner().invoke(main, ["words", "--psalm", "1:3", "--choices", "3", "--json"])
    told = json.loads(given.stdout)
    (verse,) = told["choices"]
    assert len(verse) == 3
    assert verse[0]["phrases"] == told["phrases"]


# ------------------------------------------------------------------ two languages
def test_greek_words_in_an_english_hymn() -> None:
    text = read_words("Lord, have mercy.\nΚύριε, ἐλέησον· Lord, hear me.")
    greek = [w for w in text.words if w.text in ("Κύριε", "ἐλέησον")]
    assert [w.stress for w in greek] == [(1, 0, 0), (0, 1, 0, 0)]
    assert greek[1].after == "·"
    (change,) = [c for c in text.changes if c.kind == "language"]
    assert (change.before, change.line, change.column) == ("Κύριε ἐλέησον", 2, 1)
    again = read_words(marked(text))
    assert [w.syllables for w in again.words] == [w.syllables for w in text.words]


def test_english_words_in_a_greek_hymn() -> None:
    text = read_words("Κύριε ἐλέησον. Lord, have mercy. Δόξα Πατρί", language="el")
    assert [w.reading for w in text.words[2:5]] == ["Lord:1", "have:0", "mer-cy:10"]
    assert text.words[-1].stress == (0, 1)
    assert len(to_phrases(text)) >= 2


def test_a_hymn_all_in_greek_needs_no_word_about_it() -> None:
    text = read_words("Κύριε ἐλέησον")
    assert [w.stress for w in text.words] == [(1, 0, 0), (0, 1, 0, 0)]


@pytest.mark.parametrize(
    ("raw", "language"),
    [
        ("O Κύριε", "el"),  # a Latin O, which looks like the Greek call
        ("Ο Lord", "en"),  # a Greek O, which looks like the English call
        ("Kύριε", "el"),
        ("Kύριε", "en"),
        ("Κύριε помилуй", "el"),
    ],
)
def test_letters_of_the_wrong_keyboard_are_still_told(raw: str, language: str) -> None:
    with pytest.raises(ChantError, match=r"letters|looks?"):
        read_words(raw, language=language)


# ------------------------------------------------------------------ text, parsed, text
CANONICAL = [
    "Lórd, I crý | \nunto thee: ||\nmake haste",
    "{softly} Praise the Lord, O~my soul.\n\n{Verse:} Blessèd is he ||\nthat cometh |||",
    "al·le·lu·i·a, glo·ri‿ous heav'n — o'er\\* all",
    "“Holy, holy!” saith the ‘Lord’ of hosts…",
    "Κύριε, ἐλέησον\\· ἐκέ·κρα·ξα",
]


@pytest.mark.parametrize("raw", [c.replace(" \n", "\n") for c in CANONICAL])
def test_a_text_comes_back_letter_by_letter(raw: str) -> None:
    assert own_marks(read_words(raw)) == raw


@pytest.mark.parametrize("which", ["1", "23", "51", "119:1-40", "150"])
def test_a_psalm_comes_back_letter_by_letter(which: str) -> None:
    raw = psalm(which).text.replace("LORD", "Lord").replace("GOD", "God")
    raw = "\n\n".join(" ".join(verse.split()) for verse in raw.split("\n\n"))
    assert own_marks(read_words(raw)) == raw


WORD = st.sampled_from(
    ["Lord", "mércy", "blessèd", "al·le·lu·i·a", "glo·ri‿ous", "heav'n", "long-suffering", "thee"]
)
STOP = st.sampled_from(["", "", "", ",", ".", ";", ":", "!", "?", "…", "\\*", ".”"])
JOIN = st.sampled_from([" ", " ", " ", " ", "~", " |\n", " ||\n", "\n\n", " {softly} "])


@settings(deadline=None, max_examples=150)
@given(st.lists(st.tuples(WORD, STOP, JOIN), min_size=1, max_size=25))
def test_any_text_in_our_notation_comes_back(parts: list[tuple[str, str, str]]) -> None:
    raw = "".join(word + stop + join for word, stop, join in parts)
    for join in ("~", " |\n", " ||\n", "\n\n", " {softly} ", " "):
        raw = raw.removesuffix(join)
    assert own_marks(read_words(raw)) == raw


SIGNS = "abeoith LORD\n.,;:!'’“”()[]{}|~·‿/*\\0é\u0301-—¹²ﬁ\u00ad\u00a0"
HEAPS = st.lists(
    st.sampled_from(["R:", "V.", "Both now", "Glory", "LORD", "hea", "ven", "x3", "\\", "'", "\n"])
    | st.text(SIGNS, max_size=4)
).map("".join)


@settings(deadline=None, max_examples=200)
@given(st.text(max_size=60) | st.text(st.sampled_from(SIGNS), max_size=80) | HEAPS)
@example("R:D")
@example("V.D{D")
@example(")Both now")
@example("\\Glory")
@example("o\n\\·")
@example("t/’")
@example("-(R:|--")
@example("h·-i:~!")
@example("[’’*|{] a")
def test_any_text_at_all_comes_back_once_it_was_written(raw: str) -> None:
    try:
        text = read_words(raw)
    except ChantError:
        return
    written = own_marks(text)
    again = read_words(written)
    assert own_marks(again) == written
    assert letters(again) == letters(text)
    assert [w.bar for w in again.words] == [w.bar for w in text.words]


def letters(text: Text) -> str:
    """Every letter that is sung, without accents, large or small."""
    plain = unicodedata.normalize("NFD", "".join(w.text for w in text.words).lower())
    return "".join(c for c in plain if c.isalpha())
