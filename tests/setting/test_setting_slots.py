"""The little language of slots."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.setting import Slot, SlotNote, format_slots, parse_slots
from chantwright.setting.slots import layings, shortest

_notes = st.builds(
    SlotNote,
    st.one_of(st.none(), st.integers(-9, 15)),
    st.fractions(min_value=Fraction(1, 6), max_value=8, max_denominator=6),
)
_plain = st.builds(
    lambda kind, notes, least: Slot(kind, tuple(notes), least, 1),
    st.sampled_from(["S", "w", "a"]),
    st.lists(_notes, min_size=1, max_size=5),
    st.integers(0, 1),
)
_stretch = st.builds(
    lambda kind, degree, least: Slot(kind, (SlotNote(degree),), least, None),
    st.sampled_from(["S", "w", "a"]),
    st.one_of(st.none(), st.integers(-9, 15)),
    st.integers(0, 1),
)
_rows = st.lists(st.one_of(_plain, _stretch), min_size=1, max_size=6).map(tuple)


@settings(deadline=None)
@given(_rows)
def test_what_is_written_is_read_back_exactly(slots: tuple[Slot, ...]) -> None:
    assert parse_slots(format_slots(slots)) == slots


def test_a_formula_reads_as_a_chanter_would_say_it() -> None:
    lead, stress, last = parse_slots("w*=@ S=vou+ni w=pa:2")
    assert (lead.kind, lead.least, lead.most) == ("w", 0, None)
    assert lead.notes == (SlotNote(None),)
    assert [n.degree for n in stress.notes] == [2, 0]
    assert last.notes == (SlotNote(1, Fraction(2)),)
    assert last.beats == 2


def test_slots_may_be_a_list_and_half_beats_are_exact() -> None:
    (slot,) = parse_slots(["S=ke:.5+zo:1/2"])
    assert slot.notes == (SlotNote(5, Fraction(1, 2)), SlotNote(6, Fraction(1, 2)))


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "no slots"),
        ("x=pa", "x=pa"),
        ("w=", "w="),
        ("w=qu", "qu"),
        ("S=pa:0", "0"),
        ("S=pa:long", "long"),
        ("w*=pa+vou", "stretches"),
        ("w+=pa:2", "stretches"),
    ],
)
def test_a_bad_slot_is_told_with_the_word(text: str, word: str) -> None:
    with pytest.raises(ChantError, match=r".*") as caught:
        parse_slots(text)
    assert word in str(caught.value)
    assert caught.value.remedy


@settings(deadline=None)
@given(_rows, st.integers(0, 7))
def test_layings_keep_order_and_counts(slots: tuple[Slot, ...], count: int) -> None:
    found = layings(slots, count)
    assert len(set(found)) == len(found)
    for laying in found:
        assert len(laying) == count
        assert list(laying) == sorted(laying)
        for index, slot in enumerate(slots):
            used = laying.count(index)
            assert slot.least <= used
            assert slot.most is None or used <= slot.most
    if count < shortest(slots):
        assert not found


def test_number_of_layings_by_hand() -> None:
    # two free stretches and one fixed slot over 4 syllables: 3 left over, 0..3 before it
    assert len(layings(parse_slots("w*=pa S=di w*=di"), 4)) == 4
    # one or more on each side: 1 or 2 before
    assert len(layings(parse_slots("w+=pa S=di w+=di"), 4)) == 2
    assert layings(parse_slots("S=pa w?=ni w=pa:2"), 2) == ((0, 2),)
