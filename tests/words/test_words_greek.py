"""Greek: division and stress.

Sources: the divisions of running text were compared with the pip package greek-accentuation 1.2.0
(MIT), whose answers are kept here; the hard cases follow Smyth, Greek Grammar (1956), sections 138
to 140 (division), 149 to 187 (accents, enclitics), and common practice of singing.
"""

from __future__ import annotations

import importlib
import importlib.util
import re
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.score import Hymn, Phrase
from chantwright.words import divide, marked, read_words, to_phrases
from chantwright.words.greek import divided

# Psalm 140 (LXX):1-2, the Paschal troparion and the evening hymn, typed from memory.
RUNNING_TEXT = """
Κύ-ρι-ε ἐ-κέ-κρα-ξα πρὸς σέ εἰ-σά-κου-σόν μου πρό-σχες τῇ φω-νῇ τῆς δε-ή-σε-ώς μου ἐν τῷ
κε-κρα-γέ-ναι με πρὸς σέ Κα-τευ-θυν-θή-τω ἡ προ-σευ-χή μου ὡς θυ-μί-α-μα ἐ-νώ-πι-όν σου ἔ-παρ-σις
τῶν χει-ρῶν μου θυ-σί-α ἑ-σπε-ρι-νή Χρι-στὸς ἀ-νέ-στη ἐκ νε-κρῶν θα-νά-τῳ θά-να-τον πα-τή-σας καὶ
τοῖς ἐν τοῖς μνή-μα-σι ζω-ὴν χα-ρι-σά-με-νος Φῶς ἱ-λα-ρὸν ἁ-γί-ας δό-ξης ἀ-θα-νά-του Πα-τρός
οὐ-ρα-νί-ου ἁ-γί-ου μά-κα-ρος Ἰ-η-σοῦ Χρι-στέ ἐλ-θόν-τες ἐ-πὶ τὴν ἡ-λί-ου δύ-σιν ἰ-δόν-τες φῶς
ἑ-σπε-ρι-νόν ὑ-μνοῦ-μεν Πα-τέ-ρα Υἱ-όν καὶ ἅ-γι-ον Πνεῦ-μα Θε-όν
"""
RUNNING = RUNNING_TEXT.split()
# Dialytika, accent or breathing on the first vowel, capitals, nasals before stops, iota subscript.
HARD_TEXT = """
ἄ-ϋ-λος ἀ-ϋ-λος προ-ΰ-παρ-ξις Μω-ϋ-σῆς Ἠ-σα-ΐ-ας μά-ϊ-ος παι-δί-ον υἱ-ός ἀ-ί-δι-ος ἄγ-γε-λος
ἔμ-πο-ρος ἐκ-κλη-σί-α σάβ-βα-τον Θά-λασ-σα ψάλ-λω Ἰ-η-σοῦς Θε-ο-τό-κος εὐ-λο-γη-τός αὐ-τός ηὔ-ξη-σα
ἐ-ξο-μο-λο-γή-σε-ως ἰ-σχύς ἔ-θνος ψυ-χή ᾠ-δή ᾅ-δης ἀ-γά-πη σάρξ τέ-κνον χαῖ-ρε κε-χα-ρι-τω-μέ-νη
Σι-ών ἀ-στήρ ἄ-στρα ὀ-φθαλ-μός λαμ-πρός ἄν-θρω-πος ἀρ-χάγ-γε-λος βα-σι-λεί-α ἐ-λέ-η-σον ἀλ-λά
ἀ-λή-θει-α ὅ-σι-οι προ-φῆ-ται μάρ-τυ-ρες ἔ-κτι-σεν
"""
HARD = HARD_TEXT.split()


@pytest.mark.parametrize("word", dict.fromkeys([*RUNNING, *HARD]))
def test_division(word: str) -> None:
    assert "-".join(divided(word.replace("-", ""))) == word


def test_division_is_that_of_the_registry_package() -> None:
    if importlib.util.find_spec("greek_accentuation") is None:
        pytest.skip("NOT COMPARED: greek-accentuation is not installed (pip install it)")
    syllabify = importlib.import_module("greek_accentuation.syllabify").syllabify
    wrong = [
        w for w in RUNNING if list(divided(w.replace("-", ""))) != syllabify(w.replace("-", ""))
    ]
    assert wrong == []


# Lord's prayer, Psalm 50 (LXX) and the creed, typed from memory: 284 running words.
PRAYERS = (Path(__file__).parent / "data" / "greek.txt").read_text(encoding="utf-8")
# Words that we divide otherwise than the package, on purpose. There are none in these texts.
EXCEPTIONS: dict[str, str] = {}


def one_accent(text: str) -> str:
    """Write polytonic Greek with one kind of accent (the reform of 1982)."""
    signs = unicodedata.normalize("NFD", text)
    kept = (c for c in signs if c not in "\u0313\u0314\u0345")
    same = ("\u0301" if c in "\u0300\u0342" else c for c in kept)
    return unicodedata.normalize("NFC", "".join(same))


