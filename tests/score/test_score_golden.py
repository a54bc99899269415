"""Hymn files as a chanter writes them, and what they must mean.

What each file means was counted by hand from the words and the notes (common practice: one note
group a syllable; the beats of a phrase are the sum of the beats of its notes). Words: the King
James Bible and the Septuagint.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from chantwright.score import UNISON, Base, Hymn, Note, walk
from chantwright.score.hymnfile import dumps, loads, read

DATA = Path(__file__).parent / "data"


@pytest.mark.parametrize("name", ["evening-psalm", "pasted-words", "by-hand.canonical"])
def test_a_file_in_our_own_form_is_written_the_same(name: str) -> None:
    path = DATA / f"{name}.txt"
    assert dumps(read(path)) == path.read_text(encoding="utf-8")


def test_the_evening_psalm() -> None:
    hymn = read(DATA / "evening-psalm.txt")
    assert replace(hymn, phrases=()) == Hymn(
        title="Lord, I cry unto thee",
        tone=1,
        branch="t1.heirmologic",
        style="heirmologic",
        tempo=132,
        base=Base(1, 146.83),
        ending="long",
        intonation="t1",
        words_source="Psalm 141:1-2, King James",
        melody_kind="written",
        remarks=("for the Saturday class; ask Anna about the ending",),
    )
    cry, haste, ear, prayer = hymn.phrases
    assert [len(p.syllables) for p in hymn.phrases] == [6, 5, 6, 12]
    assert [p.beats for p in hymn.phrases] == [8, 6, 7, Fraction(41, 2)]
    assert hymn.beats == 8 + 6 + 1 + 7 + Fraction(41, 2)
    assert [p.cadence for p in hymn.phrases] == ["medial", "full", "medial", "long"]
    assert [p.verse_start for p in hymn.phrases] == [False, False, False, True]
    assert cry.words == "Lord, I cry unto thee:"
    assert prayer.words == "Let my prayer be set forth before thee as incense:"
    assert [s.place for s in cry.syllables] == ["single"] * 3 + ["begin", "end", "single"]
    assert [s.stress for s in cry.syllables] == [1, 0, 1, 1, 0, 1]
    assert {s.ison for s in cry.syllables} == {1}
    assert [s.ison for s in haste.syllables] == [UNISON, UNISON, 1, 1, None]
    assert cry.rubric == "Verse 1, slowly"
    assert ear.remarks == ("the men alone from here",)
    assert haste.syllables[1].notes == (Note(4, bend=Fraction(-2)),)
    assert ear.syllables[2].notes == (Note(3, Fraction(1, 3)), Note(3 + 1, Fraction(2, 3)))
    assert prayer.syllables[1].notes == (Note(-1),)
    assert prayer.syllables[9].notes == ()
    assert prayer.scale == "soft_chromatic"
    assert not hymn.is_set
    assert len(list(walk(hymn))) == 7 + 6 + 7 + 14


def test_pasted_words_need_no_header_though_they_hold_colons() -> None:
    hymn = read(DATA / "pasted-words.txt")
    assert hymn.title == ""
    assert [p.text for p in hymn.phrases] == [
        "Lord, I cry unto thee: make haste unto me;",
        "give ear unto my voice, when I cry unto thee.",
        "Verse: Let my prayer be set forth before thee as incense;",
        "and the lifting up of my hands* as the evening sacrifice.",
    ]
    assert [p.verse_start for p in hymn.phrases] == [False, False, True, False]


def test_a_chanter_who_writes_greek() -> None:
    hymn = read(DATA / "greek.txt")
    first, second = hymn.phrases
    assert hymn.base == Base(1, 147.0)
    assert first.words == "Κύριε, ἐκέκραξα πρὸς σέ,"
    # pa di di di ke di ga di di
    assert [s.notes[0].degree for s in first.syllables] == [1, 4, 4, 4, 5, 4, 3, 4, 4]
    assert first.beats == 10
    assert (second.text, second.cadence) == ("εἰσάκουσόν μου, Κύριε.", "final")
    assert "base: pa = 147 Hz\n" in dumps(hymn)


def test_a_file_in_an_untidy_hand_comes_out_tidy_and_loses_nothing() -> None:
    hymn = read(DATA / "by-hand.txt")
    assert hymn == read(DATA / "by-hand.canonical.txt")
    assert dumps(hymn) == (DATA / "by-hand.canonical.txt").read_text(encoding="utf-8")


def test_printed_hyphens_and_dividing_hyphens() -> None:
    text = "lov-ing--kind-ness twi\\-light \\- a\\\\b\nstress: 1010 1 0 0\n"
    hymn = loads(text)
    assert dumps(hymn) == text
    syllables = hymn.phrases[0].syllables
    assert [s.text for s in syllables] == ["lov", "ing-", "kind", "ness", "twi-light", "-", "a\\b"]
    assert hymn.phrases[0].words == "loving-kindness twi-light - a\\b"


def test_a_dot_at_the_start_of_an_ison_line_goes_on_from_the_line_above() -> None:
    hymn = loads(
        "Lord have\nison: pa ke_\nmer-cy\nison: . .\non us\nstress: 0 1\nO Lord\nison: . ."
    )
    held = [[s.ison for s in p.syllables] for p in hymn.phrases]
    assert held == [[1, -2], [-2, -2], [None, None], [None, None]]


def test_remarks_stay_with_their_phrase() -> None:
    hymn = loads(
        "# of the hymn\n\n# above one\none\nstress: 1\n# under one\n\n# alone\n\ntwo\n\n# last"
    )
    assert hymn.remarks == ("of the hymn",)
    assert [p.remarks for p in hymn.phrases] == [("above one", "under one"), ("alone", "last")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Verse: Lord, I cry", ["Verse: Lord, I cry"]),
        ("Lord, I cry: make haste", ["Lord, I cry: make haste"]),
        ("Glory: Both now:\nand ever", ["Glory: Both now:", "and ever"]),
        ("He said: come\n\nunto me", ["He said: come", "unto me"]),
        ("Bass: come unto me\nall ye", ["Bass: come unto me", "all ye"]),
        ("\\Title: of the cross", ["Title: of the cross"]),
    ],
)
def test_first_lines_with_a_colon_that_are_words(text: str, words: list[str]) -> None:
    hymn = loads(text)
    assert [p.text for p in hymn.phrases] == words
    assert hymn.title == ""
    assert loads(dumps(hymn)) == hymn


def test_a_blank_line_after_the_first_rubric_begins_no_verse() -> None:
    assert not loads("title: x\n\n{Stand}\n\nO Lord").phrases[0].verse_start
    assert not loads("{Stand}\n\nO Lord").phrases[0].verse_start
    assert loads("O Lord\n\n{Stand}\n\nhear me").phrases[1].verse_start
