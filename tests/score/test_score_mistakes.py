"""A chanter's slips: each is met with its place and with what to do."""

from __future__ import annotations

import pytest

from chantwright.errors import ChantError
from chantwright.score.hymnfile import loads

# text, line, column (0: the whole line), word, part of what is said
SLIPS = [
    ("titel: x\ntone: 3\n\nLord", 1, 1, "titel", "Did you mean “title:”"),
    ("titel: x\n\nLord", 1, 1, "titel", "Did you mean “title:”"),
    ("title: x\nmelody form: me\n\nLord", 2, 1, "melody form", "“melody from:”"),
    ("title: x\nintnaton: t1\n\nLord", 2, 1, "intnaton", "“intonation:”"),
    ("title: x\ncomposer: me\n\nLord", 2, 1, "composer", "The keys are: title, tone"),
    ("title: x\nLord, I cry", 2, 0, "Lord, I cry", "blank line between the header and the words"),
    ("title: x\ntone 4\n\nLord", 2, 0, "tone 4", "not like “key: value”"),
    ("tone: 1\ntone: 2\n\nLord", 2, 0, "tone", "the first is in line 1"),
    ("tone: 9\n\nLord", 1, 7, "9", "from 1 to 8"),
    ("tone: plagal 1\n\nLord", 1, 7, "plagal 1", "the grave tone is 7"),
    ("tempo: fast\n\nLord", 1, 8, "fast", "beats a minute"),
    ("ending: short\n\nLord", 1, 9, "short", "ordinary, long"),
    ("branch: t1 slow\n\nLord", 1, 9, "t1 slow", "one word"),
    ("base: pa\n\nLord", 1, 7, "pa", "pa = 146.83 Hz"),
    ("base: pq = 147\n\nLord", 1, 7, "pq", "is not a note"),
    ("base: pa = 90000\n\nLord", 1, 12, "90000", "nobody sings"),
    ("melody kind: old\n\nLord", 1, 14, "old", "rule, model, written, sung"),
    ("title: x\n\ntone: 4\n\nLord", 3, 0, "tone", "Move it to the top"),
    ("O Lord\n\nnotes: pa pa", 3, 0, "notes", "no words above it"),
    ("O Lord\nnote: pa pa", 2, 0, "note", "Did you mean “notes:”"),
    ("O Lord\nnotes: pa pa\nnotes: pa pa", 3, 0, "notes", "two “notes:” lines"),
    ("O Lord\nnotes: pa pq", 2, 11, "pq", "is not a note"),
    ("O Lord\nnotes: pa pa:x", 2, 11, "x", "number of beats"),
    ("O Lord\nnotes: pa pa:0", 2, 11, "0", "number of beats"),
    ("O Lord\nnotes: pa pa(x)", 2, 13, "(x)", "bend in moria"),
    ("O Lord\nnotes: pa pa(99)", 2, 13, "(99)", "bend in moria"),
    ("O Lord\nnotes: pa pa+", 2, 14, "+", "a note has no name"),
    ("O Lord\nnotes: pa pa''''", 2, 11, "pa''''", "beyond any voice"),
    ("O Lord\nison: pa xx", 2, 10, "xx", "is not a note"),
    ("O Lord\nison: pa", 2, 9, "Lord", "2 syllables but 1 ison sign;"),
    ("O Lord\nstress: 0 3", 2, 11, "3", "1 main stress"),
    ("O Lord\nstress: 0", 2, 10, "Lord", "2 syllables but 1 stress figure;"),
    ("O Lord\nstress: 0 1 1", 2, 13, "1", "the first stress figure too many is “1”"),
    ("O Lord\ncadence: half", 2, 10, "half", "medial, full, final, long"),
    ("O Lord |\ncadence: full", 2, 10, "full", "the phrase mark says medial"),
    ("O Lord\nrest: soon", 2, 7, "soon", "beats of silence"),
    ("O Lord\nscale: hard chromatic", 2, 8, "hard chromatic", "without blanks"),
    ("O Lord\nids: p1 s1", 2, 9, "s1", "Take the ids line away"),
    ("O\nids: p1\nLord\nids: p1", 4, 6, "p1", "used twice"),
    ("O\nids: 1", 2, 6, "1", "not an id"),
    ("{Verse\nO Lord", 1, 1, "{Verse", "not closed"),
    ("O Lord\n\n{Dismissal}", 3, 1, "", "no phrase after it"),
    ("O Lord ||||", 1, 8, "||||", "one, two or three bars"),
    ("O Lord\n|", 2, 1, "|", "stands without words"),
    ("un- to me\nstress: 0 0 0", 1, 3, "-", "no syllable beside it"),
    ("O - Lord\nstress: 0 1", 1, 3, "-", "no syllable beside it"),
    ("O Lord | my God\nstress: 0 1 0 1", 1, 8, "|", "Begin a new line after it"),
    ("O Lord\\\nstress: 0 1", 1, 7, "\\", "nothing after it"),
]


@pytest.mark.parametrize(("text", "line", "column", "word", "said"), SLIPS)
def test_slips(text: str, line: int, column: int, word: str, said: str) -> None:
    with pytest.raises(ChantError) as caught:
        loads(text, file="psalm.txt")
    error = caught.value
    assert (error.where.file, error.where.line, error.where.column) == ("psalm.txt", line, column)
    assert error.where.word == word
    assert said in str(error)
    assert error.remedy


def test_too_many_notes_point_at_the_word_that_may_lack_a_hyphen() -> None:
    with pytest.raises(ChantError) as caught:
        loads("Lord, I cry unto thee: |\nnotes: pa di di di di ga:2", file="psalm.txt")
    assert str(caught.value) == (
        "psalm.txt, line 2, column 23, at “ga:2”: 5 syllables but 6 note groups; the 4th word "
        "“unto” may lack a hyphen. Give one group to each syllable: join notes of one syllable "
        "with + (pa+vou), and write - for a syllable without notes."
    )


def test_too_few_notes_point_at_the_syllable_that_is_left() -> None:
    with pytest.raises(ChantError) as caught:
        loads("Lord, I cry un-to thee:\nnotes: pa di di di", file="psalm.txt")
    assert (
        "6 syllables but 4 note groups; nothing is left for “to” of “unto”, the 4th word."
        in caught.value.what
    )


@pytest.mark.parametrize(
    ("words", "groups", "word"),
    [
        # words a beginner leaves undivided; syllable counts from any dictionary
        ("O give thanks", 4, ""),
        ("O praise the mercy", 5, "mercy"),
        ("Κύριε ἐ-κέ-κρα-ξα", 7, "Κύριε"),
        ("the house of Israel", 6, "Israel"),
    ],
)
def test_silent_letters_are_not_blamed(words: str, groups: int, word: str) -> None:
    with pytest.raises(ChantError) as caught:
        loads(f"{words}\nnotes: {' '.join(['pa'] * groups)}")
    assert (f"“{word}” may lack a hyphen" in caught.value.what) is bool(word)
    assert ("may lack" in caught.value.what) is bool(word)
