"""The rules of stress that lean upon the guess.

References beside each check: the Carnegie Mellon Pronouncing Dictionary (our lexicon), and words
whose stress is common knowledge.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from chantwright.errors import ChantError
from chantwright.words import guess
from chantwright.words.division import spans
from chantwright.words.leaning import STRONG, guessed
from chantwright.words.lexicon import entries, load_lists
from chantwright.words.reading import readings


def stems(word: str) -> Iterator[str]:
    """Give a word and what may be left of it without an ending."""
    yield word
    for ending in ("ing", "ed", "eth", "es", "s", "er", "ers", "d", "r"):
        if word.endswith(ending):
            body = word[: -len(ending)]
            yield from (body, body + "e")
            if len(body) > 2 and body[-1] == body[-2]:
                yield body[:-1]


def is_verb(word: str) -> bool:
    """Whether the lexicon has a word with -ing and with -ed."""
    return any(
        base + "ing" in entries() and base + "ed" in entries()
        for stem in stems(word)
        if len(stem) > 3 and stem in entries()
        for base in (stem.removesuffix("e"), stem + stem[-1])
    )


def test_weights_are_those_of_the_words_that_were_learned_from() -> None:
    # counted anew in the Carnegie Mellon dictionary without the withheld tenth
    counted = [rule for rule in load_lists().leanings if rule.weight < 12]
    assert len(counted) >= 9
    for rule in counted:
        right, verbs = [], []
        for word, codes in entries().items():
            if (fit := rule.spelling.fullmatch(word)) and not guess.withheld(word):
                own = slice(*fit.span(STRONG))
                right.append(any(set(code[own]) & set("1a") for code in codes.split()))
                verbs.append(is_verb(word))
        judged = [r for r, verb in zip(right, verbs, strict=True) if verb]
        judged = judged if len(judged) > 30 else right
        yes, no = sum(judged), len(judged) - sum(judged)
        odds = 2 * math.log((yes + 0.5) / (no + 0.5))
        assert rule.weight == pytest.approx(odds, abs=0.06), rule.spelling.pattern


# Stress by common knowledge; none of them is in the psalter.
VERBS = [
    ("redeploy", 2),
    ("subtend", 1),
    ("obtrude", 1),
    ("transfuse", 1),
    ("discommend", 2),
    ("exclaimeth", 1),
]


@pytest.mark.parametrize(("word", "at"), VERBS)
def test_verbs(word: str, at: int) -> None:
    code = guessed(word, load_lists().leanings)
    assert [code[s] in "1a" for s, _ in spans(code)].index(True) == at


# common knowledge: an adverb with a preposition stresses the preposition, -fore does not
@pytest.mark.parametrize(
    ("word", "at", "count"),
    [
        ("thereof", 1, 2), ("whereof", 1, 2), ("hereof", 1, 2), ("therein", 1, 2),
        ("whereto", 1, 2), ("thereunto", 2, 3), ("whereupon", 2, 3), ("hereafter", 1, 3),
        ("therefore", 0, 2), ("wherefore", 0, 2),
    ],
)  # fmt: skip
def test_two_words_in_one(word: str, at: int, count: int) -> None:
    code = guessed(word, load_lists().leanings)
    found = [code[s] in "1a" for s, _ in spans(code)]
    assert (found.index(True), len(found)) == (at, count)


def test_a_rule_yields_where_the_networks_are_sure() -> None:
    # "reckless" and "comrade" look like prefix and root; they are stressed first
    for word in ("reckless", "restless", "comrade"):
        code = guessed(word, load_lists().leanings)
        assert code[spans(code)[0][0]] in "1a"


def test_a_parish_may_add_a_rule(tmp_path: Path) -> None:
    own = tmp_path / "words.toml"
    own.write_text('[[leaning]]\nid = "zog"\nspelling = "zogra(?P<strong>f)a"\nweight = 12\n')
    lists = load_lists([own])
    assert len(lists.leanings) == len(load_lists().leanings) + 1
    own.write_text('[[leaning]]\nid = "zog"\nspelling = "zografak(?P<strong>o)la"\nweight = 12\n')
    read = readings("zografakola", load_lists([own]))[0]
    assert read.stress.index(1) == 3
    assert read.source == "guess"


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ('spelling = "a(b"\nweight = 1', "regular expression"),
        ('spelling = "(?P<strong>[[a])"\nweight = 1', "regular expression"),
        ('spelling = "ab"\nweight = 1', "which syllable"),
        ('spelling = "(?P<strong>a){nowhere}"\nweight = 1', "nowhere"),
        ('spelling = "(?P<strong>a)b"\nweight = "much"', "weight"),
        ('spelling = "(?P<strong>a)b"\nweight = -1', "weight"),
        ('spelling = "(?P<strong>a)b"', "weight"),
    ],
)
def test_broken_rows_are_told(row: str, told: str, tmp_path: Path) -> None:
    own = tmp_path / "words.toml"
    own.write_text(f'[[leaning]]\nid = "own"\n{row}\n')
    with pytest.raises(ChantError, match=told):
        load_lists([own])
