from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from hymns_for_print import DENSE, GREEK, PSALM
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from chantwright.engrave import StaffOptions
from chantwright.engrave.events import sheet
from chantwright.engrave.musicxml import to_musicxml
from chantwright.score import Base, Hymn, Note, Phrase, Syllable, number, validate, walk
from chantwright.score.melody import to_hymn
from chantwright.score.musicxml import loads_musicxml
from chantwright.tones import load_tones

TONES = load_tones()
HYMNS = [PSALM, DENSE, GREEK]
EXACT = StaffOptions(accidentals="exact")

# The schema of MusicXML 4.0 imports two W3C schemas by address; these declare the same attributes
# (W3C, XML namespace and XLink 1.1), so that nothing is fetched.
XML_XSD = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
 targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/>
<xs:attribute name="space"><xs:simpleType><xs:restriction base="xs:NCName">
<xs:enumeration value="default"/><xs:enumeration value="preserve"/>
</xs:restriction></xs:simpleType></xs:attribute></xs:schema>"""
XLINK_XSD = (
    '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"'
    ' targetNamespace="http://www.w3.org/1999/xlink"><xs:attribute name="href" type="xs:anyURI"/>'
    + "".join(
        f'<xs:attribute name="{n}" type="xs:token"/>'
        for n in ("type", "role", "title", "show", "actuate")
    )
    + "</xs:schema>"
)


@pytest.fixture(scope="module")
def schema(tmp_path_factory: pytest.TempPathFactory) -> etree.XMLSchema:
    # W3C, MusicXML 4.0 schema, as the registry package "musicxml" carries it.
    text = (resources.files("musicxml") / "generate_classes" / "musicxml_4_0.xsd").read_text(
        encoding="utf-8"
    )
    assert "Version 4.0" in text[:400]
    folder = tmp_path_factory.mktemp("schema")
    (folder / "xml.xsd").write_text(XML_XSD)
    (folder / "xlink.xsd").write_text(XLINK_XSD)
    (folder / "musicxml.xsd").write_text(
        text.replace("http://www.musicxml.org/xsd/", ""), encoding="utf-8"
    )
    return etree.XMLSchema(etree.parse(str(folder / "musicxml.xsd")))


def check(schema: etree.XMLSchema, text: str) -> None:
    schema.validate(etree.fromstring(text.encode()))
    assert not list(schema.error_log)


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
@pytest.mark.parametrize("accidentals", ["exact", "conventional", "none"])
def test_valid_by_the_published_schema(
    schema: etree.XMLSchema, hymn: Hymn, accidentals: Any
) -> None:
    for clef in ("treble", "men", "bass"):
        check(schema, to_musicxml(hymn, TONES, StaffOptions(accidentals=accidentals, clef=clef)))


def test_the_schema_finds_a_fault(schema: etree.XMLSchema) -> None:
    damaged = to_musicxml(PSALM, TONES).replace("<syllabic>begin<", "<syllabic>start<", 1)
    with pytest.raises(AssertionError):
        check(schema, damaged)


@pytest.fixture
def reader() -> Iterator[Any]:
    # music21 (registry) is the independent reader. It fills the warnings and the modules of the
    # whole process, so it is taken in here only.
    music21 = pytest.importorskip("music21")
    assert "music21" in sys.modules
    yield music21


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_an_independent_reader_finds_every_pitch_length_and_syllable(
    reader: Any, hymn: Hymn
) -> None:
    score = reader.converter.parseData(to_musicxml(hymn, TONES), format="musicxml")
    heard = [
        (n.pitch.step.lower(), int(n.pitch.alter), n.pitch.octave, Fraction(n.quarterLength),
         n.lyric)
        for n in score.stripTies().recurse().notes
    ]  # fmt: skip
    drawn = sheet(hymn, TONES, StaffOptions())
    wanted = [
        (e.spelling.step, e.spelling.alteration, e.spelling.octave, e.note.beats,
         e.syllable.text if e.first else None)
        for e in drawn.events
    ]  # fmt: skip
    assert heard == wanted


@pytest.mark.parametrize("options", [StaffOptions(), EXACT], ids=["by degree", "exact"])
@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_our_own_reader_gives_the_hymn_back(hymn: Hymn, options: StaffOptions) -> None:
    melody = loads_musicxml(to_musicxml(hymn, TONES, options).encode())
    wanted = number(hymn)
    assert to_hymn(melody, TONES) == replace(wanted, melody_kind=hymn.melody_kind or "written")


beats = st.sampled_from([Fraction(n) for n in ("1", "2", "1/2", "3/2", "4", "1/4", "3", "1/3")])
bends = st.sampled_from([Fraction(n) for n in ("0", "0", "0", "-2", "4", "6", "1/2", "-8")])


@st.composite
def hymns(draw: st.DrawFn) -> Hymn:
    branch = draw(st.sampled_from(sorted(TONES.branches)))
    phrases = []
    for _ in range(draw(st.integers(1, 3))):
        syllables: list[Syllable] = []
        for _ in range(draw(st.integers(1, 4))):
            count = draw(st.integers(1, 3))
            sung = tuple(
                tuple(
                    Note(draw(st.integers(-5, 12)), draw(beats), draw(bends))
                    for _ in range(draw(st.integers(1, 3)))
                )
                for _ in range(count)
            )
            for i, notes in enumerate(sung):
                place: Any = "single"
                if count > 1:
                    place = "begin" if i == 0 else ("end" if i + 1 == count else "middle")
                text = draw(
                    st.sampled_from(["Lord", "cry,", "ἐλέ", "a-b", "<&>", "thee; "])
                ).strip()
                ison: Any = draw(st.sampled_from([None, "unison", 1, 4, -2]))
                syllables.append(Syllable(text, place, draw(st.integers(0, 2)), notes, ison))
        phrases.append(
            Phrase(
                tuple(syllables),
                cadence=draw(st.sampled_from([None, "medial", "full", "final", "long"])),
                rubric=draw(st.sampled_from(["", "Left choir", "First\nSecond"])),
                verse_start=draw(st.booleans()),
                rest=draw(st.sampled_from([Fraction(0), Fraction(1), Fraction(3, 2)])),
            )
        )
    hymn = Hymn(
        title=draw(st.sampled_from(["Evening psalm", "Ψαλμός"])),
        tone=TONES.branches[branch].tone,
        branch=branch,
        tempo=draw(st.sampled_from([None, 90, 132])),
        base=draw(st.sampled_from([None, Base(1, 146.83), Base(4, 1000 / 7)])),
        melody_kind="written",
        phrases=tuple(phrases),
    )
    return number(hymn)


@settings(deadline=None, max_examples=30)
@given(hymns(), st.sampled_from([StaffOptions(), EXACT]))
def test_any_hymn_is_valid_and_comes_back(
    schema: etree.XMLSchema, hymn: Hymn, options: StaffOptions
) -> None:
    validate_ok(hymn)
    text = to_musicxml(hymn, TONES, options)
    check(schema, text)
    assert to_hymn(loads_musicxml(text.encode()), TONES) == hymn


def validate_ok(hymn: Hymn) -> None:
    validate.validate(hymn)


def test_ids_are_those_of_the_score() -> None:
    root = etree.fromstring(to_musicxml(PSALM, TONES).encode())
    found = {e.get("id") for e in root.iter("note")}
    assert {f"{s.id}n{i + 1}" for _, s, i, _ in walk(number(PSALM))} <= found


def test_same_hymn_same_file(tmp_path: Path) -> None:
    assert to_musicxml(PSALM, TONES) == to_musicxml(PSALM, TONES)
