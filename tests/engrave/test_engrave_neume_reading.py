"""What is written in neumes says the same steps and beats again.

The check outside the rules of spelling: values of the signs as every textbook teaches them
(ison 0, oligon 1, kentema 2, hypsile 4, apostrophos -1, elaphron -2, chamile -4).
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hymns_for_print import DENSE, GREEK, PSALM, phrase
from neume_lines import neumes, random_line, tones

from chantwright.engrave.neumes import (
    Neume,
    Sung,
    from_neumes,
    load_tables,
    neume_text,
    read_neumes,
    steps_and_beats,
    to_neumes,
)
from chantwright.engrave.neumes.orthography import spell
from chantwright.engrave.neumes.times import timed
from chantwright.errors import ChantError
from chantwright.score import Hymn, number
from chantwright.tones import load_tones

TABLES = load_tables()
TONES = load_tones()
WORTH = {
    "ison": 0,
    "oligon": 1,
    "petaste": 1,
    "kentemata": 1,
    "kentema": 2,
    "hypsile": 4,
    "apostrophos": -1,
    "elaphron": -2,
    "chamile": -4,
    "hyporrhoe": -2,
}


def _sum(neume: Neume) -> int | None:
    """Steps of a cluster by the teaching of the textbooks, not by our table."""
    found = [s for s in neume.signs if s.name in WORTH]
    if not found:
        return None
    base, *others = found
    total = sum(WORTH[s.name] for s in others)
    cancels = any(
        (s.name in ("kentema", "hypsile") and s.place in ("right", "below", "above_right"))
        or WORTH[s.name] <= 0
        for s in others
    )
    if base.name in ("oligon", "petaste") and cancels:
        return total
    return WORTH[base.name] + total


def _lines(count: int, seed: int) -> None:
    source = random.Random(seed)
    for _ in range(count):
        line = random_line(source, TABLES)
        times, pad = timed([t.beats for t in line], TABLES)
        assert pad == 0
        written = spell(line, times, TABLES)
        read = steps_and_beats([read_neumes(neume_text(written), TABLES)], TABLES)[0]
        assert [(s.step, s.beats) for s in read] == [(t.step, t.beats) for t in line]


def test_random_lines_read_back_exactly() -> None:
    # 100,000 of them are read in bench/neume_writing.py; here a fifth, to spare the suite's time.
    _lines(20_000, 7)


def test_with_every_switch_on_lines_read_back_exactly(tmp_path: Path) -> None:

    own = tmp_path / "own.toml"
    own.write_text(
        '[[neume_form]]\nid = "Q10.loose"\noff = false\n'
        '[[neume_pair]]\nid = "syneches"\noff = false\n'
    )
    tables = load_tables((own,))
    source = random.Random(3)
    seen = set()
    for _ in range(3000):
        line = random_line(source, tables)
        times, _pad = timed([t.beats for t in line], tables)
        written = spell(line, times, tables)
        seen |= {str(s) for n in written for s in n.signs}
        read = steps_and_beats([written], tables)[0]
        assert [(s.step, s.beats) for s in read] == [(t.step, t.beats) for t in line]
    assert "apostrophos.joined" in seen


def test_clusters_add_up_as_the_textbooks_teach() -> None:
    source = random.Random(11)
    seen = set()
    for _ in range(3000):
        line = random_line(source, TABLES)
        times, _ = timed([t.beats for t in line], TABLES)
        steps = {t.id: t.step or 0 for t in line}
        for neume in spell(line, times, TABLES):
            if neume.notes:
                assert _sum(neume) == sum(steps[n] for n in neume.notes), str(neume)
                seen.add(_sum(neume))
    assert seen >= set(range(-8, 9))


def test_signs_of_quality_keep_their_places() -> None:
    """Common practice: one base a cluster; no petaste, psefiston or vareia without a descent; no
    gorgon on a petaste; kentemata never begin a syllable."""
    source = random.Random(5)
    for _ in range(4000):
        line = random_line(source, TABLES)
        times, _ = timed([t.beats for t in line], TABLES)
        at = {t.id: k for k, t in enumerate(line)}
        before = ""
        for neume in spell(line, times, TABLES):
            names = [s.name for s in neume.signs]
            assert sum(s.place == "base" for s in neume.signs) == 1
            if not neume.notes:
                before = ""
                continue
            last = at[neume.notes[-1]]
            following = line[last + 1].step if last + 1 < len(line) else None
            own = line[at[neume.notes[0]]]
            if {"petaste", "psefiston", "vareia"} & set(names):
                assert following is not None and following < 0
                assert own.stress == 1 and own.fresh
            if "psefiston" in names:
                after = line[last + 2].step
                assert after is not None and after < 0
            if "petaste" in names:
                assert not any(TABLES.kind(n) == "part" for n in names)
            if names[0] == "kentemata":
                assert not own.fresh
            if names[0] == "hyporrhoe":
                assert not own.fresh
            if "antikenoma" in names:
                assert before != "antikenoma"
                assert following is not None and following < 0
                assert "aple" in names or own.stress == 0
                if "aple" in names:  # rule 7: exactly one descent
                    further = line[last + 2].step if last + 2 < len(line) else None
                    assert further is None or further >= 0
            before = "antikenoma" if "antikenoma" in names else ""


@pytest.mark.parametrize("hymn", [PSALM, DENSE, GREEK], ids=lambda h: h.title)
def test_a_hymn_reads_back_exactly(hymn: Hymn) -> None:
    score = to_neumes(hymn, TONES)
    degree = score.start
    found = from_neumes(score)
    assert len(found) == len(hymn.phrases)
    for line, one in zip(found, hymn.phrases, strict=True):
        sung = [n for s in one.syllables for n in s.notes]
        notes = [s for s in line if s.step is not None]
        for (step, beats), note in zip(notes, sung, strict=True):
            assert step is not None
            degree += step
            assert (degree, beats) == (note.degree, note.beats)
        assert sum(s.beats for s in line if s.step is None) == one.rest


def test_every_note_is_in_exactly_one_cluster() -> None:
    hymn = number(PSALM)
    score = to_neumes(hymn, TONES)
    named = [n for line in score.lines for neume in line.neumes for n in neume.notes]
    assert (
        len(named)
        == len(set(named))
        == sum(len(s.notes) for p in hymn.phrases for s in p.syllables)
    )


def test_a_phrase_may_end_inside_a_beat_and_the_next_go_on_in_it() -> None:
    first, second = phrase("Come:1,2*1/2"), phrase("now:1*1/2 all:1*1/2")
    score = to_neumes(Hymn(tone=1, phrases=(first, second)), TONES)
    assert neume_text(score.lines[1].neumes).startswith("apostrophos+gorgon.below")
    assert score.pad == Fraction(1, 2)
    assert from_neumes(score)[1] == (Sung(-1, Fraction(1, 2)), Sung(0, Fraction(1, 2)))


def test_rests_follow_their_phrase() -> None:
    hymn = Hymn(tone=1, phrases=(replace(phrase("Come:1 now:2"), rest=Fraction(5)),))
    score = to_neumes(hymn, TONES)
    assert neume_text(score.lines[0].neumes) == "ison oligon rest4 rest1"
    assert from_neumes(score)[0][-1] == Sung(None, Fraction(5))


def test_a_rest_and_a_missing_piece_of_beat_stand_together() -> None:
    hymn = Hymn(tone=1, phrases=(replace(phrase("Come:1 now:2*1/2"), rest=Fraction(1, 4)),))
    score = to_neumes(hymn, TONES)
    assert score.pad == Fraction(1, 4)
    assert from_neumes(score)[0][-1] == Sung(None, Fraction(1, 4))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Come:1 now:12", "11 steps up"),
        ("Come:1 now:-9", "10 steps down"),
        ("Come:1*1/5 now:1*4/5", "cannot be written in neumes"),
        ("Come:1*40", "32 beats"),
    ],
)
def test_what_neumes_cannot_say_is_a_sentence(line: str, said: str) -> None:
    with pytest.raises(ChantError, match=said) as found:
        to_neumes(Hymn(tone=1, phrases=(phrase(line),)), TONES)
    assert found.value.where.word in ("Come", "now")
    assert found.value.remedy


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("oligon ligature", "no neume “ligature”"),
        ("oligon+kentema.inside", "no place “inside”"),
        ("oligon+kentema.above_left", "no step that neumes can write"),
        ("kentema.above+oligon", "no step that neumes can write"),
        ("oligon+gorgon.above", "no beat before it"),
        ("ison oligon+digorgon.above+klasma.above ison", "held longer than that beat"),
    ],
)
def test_text_that_is_no_neume_is_a_sentence(text: str, said: str) -> None:
    with pytest.raises(ChantError, match=said):
        steps_and_beats([read_neumes(text)])


def test_a_parish_row_wins(tmp_path: Path) -> None:

    own = tmp_path / "own.toml"
    own.write_text('[[neume_quality]]\nid = "B3"\nsign = "none"\n')
    assert str(neumes("1 1 -1", load_tables((own,)))[1]) == "oligon"
    assert str(neumes("1 1 -1")[1]) == "oligon+antikenoma.below"


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ('[[neume_quality]]\nid = "x"\nwhen = { weather = 1 }\nsign = "none"\n', "no condition"),
        ('[[neume_step]]\nid = "x"\nsteps = [3]\nsigns = ["oligon"]\n', "written just as"),
        ('[[neume_step]]\nid = "x"\nsteps = [3]\nsigns = ["oligon.atop"]\n', "no sign"),
        ('[[neume_part]]\nid = "x"\nparts = ["1/2", "1/3"]\n', "do not add up"),
        ('[[neume_part]]\nid = "x"\nparts = ["half"]\n', "not fractions"),
    ],
)
def test_a_bad_parish_row_is_a_sentence(tmp_path: Path, row: str, said: str) -> None:

    own = tmp_path / "own.toml"
    own.write_text(row)
    with pytest.raises(ChantError, match=said):
        load_tables((own,))


def test_the_lines_of_these_tests_are_read_as_meant() -> None:
    found = tones("0! _-1*1/2 r*2")
    assert [(t.step, t.beats, t.fresh, t.stress) for t in found] == [
        (0, 1, True, 1),
        (-1, Fraction(1, 2), False, 0),
        (None, 2, True, 0),
    ]
