"""Which formulas the teacher likes, learnt from his choices."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marked import hymn, psalms

from chantwright.errors import ChantError
from chantwright.setting import (
    Books,
    Setting,
    load_books,
    preferred,
    read_likings,
    reasons,
    set_hymn,
    tell,
    write_likings,
)
from chantwright.setting.account import account
from chantwright.setting.liking import FIRM, MOST, liking
from chantwright.setting.setter import prices_of
from chantwright.tones import Tones

COUNTS = st.integers(0, 200)


@settings(deadline=None, max_examples=200)
@given(COUNTS, COUNTS)
def test_a_liking_is_even_and_bounded_and_grows_with_agreement(taken: int, left: int) -> None:
    # what any shrunken mean must do
    assert liking(taken, left) == pytest.approx(-liking(left, taken))
    assert abs(liking(taken, left)) < MOST
    assert liking(taken + 1, left) <= liking(taken, left) + 1e-12 or taken < left
    assert liking(taken + 1, 0) < liking(taken, 0)


def test_three_choices_move_it_and_one_hardly_does() -> None:
    assert abs(liking(1, 0)) <= MOST / 10 + 1e-9
    assert abs(liking(int(FIRM), 0)) == pytest.approx(MOST / 2)
    assert abs(liking(10, 10)) == 0


def loved(done: Setting, ids: frozenset[str]) -> int:
    return sum(f.formula in ids for part in done.figures for f in part)


def test_thirty_choices_are_felt_in_words_never_seen(
    books: Books, tones: Tones, tmp_path: Path
) -> None:
    # a teacher who likes one formula in three of each kind and always takes the setting with more
    book = books.book("t4.heirmologic_legetos")
    luck = random.Random(5)
    kinds = [book.role(r) for r in ("open", "bridge", "medial", "full", "final")]
    his = frozenset(f.id for kind in kinds for f in luck.sample(kind, k=len(kind) // 3))
    path = tmp_path / "likings.toml"
    words = [hymn(text, 4) for _, text in psalms()]
    seen, unseen = words[::2], words[1::2][:6]
    now, chosen = books, 0
    for number in range(60):
        first, *others = set_hymn(seen[number % len(seen)], tones, now, count=3)
        left, taken = sorted((first, luck.choice(others)), key=lambda s: loved(s, his))
        if loved(left, his) == loved(taken, his):
            continue
        write_likings(path, preferred(taken, left))
        chosen += 1
        if chosen % 10 == 0:
            now = load_books([path])
        if chosen == 30:
            break
    assert chosen == 30
    used = sum(len(p) for w in unseen for p in set_hymn(w, tones, books)[0].figures)
    before = sum(loved(set_hymn(w, tones, books)[0], his) for w in unseen)
    after = sum(loved(set_hymn(w, tones, now)[0], his) for w in unseen)
    assert after >= before + 0.1 * used
    for w in unseen[:2]:  # the account still comes to what was paid
        (done,) = set_hymn(w, tones, now)
        for planned in done.plan:
            line = planned.choice.line
            assert line is not None
            paid = account(line, prices_of(now))
            assert line.cost == pytest.approx(sum(p.price for p in paid))
        liked = [r for r in reasons(done, now) if r.liked]
        assert liked
        assert "Learnt: of two settings you took" in tell(liked[0])


def test_his_own_weight_wins_and_a_row_taken_out_is_forgotten(tmp_path: Path) -> None:
    name = "t1.full.pa.10a"
    path, own = tmp_path / "likings.toml", tmp_path / "own.toml"
    for _ in range(3):
        write_likings(path, {name: (1, 0), "t1.open.d": (0, 1)})
    assert read_likings(path) == {name: (3, 0), "t1.open.d": (0, 3)}
    book = load_books([path]).book("t1.heirmologic")
    assert book.formula(name).liking == pytest.approx(-MOST / 2)
    assert book.formula("t1.open.d").liking == pytest.approx(MOST / 2)
    own.write_text(f'[[formula]]\nid = "{name}"\nweight = 0.4\n', encoding="utf-8")
    for order in ([path, own], [own, path]):
        formula = load_books(order).book("t1.heirmologic").formula(name)
        assert (formula.weight, formula.liking) == (0.4, 0.0)
    text = path.read_text(encoding="utf-8")
    path.write_text(text[: text.index("[[liking]]")], encoding="utf-8")
    assert load_books([path]).book("t1.heirmologic").formula(name).liking == 0.0


def test_only_what_differs_is_counted(books: Books, tones: Tones) -> None:
    a, b = set_hymn(hymn(psalms()[0][1], 1), tones, books, count=2)
    assert preferred(a, a) == {}
    counted = preferred(a, b)
    assert counted
    assert {n: (left, taken) for n, (taken, left) in counted.items()} == preferred(b, a)
    both = {f.formula for p in a.figures for f in p} & {f.formula for p in b.figures for f in p}
    swapped = replace(b, figures=a.figures)
    assert preferred(a, swapped) == {}
    assert set(counted) - both


def test_a_file_that_is_no_tally_is_told(tmp_path: Path) -> None:
    path = tmp_path / "likings.toml"
    path.write_text("[[liking]\n", encoding="utf-8")
    with pytest.raises(ChantError, match="cannot be read"):
        read_likings(path)
    path.write_text('[[liking]]\nid = "t1.open.d"\ntaken = -2\n', encoding="utf-8")
    with pytest.raises(ChantError, match="not a count"):
        load_books([path])
