"""One score in four readings, alone and together."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pdfplumber
import pytest
from click.testing import CliRunner
from drawn_ink import ink
from hymns_for_print import GREEK, PSALM, phrase

from chantwright.cli import main
from chantwright.engrave import Booklet, Entry, booklet_pdf, to_mei
from chantwright.engrave.lettered import letter_systems, word_systems
from chantwright.engrave.neumes import NeumeOptions
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.readings import READINGS, blocks
from chantwright.engrave.staff import lines
from chantwright.errors import ChantError
from chantwright.score import Hymn, number
from chantwright.tones import load_tones

TONES = load_tones()
SVG = "{http://www.w3.org/2000/svg}"
WORDS = " ".join(p.words for p in PSALM.phrases)


def texts(svg: str, kind: str) -> list[str]:
    return [
        "".join(t.itertext())
        for t in ET.fromstring(svg).iter(f"{SVG}text")
        if t.get("class") == kind
    ]


@pytest.mark.parametrize("reading", READINGS)
def test_one_reading_has_every_word_in_order(reading: str) -> None:
    found = blocks(PSALM, TONES, (reading,))
    assert " ".join(s.words for b in found for _, s in b.systems) == WORDS


@pytest.mark.parametrize(
    "readings", [c for n in (2, 3, 4) for c in combinations(READINGS, n)], ids="+".join
)
def test_any_readings_together_keep_each_phrase_in_one_block(readings: tuple[str, ...]) -> None:
    hymn = number(PSALM)
    found = blocks(hymn, TONES, readings)
    assert [b.phrases for b in found] == [(p.id,) for p in hymn.phrases]
    for block, one in zip(found, hymn.phrases, strict=True):
        assert list(dict.fromkeys(r for r, _ in block.systems)) == list(readings)
        for reading in readings:
            said = " ".join(s.words for r, s in block.systems if r == reading)
            assert said == one.words
        assert block.rubric == one.rubric
    assert [b.verse_start for b in found] == [p.verse_start for p in hymn.phrases]
    ids = [
        i
        for b in found
        for _, s in b.systems
        for i in re.findall(r'<(?:g|text|tspan)[^>]* id="([^"]+)"', s.svg)
    ]
    assert len(ids) == len(set(ids)), "an id stands twice on the page"


LONG = Hymn(
    title="Long phrases",
    tone=1,
    phrases=(
        phrase(
            "When:1 the:2 morn-ing:3,4*1/2,3*1/2|2 stars:1,2,3 sang:4,3,2 to-geth-er:3|4|3,2,1 "
            "and:1 all:2 the:3 sons:4 of:3 God:2,3,4,3 shout-ed:2|1 out:1,2,3 for:2 joy:1*3"
        ),
        phrase("Hal-le-lu-ia:1|2|3,2|1", "full"),
        phrase(
            "A-" * 3 + "men:" + "|".join(["1,2,3,4,3,2,3,4,5,4,3,2,1,2,3"] * 3) + "|1*4", "final"
        ),
    ),
)


@pytest.mark.parametrize("readings", [("staff", "neumes"), ("neumes", "staff"), READINGS])
@pytest.mark.parametrize("width", [80, 110, 170])
def test_lines_of_a_phrase_end_at_the_same_words_in_every_reading(
    readings: tuple[str, ...], width: int
) -> None:
    found = blocks(LONG, TONES, readings, StaffOptions(width_mm=width))
    several = 0
    for block in found:
        several += len(block.rows) > 1
        for row in block.rows:
            said: dict[str, str] = {}
            for reading, system in row:
                said[reading] = f"{said.get(reading, '')} {system.words}".strip()
                assert system.width_mm <= width + 0.1
            notated = {w for r, w in said.items() if r != "words"}
            # A word that goes on into the next line stands whole where words stand alone.
            assert len(notated) == 1, said
            if "words" in said and not any(w.startswith(("men", "A")) for w in said.values()):
                assert said["words"].split()[0] == next(iter(notated)).split()[0]
    assert several >= (1 if width < 170 else 0)
    flat = [s for b in found for s in b.systems]
    for reading in readings:
        assert " ".join(s.words for r, s in flat if r == reading).replace(" ", "") == "".join(
            p.words for p in LONG.phrases
        ).replace(" ", "")


def test_unknown_repeated_and_missing_readings_are_sentences() -> None:
    for readings, said in (
        (("tablature",), "tablature"),
        (("staff", "staff"), "twice"),
        ((), "nothing"),
    ):
        with pytest.raises(ChantError, match=said):
            blocks(PSALM, TONES, readings)


def test_letters_name_notes_octaves_and_beats() -> None:
    hymn = Hymn(tone=1, phrases=(phrase("Come:1*2 all:1*1/2,2*1/2 now:8,7*3,-1"),))
    said = [t for s in letter_systems(hymn, TONES) for t in texts(s.svg, "letter")]
    assert said == ["Pa·", "Pa", "Vou", "Pa’", "Ni’··", "Zo_"]
    greek = letter_systems(hymn, TONES, NeumeOptions(letters="byzantine", script="greek"))
    assert [t for s in greek for t in texts(s.svg, "letter")][:3] == ["Πα·", "Πα", "Βου"]
    western = letter_systems(hymn, TONES, NeumeOptions(letters="western"))
    assert [t for s in western for t in texts(s.svg, "letter")][:3] == ["re·", "re", "mi"]
    western_greek = letter_systems(hymn, TONES, NeumeOptions(letters="western", script="greek"))
    assert [t for s in western_greek for t in texts(s.svg, "letter")][:3] == ["ρε·", "ρε", "μι"]


def test_notes_that_share_a_beat_stand_over_one_line() -> None:
    hymn = Hymn(tone=1, phrases=(phrase("Come:1 all:1*1/3,2*1/3,3*1/3 now:2*1/2 then:1*1/2"),))
    svg = letter_systems(hymn, TONES)[0].svg
    assert svg.count('class="beat"') == 2
    assert all(r.area > 0 for r in ink(svg).rules)


def test_letters_and_words_do_not_collide() -> None:
    for hymn in (PSALM, GREEK):
        for system in letter_systems(hymn, TONES, NeumeOptions(width_mm=110)):
            found = ink(system.svg)
            areas = [a for _, _, a in found.words]
            for k, area in enumerate(areas):
                assert found.page.buffer(2).contains(area)
                assert all(area.intersection(o).area < 1 for o in areas[k + 1 :])


def test_words_alone_mark_the_stressed_syllables_and_need_no_melody() -> None:
    one = phrase("Bless-ed:1|1 man:1")
    stressed = [
        replace(s, stress=1 if s.text in ("Bless", "man") else 0, notes=()) for s in one.syllables
    ]
    hymn = Hymn(phrases=(replace(one, syllables=tuple(stressed)),))
    (system,) = word_systems(hymn)
    assert system.words == "Blessed man"
    assert system.svg.count('class="stress"') == 2
    root = ET.fromstring(system.svg)
    assert ["".join(t.itertext()) for t in root.iter(f"{SVG}text")] == ["Blessed", "man"]


def test_words_of_right_to_left_letters_follow_each_other_leftwards() -> None:
    # Unicode Standard Annex 9: letters of Hebrew and Arabic run from right to left.
    for line in ("בר-כי:1|1 נפ-שי:1|1 את:1", "با-ركي:1|1 يا:1 نف-سي:1|1"):
        hymn = Hymn(phrases=(phrase(line),))
        (system,) = word_systems(hymn)
        at = [float(t.get("x", "")) for t in ET.fromstring(system.svg).iter(f"{SVG}text")]
        assert at == sorted(at, reverse=True)
        assert all(0 <= x <= system.width_mm / NeumeOptions().unit_mm for x in at)
        # Under notes each syllable keeps its own, so they follow the notes.
        for reading in ("staff", "neumes", "letters"):
            sung = replace(hymn, tone=1)
            found = blocks(sung, TONES, (reading,))
            assert " ".join(s.words for b in found for _, s in b.systems) == hymn.phrases[0].words


@pytest.mark.parametrize("reading", READINGS)
def test_a_letter_without_a_font_is_named_with_its_syllable(reading: str) -> None:
    hymn = Hymn(tone=1, phrases=(phrase("Sing:1 hal-ለ-ia:1|1|2 now:1"),))
    with pytest.raises(ChantError, match="no letter “ለ”") as caught:
        blocks(hymn, TONES, (reading,))
    assert caught.value.where.word == "ለ"
    assert "Greek" in caught.value.remedy
    # Nothing is drawn in a file for other programs.
    assert "ለ" in to_mei(hymn, TONES)
    # Letters that one of the fonts has are printed, whatever the script.
    fine = Hymn(tone=1, phrases=(phrase("Ἀλ-λη:1|1 слава:1 ღმერთო:1 سلام:1 שלום:1 šø:1"),))
    assert blocks(fine, TONES, (reading,))


def test_long_words_lines_are_broken_between_words() -> None:
    hymn = Hymn(tone=1, phrases=(phrase(" ".join("word:1" for _ in range(60))),))
    found = word_systems(hymn, NeumeOptions(width_mm=100))
    assert len(found) > 2
    assert all(s.width_mm <= 100 for s in found)


def test_a_staff_by_phrase_begins_each_phrase_on_a_new_line() -> None:
    found = lines(PSALM, TONES, StaffOptions(by_phrase=True))
    assert all(len(s.phrases) == 1 for s in found)


@pytest.mark.parametrize(
    ("accidentals", "flats", "numbers"),
    [("exact", True, True), ("conventional", True, False), ("none", False, False)],
)
def test_accidentals_switch(accidentals: str, flats: bool, numbers: bool) -> None:
    bent = replace(PSALM.phrases[0].syllables[0].notes[0], bend=Fraction(-8))
    first = replace(PSALM.phrases[0].syllables[0], notes=(bent,))
    one = replace(PSALM.phrases[0], syllables=(first, *PSALM.phrases[0].syllables[1:]))
    svg = lines(replace(PSALM, phrases=(one,)), TONES, StaffOptions(accidentals=accidentals))[0].svg  # type: ignore[arg-type]
    assert ('class="accid"' in svg) is flats
    assert ('class="moria"' in svg) is numbers


def _booklet(readings: tuple[str, ...], *, black: bool = False) -> Booklet:
    return Booklet(
        title="Vespers",
        entries=(Entry("hymn", PSALM.title, PSALM),),
        readings=readings,
        black=black,
    )


@pytest.mark.parametrize(
    "readings", [("neumes",), ("staff", "neumes"), ("letters",), ("words",), READINGS]
)
def test_a_booklet_holds_the_readings_with_fonts_inside(
    readings: tuple[str, ...], tmp_path: Path
) -> None:
    path = tmp_path / "b.pdf"
    path.write_bytes(booklet_pdf(_booklet(readings), TONES))
    with pdfplumber.open(path) as pdf:
        words = " ".join(page.extract_text() for page in pdf.pages)
        fonts = {c["fontname"] for page in pdf.pages for c in page.chars}
    assert all("+" in f for f in fonts), "a font is not embedded"
    flat = re.sub(r"[^a-z]", "", words.lower())
    for word in ("blessed", "counsel", "scornful", "meditate"):
        assert word in flat.replace("-", "")


def test_a_page_never_parts_the_readings_of_a_phrase(tmp_path: Path) -> None:
    names = [
        "oak",
        "elm",
        "ash",
        "yew",
        "fir",
        "larch",
        "beech",
        "birch",
        "thorn",
        "reed",
        "rush",
        "fern",
        "moss",
        "vine",
        "palm",
        "rose",
    ]
    lines_ = [f"now:1 sing:2 of:3 the:3 {n}:2 and:3 all:3 the:2 trees:1*2" for n in names]
    hymn = Hymn(title="Trees", tone=1, phrases=tuple(phrase(line) for line in lines_))
    readings = ("staff", "neumes", "letters")
    booklet = replace(_booklet(readings), entries=(Entry("hymn", "Trees", hymn),))
    path = tmp_path / "b.pdf"
    path.write_bytes(booklet_pdf(booklet, TONES))
    pages = []
    with pdfplumber.open(path) as pdf:
        for page in pdf.pages:
            pages.append([w["text"] for w in page.extract_words()])
    assert len(pages) > 4
    for name in names:
        found = [p.count(name) for p in pages if name in p]
        assert found == [3], name


def test_letters_stand_under_neumes_when_no_other_reading_has_them(tmp_path: Path) -> None:
    for readings, letters, wanted in (
        (("neumes",), "byzantine", True),
        (("neumes",), None, False),
        (("neumes", "staff"), None, False),
    ):
        path = tmp_path / "b.pdf"
        booklet = replace(_booklet(readings), letters=letters)  # type: ignore[arg-type]
        path.write_bytes(booklet_pdf(booklet, TONES))
        with pdfplumber.open(path) as pdf:
            words = " ".join(page.extract_text() for page in pdf.pages)
        assert (words.count("Vou") > 5) is wanted


def test_a_parish_row_on_neumes_reaches_the_booklet(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[neume_step]]\nid = "1"\nsigns = ["nonsense"]\n')
    booklet = replace(_booklet(("neumes",)), overrides=(own,))
    with pytest.raises(ChantError, match="nonsense"):
        booklet_pdf(booklet, TONES)


def test_black_only_prints_no_colour(tmp_path: Path) -> None:
    path = tmp_path / "b.pdf"
    path.write_bytes(booklet_pdf(_booklet(("staff", "neumes"), black=True), TONES))
    with pdfplumber.open(path) as pdf:
        for page in pdf.pages:
            for item in [*page.chars, *page.curves]:
                colour = item.get("non_stroking_color")
                parts = colour if isinstance(colour, tuple | list) else (colour,)
                assert len(set(parts)) == 1, colour


def test_the_print_verb_takes_readings(tmp_path: Path) -> None:
    source = tmp_path / "psalm.txt"
    source.write_text("title: Psalm\ntone: 1\n\nOut of the depths have I cried.\n")
    out = tmp_path / "b.pdf"
    result = CliRunner().invoke(
        main, ["print", str(source), "--as", "staff", "--as", "neumes", "-o", str(out)]
    )
    assert result.exit_code == 0, result.output
    with pdfplumber.open(out) as pdf:
        words = " ".join(page.extract_text() for page in pdf.pages)
    assert "Ἦχος" in words
    assert len(re.findall("depths", words)) >= 2


def test_the_print_verb_takes_script_and_accidentals(tmp_path: Path) -> None:
    source = tmp_path / "psalm.txt"
    source.write_text("title: Psalm\ntone: 1\n\nOut of the depths have I cried.\n")
    out = tmp_path / "b.pdf"
    more = ["--script", "greek", "--accidentals", "exact", "-o", str(out)]
    result = CliRunner().invoke(main, ["print", str(source), *more])
    assert result.exit_code == 0, result.output
    with pdfplumber.open(out) as pdf:
        words = " ".join(page.extract_text() for page in pdf.pages)
    assert "Πα" in words
    assert "moria" in words


def test_the_print_verb_refuses_an_unknown_reading(tmp_path: Path) -> None:
    source = tmp_path / "psalm.txt"
    source.write_text("title: Psalm\ntone: 1\n\nOut of the depths.\n")
    result = CliRunner().invoke(main, ["print", str(source), "--as", "tablature"])
    assert result.exit_code != 0
    assert "tablature" in result.output
