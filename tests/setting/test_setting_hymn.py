"""Whole hymns: the plan of cadences, locks, refrains, alternatives, and what is reported."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction

import pytest
from marked import hymn, pattern, psalms

from chantwright.errors import ChantError
from chantwright.score import Hymn, Note, Phrase, number
from chantwright.setting import (
    Books,
    Setting,
    describe,
    intonation_notes,
    load_books,
    set_hymn,
    to_json,
)
from chantwright.tones import Tones


def _closes(done: Setting) -> list[int]:
    return [p.syllables[-1].notes[-1].degree for p in done.hymn.phrases]


def _music(done: Setting, place: int) -> list[tuple[Note, ...]]:
    return [s.notes for s in done.hymn.phrases[place].syllables]


_PSALM = psalms()[0][1]


def test_words_and_ids_stay_and_the_source_is_told(books: Books, tones: Tones) -> None:
    words = hymn(_PSALM, 4, title="Lord, I cry")
    done = set_hymn(words, tones, books)[0].hymn
    assert [p.id for p in done.phrases] == [p.id for p in words.phrases]
    assert [p.words for p in done.phrases] == [p.words for p in words.phrases]
    assert [s.id for p in done.phrases for s in p.syllables] == [
        s.id for p in words.phrases for s in p.syllables
    ]
    assert [p.cadence for p in done.phrases] == [p.cadence for p in words.phrases]
    assert done.melody_kind == "rule"
    assert "t4.heirmologic_legetos" in done.melody_source
    assert (done.branch, done.tone, done.style) == ("t4.heirmologic_legetos", 4, "heirmologic")
    assert done.intonation == "t4.legetos"
    assert done.is_set


@pytest.mark.parametrize("tone", range(1, 9))
def test_the_plan_of_cadences(tone: int, books: Books, tones: Tones) -> None:
    # comma medial, end of sense full, the end final; never three equal closes; the last close is
    # prepared on another note; the base is touched (common practice)
    branch = tones.default_branch(tone)
    for _, text in psalms():
        words = hymn(text, tone)
        if any(p.cadence == "final" for p in words.phrases[:-1]):
            continue  # several verses in one file: each has its own end
        done = set_hymn(words, tones, books)[0]
        roles = [part[-1].role for part in done.figures]
        assert roles[-1] == "final"
        closes = _closes(done)
        assert not any(len(set(closes[i : i + 3])) == 1 for i in range(len(closes) - 2)), (
            text,
            closes,
        )
        changed = sum(
            role != phrase.cadence for role, phrase in zip(roles, words.phrases, strict=True)
        )
        assert changed <= 1 + len(closes) // 4
        if len(closes) >= 4:
            sung = {n.degree for p in done.hymn.phrases[:-1] for s in p.syllables for n in s.notes}
            assert branch.base in sung


def test_punctuation_decides_where_no_mark_does(books: Books, tones: Tones) -> None:
    words = hymn("'Bless the 'Lord, | O my 'soul; | and 'praise his 'name | for 'ev-er. |||", 8)
    bare = replace(words, phrases=tuple(replace(p, cadence=None) for p in words.phrases))
    roles = [part[-1].role for part in set_hymn(bare, tones, books)[0].figures]
    assert roles[:2] == ["medial", "full"]
    assert roles[-1] == "final"


def test_the_same_call_gives_the_same_settings(tones: Tones) -> None:
    one = set_hymn(hymn(_PSALM, 2), tones, load_books(), count=3)
    two = set_hymn(hymn(_PSALM, 2), tones, load_books(), count=3)
    assert [to_json(s) for s in one] == [to_json(s) for s in two]
    again = load_books()
    set_hymn(hymn(psalms()[3][1], 2), tones, again)  # what was set before makes no difference
    assert to_json(set_hymn(hymn(_PSALM, 2), tones, again, count=3)[0]) == to_json(one[0])


@pytest.mark.parametrize("tone", range(1, 9))
def test_alternatives_are_no_near_copies(tone: int, books: Books, tones: Tones) -> None:
    found = set_hymn(hymn(_PSALM, tone), tones, books, count=3)
    assert len(found) == 3
    for a in range(3):
        for b in range(a + 1, 3):
            other = sum(
                x[0].formula != y[0].formula or x[-1].formula != y[-1].formula
                for x, y in zip(found[a].figures, found[b].figures, strict=True)
            )
            assert 3 * other >= len(found[a].figures)
            sung = sum(
                _music(found[a], i) != _music(found[b], i) for i in range(len(found[a].figures))
            )
            assert 3 * sung >= len(found[a].figures)
    assert found[1].cost <= found[2].cost


def test_a_refrain_keeps_its_music(books: Books, tones: Tones) -> None:
    # like cola inside one hymn usually get the same music: Arvanitis on heirmoi and stichera
    for tone in range(1, 9):
        done = set_hymn(
            hymn(
                "'Bless the 'Lord, O my 'soul: || and for-'get not 'all his 'ben-e-fits. | "
                "'Bless the 'Lord, O my 'soul: || who for-'giv-eth 'all thy in-'iq-ui-ties. |||",
                tone,
            ),
            tones,
            books,
        )[0]
        assert [f.formula for f in done.figures[0]] == [f.formula for f in done.figures[2]]


def test_a_locked_phrase_stays_and_its_neighbours_adapt(books: Books, tones: Tones) -> None:
    first = set_hymn(hymn(_PSALM, 8), tones, books)[0].hymn
    own = first.phrases[1]
    high = tuple(
        replace(s, notes=(Note(5 if i else 4, Fraction(2)),), ison=None)
        for i, s in enumerate(own.syllables)
    )
    mixed = replace(
        first, phrases=(first.phrases[0], replace(own, syllables=high), *first.phrases[2:])
    )
    done = set_hymn(mixed, tones, books, locked={"p2"})[0]
    assert [s.notes for s in done.hymn.phrases[1].syllables] == [s.notes for s in high]
    assert done.figures[1] == ()
    assert all(done.figures[i] for i in range(len(done.figures)) if i != 1)
    free = set_hymn(first, tones, books)[0]
    after = done.hymn.phrases[2].syllables[0].notes[0].degree
    assert abs(after - 5) <= abs(free.hymn.phrases[2].syllables[0].notes[0].degree - 5)
    assert _music(done, 1) != _music(free, 1)


def test_a_melody_already_there_stays_where_others_lack_one(books: Books, tones: Tones) -> None:
    words = hymn("'Praise ye the 'Lord. | 'Praise him in the 'heights. |||", 1)
    own = tuple(replace(s, notes=(Note(3),)) for s in words.phrases[0].syllables)
    half = replace(words, phrases=(replace(words.phrases[0], syllables=own), words.phrases[1]))
    done = set_hymn(half, tones, books)[0]
    assert [s.notes for s in done.hymn.phrases[0].syllables] == [(Note(3),)] * 4
    whole = set_hymn(done.hymn, tones, books)[0]  # all of it has a melody: set anew
    assert whole.figures[0]


def test_all_locked_changes_nothing(books: Books, tones: Tones) -> None:
    first = set_hymn(hymn(_PSALM, 3), tones, books)[0].hymn
    kept = set_hymn(first, tones, books, locked={p.id for p in first.phrases})[0]
    assert kept.hymn.phrases == first.phrases


def test_written_attractions_follow_the_level(books: Books, tones: Tones) -> None:
    words = hymn(psalms()[5][1], 5)
    plain = set_hymn(words, tones, books, bends="none")[0].hymn
    some = set_hymn(words, tones, books)[0].hymn
    bent = [n for p in some.phrases for s in p.syllables for n in s.notes if n.bend]
    assert not any(n.bend for p in plain.phrases for s in p.syllables for n in s.notes)
    # zo is low as the peak or on the way down: published theory sheet of tone 8
    assert bent
    assert {n.degree % 7 for n in bent} == {6}
    assert all(n.bend < 0 for n in bent)


def test_no_two_note_figure_before_the_choir_has_the_pitch(books: Books, tones: Tones) -> None:
    # practice: the first two syllables of a hymn are single notes
    for tone in range(1, 9):
        for _, text in psalms():
            start = text.partition("||")[0] + " |||"
            done = set_hymn(hymn(start, tone), tones, books)[0].hymn
            assert [len(s.notes) for s in done.phrases[0].syllables[:2]] == [1, 1], (tone, text)


def test_every_price_is_reported(books: Books, tones: Tones) -> None:
    done = set_hymn(hymn(_PSALM, 6), tones, books)[0]
    assert done.cost == pytest.approx(sum(p for part in done.terms for _, p in part))
    names = {name for part in done.terms for name, _ in part}
    assert names <= {"weight", *books.weights}
    for part, figures in zip(done.terms, done.figures, strict=True):
        total: dict[str, float] = {}
        for name, price in part:
            total[name] = total.get(name, 0.0) + price
        for figure in figures:
            for name, price in figure.terms:
                assert total[name] >= price - 1e-9


def test_the_json_holds_the_whole_setting(books: Books, tones: Tones) -> None:
    done = set_hymn(hymn(_PSALM, 7, title="Lord, I cry"), tones, books, ison="moving")[0]
    doc = json.loads(json.dumps(to_json(done)))
    assert (doc["title"], doc["tone"], doc["branch"]) == ("Lord, I cry", 7, "t7.heirmologic")
    for told, phrase in zip(doc["phrases"], done.hymn.phrases, strict=True):
        assert told["syllables"] == [s.text for s in phrase.syllables]
        assert told["degrees"] == [[n.degree for n in s.notes] for s in phrase.syllables]
        assert [[Fraction(b) for b in part] for part in told["beats"]] == [
            [n.beats for n in s.notes] for s in phrase.syllables
        ]
        assert told["ison"] == [s.ison for s in phrase.syllables]
        assert told["cadence"] == told["figures"][-1]["role"]
    text = describe(done)
    assert "'thee:=" in text
    assert done.figures[0][0].formula in text


def test_the_intonation_leads_to_the_tone(tones: Tones) -> None:
    for tone in range(1, 9):
        branch = tones.default_branch(tone)
        for long in (False, True):
            notes = intonation_notes(Hymn(tone=tone), tones, long=long)
            assert notes[-1][1].degree in (branch.base, *branch.dominating)
            assert notes[0][0]
    with pytest.raises(ChantError):
        intonation_notes(Hymn(), tones)


# ------------------------------------------------------------------ what a chanter may get wrong


def test_undivided_words_are_sent_to_be_divided(books: Books, tones: Tones) -> None:
    with pytest.raises(ChantError, match="not divided") as caught:
        set_hymn(Hymn(tone=1, phrases=(Phrase(text="Bless the Lord"),)), tones, books)
    assert "Bless the Lord" in str(caught.value)
    assert "Divide" in caught.value.remedy


@pytest.mark.parametrize(
    ("words", "kind", "says"),
    [
        (Hymn(tone=1), {}, "no words"),
        (Hymn(phrases=(pattern([1, 0]),)), {}, "no tone"),
        (Hymn(tone=9, phrases=(pattern([1, 0]),)), {}, "no tone 9"),
        (Hymn(branch="t1.plain", phrases=(pattern([1, 0]),)), {}, "t1.plain"),
        (Hymn(tone=1, phrases=(pattern([1, 0]),)), {"ison": "loud"}, "loud"),
        (Hymn(tone=1, phrases=(pattern([1, 0]),)), {"bends": "loud"}, "loud"),
        (Hymn(tone=1, phrases=(pattern([1, 0]),)), {"style": "loud"}, "loud"),
        (Hymn(tone=1, phrases=(pattern([1, 0]),)), {"count": 0}, "at least one"),
        (Hymn(tone=1, phrases=(pattern([1, 0]),)), {"locked": {"p9"}}, "p9"),
        (Hymn(tone=1, phrases=(pattern([1, 0]),)), {"locked": {"p1"}}, "without a melody"),
    ],
)
def test_what_is_wrong_is_said(
    words: Hymn, kind: dict[str, object], says: str, books: Books, tones: Tones
) -> None:
    with pytest.raises(ChantError) as caught:
        set_hymn(number(words), tones, books, **kind)  # type: ignore[arg-type]
    assert says in str(caught.value)
