"""Pasted texts: each kind of defect is mended and listed.

The defects are those of e-mail, word-processor and PDF pastes; common practice.
"""

from __future__ import annotations

import pytest

from chantwright.words import psalm, read_words

# raw, the words that are left, the kind under which the change is listed
DEFECTS = [
    ("hear-\nken unto me", "hearken unto me", "line-end hyphen"),
    ("loving-\nkindness is good", "lovingkindness is good", "line-end hyphen"),
    ("hea-ven-ly King, com-fort-er", "heavenly King comforter", "divided word"),
    ("hea - ven - ly King", "heavenly King", "divided word"),
    ("hea -- ven -- ly King", "heavenly King", "divided word"),
    ("God-bearing Virgin", "God-bearing Virgin", "hyphen"),
    ("the ﬁrst ﬂood", "the first flood", "ligature"),
    ("heav\u00aden above", "heaven above", "invisible sign"),
    ("\ufeffPraise\u200b him", "Praise him", "invisible sign"),
    ("Praise\u00a0him", "Praise him", "special space"),
    ("Lord`s mercy", "Lord’s mercy", "apostrophe"),
    ("Praise him\u2028all ye", "Praise him all ye", "line end"),
    ("1 Praise him. 2 Bless him.", "Praise him Bless him", "verse number"),
    ("1. Praise him.\n2. Bless him.", "Praise him Bless him", "verse number"),
    ("141:1 Lord, I cry", "Lord I cry", "verse number"),
    ("¹Praise him", "Praise him", "verse number"),
    ("Praise him² now", "Praise him now", "footnote mark"),
    ("Praise him (12) now", "Praise him now", "number"),
    ("Praise him\n- 4 -\nall ye", "Praise him all ye", "page number"),
    ("Psalm 141\nLord, I cry", "Lord I cry", "heading"),
    ("Verse: Praise the Lord", "Praise the Lord", "heading"),
    ("V. Praise the Lord", "Praise the Lord", "heading"),
    ("Both now\nPraise the Lord", "Praise the Lord", "heading"),
    ("Lord, have mercy. (3x)", "Lord have mercy", "repeat"),
    ("Lord, have mercy. (thrice)", "Lord have mercy", "repeat"),
    ("(Lord, have mercy.) x2", "Lord have mercy Lord have mercy", "repeat"),
    ("Praise the LORD", "Praise the Lord", "small capitals"),
    ("Praise him [with] harp", "Praise him with harp", "brackets"),
    ("Praise him (all ye)", "Praise him all ye", "brackets"),
    ("Praise him [ now", "Praise him now", "bracket"),
    ("praise {softly him", "praise softly him", "brace without its partner"),
    ("bless him / all // ye", "bless him all ye", "phrase mark"),
    ("bless him * all ‖ ye", "bless him all ye", "phrase mark"),
    ("bless him ¦ all ye", "bless him all ye", "phrase bar"),
    ("spi|rit of God", "spirit of God", "phrase bar inside a word"),
    ("joy · day", "joy day", "stray mark"),
    ("heav•en", "heaven", "middle dot"),
    ("he said -- go", "he said go", "dash"),
    ("Amen.....", "Amen", "dots"),
    ("Praise & bless", "Praise and bless", "sign"),
    ("★ Praise", "Praise", "unknown sign"),
    ("Praise him. Selah.", "Praise him Selah", "Selah"),
    ("heaven‐ly", "heavenly", "hyphen sign"),
]


@pytest.mark.parametrize(("raw", "left", "kind"), DEFECTS, ids=[f"{d[2]}-{d[0]}" for d in DEFECTS])
def test_defect_is_mended_and_listed(raw: str, left: str, kind: str) -> None:
    text = read_words(raw)
    assert " ".join(w.text for w in text.words) == left
    (change, *_) = [c for c in text.changes if c.kind == kind]
    assert change.before
    assert change.line >= 1
    assert change.before.split("\n")[0].strip()[:1] in raw


def test_a_clean_text_is_not_changed() -> None:
    for which in ("2", "72:1-19", "137"):
        raw = psalm(which).text.replace("LORD", "Lord").replace("GOD", "God")
        assert [c for c in read_words(raw).changes if c.kind != "hyphen"] == []


def test_places_are_those_of_the_text_as_given() -> None:
    raw = "1 Praise the LORD,\nO my \u00adsoul.\n\n2 Sing unto ﬁre"
    for word in read_words(raw).words:
        line = raw.split("\n")[word.line - 1]
        assert line[word.column - 1].lower() in (word.text[0].lower(), "ﬁ")


def test_numbers_begin_verses() -> None:
    words = read_words("1 Praise him.\n2 Bless him.\n3 Sing.").words
    assert [w.text for w in words if w.verse_start] == ["Praise", "Bless", "Sing"]


def test_a_page_number_begins_none() -> None:
    words = read_words("Praise him\n- 4 -\nall ye").words
    assert [w.text for w in words if w.verse_start] == ["Praise"]


def test_a_line_all_in_capitals_stays() -> None:
    assert [w.text for w in read_words("PRAISE THE LORD").words] == ["PRAISE", "THE", "LORD"]


def test_a_heading_becomes_a_rubric() -> None:
    assert read_words("Verse: Praise the Lord").words[0].rubric == "Verse:"


def test_a_repeat_writes_its_words_out() -> None:
    text = read_words("(Holy is the Lord) x3")
    assert [w.text for w in text.words] == ["Holy", "is", "the", "Lord"] * 3


def test_a_change_is_a_sentence() -> None:
    (change,) = read_words("Praise the LORD").changes
    assert str(change) == "line 1: small capitals: “LORD” → “Lord” (printed with one capital)"


def test_composed_and_decomposed_accents_are_the_same() -> None:
    assert [w.reading for w in read_words("ince\u0301nse").words] == ["in-cense:01"]
    assert [w.reading for w in read_words("incénse").words] == ["in-cense:01"]
