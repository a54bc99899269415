"""New words to a known melody, and figures taken from one."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from marked import hymn, pattern, psalms, syllables

from chantwright.errors import ChantError
from chantwright.score import Hymn, Note, Phrase
from chantwright.setting import Books, check_books, fit, load_books, rows_text, set_hymn, take
from chantwright.setting.melody import MANY, fit_phrase
from chantwright.tones import Tones


def _sung(words: str, notes: str) -> Phrase:
    """Words with a note name for each syllable; + joins notes, :n beats."""
    names = {"ni": 0, "pa": 1, "vou": 2, "ga": 3, "di": 4, "ke": 5}
    out = []
    for syllable, group in zip(syllables(words), notes.split(), strict=True):
        own = []
        for one in group.split("+"):
            name, _, beats = one.partition(":")
            own.append(Note(names[name], Fraction(beats or 1)))
        out.append(replace(syllable, notes=tuple(own)))
    return Phrase(tuple(out), cadence="full")


_MODEL = _sung("O 'Lord, hear my 'voice and 'an-swer", "pa di di ga ga ga ga+vou pa:2")


def _degrees(phrase: Phrase) -> list[list[int]]:
    return [[n.degree for n in s.notes] for s in phrase.syllables]


def test_same_count_and_stresses_fit_exactly() -> None:
    # a true fellow of its model: Wellesz on the words of model stanzas
    new = Phrase(syllables("The 'way of the 'just is 'nar-row"))
    done, told = fit_phrase(new, _MODEL)
    assert told.exact
    assert (told.edits, told.cost, told.report) == (0, 0.0, ())
    assert [s.notes for s in done.syllables] == [s.notes for s in _MODEL.syllables]


def test_an_extra_weak_syllable_repeats_the_note_or_steps_up() -> None:
    # one or two extra unstressed syllables before an accent: same pitch or up by step (Wellesz)
    done, told = fit_phrase(Phrase(syllables("The 'way of all the 'just is 'nar-row")), _MODEL)
    assert (told.edits, told.cost) == (1, 0.5)
    assert len(_degrees(done)) == 9
    assert _degrees(done)[2:5].count([4]) + _degrees(done)[2:5].count([3]) == 3
    rising = _sung("O 'Lord my 'God", "pa pa pa di:2")
    done, told = fit_phrase(Phrase(syllables("O 'Lord of the 'hosts")), rising)
    assert told.edits == 1
    assert _degrees(done)[3] in ([1], [2])


def test_a_syllable_less_is_tied() -> None:
    done, told = fit_phrase(Phrase(syllables("O 'Lord, hear 'voice and 'an-swer")), _MODEL)
    assert (told.edits, told.cost) == (1, 0.4)  # a repeated ga goes
    assert len(_degrees(done)) == 7
    assert sum(len(d) for d in _degrees(done)) == sum(len(d) for d in _degrees(_MODEL)) - 1


def test_a_stress_that_finds_no_place_asks_for_formulas() -> None:
    wrong = Phrase(syllables("'O Lord, 'hear my 'voice and 'an-swer"))
    _, told = fit_phrase(wrong, _MODEL)
    assert told.cost >= 5
    assert told.rather_formulas
    assert any("weak place" in line or "no place" in line for line in told.report)


@pytest.mark.parametrize(
    ("words", "close"),
    [
        ("O 'Lord, hear my 'voice and 'come", [[3, 2, 1]]),
        ("O 'Lord, hear my 'voice and 'an-swer-eth", [[3, 2], [1], [1]]),
    ],
)
def test_the_cadence_changes_its_shape_and_keeps_its_end(
    words: str, close: list[list[int]]
) -> None:
    done, told = fit_phrase(Phrase(syllables(words)), _MODEL)
    assert (told.edits, told.cost) == (1, 1.5)
    assert _degrees(done)[-len(close) :] == close
    assert done.syllables[-1].notes[-1] == Note(1, Fraction(2))


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.sampled_from([0, 0, 1]), min_size=1, max_size=14),
    st.lists(st.sampled_from([0, 0, 1, 2]), min_size=2, max_size=14),
)
def test_any_words_come_out_sung(new: list[int], old: list[int]) -> None:
    model = pattern(old)
    sung = tuple(
        replace(s, notes=(Note(i % 4, Fraction(1)), Note(i % 3 + 1, Fraction(1)))[: 1 + i % 2])
        for i, s in enumerate(model.syllables)
    )
    done, told = fit_phrase(pattern(new), replace(model, syllables=sung))
    assert done.is_set
    assert [s.text for s in done.syllables] == [f"s{i}" for i in range(len(new))]
    assert done.syllables[-1].notes[-1].degree == sung[-1].notes[-1].degree
    assert (told.cost == 0) == (told.edits == 0) or told.cost < 5
    if [s == 1 for s in new] == [s == 1 for s in old] and len(new) == len(old):
        assert [s.notes for s in done.syllables] == [s.notes for s in sung]


def test_a_whole_hymn_and_what_fits_badly(books: Books, tones: Tones) -> None:
    model = set_hymn(hymn(psalms()[4][1], 4, title="Bless the Lord"), tones, books)[0].hymn
    same = fit(hymn(psalms()[4][1]), model)
    assert all(p.exact for p in same.phrases)
    assert [[s.notes for s in p.syllables] for p in same.hymn.phrases] == [
        [s.notes for s in p.syllables] for p in model.phrases
    ]
    assert (same.hymn.tone, same.hymn.branch) == (4, model.branch)
    assert same.hymn.melody_kind == "model"
    assert "Bless the Lord" in same.hymn.melody_source
    other = fit(hymn(psalms()[5][1]), model)
    assert len(other.phrases) == len(other.hymn.phrases) == 8
    assert other.phrases[-1].model == "p5"  # the last ends with the last
    for told in other.phrases:
        assert (told.phrase in other.unfit) == (told.edits > MANY or told.cost >= 5)
    short = fit(hymn("'Bless the 'Lord, O my 'soul. | 'Bless his 'name. |||"), model)
    assert [p.model for p in short.phrases] == ["p1", "p5"]


def test_a_model_without_stresses_or_melody_is_said(books: Books, tones: Tones) -> None:
    words = hymn("'Bless the 'Lord. |||", 1)
    with pytest.raises(ChantError, match="no melody"):
        fit(words, words)
    done = set_hymn(words, tones, books)[0].hymn
    bare = tuple(replace(s, stress=0) for s in done.phrases[0].syllables)
    with pytest.raises(ChantError, match="stresses are not known"):
        fit(words, replace(done, phrases=(replace(done.phrases[0], syllables=bare),)))
    with pytest.raises(ChantError, match="not divided"):
        fit(Hymn(phrases=(Phrase(text="Bless"),)), done)


# ------------------------------------------------------------------ figures


def test_figures_of_a_melody_as_rows(books: Books, tones: Tones, tmp_path: Path) -> None:
    own = _sung("O 'Lord, hear my 'voice and 'an-swer", "pa di di ga ga ga ga+vou pa:2")
    known = Hymn(title="Our hymn", tone=1, phrases=(own,))
    rows = take(known, "t1.heirmologic")
    assert [(r.role, r.shape, r.slots) for r in rows] == [
        ("open", "", "w*=pa S=di w=di w=ga"),
        ("bridge", "", "S=ga w=ga"),
        ("final", "10", "S=ga+vou w=pa:2"),
    ]
    assert rows[0].src == "taken from Our hymn"
    path = tmp_path / "taken.toml"
    path.write_text(rows_text(rows), encoding="utf-8")
    assert not [f for f in check_books([path]) if f.level == "wrong"]
    formula = load_books([path]).book("t1.heirmologic").formula("our-hymn.final.1")
    assert (formula.conf, formula.src) == ("low", ("taken from Our hymn",))
    assert take(known, "t1.heirmologic", load_books([path]).book("t1.heirmologic")) == ()


@pytest.mark.parametrize("tone", range(1, 9))
def test_figures_of_our_own_settings_pass_the_check(
    tone: int, books: Books, tones: Tones, tmp_path: Path
) -> None:
    done = set_hymn(hymn(psalms()[0][1], tone, title="x"), tones, books)[0].hymn
    path = tmp_path / "taken.toml"
    path.write_text(
        rows_text(take(done, done.branch or "", books.book(done.branch or ""))), encoding="utf-8"
    )
    assert not [f for f in check_books([path]) if f.level == "wrong"]
