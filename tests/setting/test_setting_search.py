"""The shortest path against trying everything."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.score import Note
from chantwright.setting import Book, Books, Formula
from chantwright.setting.account import account
from chantwright.setting.codes import codes_of
from chantwright.setting.height import LEVEL_RUN, heading, levelled
from chantwright.setting.line import (
    FLAT_RUN,
    ROOFLESS,
    Frame,
    Sung,
    centre_terms,
    join_terms,
    stress_terms,
)
from chantwright.setting.phrase import best_lines
from chantwright.setting.slots import layings, shortest

_FRAME = Frame(entry=1, first=False, starts=(1, 4), usual=(0, 5))


def _everything(
    book: Book, count: int, role: str
) -> Iterator[list[tuple[Formula, tuple[int, ...]]]]:
    """Every way to tile a phrase: opening or none, bridges, cadence."""

    def walk(
        at: int, chain: list[tuple[Formula, tuple[int, ...]]]
    ) -> Iterator[list[tuple[Formula, tuple[int, ...]]]]:
        for cadence in book.role(role):
            for laying in layings(cadence.slots, count - at) if count > at else ():
                yield [*chain, (cadence, laying)]
        for formula in (*(book.role("open") if at == 0 else ()), *book.role("bridge")):
            for size in range(max(1, shortest(formula.slots)), count - at):
                for laying in layings(formula.slots, size):
                    yield from walk(at + size, [*chain, (formula, laying)])

    yield from walk(0, [])


def _price(
    chain: list[tuple[Formula, tuple[int, ...]]], codes: tuple[int, ...], prices: dict[str, float]
) -> float | None:
    """Price a whole line from scratch; None when a stress is sung falsely."""
    total = sum(f.weight for f, _ in chain)
    held: int = _FRAME.entry if _FRAME.entry is not None else 0
    roof, at = ROOFLESS, 0
    sung: list[Sung] = []
    terms: list[str] = []
    for formula, laying in chain:
        joined = True
        for index in laying:
            slot, code = formula.slots[index], codes[at]
            if (slot.kind == "S" and code == 0) or (slot.kind == "w" and code == 1):
                return None
            notes = []
            for place, note in enumerate(slot.notes):
                degree = held if note.degree is None else note.degree
                if place == 0 and sung and joined:
                    terms += join_terms(held, degree)
                joined = False
                notes.append(Note(degree, note.beats))
                held = degree
            joined = slot.notes[-1].degree is None and index != laying[-1]
            following = formula.slots[index + 1].notes[0].degree if joined else None
            joined = joined and following is not None
            ends = bool(formula.shape) and index == len(formula.slots) - 1
            terms += stress_terms(slot.kind, code, held=ends)
            terms += ["compass" for n in notes if not 0 <= n.degree <= 5]
            top = max(n.degree for n in notes)
            strong = slot.kind == "S"
            roof = top if strong else roof
            beats = float(sum(n.beats for n in notes))
            sung.append(Sung(notes[0].degree, held, top, beats, len(notes), strong, code, roof))
            at += 1
    for place, here in enumerate(sung):
        before = sung[place - 1] if place else None
        after = sung[place + 1] if place + 1 < len(sung) else None
        terms += centre_terms(before, here, after)
    run = 0
    for place, here in enumerate(sung):
        same = (
            place
            and here.notes == 1 == sung[place - 1].notes
            and (here.first == sung[place - 1].first)
        )
        run = run + 1 if same else 1
        terms += ["flat"] * (run > FLAT_RUN)
    terms += ["no-opening"] * (chain[0][0].role == "bridge")
    figures = [f.figure for f, _ in chain]
    terms += ["twice"] * (len(figures) - len(set(figures)))
    total += sum(prices[t] for t in terms)
    stresses = [s for s in sung if s.strong][:-1]
    if len(stresses) >= 2:
        share = sum(s.notes > 1 for s in stresses) / len(stresses)
        total += prices["figured"] * abs(share - 0.3)
    if len(sung) >= 5:
        tops = {d for s in sung for d in (s.first, s.last, s.top)}
        total += prices["narrow"] * (len(tops) < 3)
    return total


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_the_best_line_is_the_cheapest_of_all(count: int, books: Books) -> None:
    book = books.book("t1.heirmologic")
    prices = {w.id: w.value for w in books.weights.values()}
    every = list(_everything(book, count, "full"))
    assert len(every) >= 10 ** (count - 1)
    for codes in itertools.product((0, 1), repeat=count):
        if not any(codes):
            continue
        told = [p for c in every if (p := _price(c, codes, prices)) is not None]
        found = best_lines(book, codes, ["full"], _FRAME, prices)["full"]
        if not told:
            continue
        # the share of figured stresses is seen only when a line is whole: it may hide a line that
        # is better by no more than that price
        slack = prices["figured"] * 0.4 if sum(codes) > 2 else 0.0
        assert min(told) - 1e-9 <= found[0].cost <= min(told) + slack + 1e-9, codes


@pytest.mark.parametrize("first", [False, True])
@pytest.mark.parametrize("tone", ["t1.heirmologic", "t4.heirmologic_legetos", "t6.heirmologic"])
def test_the_account_comes_to_the_cost_of_the_search(tone: str, first: bool, books: Books) -> None:
    book = books.book(tone)
    prices = {w.id: w.value for w in books.weights.values()}
    frame = Frame(3, first, (1, 4), (0, 5), peak=1)
    for stress in itertools.product((0, 1), repeat=6):
        codes = codes_of([*stress, 1, 0, 0, 0, 0, 2, 0, 1])
        for line in best_lines(book, codes, ["medial"], frame, prices)["medial"]:
            paid = account(line, prices)
            assert line.cost == pytest.approx(sum(p.price for p in paid)), (line.ids, codes)
            assert all(-1 <= p.place < len(codes) for p in paid)


def test_lines_are_ranked_and_their_prices_add_up(books: Books) -> None:
    book = books.book("t8.heirmologic")
    prices = {w.id: w.value for w in books.weights.values()}
    found = best_lines(book, (0, 1, 0, 0, 1, 0, 1, 0), ["medial", "full"], _FRAME, prices)
    for role in ("medial", "full"):
        costs = [line.cost for line in found[role]]
        assert costs == pytest.approx(sorted(costs))
        assert len({line.cadence.id for line in found[role]}) >= 3
        for line in found[role]:
            assert line.cost == pytest.approx(sum(p.price for p in account(line, prices)))
            assert sum(len(p.sung) for p in line.pieces) == 8


def _one(degree: int, roof: int, *, strong: bool = False) -> Sung:
    """A syllable of one beat on one note."""
    return Sung(degree, degree, degree, 1.0, 1, strong, int(strong), degree if strong else roof)


def _paid_by_weak(*degrees: int, stress: int) -> list[str]:
    """What weak syllables after a stress on 2 and before one on `stress` pay for their height."""
    sung = [_one(2, 0, strong=True)]
    sung += [_one(d, 2) for d in degrees]
    sung.append(_one(stress, 0, strong=True))
    terms = [
        t for three in zip(sung, sung[1:], sung[2:], strict=False) for t in centre_terms(*three)
    ]
    return [t for t in terms if t in ("above", "weak-rise")]


def test_two_weak_syllables_may_lead_up_to_a_stress() -> None:
    # Wellesz, on formulas: one or two syllables before an accent, on its note or by step up to it.
    assert _paid_by_weak(3, stress=4) == []
    assert _paid_by_weak(3, 4, stress=5) == ["weak-rise"]
    assert _paid_by_weak(2, 3, stress=4) == []


def test_a_climb_that_is_too_long_or_comes_to_nothing_is_paid_for() -> None:
    # Common practice: a weak syllable does not stand above its stress for nothing.
    assert _paid_by_weak(3, 4, 5, stress=6) == ["weak-rise", "above"]  # a third one is too many
    assert _paid_by_weak(3, 4, stress=3) == ["weak-rise", "above"]  # no stress takes it up
    assert _paid_by_weak(3, 5, stress=6) == ["above"]  # by a skip
    assert _paid_by_weak(3, 3, stress=4) == ["above"]  # halts above the stress
    assert _paid_by_weak(4, 3, stress=4) == ["above"]


@pytest.mark.parametrize("stress", [(0, 1, 0, 1, 0, 1, 0, 1, 0, 1), (1, 0, 0, 1, 0, 1, 0, 1, 0)])
def test_what_is_dull_is_dearer_than_what_moves(stress: tuple[int, ...], books: Books) -> None:
    # Common practice: nine syllables on three notes, or each stress lifted to one note, are dull.
    book = books.book("t6.heirmologic")
    prices = {w.id: w.value for w in books.weights.values()}
    free = {**prices, "few-notes": 0.0, "one-height": 0.0}

    def dull(told: dict[str, float]) -> float:
        best = best_lines(book, stress, ["full"], _FRAME, told)["full"][0]
        names = [p.name for p in account(best, told)]
        tops = [s.top for s in best.sung if s.strong]
        fours = sum(len(set(tops[i : i + 4])) == 1 for i in range(len(tops) - 3))
        assert names.count("one-height") == fours  # a run of five is two fours
        few = len({n.degree for notes in best.notes for n in notes}) <= 3
        assert names.count("few-notes") + names.count("narrow") == few
        return prices["one-height"] * fours + prices["few-notes"] * few

    assert dull(prices) <= dull(free)


@given(st.lists(st.integers(-2, 2), max_size=12), st.integers(0, 12))
@settings(deadline=None, max_examples=60)
def test_stresses_on_one_height_add_up_piece_by_piece(peaks: list[int], cut: int) -> None:
    whole = levelled(peaks)
    height, run, over = levelled(peaks[:cut])
    height, run, more = levelled(peaks[cut:], height, run)
    assert (height, run, over + more) == whole
    runs = [len(list(same)) for _, same in itertools.groupby(peaks)]
    assert whole[2] == sum(max(0, r - LEVEL_RUN) for r in runs)
    if peaks:
        assert heading(peaks) == (peaks[0], runs[0])
