"""Our MEI against the published schema's own statements.

Facts: MEI 5.1, basic profile (mei-basic), music-encoding.org, as a table in tests/data.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hymns_for_print import DENSE, GREEK, PSALM, phrase
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from mei_facts import NS, facts, mistakes

from chantwright.engrave import StaffOptions, to_mei
from chantwright.engrave.options import Accidentals, Clef, Letters, Script
from chantwright.score import Cadence, Hymn, Ison, Note, Phrase, Syllable
from chantwright.tones import load_tones

TONES = load_tones()

SUNG: list[tuple[str, int, int, Ison]] = [
    ("a", 6, -4, 1), ("b", 6, -4, 1), ("c", 6, 0, None), ("d", 1, 4, 4), ("e", 0, 12, "unison"),
    ("f", 3, -12, 0), ("g", -6, 0, 0), ("h", 15, 0, 0),
]  # fmt: skip
BENT = Hymn(
    title="Bends & “signs” <all>",
    tone=6,
    phrases=(
        Phrase(
            tuple(Syllable(t, notes=(Note(d, bend=Fraction(b)),), ison=i) for t, d, b, i in SUNG),
            rest=Fraction(7, 2),
        ),
    ),
)
LONG = Hymn(
    title="",
    tone=1,
    phrases=(
        replace(phrase("A-men:1|2*11", "medial"), rest=Fraction(3)),
        phrase("A-men:1*1/3,2*1/3,3*1/3|2*2/3,1*1/3,0*1/3,1*2/3", "full"),
        phrase("A-men:1*13/2,2*1/16|2*150", "final", "unison"),
    ),
)
HYMNS = [PSALM, DENSE, GREEK, BENT, LONG]
LETTERS: tuple[Letters | None, ...] = ("byzantine", "western", None)
SCRIPTS: tuple[Script, ...] = ("latin", "greek")
ACCIDENTALS: tuple[Accidentals, ...] = ("exact", "conventional", "none")
CLEFS: tuple[Clef, ...] = ("treble", "men", "bass")
OPTIONS = [
    StaffOptions(a, b, c, d, ison=marks, slurs=marks, id_prefix="" if marks else "h2-")
    for a, b, c, d, marks in product(LETTERS, SCRIPTS, ACCIDENTALS, CLEFS, (True, False))
]


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title or "no title")
def test_the_schema_forbids_nothing_that_we_write(hymn: Hymn) -> None:
    for options in OPTIONS:
        assert mistakes(to_mei(hymn, TONES, options)) == []


@pytest.mark.parametrize("branch", sorted(TONES.branches))
def test_in_every_branch_of_every_tone(branch: str) -> None:
    row = TONES.branch(branch)
    hymn = replace(PSALM, tone=row.tone, branch=branch)
    for options in (StaffOptions(), StaffOptions(accidentals="exact", clef="men")):
        assert mistakes(to_mei(hymn, TONES, options)) == []


CADENCES: list[Cadence | None] = ["medial", "full", "final", None]
NOTES = st.builds(
    Note,
    st.integers(-7, 14),
    st.fractions(Fraction(1, 4), 9, max_denominator=4),
    st.sampled_from([Fraction(0), Fraction(-6), Fraction(4), Fraction(1, 2)]),
)


@given(
    st.lists(st.lists(NOTES, min_size=1, max_size=4), min_size=1, max_size=6),
    st.sampled_from(OPTIONS),
    st.sampled_from(CADENCES),
)
@settings(deadline=None, max_examples=60)
def test_any_melody(
    syllables: list[list[Note]], options: StaffOptions, cadence: Cadence | None
) -> None:
    sung = tuple(Syllable(f"la{k}", notes=tuple(n)) for k, n in enumerate(syllables))
    hymn = Hymn(tone=2, phrases=(Phrase(sung, cadence=cadence),))
    assert mistakes(to_mei(hymn, TONES, options)) == []


def test_every_kind_of_element_is_met() -> None:
    met = {
        etree.QName(e).localname
        for hymn in HYMNS
        for e in etree.fromstring(to_mei(hymn, TONES).encode()).iter()
    }
    assert met == set(facts()["element"])


def test_every_fact_names_its_source() -> None:
    for table in facts().values():
        for row in table.values():
            assert row["src"] == "MEI 5.1, mei-basic"
            assert row["conf"] == "high"


def _root() -> etree._Element:
    return etree.fromstring(to_mei(LONG, TONES, StaffOptions(accidentals="exact")).encode())


def _first(root: etree._Element, name: str) -> etree._Element:
    found = root.find(f".//{{{NS}}}{name}")
    assert found is not None
    return found


SPOILT = {
    "an attribute that is not there": ("note", lambda e: e.set("tie", "i"), "has no attribute tie"),
    "one of a wider profile": ("breath", lambda e: e.set("place", "above"), "no attribute"),
    "a value that is not there": ("measure", lambda e: e.set("right", "thick"), "is no bar line"),
    "a pitch past g": ("note", lambda e: e.set("pname", "h"), "is no pitch name"),
    "five dots": ("note", lambda e: e.set("dots", "5"), "is no dots"),
    "an old version": ("mei", lambda e: e.set("meiversion", "5.0"), "is no version"),
    "no version": ("mei", lambda e: e.attrib.pop("meiversion"), "lacks meiversion"),
    "an element in a wrong place": (
        "layer", lambda e: etree.SubElement(e, f"{{{NS}}}syl"), "may not hold",
    ),
    "an element that is unknown": (
        "measure", lambda e: etree.SubElement(e, f"{{{NS}}}keySig"), "nothing is known",
    ),
    "children in a wrong order": ("mei", lambda e: e.append(e[0]), "may not hold"),
    "a needed child left out": ("titleStmt", lambda e: e.remove(e[0]), "may not hold"),
    "words where none may be": ("note", lambda e: setattr(e, "text", "la"), "holds words"),
    "a breath that begins nowhere": ("breath", lambda e: e.attrib.pop("startid"), "broken"),
    "a tie without an end": ("tie", lambda e: e.attrib.pop("endid"), "broken"),
    "a reference to nothing": ("slur", lambda e: e.set("endid", "#nobody"), "broken"),
    "a staff that is not defined": ("staff", lambda e: e.set("n", "2"), "broken"),
    "a clef without a line": ("clef", lambda e: e.attrib.pop("line"), "broken"),
    "dots without a length": (
        "rest", lambda e: (e.set("dots", "1"), e.attrib.pop("dur")), "broken",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("name", "spoil", "said"), SPOILT.values(), ids=SPOILT)
def test_a_spoilt_document_is_caught(name: str, spoil: object, said: str) -> None:
    root = _root()
    assert mistakes(etree.tostring(root, encoding="unicode")) == []
    element = root if name == "mei" else _first(root, name)
    spoil(element)  # type: ignore[operator]
    found = mistakes(etree.tostring(root, encoding="unicode"))
    assert any(said in line for line in found), found
