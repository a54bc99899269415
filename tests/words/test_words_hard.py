"""Lists of hard words and lines: syllables, division, stress, forbidden places.

Sources
-------
``data/hardwords.tsv`` names the source of each row: Carnegie Mellon Pronouncing Dictionary,
Webster 1913, or from memory. ``data/hardlines.tsv``: King James Version and common texts; its
stresses and forbidden places are judged by hand (a person reading aloud), not by this program.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from chantwright.words import Word, psalm, read_words
from chantwright.words.lexicon import load_lists
from chantwright.words.phrasing import forbidden, split
from chantwright.words.reading import readings

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[list[str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file, delimiter="\t", quoting=csv.QUOTE_NONE))[1:]


WORDS = rows("hardwords.tsv")
LINES = rows("hardlines.tsv")


def accepted(row: list[str]) -> list[tuple[str, str]]:
    """Divisions and stresses that a row of hard words allows."""
    usual = (row[1].lower(), row[2].split()[0])
    others = [a.rsplit(":", 1) for a in row[3].lower().split("|") if a]
    return [usual, *((a[0], a[1]) for a in others)]


def test_the_lists_are_whole() -> None:
    assert (len(WORDS), len(LINES)) == (120, 26)


@pytest.mark.parametrize("row", WORDS, ids=[r[0] for r in WORDS])
def test_hard_word(row: list[str]) -> None:
    best = readings(row[0].lower(), load_lists())[0]
    division = "-".join(best.syllables).replace("--", "-")
    options = accepted(row)
    assert division in [o[0] for o in options]
    primary = (len(best.stress), best.stress.index(1))
    assert primary in [(len(o[1]), o[1].index("1")) for o in options if o[0] == division]


@pytest.mark.parametrize("row", WORDS, ids=[r[0] for r in WORDS])
def test_hard_word_in_a_text(row: list[str]) -> None:
    # alone in a text, a small word may be weak; its syllables stay
    found = [s.text for w in read_words(row[0]).words for s in w.syllables]
    assert "-".join(found).lower().replace("--", "-") in [o[0] for o in accepted(row)]


def line_words(row: list[str]) -> tuple[Word, ...]:
    return read_words(row[0]).words


@pytest.mark.parametrize("row", LINES, ids=[r[0][:24] for r in LINES])
def test_hard_line_syllables_and_stress(row: list[str]) -> None:
    words = line_words(row)
    assert sum(len(w.syllables) for w in words) == int(row[1])
    # secondary stress is not compared: the list marks it in words of several syllables only
    found = ["".join("1" if n == 1 else "0" for n in w.stress) for w in words]
    assert found == row[2].replace("2", "0").split()


def places(row: list[str]) -> list[int]:
    """Indexes of the words after which no phrase may end."""
    plain = [w.text.lower() for w in line_words(row)]
    found: list[int] = []
    for rule in (r.strip() for r in row[3].lower().split(";")):
        if after := re.fullmatch(r"after (.+)", rule):
            hits = [i for i, w in enumerate(plain[:-1]) if w == after[1]]
        elif pair := re.fullmatch(r"between (\S+) and (\S.*)", rule):
            left, right = pair[1], pair[2].split()[0]
            hits = [i for i in range(len(plain) - 1) if plain[i : i + 2] == [left, right]]
        elif before := re.match(r"before (\w+)", rule):
            hits = [i - 1 for i, w in enumerate(plain) if i and w == before[1]]
        else:
            continue
        assert hits, f"{rule!r} names no place in {row[0]!r}"
        found += hits
    return found


def test_forbidden_places_are_found_in_the_list() -> None:
    assert sum(len(places(r)) for r in LINES) >= 60


@pytest.mark.parametrize("row", LINES, ids=[r[0][:24] for r in LINES])
def test_no_phrase_ends_at_a_forbidden_place(row: list[str]) -> None:
    text = read_words(row[0])
    ends = {s.stop - 1 for s in split(text)[:-1]}
    assert not ends & set(places(row))


@pytest.mark.parametrize("row", LINES, ids=[r[0][:24] for r in LINES])
def test_forbidden_places_stay_forbidden_in_longer_texts(row: list[str]) -> None:
    # the same line amid others must not be torn there either
    text = read_words(f"{row[0].rstrip('.')}, {row[0].rstrip('.')}.")
    size = len(line_words(row))
    ends = {s.stop - 1 for s in split(text)[:-1]}
    assert not ends & {p + k for p in places(row) for k in (0, size)}


def test_an_article_never_ends_a_phrase_where_nothing_else_fits() -> None:
    words = read_words("the the of a the of a the of a the of a the of a the of a the of a").words
    assert all(forbidden(words, i, load_lists()) for i in range(len(words) - 1))


# Blessed: an adjective has two syllables, a finite verb one. King James Version, common practice.
BLESSED = [
    ("Blessed is the man that walketh not", 2),
    ("Blessed art thou, O Lord: teach me thy statutes", 2),
    ("Blessed be the Lord God of Israel", 2),
    ("O Blessed Lord", 2),
    ("He hath blessed the children within thee", 1),
    ("God blessed the seventh day", 1),
    ("the Lord hath blessed thee for ever", 1),
]


@pytest.mark.parametrize(("line", "count"), BLESSED)
def test_blessed_in_both_uses(line: str, count: int) -> None:
    (word,) = [w for w in read_words(line).words if w.text.lower() == "blessed"]
    assert len(word.syllables) == count
    assert any(len(a.split("-")) != count for a in word.alternatives)


# Divisions found wrong while psalms were read through; American dictionaries, from memory.
PARTED = [
    "ac-knowl-edge",
    "fran-chise",
    "light-house",
    "shep-herd",
    "up-hold-eth",
    "foot-hold",
    "free-ly",
    "nee-dle-work",
    "right-eous-ly",
    "rec-om-pensed",
    "chas-tis-eth",
]


@pytest.mark.parametrize("division", PARTED)
def test_division(division: str) -> None:
    assert "-".join(readings(division.replace("-", ""), load_lists())[0].syllables) == division


# Running stress that rules of rhythm decide; judged by ear, common practice.
SPOKEN = [
    ("For the Lord most high is terrible", "0 0 1 0 1 0 1 0 0"),
    ("and forget not all his benefits", "0 0 1 0 1 0 1 0 0"),
    ("and the King of glory shall come in", "0 0 1 0 1 0 0 1 1"),
    ("But there is forgiveness with thee", "0 0 0 0 1 0 0 1"),
    ("that thou mayest be feared", "0 0 0 0 0 1"),
    ("a great King over all the earth", "0 1 1 0 0 1 0 1"),
    ("there we sat down", "1 0 1 1"),
    ("I am thine, O save me", "0 0 1 0 1 0"),
]


@pytest.mark.parametrize(("line", "stress"), SPOKEN)
def test_spoken_stress(line: str, stress: str) -> None:
    found = [n for w in read_words(line).words for n in w.stress]
    assert [1 if n == 1 else 0 for n in found] == [int(c) for c in stress.split()]


# Phrases as a chanter would stress them; common practice, own judgement, of the King James psalter.
HEARD = [
    ("answer me", "10 2"),
    ("make haste unto me", "1 1 00 1"),
    ("for he it is that shall tread down our enemies", "0 1 0 2 0 0 1 1 0 100"),
    ("it is he that hath made us", "0 0 1 0 0 1 0"),
    ("for it is good", "0 2 0 1"),
    ("that go down into silence", "0 1 1 20 10"),
    ("is there any that understand", "0 0 10 0 201"),
    ("there is none that doeth good", "0 0 1 0 10 1"),
    ("under the shadow of thy wings", "10 0 10 0 0 1"),
    ("to overthrow their seed", "0 201 0 1"),
    ("their enemy shall overtake them", "0 100 0 201 0"),
]


@pytest.mark.parametrize(("line", "stress"), HEARD)
def test_stress_as_it_is_heard(line: str, stress: str) -> None:
    words = read_words(line).words
    assert " ".join("".join(map(str, w.stress)) for w in words) == stress


def test_for_ever_is_not_torn_from_its_verb() -> None:
    text = read_words(psalm("110:4").text)
    phrases = [" ".join(w.text for w in text.words[s.first : s.stop]) for s in text.spans]
    assert "Thou art a priest for ever" in phrases


def test_a_call_is_not_torn_from_its_verb() -> None:
    text = read_words(psalm("79:11").text)  # "preserve thou those"
    for span in text.spans:
        assert text.words[span.first].text != "thou"
