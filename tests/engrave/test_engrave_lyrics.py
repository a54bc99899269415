from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from chantwright.engrave.breaking import MAX_STRETCH, Place, break_lines
from chantwright.engrave.lyrics import place
from chantwright.engrave.metrics import text_width

BOXES = st.lists(
    st.tuples(st.floats(0, 1000), st.floats(1, 80), st.floats(0, 10)), min_size=1, max_size=30
)


@settings(deadline=None)
@given(BOXES)
def test_moved_as_little_as_scipy_would(boxes: list[tuple[float, float, float]]) -> None:
    wanted, widths, gaps = (list(column) for column in zip(*boxes, strict=True))
    found = place(wanted, widths, gaps, -1e9, 1e9)
    offsets = np.concatenate([[0.0], np.cumsum(np.add(widths, gaps))[:-1]])
    best = isotonic_regression(np.subtract(wanted, offsets)).x + offsets
    assert np.allclose(found, best, atol=1e-6)


@settings(deadline=None)
@given(BOXES)
def test_nothing_overlaps_and_all_stay_inside(boxes: list[tuple[float, float, float]]) -> None:
    wanted, widths, gaps = (list(column) for column in zip(*boxes, strict=True))
    room = sum(widths) + sum(gaps)
    found = place(wanted, widths, gaps, 0.0, room)
    for i in range(len(found) - 1):
        assert found[i + 1] - found[i] >= widths[i] + gaps[i] - 1e-6
    assert found[0] >= 0
    assert found[-1] + widths[-1] <= room + 1e-6


def test_widths_are_those_of_the_font() -> None:
    # A monospaced sum would give equal widths; a text font has narrow i and wide W.
    assert text_width("i") < text_width("n") < text_width("W")
    assert text_width("ab") == pytest.approx(text_width("a") + text_width("b"))
    assert text_width("ἦ") > 0.3  # polytonic Greek is in the font


def places(kinds: str, step: float = 10.0) -> list[Place]:
    """P a phrase begins, w a word, s a syllable, ! a line must begin; one note each."""
    names = {"P": "phrase", "w": "word", "s": "syllable", "!": "phrase"}
    return [Place(i, 5 + i * step, names[k], 3, k == "!") for i, k in enumerate(kinds)]


def cuts(kinds: str, width: float) -> list[int]:
    found = places(kinds)
    made = break_lines(found, 5 + 10.0 * len(found), 5, width)
    assert [line.stop for line in made[:-1]] == [line.start for line in made[1:]]
    assert made[-1].stop == len(found)
    return [line.start for line in made]


def test_phrases_are_kept_whole_when_they_fit() -> None:
    assert cuts("PwwwwwwwPwwwwwww", 130) == [0, 8]
    assert cuts("PwwwPwwwPwwwPwww", 95) == [0, 8]


def test_a_phrase_wider_than_the_line_breaks_between_words() -> None:
    starts = cuts("PwswwswwwswwwPwww", 75)
    assert len(starts) > 1
    assert all("PwswwswwwswwwPwww"[i] != "s" for i in starts)


def test_a_verse_begins_a_line() -> None:
    assert 4 in cuts("Pwww!www", 500)


def test_lines_are_not_stretched_beyond_the_limit() -> None:
    found = places("PwwPwwwwwwwwwwPw!wwwwPwww")
    width = 130.0
    for line in break_lines(found, 5 + 10.0 * len(found), 5, width):
        assert line.natural <= line.width + 1e-9
        assert line.width <= min(width, line.natural * MAX_STRETCH) + 1e-9


def test_what_cannot_be_broken_keeps_its_width() -> None:
    (line,) = break_lines([Place(0, 5, "phrase", 0, False)], 505, 5, 100)
    assert line.width == line.natural == 505
