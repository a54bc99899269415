"""Attractions in a line: when they are made, and that they never reach the next note.

Directions and moments: Romanian theory sheet for tone 8; otherwise common practice, from memory.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.tones import LEVELS, bends, load_tones
from chantwright.tuning import parse_degree

TONES = load_tones()


def bent(branch: str, line: str, level: str = "all") -> list[int]:
    degrees = [parse_degree(n) for n in line.split()]
    return [int(b) for b in bends(TONES, TONES.branch(branch), degrees, level)]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("ke zo ke", [0, -4, 0]),  # the peak
        ("ni' zo ke", [0, -4, 0]),  # passed going down
        ("ke zo ni'", [0, 0, 0]),  # the melody goes above it: natural
        ("ke zo ni' zo ke", [0, 0, 0, -4, 0]),  # natural going up, flat coming down
        ("ke zo zo ke", [0, -4, -4, 0]),  # a repeated note is one note
        ("zo ke", [-4, 0]),  # a line that begins on it
        ("ke zo", [0, 0]),  # a note at rest
        ("ni' zo ni'", [0, 0, 0]),  # a lower neighbour
        ("ni zo_ ke_", [0, 0, 0]),  # the low zo is another matter
    ],
)
def test_zo(line: str, expected: list[int]) -> None:
    assert bent("t1.heirmologic", line, "beginner") == expected


@pytest.mark.parametrize(
    ("branch", "line", "expected"),
    [
        ("t8.heirmologic", "di ga di", [0, 6, 0]),
        ("t8.heirmologic", "di ga vou", [0, 0, 0]),
        ("t8.heirmologic", "vou pa vou", [0, 4, 0]),
        ("t8.heirmologic", "ni zo_ ni", [0, 2, 0]),
        ("t8.heirmologic", "ke_ zo_ ni", [0, 2, 0]),  # rising to its target
        ("t8.heirmologic", "ni' zo ni'", [0, 0, 0]),  # the rule is for the low zo
        ("t1.heirmologic", "pa ni pa", [0, 6, 0]),
        ("t1.heirmologic", "pa ni vou", [0, 0, 0]),
        ("t1.papadic", "pa' ni' pa'", [0, 6, 0]),  # in the octave above too
        ("t1.sticheraric", "ga vou ga", [0, 2, 0]),
        ("t1.sticheraric", "di ke di", [0, -2, 0]),
        ("t5.heirmologic", "ke di ke", [0, 6, 0]),
        ("t3.heirmologic", "ke zo ke", [0, 0, 0]),  # its zo is flat already
        ("t6.sticheraric", "di ga di", [0, 0, 0]),
    ],
)
def test_the_others(branch: str, line: str, expected: list[int]) -> None:
    assert bent(branch, line) == expected


def test_flat_zo_leaves_a_semitone_above_ke() -> None:
    # theory sheet, tone 8; 6 moria are 100 cents
    scale = TONES.scales["diatonic"]
    assert scale.moria(6) + bends(TONES, TONES.branch("t8.heirmologic"), [5, 6, 5])[1] == 60
    assert scale.moria(5) == 54


def test_levels() -> None:
    line = "di ga di ke zo ke"
    assert bent("t1.heirmologic", line, "none") == [0] * 6
    assert bent("t1.heirmologic", line, "beginner") == [0, 0, 0, 0, -4, 0]
    assert bent("t1.heirmologic", line, "all") == [0, 6, 0, 0, -4, 0]
    with pytest.raises(ChantError, match="is no level"):
        bent("t1.heirmologic", line, "some")


def test_a_bend_that_would_reach_the_next_note_is_left_out(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[attraction]]\nid = "zo_flat"\nmoria = -10\n')  # down to the place of ke
    tones = load_tones([own])
    assert list(bends(tones, tones.branch("t1.heirmologic"), [5, 6, 5])) == [0, 0, 0]
    own.write_text('[[attraction]]\nid = "zo_flat"\nmoria = -6\n')
    tones = load_tones([own])
    assert list(bends(tones, tones.branch("t1.heirmologic"), [5, 6, 5])) == [0, -6, 0]


@pytest.mark.parametrize(
    ("moments", "cancel", "line", "expected"),
    [
        ('"down"', "", "ni' zo ni'", [0, 0, 0]),  # turned back: not passed going down
        ('"down"', "", "ni' zo ke", [0, -2, 0]),
        ('"rising_to"', "", "ke zo ni'", [0, -2, 0]),
        ('"rising_to"', 'cancel = "unless_above"\n', "ke zo ni'", [0, 0, 0]),
        ('"lower_neighbour"', 'cancel = "unless_above"\n', "ni' zo ni'", [0, 0, 0]),
        ('"peak", "rising_to"', 'cancel = "unless_above"\n', "ke zo ke zo ni'", [0, -2, 0, 0, 0]),
    ],
)
def test_a_parish_makes_its_own_rule(
    tmp_path: Path, moments: str, cancel: str, line: str, expected: list[int]
) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        f'[[attraction]]\nid = "ours"\nnote = "zo"\nmoria = -2\nwhen = [{moments}]\n{cancel}'
        '[[branch]]\nid = "t1.heirmologic"\nattractions = ["ours"]\n'
    )
    tones = load_tones([own])
    degrees = [parse_degree(n) for n in line.split()]
    branch = tones.branch("t1.heirmologic")
    assert list(bends(tones, branch, degrees, "all")) == expected
    assert list(bends(tones, branch, degrees)) == [0] * len(degrees)  # not said to be for beginners
    own.write_text(own.read_text().replace("moria = -2", 'moria = -2\nlevel = "beginner"'))
    tones = load_tones([own])
    assert list(bends(tones, tones.branch("t1.heirmologic"), degrees)) == expected


@given(
    st.sampled_from(sorted(TONES.branches)),
    st.lists(st.integers(-5, 12), max_size=24),
    st.sampled_from(LEVELS),
)
@settings(deadline=None)
def test_a_bent_line_rises_and_falls_as_before(branch: str, line: list[int], level: str) -> None:
    row = TONES.branch(branch)
    scale = TONES.scales[row.scale]
    found = bends(TONES, row, line, level)
    assert len(found) == len(line)
    places = [scale.moria(d) + b for d, b in zip(line, found, strict=True)]
    for degree, place in zip(line, places, strict=True):
        assert scale.moria(degree - 1) < place < scale.moria(degree + 1)
    for i in range(1, len(line)):
        if line[i] != line[i - 1]:
            assert (places[i] > places[i - 1]) == (line[i] > line[i - 1])
        else:
            assert places[i] == places[i - 1]
