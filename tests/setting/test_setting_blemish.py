"""What is amiss with a line as a whole.

Each case is common practice, from memory of how teachers correct settings; the lines are ours.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from chantwright.score import Note
from chantwright.setting import Books
from chantwright.setting.account import scarce
from chantwright.setting.blemish import blemishes
from chantwright.setting.line import Sung, centre_terms, lay
from chantwright.tones import Tones


def _sung(code: int, degrees: Sequence[int]) -> Sung:
    strong = code == 1
    top = max(degrees)
    return Sung(degrees[0], degrees[-1], top, 1.0, len(degrees), strong, code, top)


def _told(*line: tuple[int, Sequence[int]]) -> list[str]:
    """Blemishes of syllables, each a code (1 stressed, 2 light, 0 weak) and its degrees."""
    sung = [_sung(code, degrees) for code, degrees in line]
    return list(blemishes(sung, [tuple(Note(d) for d in degrees) for _, degrees in line]))


def test_a_small_word_does_not_stand_highest() -> None:
    # “I will be glad”: will on the top note, glad under it
    assert _told((0, [3]), (2, [5]), (0, [4]), (1, [4])) == ["light-peak"]
    assert _told((0, [3]), (2, [4]), (0, [4]), (1, [5])) == []
    assert _told((0, [3]), (2, [5]), (0, [4]), (1, [5])) == []  # the stress is as high
    assert _told((0, [3]), (2, [5])) == []  # no main stress at all


@pytest.mark.parametrize(
    ("degrees", "rocks"),
    [
        ([3, 4, 3, 4, 3, 4], True),
        ([3, 4, 3, 4, 3], False),
        ([3, 3, 4, 4, 3, 4, 3, 3, 4], True),  # a note sung again is one note
        ([3, 4, 3, 4, 5, 4, 3, 4], False),
        ([1, 5, 4, 5, 4, 5, 4, 2], True),
        ([], False),
    ],
)
def test_six_notes_to_and_fro(degrees: list[int], rocks: bool) -> None:
    assert ("rocking" in _told(*((0, [d]) for d in degrees))) == rocks


def test_the_same_turn_is_not_sung_twice_running() -> None:
    twice = [(1, [4, 3]), (0, [2]), (1, [4, 3]), (0, [2]), (1, [3])]
    assert _told(*twice) == ["same-turn"]
    assert _told(*twice[:3]) == []  # the last stress belongs to the close
    assert _told((1, [4, 3]), (0, [2]), (1, [4, 5]), (0, [2]), (1, [4, 3]), (0, [1])) == []


def test_not_every_stress_is_figured() -> None:
    four = [(1, [3, 4]), (1, [4, 5]), (2, [5, 4]), (1, [4, 3])]
    assert _told(*four) == ["busy"]
    assert _told(*four[:2], (1, [5]), *four[2:]) == []


@pytest.mark.parametrize(
    ("beats", "told"),
    [
        ([4, 4, 4, 3], ["even"]),
        ([3, 3, 3, 2], ["even"]),
        ([4, 3, 4, 2], []),
        ([2, 2, 2, 2], []),  # short ones may be alike
        ([3, 4, 4, 4], []),  # the last one belongs to the close
        ([4, 3, 4, 3, 7], ["long-row"]),
        ([4, 3, 2, 3, 4, 7], []),
        ([4, 4, 4, 4, 4], ["even", "long-row"]),
    ],
)
def test_long_stresses_differ_and_do_not_go_on(beats: list[int], told: list[str]) -> None:
    # no two with the same notes: each is a step higher
    line = [_sung(1, [n, n + 1])._replace(beats=float(b)) for n, b in enumerate(beats)]
    notes = [(Note(n), Note(n + 1)) for n in range(len(beats))]
    assert [name for name in blemishes(line, notes) if name != "busy"] == told


def test_a_light_stress_is_short_inside_a_phrase(books: Books, tones: Tones) -> None:
    branch = tones.branch("t1.sticheraric")
    prices = {w.id: w.price(branch.style) for w in books.weights.values()}
    book = books.book(branch.id)

    def told(formula: str, codes: tuple[int, ...]) -> list[str]:
        row = book.formula(formula)
        piece = lay(row, range(len(codes)), codes, held=3, roof=5, usual=branch.usual,
                    prices=prices, kept={})  # fmt: skip
        return [name for _, name in piece.terms]

    assert "long-light" in told("t1m.picture.a", (2, 0))
    assert "long-light" not in told("t1m.picture.a", (1, 0))
    assert "long-light" not in told("t1m.light.a", (2, 0))
    # the last stress of a close is long, whatever its word
    close = next(f for f in book.role("full") if f.shape == "10" and len(f.slots) == 3)
    assert close.lengths[1] >= 3
    assert "long-light" not in told(close.id, (0, 2, 0))


def test_few_notes_in_a_long_phrase() -> None:
    assert [scarce(4, 2), scarce(5, 2), scarce(5, 3), scarce(8, 3), scarce(9, 3), scarce(9, 4)] == [
        "", "narrow", "", "", "few-notes", "",
    ]  # fmt: skip


def test_a_leap_of_a_fourth_belongs_to_a_stress() -> None:
    low, end = _sung(0, [1]), _sung(1, [4])
    for code, told in ((0, True), (2, True), (1, False)):
        assert ("light-leap" in centre_terms(low, _sung(code, [4]), end)) == told
    assert "light-leap" not in centre_terms(low, _sung(2, [3]), end)
