"""The teacher's marks win over everything; cadences; ids; the JSON document.

The marks are those of docs/words.md. A grave on -ed, an apostrophe in heav'n and o'er: typographic
habits of English verse, common practice.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from chantwright.errors import ChantError
from chantwright.score import Hymn, Phrase, Syllable, hymnfile
from chantwright.words import Word, divide, marked, psalm, read_words, to_phrases

ROOT = Path(__file__).parents[2]


def word(text: str) -> Word:
    return read_words(text).words[0]


READ = [
    # middle dot: the word's own dots replace all others
    ("al·le·lu·i·a", "al-le-lu-i-a:00100"),
    ("heav·en", "heav-en:10"),
    ("hea·ven", "hea-ven:10"),
    ("un·der·stánd", "un-der-stand:201"),
    # undertie and apostrophe join
    ("glo·ri‿ous", "glo-rious:10"),
    ("lov‿ed", "loved:1"),
    ("heav'n", "heav'n:1"),
    ("heav’n", "heav’n:1"),
    ("o'er", "o'er:0"),
    # acute: this syllable is stressed
    ("incénse", "in-cense:01"),
    ("íncense", "in-cense:10"),
    ("thý", "thy:1"),
    # grave: this -ed is a syllable; elsewhere the syllable is weak
    ("blessèd", "bless-ed:10"),
    ("cursèd", "curs-ed:10"),
    ("furnishèd", "fur-nish-ed:100"),
    ("mèrcy", "mer-cy:00"),
    ("Lòrd", "Lord:0"),
]


@pytest.mark.parametrize(("text", "reading"), READ)
def test_marks_of_a_word(text: str, reading: str) -> None:
    assert word(text).reading == reading


@pytest.mark.parametrize(("text", "_reading"), [r for r in READ if set(r[0]) & set("·‿éíýè")])
def test_marked_words_are_the_teachers(text: str, _reading: str) -> None:
    assert word(text).source == "teacher"


def test_a_marked_stress_is_not_moved_by_its_neighbours() -> None:
    assert [w.stress for w in read_words("for hé is good").words] == [(0,), (1,), (0,), (1,)]
    assert [w.stress for w in read_words("the Lòrd is good").words][1] == (0,)


def test_bars_end_phrases_and_make_cadences() -> None:
    phrases = to_phrases(read_words("Praise the Lord | O my soul || and sing ||| for ever"))
    assert [p.words for p in phrases] == ["Praise the Lord", "O my soul", "and sing", "for ever"]
    assert [p.cadence for p in phrases] == ["medial", "full", "final", "final"]


def test_cadences_without_bars() -> None:
    text = "Praise him, all ye peoples of the earth and of the sea. Sing unto him, ye heavens."
    phrases = to_phrases(read_words(f"{text}\n\nAmen."))
    for phrase in phrases[:-1]:
        closed = phrase.words[-1] in ".;:!?"
        assert phrase.cadence == ("full" if closed else "medial")
    assert phrases[-1].cadence == "final"
    assert phrases[-1].verse_start


def test_bars_decide_alone() -> None:
    # no phrase end at the full stop, because the teacher's bars stand elsewhere in the verse
    phrases = to_phrases(read_words("Lord, have mercy. Lord, | have mercy."))
    assert [p.words for p in phrases] == ["Lord, have mercy. Lord,", "have mercy."]


def test_a_tilde_forbids_an_end() -> None:
    free = (
        "Praise the Lord in the morning with gladness, sing to him in the evening with thanksgiving"
    )
    assert any(p.words.endswith("gladness,") for p in to_phrases(read_words(free)))
    kept = free.replace("gladness, sing", "gladness,~sing")
    assert not any(p.words.endswith("gladness,") for p in to_phrases(read_words(kept)))


def test_a_backslash_makes_a_sign_plain() -> None:
    words = read_words(r"praise him\* now \| ever").words
    assert [w.text for w in words] == ["praise", "him", "now", "ever"]
    assert words[1].after == "*"
    assert not any(w.bar for w in words)


def test_rubrics_are_kept_and_not_sung() -> None:
    phrases = to_phrases(read_words("{softly} Praise the Lord. {louder} Sing unto him."))
    assert [(p.rubric, p.words) for p in phrases] == [
        ("softly", "Praise the Lord."),
        ("louder", "Sing unto him."),
    ]


def test_a_blank_line_begins_a_verse() -> None:
    phrases = to_phrases(read_words("Praise the Lord\n\nO my soul"))
    assert [p.verse_start for p in phrases] == [False, True]
    assert phrases[0].cadence == "full"


def test_a_long_phrase_between_bars_is_told() -> None:
    text = read_words("The heavens declare the glory of God and the firmament his handywork | Amen")
    assert "long phrase" in {c.kind for c in text.changes}
    kept = "The heavens declare the glory of God and~the firmament his handywork | Amen"
    assert "long phrase" not in {c.kind for c in read_words(kept).changes}


def test_punctuation_is_printed_with_its_syllable() -> None:
    (phrase,) = to_phrases(read_words("“Holy, holy!”"))
    assert [s.text for s in phrase.syllables] == ["“Ho", "ly,", "ho", "ly!”"]
    assert [s.place for s in phrase.syllables] == ["begin", "end", "begin", "end"]


# ------------------------------------------------------------------ a text with all its marks
@pytest.mark.parametrize("which", ["1", "23", "24", "51", "104:1-24", "141", "148", "150"])
def test_marked_text_is_read_as_it_was(which: str) -> None:
    text = read_words(psalm(which).text)
    again = read_words(marked(text))
    assert [[s.text for s in w.syllables] for w in again.words] == [
        [s.text for s in w.syllables] for w in text.words
    ]
    assert [p.words for p in to_phrases(again)] == [p.words for p in to_phrases(text)]
    assert [[n == 1 for n in w.stress] for w in again.words] == [
        [n == 1 for n in w.stress] for w in text.words
    ]


# ------------------------------------------------------------------ divide
def test_divide_keeps_what_is_divided_and_its_ids() -> None:
    own = Phrase(
        syllables=(Syllable("A", "begin", 0, id="s7"), Syllable("men", "end", 1, id="s8")), id="p3"
    )
    hymn = Hymn(phrases=(own, Phrase(text="Lord, have mercy", rubric="thrice", id="p9")))
    done = divide(hymn)
    assert done.phrases[0].id == "p3"
    assert [s.id for s in done.phrases[0].syllables] == ["s7", "s8"]
    assert done.phrases[1].id == "p9"
    assert done.phrases[1].rubric == "thrice"
    ids = [s.id for p in done.phrases for s in p.syllables] + [p.id for p in done.phrases]
    assert all(ids)
    assert len(ids) == len(set(ids))


def test_divide_keeps_the_edges_of_a_phrase() -> None:
    long = "Let my prayer be set forth before thee as incense; and the lifting up of my hands"
    first = Phrase(syllables=(Syllable("Lord", "single", 1),))
    hymn = Hymn(phrases=(first, Phrase(text=long, cadence="long", scale="hard", verse_start=True)))
    pieces = divide(hymn).phrases[1:]
    assert len(pieces) > 1
    assert [p.cadence for p in pieces[:-1]].count("long") == 0
    assert (pieces[-1].cadence, pieces[0].scale) == ("long", "hard")
    assert [p.verse_start for p in pieces] == [True] + [False] * (len(pieces) - 1)


def test_divide_twice_is_divide_once() -> None:
    hymn = hymnfile.loads("title: x\ntone: 1\n\n" + psalm("150").text + "\n")
    assert divide(divide(hymn)) == divide(hymn)


# ------------------------------------------------------------------ JSON
def test_json_has_what_the_page_says() -> None:
    page = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    section = page.split("## `words FILE --json`")[1].split("\n## ")[0]
    document = json.loads(json.dumps(read_words("1 Blessèd is he | that\ncometh").to_json()))
    keys = set(re.findall(r"^\| `(\w+)`", section, re.M))
    assert keys <= set(document)
    named = set(re.findall(r"`(\w+)`", section)) - keys - {"words"}
    assert named <= set(document["words"][0])


def test_json_is_consistent() -> None:
    text = read_words("{softly} Praise the LORD, O my soul. While I live will I praise the LORD.")
    document = text.to_json()
    assert document["language"] == "en"
    spans = [(p["first"], p["last"]) for p in document["phrases"]]
    assert spans[0][0] == 0
    assert spans[-1][1] == len(document["words"]) - 1
    for word, own in zip(document["words"], text.words, strict=True):
        assert "".join(word["syllables"]) == word["text"] == own.text
        assert len(word["syllables"]) == len(word["stress"]) == len(word["level"])
    for phrase in document["phrases"]:
        own_words = document["words"][phrase["first"] : phrase["last"] + 1]
        stress = [n for w in own_words for n in w["stress"]]
        assert phrase["syllables"] == len(stress)
        assert phrase["close"] == stress[len(stress) - 1 - stress[::-1].index(1) :]
    assert document["phrases"][0]["rubric"] == "softly"
    assert {c["kind"] for c in document["changes"]} == {"small capitals"}


# ------------------------------------------------------------------ errors
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the text is empty"),
        (" \n\t ", "the text is empty"),
        ("{softly}", "only a rubric"),
        ("12 13", "only numbers"),
        ("... !!", "only signs"),
        ("Ο Lord", "Greek letters"),  # the letter before Lord is a Greek one
        ("Lord, помилуй us", "Cyrillic letters"),
    ],
)
def test_what_cannot_be_sung_is_told(text: str, said: str) -> None:
    with pytest.raises(ChantError, match=said) as caught:
        read_words(text, file="vespers.txt")
    assert "vespers.txt" in str(caught.value)


def test_the_strange_word_is_named_with_its_place() -> None:
    with pytest.raises(ChantError) as caught:
        read_words("Lord, have mercy\nand помилуй us")
    where = caught.value.where
    assert where is not None
    assert (where.line, where.column, where.word) == (2, 5, "помилуй")


def test_an_unknown_language_is_told() -> None:
    with pytest.raises(ChantError, match="no rules for dividing"):
        read_words("Domine", language="la")
