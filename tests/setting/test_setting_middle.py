"""The middle style: pictures, what must follow them, and how it sounds beside the fast style."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from marked import hymn, psalms

from chantwright.score import Hymn
from chantwright.setting import Books, Setting, intonation_notes, set_hymn
from chantwright.setting.account import account
from chantwright.setting.book import fits_after
from chantwright.setting.line import Frame
from chantwright.setting.phrase import best_lines
from chantwright.tones import Tones

_TEXTS = [psalms()[0][1], psalms()[2][1]]


@pytest.fixture(scope="module")
def settings(tones: Tones, books: Books) -> list[Setting]:
    return [
        set_hymn(hymn(text, branch=tones.default_branch(tone, "sticheraric").id), tones, books)[0]
        for text in _TEXTS
        for tone in range(1, 9)
    ]


def test_every_tone_has_a_sticheraric_book(tones: Tones, books: Books) -> None:
    for tone in range(1, 9):
        book = books.book(tones.default_branch(tone, "sticheraric").id)
        assert len(book.role("picture")) >= 16
        assert {f.conf for g in book.formulas.values() for f in g} == {"low"}


def test_between_two_and_four_notes_a_syllable(settings: list[Setting]) -> None:
    # about 3 to 4 notes a syllable in this style: published appendix on the styles; 1 to 2 in the
    # fast one. Ours stay at the lower edge.
    for done in settings:
        sung = [s for p in done.hymn.phrases for s in p.syllables]
        assert 2.2 <= sum(len(s.notes) for s in sung) / len(sung) <= 4


def test_a_bridge_stands_only_after_a_close(settings: list[Setting]) -> None:
    # published composition lessons: plain filler may stand after a phrase mark and before a
    # formula, never inside or at the end
    seen = 0
    for done in settings:
        for part in done.figures:
            roles = [f.role for f in part]
            assert "bridge" not in roles[1:]
            assert roles[-1] in ("medial", "full", "final")
            seen += "picture" in roles
    assert seen > len(settings)


def test_what_a_formula_asks_for_follows_it(settings: list[Setting], books: Books) -> None:
    # published composition lessons: some formulas are legal only before a certain syllable
    asked = 0
    for done in settings:
        book = books.book(done.hymn.branch or "")
        for part, phrase in zip(done.figures, done.hymn.phrases, strict=True):
            for figure in part[:-1]:
                formula = book.formula(figure.formula)
                head = phrase.syllables[figure.last + 1]
                strong = head.stress == 1
                if formula.after is not None and head.stress in (0, 1):
                    asked += 1
                    first = head.notes[0].degree
                    assert fits_after(formula, first, float(head.beats), strong=strong)
    assert asked >= 3


def test_conditions_one_by_one(books: Books) -> None:
    book = books.book("t1.sticheraric")
    formula = next(f for f in book.role("picture") if f.after and f.after.degrees)
    assert formula.after is not None
    assert formula.after.strong
    good = min(formula.after.degrees)
    assert fits_after(formula, good, 1.0, strong=True)
    assert not fits_after(formula, good, 1.0, strong=False)
    assert not fits_after(formula, good + 7, 1.0, strong=True)
    held = replace(formula, after=replace(formula.after, held=True))
    assert not fits_after(held, good, 1.0, strong=True)
    assert fits_after(held, good, 2.0, strong=True)
    assert fits_after(book.role("final")[0], 99, 1.0, strong=False)


@pytest.mark.parametrize("tone", range(1, 9))
def test_no_stress_is_lost_in_any_short_pattern(tone: int, tones: Tones, books: Books) -> None:
    # every stress of the words is sung as one (Melling on tonic rhythm; Wellesz on accents), also
    # where the formulas before wait for a certain syllable
    branch = tones.default_branch(tone, "sticheraric")
    prices = {w.id: w.price(branch.style) for w in books.weights.values()}
    frame = Frame(branch.base, False, (branch.base, *branch.dominating), branch.usual)
    asked = [p for n in (1, 3, 5) for p in itertools.product((0, 1), repeat=n) if any(p)]
    for pattern in (*asked, (1, 1, 0, 0, 1, 1, 0)):
        found = best_lines(books.book(branch.id), pattern, ["full", "final"], frame, prices)
        for role in ("full", "final"):
            names = {paid.name for paid in account(found[role][0], prices)}
            assert not names & {"lost-stress", "false-stress"}, (pattern, role)


def test_no_syllable_repeats_a_group_of_its_phrase_too_often(settings: list[Setting]) -> None:
    again = groups = 0
    for done in settings:
        for phrase in done.hymn.phrases:
            heard = [tuple(s.notes[:-1]) for s in phrase.syllables if len(s.notes) >= 4]
            groups += len(heard)
            again += len(heard) - len(set(heard))
    assert groups > 100
    assert again / groups < 0.05


def test_the_intonation_leads_into_the_first_note(tones: Tones, books: Books) -> None:
    # its purpose is to give mode and first pitch (published appendix on the styles): the hymn
    # begins on one of its notes, or within a third of its last (from memory)
    for book in books.books.values():
        if not book.role("open"):
            continue
        done = set_hymn(hymn(_TEXTS[0], branch=book.id), tones, books)[0].hymn
        first = done.phrases[0].syllables[0].notes[0].degree
        for long in (False, True):
            notes = intonation_notes(Hymn(branch=book.id), tones, long=long)
            near = abs(notes[-1][1].degree - first) <= 2
            assert near or first in {n.degree for _, n in notes}, book.id
        short, longer = (
            intonation_notes(Hymn(branch=book.id), tones, long=b) for b in (False, True)
        )
        assert sum(n.beats for _, n in longer) > sum(n.beats for _, n in short)


def test_a_verse_branch_sings_verses(tones: Tones, books: Books) -> None:
    for tone in (2, 5, 6):
        done = set_hymn(hymn(_TEXTS[0], branch=f"t{tone}.verses"), tones, books)[0]
        roles = {f.role for part in done.figures for f in part}
        assert roles <= {"vopen", "vfoot", "vmed", "vfin"}
        assert {part[-1].role for part in done.figures} == {"vmed", "vfin"}
