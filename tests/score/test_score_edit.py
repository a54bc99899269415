"""Edits change what they name and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from score_strategies import hymns, notes, phrases

from chantwright.errors import ChantError
from chantwright.score import (
    UNISON,
    Base,
    Hymn,
    Note,
    Phrase,
    Syllable,
    edit,
    note_id,
    walk,
)
from chantwright.score.hymnfile import dumps, loads, read
from chantwright.score.validate import validate

DATA = Path(__file__).parent / "data"
PSALM = read(DATA / "evening-psalm.txt")

full = hymns(set_throughout=True, min_phrases=1)
"""Hymns with a note on every syllable."""


def _ids(hymn: Hymn) -> list[str]:
    return [name for p in hymn.phrases for name in (p.id, *(s.id for s in p.syllables))]


def _syllables(hymn: Hymn) -> list[Syllable]:
    return [s for p in hymn.phrases for s in p.syllables]


def _words(hymn: Hymn) -> list[str]:
    return [p.words for p in hymn.phrases]


def _note_ids(hymn: Hymn) -> dict[str, Note]:
    return {note_id(s, k): n for _, s, k, n in walk(hymn)}


# --- notes ----------------------------------------------------------------------------------


@settings(deadline=None, max_examples=50)
@given(full, st.data(), notes)
def test_changing_a_note_changes_that_note(hymn: Hymn, data: st.DataObject, new: Note) -> None:
    name = data.draw(st.sampled_from(sorted(_note_ids(hymn))))
    edited = edit.change_note(hymn, name, degree=new.degree, beats=new.beats, bend=new.bend)
    before, after = _note_ids(hymn), _note_ids(edited)
    assert after == {**before, name: new}
    old = before[name]
    back = edit.change_note(edited, name, degree=old.degree, beats=old.beats, bend=old.bend)
    assert back == hymn


@settings(deadline=None, max_examples=50)
@given(full, st.data(), notes)
def test_a_note_put_in_can_be_taken_out(hymn: Hymn, data: st.DataObject, new: Note) -> None:
    syllable = data.draw(st.sampled_from(_syllables(hymn)))
    at = data.draw(st.integers(0, len(syllable.notes)))
    edited = edit.insert_note(hymn, syllable.id, at, new)
    assert edited.beats == hymn.beats + new.beats
    assert _ids(edited) == _ids(hymn)
    assert _note_ids(edited)[f"{syllable.id}n{at + 1}"] == new
    assert edit.remove_note(edited, f"{syllable.id}n{at + 1}") == hymn


def test_change_keeps_what_is_not_given() -> None:
    edited = edit.change_note(PSALM, "p2s2n1", beats=Fraction(2))
    assert edited.phrases[1].syllables[1].notes == (Note(4, Fraction(2), Fraction(-2)),)


# --- syllables ------------------------------------------------------------------------------


@settings(deadline=None, max_examples=50)
@given(full, st.data())
def test_split_then_join_gives_the_words_and_the_rest_back(hymn: Hymn, data: st.DataObject) -> None:
    long = [s for s in _syllables(hymn) if _can_cut(s)]
    if not long:
        return
    syllable = data.draw(st.sampled_from(long))
    at = data.draw(st.sampled_from(_cuts(syllable)))
    split = edit.split_syllable(hymn, syllable.id, at)
    assert _words(split) == _words(hymn)
    assert split.is_set
    assert [i for i in _ids(split) if i in _ids(hymn)] == _ids(hymn)
    assert len(_ids(split)) == len(_ids(hymn)) + 1
    assert loads(dumps(split)) == split
    # Notes shared out without a copy come back exactly; otherwise the words do.
    shared = edit.split_syllable(hymn, syllable.id, at, notes_at=len(syllable.notes))
    assert edit.join_syllables(shared, syllable.id) == hymn
    assert _words(edit.join_syllables(split, syllable.id)) == _words(hymn)


def _cuts(syllable: Syllable) -> list[int]:
    text = syllable.text
    return [i for i in range(1, len(text)) if text[:i].strip() and text[i:].strip()]


def _can_cut(syllable: Syllable) -> bool:
    return bool(_cuts(syllable))


@settings(deadline=None, max_examples=50)
@given(full, st.data())
def test_joining_syllables_keeps_words_beats_and_notes(hymn: Hymn, data: st.DataObject) -> None:
    firsts = [s for p in hymn.phrases for s in p.syllables[:-1]]
    if not firsts:
        return
    syllable = data.draw(st.sampled_from(firsts))
    joined = edit.join_syllables(hymn, syllable.id)
    assert _words(joined) == _words(hymn)
    assert joined.beats == hymn.beats
    assert [n for *_, n in walk(joined)] == [n for *_, n in walk(hymn)]
    gone = set(_ids(hymn)) - set(_ids(joined))
    assert len(gone) == 1
    assert [i for i in _ids(hymn) if i not in gone] == _ids(joined)
    assert loads(dumps(joined)) == joined


def test_splitting_shares_the_notes_out() -> None:
    hymn = loads("heav'n\nnotes: pa+vou+ga\nison: pa")
    split = edit.split_syllable(hymn, "p1s1", 4)
    first, second = split.phrases[0].syllables
    assert (first.text, first.place, second.text, second.place) == ("heav", "begin", "'n", "end")
    assert [len(first.notes), len(second.notes), second.ison] == [2, 1, 1]
    alone = edit.split_syllable(loads("heav'n\nnotes: pa:2"), "p1s1", 4)
    assert [s.notes for s in alone.phrases[0].syllables] == [(Note(1, Fraction(2)),)] * 2


def test_joining_over_two_words_keeps_the_blank() -> None:
    # A Greek singer elides: two vowels of two words on one note (common practice).
    hymn = loads("καὶ ἐ-γέ-νε-το\nnotes: pa pa vou ga pa:2\nstress: 0 0100")
    joined = edit.join_syllables(hymn, "p1s1")
    first = joined.phrases[0].syllables[0]
    assert (first.text, first.place) == ("καὶ ἐ", "begin")
    assert joined.phrases[0].words == "καὶ ἐγένετο"
    assert loads(dumps(joined)) == joined


def test_small_edits() -> None:
    hymn = edit.set_words(PSALM, "p1s6", "thee!")
    assert hymn.phrases[0].words == "Lord, I cry unto thee!"
    hymn = edit.set_stress(hymn, "p1s2", 2)
    hymn = edit.set_ison(hymn, ["p1s1", "p1s2"], UNISON)
    hymn = edit.set_ison(hymn, "p1s3", None)
    assert [s.ison for s in hymn.phrases[0].syllables] == [UNISON, UNISON, None, 1, 1, 1]
    assert [s.stress for s in hymn.phrases[0].syllables] == [1, 2, 1, 1, 0, 1]
    hymn = edit.set_cadence(hymn, "p2", None)
    hymn = edit.set_rest(hymn, "p2", Fraction(0))
    hymn = edit.set_scale(hymn, "p4", None)
    hymn = edit.set_rubric(hymn, "p4", "softly")
    _, second, _, fourth = hymn.phrases
    assert (second.cadence, second.rest) == (None, Fraction(0))
    assert (fourth.scale, fourth.rubric) == (None, "softly")
    hymn = edit.set_ending(edit.set_tempo(edit.retitle(hymn, "Evening"), None), "ordinary")
    assert (hymn.title, hymn.tempo, hymn.ending) == ("Evening", None, "ordinary")
    assert _ids(hymn) == _ids(PSALM)


# --- phrases --------------------------------------------------------------------------------


@settings(deadline=None, max_examples=50)
@given(full, st.data())
def test_phrases_split_and_joined_are_as_before(hymn: Hymn, data: st.DataObject) -> None:
    starts = [s for p in hymn.phrases for s in p.syllables[1:] if s.place in ("single", "begin")]
    if not starts:
        return
    syllable = data.draw(st.sampled_from(starts))
    split = edit.split_phrase(hymn, syllable.id, cadence="medial")
    assert len(split.phrases) == len(hymn.phrases) + 1
    assert " ".join(_words(split)) == " ".join(_words(hymn))
    assert split.beats == hymn.beats
    assert [i for i in _ids(split) if i in _ids(hymn)] == _ids(hymn)
    at, _ = edit.find_syllable(hymn, syllable.id)
    assert split.phrases[at].cadence == "medial"
    assert edit.join_phrases(split, hymn.phrases[at].id) == hymn


@settings(deadline=None, max_examples=50)
@given(hymns(min_phrases=1), st.lists(phrases(), max_size=2), st.data())
def test_replacing_a_phrase_leaves_the_others(
    hymn: Hymn, new: list[Phrase], data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(hymn.phrases) - 1))
    edited = edit.replace_phrase(hymn, hymn.phrases[at].id, *new)
    end = at + len(new)
    assert edited.phrases[:at] == hymn.phrases[:at]
    assert edited.phrases[end:] == hymn.phrases[at + 1 :]
    assert [p.words for p in edited.phrases[at:end]] == [p.words for p in new]
    if new:
        assert edited.phrases[at].id == hymn.phrases[at].id
    validate(edited)  # no id stands twice


@settings(deadline=None, max_examples=40)
@given(hymns(min_phrases=1), st.data())
def test_a_phrase_sung_again_gets_ids_of_its_own(hymn: Hymn, data: st.DataObject) -> None:
    again = data.draw(st.sampled_from(hymn.phrases))
    edited = edit.insert_phrase(hymn, len(hymn.phrases), again)
    assert edited.phrases[:-1] == hymn.phrases
    assert edited.phrases[-1].words == again.words
    assert len(set(_ids(edited))) == len(_ids(edited))
    assert edit.remove_phrase(edited, edited.phrases[-1].id) == hymn


# --- the base -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moria", "hz"),
    [
        # Equal temperament on A = 440 Hz, the usual table of note frequencies: 72 moria are 12
        # semitones, so 6 moria are one.
        (72, 293.66),  # D4
        (6, 155.56),  # E flat 3
        (12, 164.81),  # E3
        (42, 220.00),  # A3
        (-12, 130.81),  # C3
    ],
)
def test_the_base_moves_by_moria(moria: int, hz: float) -> None:
    d3 = replace(PSALM, base=Base(1, 440 * 2 ** (-19 / 12)))
    moved = edit.move_base(d3, moria=moria)
    assert moved.base is not None
    assert round(moved.base.hz, 2) == hz
    assert moved.phrases == d3.phrases


def test_the_base_is_put_on_a_pitch() -> None:
    assert edit.move_base(PSALM, hz=150.0).base == Base(1, 150.0)
    bare = replace(PSALM, base=None)
    assert edit.move_base(bare, hz=150.0, degree=4).base == Base(4, 150.0)


# --- slips ----------------------------------------------------------------------------------

SLIPS: dict[str, Callable[[], Hymn]] = {
    "no such phrase": lambda: edit.set_cadence(PSALM, "p9", "full"),
    "no name": lambda: edit.set_cadence(PSALM, "", "full"),
    "no such syllable": lambda: edit.set_words(PSALM, "p1s99", "x"),
    "no such note": lambda: edit.change_note(PSALM, "p1s1n2", degree=0),
    "note zero": lambda: edit.remove_note(PSALM, "p1s1n0"),
    "not a note": lambda: edit.remove_note(PSALM, "p1s1"),
    "note of another script": lambda: edit.remove_note(PSALM, "p1s1n²"),
    "note without length": lambda: edit.change_note(PSALM, "p1s1n1", beats=Fraction(0)),
    "place past the end": lambda: edit.insert_note(PSALM, "p1s1", 2, Note(0)),
    "cut before the first letter": lambda: edit.split_syllable(PSALM, "p1s1", 0),
    "cut after the last letter": lambda: edit.split_syllable(PSALM, "p1s2", 1),
    "more notes than there are": lambda: edit.split_syllable(PSALM, "p1s1", 1, notes_at=2),
    "no letters": lambda: edit.set_words(PSALM, "p1s1", " "),
    "two lines": lambda: edit.set_words(PSALM, "p1s1", "a\nb"),
    "stress of 7": lambda: edit.set_stress(PSALM, "p1s1", 7),
    "ison beyond any voice": lambda: edit.set_ison(PSALM, "p1s1", 99),
    "last syllable joined on": lambda: edit.join_syllables(PSALM, "p1s6"),
    "last phrase joined on": lambda: edit.join_phrases(PSALM, "p4"),
    "scale changes in the middle": lambda: edit.join_phrases(PSALM, "p3"),
    "divided and undivided": lambda: edit.join_phrases(
        edit.insert_phrase(PSALM, 1, Phrase(text="amen")), "p1"
    ),
    "cut inside a word": lambda: edit.split_phrase(PSALM, "p1s5"),
    "cut at the beginning": lambda: edit.split_phrase(PSALM, "p1s1"),
    "place before the beginning": lambda: edit.insert_phrase(PSALM, -1, Phrase(text="a")),
    "neither pitch nor distance": lambda: edit.move_base(PSALM),
    "both pitch and distance": lambda: edit.move_base(PSALM, hz=1.0, moria=6),
    "pitch of nothing": lambda: edit.move_base(PSALM, hz=0.0),
    "distance without a base": lambda: edit.move_base(replace(PSALM, base=None), moria=6),
    "distance of another degree": lambda: edit.move_base(PSALM, moria=6, degree=4),
    "tempo below nothing": lambda: edit.set_tempo(PSALM, -1),
    "title of two lines": lambda: edit.retitle(PSALM, "a\nb"),
}


@pytest.mark.parametrize("name", SLIPS)
def test_an_edit_that_cannot_be(name: str) -> None:
    with pytest.raises(ChantError) as caught:
        SLIPS[name]()
    assert caught.value.what and caught.value.remedy


@pytest.mark.parametrize(
    ("stresses", "joined"), [("00", 0), ("02", 2), ("20", 2), ("21", 1), ("12", 1), ("10", 1)]
)
def test_the_stronger_stress_is_left_when_syllables_join(stresses: str, joined: int) -> None:
    # 1 is primary and 2 secondary, the custom of pronouncing dictionaries.
    hymn = edit.join_syllables(loads(f"a-men\nstress: {stresses}"), "p1s1")
    assert hymn.phrases[0].syllables[0].stress == joined


def test_ids_that_other_phrases_use_are_not_taken_over() -> None:
    third = PSALM.phrases[2]
    edited = edit.replace_phrase(PSALM, "p1", third, third)
    assert edited.phrases[2:] == PSALM.phrases[1:]
    assert [p.words for p in edited.phrases[:2]] == [third.words] * 2
    assert len(set(_ids(edited))) == len(_ids(edited))
    assert edit.replace_phrase(PSALM, "p3", third) == PSALM