def test_running_text_is_divided_as_the_registry_package_does() -> None:
    if importlib.util.find_spec("greek_accentuation") is None:
        pytest.skip("NOT COMPARED: greek-accentuation is not installed (pip install it)")
    syllabify = importlib.import_module("greek_accentuation.syllabify").syllabify
    words = [w.text for w in read_words(PRAYERS, language="el").words]
    assert len(words) == 284
    wrong = {w: divided(w) for w in words if list(divided(w)) != syllabify(w)}
    assert {w: "-".join(parts) for w, parts in wrong.items()} == EXCEPTIONS


def test_one_kind_of_accent_makes_no_difference() -> None:
    many = read_words(PRAYERS, language="el").words
    one = read_words(one_accent(PRAYERS), language="el").words
    assert [[one_accent(s.text) for s in w.syllables] for w in many] == [
        [s.text for s in w.syllables] for w in one
    ]
    assert [w.stress for w in many] == [w.stress for w in one]


def test_small_words_are_weak() -> None:
    small = {
        "ὁ",
        "ἡ",
        "τὸ",
        "τῆς",
        "ἐν",
        "εἰς",
        "ἐκ",
        "ὡς",
        "οὐ",
        "καὶ",
        "τοῖς",
        "μου",
        "σου",
        "με",
    }
    words = read_words(PRAYERS, language="el").words
    assert small <= {w.text for w in words}
    assert not [w.text for w in words if w.text in small and 1 in w.stress]
    prepositions = {w.stress for w in words if w.text in ("ἀπὸ", "ἐπὶ", "κατὰ", "ὑπὲρ")}
    assert prepositions == {(0, 2)}


def stresses(text: str) -> list[tuple[int, ...]]:
    return [w.stress for w in read_words(text, language="el").words]


@pytest.mark.parametrize(
    ("text", "stress"),
    [
        ("ἐνώπιόν σου", [(0, 1, 0, 1), (0,)]),  # both accents stay before an enclitic
        ("τῆς δεήσεώς μου", [(0,), (0, 1, 0, 1), (0,)]),
        ("Χριστὸς ἀνέστη", [(0, 1), (0, 1, 0)]),  # a grave is an accent
        ("ἐκ νεκρῶν", [(0,), (0, 1)]),
        ("τὸν Θεόν", [(0,), (0, 1)]),  # the article leans on its noun, accent or not
        ("φῶς ἱλαρόν", [(1,), (0, 0, 1)]),
        ("Κύριε ελέησον", [(1, 0, 0), (0, 1, 0, 0)]),  # monotonic
        ("ἐνώπιόν μού ἐστι", [(0, 1, 0, 1), (0,), (0, 0)]),  # an enclitic of two syllables
    ],
)
def test_stress_is_the_written_accent(text: str, stress: list[tuple[int, ...]]) -> None:
    assert stresses(text) == stress


def test_the_raised_dot_is_punctuation_and_the_middle_dot_a_mark() -> None:
    text = read_words("εἰσάκουσόν μου· πρόσ·χες τῇ φωνῇ", language="el")
    assert text.words[1].after == "·"
    assert [s.text for s in text.words[2].syllables] == ["πρόσ", "χες"]
    assert text.words[2].source == "teacher"
    first, *_ = to_phrases(text)
    assert first.words == "εἰσάκουσόν μου·" or "·" in first.words


def test_undertie_joins() -> None:
    (word,) = read_words("θυμί‿αμα", language="el").words
    assert [s.text for s in word.syllables] == ["θυ", "μία", "μα"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("ΚΥΡΙΕ ΕΛΕΗΣΟΝ", "has no accent"),
        ("Κύριε ελεησον", "has no accent"),
        ("Kύριε", "is not Greek, though it may look so"),  # a Latin K
        ("Κύριε, помилуй", "is not Greek"),
    ],
)
def test_what_cannot_be_read_is_told(text: str, said: str) -> None:
    with pytest.raises(ChantError, match=said) as caught:
        read_words(text, language="el")
    assert caught.value.where.line == 1
    assert caught.value.where.word


def test_phrases_and_hymns() -> None:
    words = "Κύριε, ἐκέκραξα πρὸς σέ, εἰσάκουσόν μου· πρόσχες τῇ φωνῇ τῆς δεήσεώς μου, Κύριε."
    hymn = divide(Hymn(language="grc", phrases=(Phrase(text=words),)))
    assert " ".join(p.words for p in hymn.phrases) == words
    assert hymn.phrases[-1].cadence == "final"
    assert any(p.cadence == "full" and p.words.endswith("·") for p in hymn.phrases[:-1])
    for phrase in hymn.phrases[:-1]:
        last = phrase.words.split()[-1].strip(",.·").lower()
        assert last not in {"τῇ", "τῆς", "πρὸς", "ἐν", "καὶ"}


def test_marked_text_reads_back() -> None:
    text = read_words(" ".join(w.replace("-", "") for w in RUNNING), language="el")
    again = read_words(marked(text), language="el")
    assert [w.syllables for w in again.words] == [w.syllables for w in text.words]


@settings(deadline=None, max_examples=150)
@given(st.text("αβγδεζηθικλμνξοπρστυφχψωάέήίόύώϊΐᾳᾶῆῖ", min_size=1, max_size=20))
def test_no_letter_is_lost_and_each_part_has_a_vowel(word: str) -> None:
    parts = divided(word)
    assert "".join(parts) == word
    if len(parts) > 1:
        assert all(re.search("[αεηιουωάέήίόύώϊΐᾳᾶῆῖ]", p) for p in parts)
