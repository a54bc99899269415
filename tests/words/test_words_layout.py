"""Line ends of a pasted text: meant by the writer, or made by the edge of a page."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.score import Hymn, Phrase, hymnfile
from chantwright.words import divide, psalm, read_words, source_text, to_phrases

VERSE = "Night was leaning toward the morning\nand the watchmen lay like stones;\nwe kept watch"


def spoken(text: str) -> list[str]:
    return [p.words for p in to_phrases(read_words(text))]


@pytest.mark.parametrize("width", [50, 60, 72, 80])
@pytest.mark.parametrize("which", ["1", "23", "104:1-24", "150"])
def test_wrapped_prose_is_read_as_if_it_were_not_wrapped(which: str, width: int) -> None:
    # The standard library's textwrap is the page; common practice of mail and word processors.
    verses = psalm(which).verses
    wrapped = "\n\n".join(textwrap.fill(v, width, break_on_hyphens=False) for v in verses)
    assert spoken(wrapped) == spoken("\n\n".join(verses))


def test_lines_of_verse_are_phrases() -> None:
    phrases = to_phrases(read_words(VERSE))
    assert [p.words for p in phrases] == VERSE.split("\n")
    assert [p.cadence for p in phrases] == ["medial", "full", "final"]


def test_what_was_taken_is_told() -> None:
    assert any("end of a phrase" in str(c) for c in read_words(VERSE).changes)


@pytest.mark.parametrize(
    ("first", "asked"),
    [
        ("A Hymn for the Harvest", True),
        ("Psalm Of Praise", True),
        ("Lord, have mercy", False),
        ("The Lord reigneth, he is clothed with majesty.", False),
        ("Alleluia", False),
    ],
)
def test_what_looks_like_a_title_is_asked_about_and_still_sung(first: str, asked: bool) -> None:
    text = read_words(first + "\n\n" + VERSE)
    assert any(c.kind == "title?" for c in text.changes) is asked
    assert to_phrases(text)[0].words.startswith(first.split(maxsplit=1)[0])


def test_a_rubric_of_its_own_line_is_no_phrase() -> None:
    phrases = to_phrases(read_words("{softly}\n" + VERSE))
    assert [p.words for p in phrases] == VERSE.split("\n")
    assert phrases[0].rubric == "softly"


def test_a_hymn_file_is_divided_as_its_words_are_read() -> None:
    hymn = hymnfile.loads("title: x\ntone: 1\n\n" + VERSE + "\n")
    assert [p.words for p in divide(hymn).phrases] == spoken(VERSE)


def test_rubrics_of_several_lines_come_back() -> None:
    hymn = Hymn(phrases=(Phrase(text="Lord, have mercy", rubric="one\ntwo"),))
    assert source_text(hymn) == "{one}\n{two}\nLord, have mercy"
    assert divide(hymn).phrases[0].rubric == "one\ntwo"


def test_every_golden_hymn_file_can_be_read_as_words() -> None:
    for path in sorted((Path(__file__).parents[1] / "score" / "data").glob("*.txt")):
        hymn = hymnfile.read(path)
        if hymn.language == "en" and hymn.phrases:
            assert read_words(source_text(hymn)).words


@settings(deadline=None, max_examples=60)
@given(st.lists(st.sampled_from(["Lord, have mercy", "Alleluia", "and bless us;"]), min_size=2))
def test_no_word_is_lost(lines: list[str]) -> None:
    read = " ".join(spoken("\n".join(lines)))
    assert read.split() == " ".join(lines).split()
