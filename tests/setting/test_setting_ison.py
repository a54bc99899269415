"""The ison under any melody, ours or the teacher's."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from marked import hymn, psalms, syllables

from chantwright.errors import ChantError
from chantwright.score import UNISON, Hymn, Note, Phrase, Syllable, number
from chantwright.setting import Books, lay_ison, set_hymn
from chantwright.tones import Branch, Tones
from chantwright.tuning import parse_degree


def _sung(words: str, notes: str) -> Phrase:
    """Words with notes, one group for each syllable: ``pa di:2 ga+vou``."""
    out = []
    for syllable, group in zip(syllables(words), notes.split(), strict=True):
        parts = [n.partition(":") for n in group.split("+")]
        melody = tuple(Note(parse_degree(n), Fraction(b or 1)) for n, _, b in parts)
        out.append(replace(syllable, notes=melody))
    return Phrase(tuple(out))


def _ison(branch: Branch, level: str, *phrases: Phrase) -> list[list[object]]:
    laid = lay_ison(number(Hymn(phrases=phrases)), branch, level)
    return [[s.ison for s in p.syllables] for p in laid.phrases]


_END = ("'A-'men", "ga:2 pa:4")


def test_simple_holds_the_base_throughout(tones: Tones) -> None:
    # simple ison for the untrained: the base from first to last note (common practice)
    branch = tones.branch("t1.heirmologic")
    phrase = _sung("'Lord I 'cry un-to 'thee", "di di ke di di di:2")
    assert _ison(branch, "simple", phrase, _sung(*_END)) == [[1] * 6, [1] * 2]


def test_simple_closes_in_unison_where_the_end_is_not_the_base(tones: Tones) -> None:
    # tone 4 sticheraric is held on pa and ends on vou (common practice, with its own table)
    branch = tones.branch("t4.sticheraric")
    end = _sung("have 'mer-cy", "pa ga vou:4")
    assert _ison(branch, "simple", end) == [[1, UNISON, UNISON]]


def test_moving_follows_a_close_on_a_dominating_note(tones: Tones) -> None:
    branch = tones.branch("t1.heirmologic")
    settled = _sung("'Lord I 'cry un-to 'thee", "di di ke di di di:2")
    assert _ison(branch, "moving", settled, _sung(*_END)) == [[4] * 6, [1] * 2]


def test_moving_waits_for_a_stress_that_begins_a_word(tones: Tones) -> None:
    branch = tones.branch("t1.heirmologic")
    late = _sung("I will 'sing un-to the 'Lord my 'God", "pa pa vou ga di ke di di:2 di:2")
    # the first place from which all lies about di is "un-" (weak); the change waits for 'Lord
    assert _ison(branch, "moving", late, _sung(*_END))[0] == [1] * 6 + [4] * 3
    inside = _sung("de-'liv-er me", "pa di di di:3")
    # the stress stands inside a word: no change there
    assert _ison(branch, "moving", inside, _sung(*_END))[0][:2] == [1, 1]


def test_moving_stays_for_less_than_four_beats(tones: Tones) -> None:
    branch = tones.branch("t1.heirmologic")
    short = _sung("I will 'sing", "pa ga di:3")
    assert _ison(branch, "moving", short, _sung(*_END))[0] == [1, 1, 1]
    longer = _sung("I will 'sing", "pa ga di:4")
    assert _ison(branch, "moving", longer, _sung(*_END))[0] == [1, 1, 4]


def test_never_a_step_away_from_a_held_close(tones: Tones) -> None:
    branch = tones.branch("t1.heirmologic")
    clash = _sung("hear my 'voice", "ga ga vou:2")
    assert _ison(branch, "moving", clash, _sung(*_END))[0] == [1, 1, UNISON]
    passing = _sung("hear my 'voice", "ga ga vou:1")
    assert _ison(branch, "moving", passing, _sung(*_END))[0] == [1, 1, 1]


def test_the_table_may_ask_for_unison(tones: Tones) -> None:
    branch = tones.branch("t4.heirmologic_legetos")  # a close on pa, a step under vou
    phrase = _sung("have 'mer-cy", "vou ga pa:2")
    for level in ("simple", "moving"):
        assert _ison(branch, level, phrase, _sung("'A-'men", "ga:2 vou:4"))[0] == [
            2,
            UNISON,
            UNISON,
        ]


@pytest.mark.parametrize("level", ["simple", "moving"])
@pytest.mark.parametrize("tone", range(1, 9))
def test_rules_hold_for_our_settings(tone: int, level: str, tones: Tones, books: Books) -> None:
    branch = tones.default_branch(tone)
    moved = 0
    for _, text in psalms()[:9]:
        done = set_hymn(hymn(text, tone), tones, books, ison=level)[0].hymn
        last = done.phrases[-1]
        for phrase in done.phrases:
            held = [s.ison for s in phrase.syllables]
            for place in range(1, len(held)):
                if held[place] != held[place - 1]:  # never inside a word
                    assert phrase.syllables[place].place in ("single", "begin")
                    stressed = phrase.syllables[place].stress > 0
                    assert stressed or held[place] == UNISON
            close = phrase.syllables[-1].notes[-1]
            if level == "moving" and isinstance(held[-1], int) and close.beats >= 2:
                assert (held[-1] - close.degree) % 7 not in (1, 6)
            if level == "simple":
                assert set(held) <= {branch.ison_base, UNISON}
            moved += any(isinstance(h, int) and h != branch.ison_base for h in held)
        assert {s.ison for s in last.syllables} <= {branch.ison_base, UNISON}
    follows = [n for n in branch.ison_at.values() if n not in (branch.ison_base, UNISON)]
    if level == "moving" and follows and tone != 2:
        assert moved
    if level == "simple":
        assert not moved


def test_phrases_may_keep_their_ison(tones: Tones) -> None:
    branch = tones.branch("t1.heirmologic")
    phrase = _sung("'Lord 'hear", "di:2 di:4")
    own = replace(phrase, id="p1", syllables=tuple(replace(s, ison=4) for s in phrase.syllables))
    laid = lay_ison(number(Hymn(phrases=(own,))), branch, "simple", keep=frozenset({"p1"}))
    assert [s.ison for s in laid.phrases[0].syllables] == [4, 4]


def test_words_without_notes_stay_without_ison(tones: Tones) -> None:
    branch = tones.branch("t1.heirmologic")
    bare = number(Hymn(phrases=(Phrase((Syllable("Lord", stress=1),)),)))
    assert lay_ison(bare, branch, "moving") == bare


def test_an_unknown_level_is_a_sentence(tones: Tones) -> None:
    with pytest.raises(ChantError, match="loud"):
        lay_ison(Hymn(), tones.branch("t1.heirmologic"), "loud")
