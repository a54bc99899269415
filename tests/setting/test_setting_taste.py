"""Prices learnt from the teacher's choices."""

from __future__ import annotations

from pathlib import Path

import pytest
from marked import hymn, psalms

from chantwright.errors import ChantError
from chantwright.setting import (
    Books,
    Setting,
    check_books,
    learn,
    load_books,
    read_taste,
    set_hymn,
    write_taste,
)
from chantwright.setting.setter import prices_of
from chantwright.setting.taste import MARGIN, STEP, amounts
from chantwright.tones import Tones


def _paid(done: Setting, books: Books) -> float:
    """Cost without the formulas' own weights, from the counts."""
    prices = prices_of(books)
    return sum(prices[n] * a for n, a in amounts(done, prices).items())


def test_counts_times_prices_are_the_cost(books: Books, tones: Tones) -> None:
    for tone in range(1, 9):
        for done in set_hymn(hymn(psalms()[1][1], tone), tones, books, count=2):
            weights = sum(p for part in done.terms for n, p in part if n == "weight")
            assert _paid(done, books) == pytest.approx(done.cost - weights)


def test_a_step_goes_towards_the_choice_and_never_below_nothing(books: Books, tones: Tones) -> None:
    # Rosenblatt 1958, Collins 2002: the step is the difference of the counts
    found = set_hymn(hymn(psalms()[0][1], 1), tones, books, count=3)
    a, *_, b = sorted(found, key=lambda s: _paid(s, books))
    prices = prices_of(books)
    moved = learn(books, b, a, step=100.0)
    assert moved
    assert all(v >= 0 for v in moved.values())
    assert any(v == 0 for v in moved.values())
    left, taken = amounts(a, prices), amounts(b, prices)
    for name, value in learn(books, b, a).items():
        apart = left.get(name, 0.0) - taken.get(name, 0.0)
        assert (value - prices[name]) * apart > 0 or (value == 0 and apart < 0)
    assert sum((v - prices[n]) ** 2 for n, v in learn(books, b, a).items()) <= STEP**2 + 1e-3


def test_a_clear_choice_teaches_nothing(books: Books, tones: Tones) -> None:
    seen = 0
    for tone in range(1, 9):
        found = set_hymn(hymn(psalms()[0][1], tone), tones, books, count=5)
        best, *_, worst = sorted(found, key=lambda s: _paid(s, books))
        if _paid(worst, books) - _paid(best, books) >= MARGIN:
            seen += 1
            assert learn(books, best, worst) == {}
    assert seen


def test_the_setter_takes_up_what_was_learnt(books: Books, tones: Tones, tmp_path: Path) -> None:
    # a teacher who loves two notes on a stress and leaves every plainer setting
    def figured(done: Setting) -> float:
        stresses = [s for p in done.hymn.phrases for s in p.syllables[:-1] if s.stress == 1]
        return sum(len(s.notes) > 1 for s in stresses) / len(stresses)

    taught = 0
    for tone in (1, 3, 8):
        if taught:
            break
        path = tmp_path / f"prices{tone}.toml"
        words, now = hymn(psalms()[2][1], tone), books
        before = figured(set_hymn(words, tones, books)[0])
        for _ in range(8):
            ranked = sorted(set_hymn(words, tones, now, count=5), key=figured)
            if figured(set_hymn(words, tones, now)[0]) > before:
                break
            if figured(ranked[-1]) == figured(ranked[0]):
                break
            write_taste(path, learn(now, ranked[-1], ranked[0]))
            now = load_books([path])
        taught += figured(set_hymn(words, tones, now)[0]) > before
        if path.exists():
            assert figured(set_hymn(words, tones, now)[0]) >= before
    assert taught >= 1
    path = next(p for p in tmp_path.glob("prices*.toml") if read_taste(p))
    now = load_books([path])
    words = hymn(psalms()[2][1], 8)
    assert read_taste(path)
    assert not [f for f in check_books([path]) if f.level == "wrong"]
    assert prices_of(now) != prices_of(books)
    assert set_hymn(words, tones, load_books())[0].cost == pytest.approx(
        set_hymn(words, tones, books)[0].cost
    )


def test_the_file_keeps_verses_apart_and_counts_choices(tmp_path: Path) -> None:
    path = tmp_path / "prices.toml"
    write_taste(path, {"flat": 0.1})
    write_taste(path, {"flat": 0.3}, "verses")
    write_taste(path, {"narrow": 0.0})
    assert read_taste(path) == {
        "flat": {"value": 0.1, "verses": 0.3, "choices": 2.0},
        "narrow": {"value": 0.0, "choices": 1.0},
    }
    assert (tmp_path / "prices.toml~").exists()
    path.write_text("[[weight]\n", encoding="utf-8")
    with pytest.raises(ChantError, match="cannot be read"):
        read_taste(path)
