"""Any words come out set: every pattern of stresses, in every branch that has a book."""

from __future__ import annotations

import itertools
import random
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marked import hymn, pattern

from chantwright.score import Hymn, Phrase
from chantwright.score.model import Cadence
from chantwright.setting import Books, Setting, load_books, set_hymn
from chantwright.setting.codes import codes_of
from chantwright.setting.line import Frame
from chantwright.setting.phrase import best_lines
from chantwright.setting.setter import prices_of
from chantwright.tones import Branch, Tones, load_tones


@cache
def _books() -> Books:
    return load_books()


@cache
def _tones() -> Tones:
    return load_tones()


_BRANCHES = sorted(b.id for b in _books().books.values() if b.role("open"))
_TONES = [_tones().default_branch(n).id for n in range(1, 9)]


def _set(branch: str, *phrases: Phrase, style: str | None = None) -> Setting:
    words = Hymn(branch=branch, phrases=phrases)
    return set_hymn(words, _tones(), _books(), style=style)[0]


def _closes(branch: Branch, role: str) -> tuple[int, ...]:
    return {
        "medial": branch.incomplete,
        "full": branch.complete,
        "final": branch.final,
        "long": branch.final,
    }[role]


def _check(done: Setting, branch: Branch) -> None:
    low, high = branch.wide
    for phrase, figures in zip(done.hymn.phrases, done.figures, strict=True):
        assert phrase.is_set
        close = phrase.syllables[-1].notes[-1].degree
        assert close in _closes(branch, figures[-1].role)
        assert phrase.syllables[-1].beats >= 2
        for syllable in phrase.syllables:
            for note in syllable.notes:
                assert low <= note.degree <= high
        at = 0
        for figure in figures:
            assert figure.first == at
            at = figure.last + 1
        assert at == len(phrase.syllables)
    assert done.hymn.phrases[-1].syllables[-1].notes[-1].degree in branch.final


@pytest.mark.parametrize("branch", _TONES)
def test_all_patterns_of_up_to_four_syllables(branch: str) -> None:
    for count in (1, 2, 3, 4):
        for stress in itertools.product((0, 1), repeat=count):
            done = _set(branch, pattern(stress, "full"), pattern(stress))
            _check(done, _tones().branch(branch))


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(_BRANCHES),
    st.lists(st.sampled_from([0, 0, 0, 1, 1, 2]), min_size=1, max_size=16),
    st.sampled_from(["medial", "full", "final", None]),
)
def test_any_pattern_in_any_branch(branch: str, stress: list[int], cadence: Cadence | None) -> None:
    done = _set(branch, pattern(stress, cadence), pattern([0, 1, 0]))
    _check(done, _tones().branch(branch))


@settings(deadline=None, max_examples=8)
@given(st.sampled_from(_TONES), st.lists(st.sampled_from([0, 0, 1]), min_size=17, max_size=26))
def test_overlong_phrases_still_come_out(branch: str, stress: list[int]) -> None:
    _check(_set(branch, pattern(stress)), _tones().branch(branch))


@pytest.mark.parametrize("stress", [[0] * 24, [1] * 24, [1] * 7, [0] * 9, [2] * 6])
def test_patterns_no_sentence_has(stress: list[int]) -> None:
    for branch in ("t1.heirmologic", "t6.heirmologic"):
        _check(_set(branch, pattern(stress)), _tones().branch(branch))


@pytest.mark.parametrize("branch", _TONES)
@pytest.mark.parametrize("text", ["'A-'men. |||", "A-'men. |||", "'Lord. |||", "to |||"])
def test_amen_and_single_syllables(branch: str, text: str) -> None:
    done = set_hymn(hymn(text, branch=branch), _tones(), _books())[0]
    _check(done, _tones().branch(branch))
    assert done.hymn.phrases[-1].syllables[-1].beats >= 4


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(_TONES), st.lists(st.sampled_from([0, 0, 1]), min_size=1, max_size=12))
def test_long_endings_and_verses(branch: str, stress: list[int]) -> None:
    book = _tones().branch(branch)
    words = Hymn(branch=branch, phrases=(pattern(stress),))
    done = set_hymn(words, _tones(), _books(), ending="long")[0]
    _check(done, book)
    assert done.figures[-1][-1].role == "long"
    assert done.hymn.ending == "long"
    assert done.hymn.phrases[-1].beats >= len(stress) + 8
    verse = _set(branch, pattern(stress, "medial"), pattern(stress), style="verses")
    assert {f.role for part in verse.figures for f in part} <= {"vopen", "vfoot", "vmed", "vfin"}
    assert verse.hymn.phrases[-1].syllables[-1].notes[-1].degree in book.final


def test_stresses_are_sung_as_stresses_unless_three_stand_together() -> None:
    # every stress a downbeat, weak syllables off it: Melling on tonic rhythm; Wellesz on accents
    for count in (5, 6):
        for stress in itertools.product((0, 1), repeat=count):
            if not any(stress):
                continue
            done = _set("t1.heirmologic", pattern(stress))
            names = {name for terms in done.terms for name, _ in terms}
            assert not names & {"lost-stress", "false-stress"}, stress


@pytest.mark.parametrize("branch", _TONES)
def test_few_patterns_cost_much(branch: str) -> None:
    # our own gate: fewer than 2 in a hundred patterns cost more than a lost stress does
    luck = random.Random(7)
    every = [p for n in range(1, 6) for p in itertools.product((0, 1), repeat=n)]
    every += [tuple(luck.choice((0, 1)) for _ in range(n)) for n in range(6, 17) for _ in range(6)]
    found = _tones().branch(branch)
    frame = Frame(found.base, False, (found.base, *found.dominating), found.usual)
    prices = prices_of(_books())
    dear = 0
    for stress in every:
        book = _books().book(branch)
        told = best_lines(book, codes_of(stress), ["medial", "full"], frame, prices)
        dear += min(told[role][0].cost for role in ("medial", "full")) > 5
    assert dear < 0.02 * len(every)


def test_a_long_weak_run_may_lift_a_syllable_but_never_a_light_word() -> None:
    # articles and small words count as unaccented (Wellesz); a run of weak syllables takes a
    # secondary stress on another syllable (common practice)
    stress = [1, 0, 0, 0, 0, 1]
    words = ["praise", "", "", "of", "the", "Lord"]
    assert codes_of(stress, words, {"of", "the"}) == (1, 0, 3, 0, 0, 1)
    assert codes_of(stress, [""] * 6) == (1, 0, 3, 3, 0, 1)
    assert codes_of([1, 0, 0, 1]) == (1, 0, 0, 1)


def test_a_phrase_without_any_stress_gets_one() -> None:
    assert sum(c == 1 for c in codes_of([0, 0, 0, 0, 0])) == 1
    assert codes_of([0]) == (1,)
