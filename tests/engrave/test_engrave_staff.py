from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
import typst
import verovio
from hymns_for_print import DENSE, GREEK, PSALM, phrase
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from PIL import Image, ImageChops

from chantwright.engrave import StaffOptions, hymn_svg, lines, systems, to_mei
from chantwright.engrave.metrics import text_width
from chantwright.errors import ChantError
from chantwright.score import Hymn, Note, Phrase, Syllable, note_id, number, walk
from chantwright.tones import load_tones
from chantwright.tuning import hz

TONES = load_tones()
MEI = {"m": "http://www.music-encoding.org/ns/mei"}
SVG = {"s": "http://www.w3.org/2000/svg"}
HYMNS = [PSALM, DENSE, GREEK]


def parsed(hymn: Hymn, options: StaffOptions | None = None) -> list[Any]:
    return [etree.fromstring(svg.encode()) for svg in systems(hymn, TONES, options)]


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_every_id_of_the_score_is_in_the_drawing_once(hymn: Hymn) -> None:
    found = [e.get("id") for root in parsed(hymn) for e in root.iter() if e.get("id")]
    wanted = {note_id(s, i) for _, s, i, _ in walk(number(hymn))}
    wanted |= {s.id for p in number(hymn).phrases for s in p.syllables}
    assert wanted <= set(found)
    kept = [i for i in found if i in wanted]
    assert len(kept) == len(set(kept))


def test_ids_take_a_prefix_and_pages_can_hold_several_hymns() -> None:
    both = hymn_svg(PSALM, TONES, id_prefix="a.") + hymn_svg(PSALM, TONES, id_prefix="b.")
    found = [e.get("id") for svg in both for e in etree.fromstring(svg.encode()).iter()]
    names = [i for i in found if i]
    assert len(names) == len(set(names))
    assert "b.p1s1n1" in names


def test_same_hymn_same_drawing() -> None:
    assert systems(PSALM, TONES) == systems(PSALM, TONES)


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_drawing_needs_no_style(hymn: Hymn) -> None:
    # A page under `style-src 'self'` refuses style elements and attributes (W3C CSP level 3).
    for root in parsed(hymn):
        assert not root.xpath("//s:style", namespaces=SVG)
        assert not root.xpath("//@style")
        uses = {h.lstrip("#") for h in root.xpath("//s:use/@href", namespaces=SVG)}
        assert uses <= set(root.xpath("//@id"))


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_another_reader_finds_every_pitch_and_length(hymn: Hymn) -> None:
    """A plain engraver reads our MEI and says when and which key each note sounds."""
    mei = to_mei(hymn, TONES)
    reader = verovio.toolkit()
    assert reader.loadData(mei)
    reader.renderToMIDI()
    branch = TONES.branch(hymn.branch) if hymn.branch else TONES.default_branch(hymn.tone or 1)
    scale = TONES.scales[branch.scale]
    times: dict[str, list[float]] = {}
    for event in reader.renderToTimemap({"includeRests": False}):
        for key, place in (("on", 0), ("off", 1)):
            for name in event.get(key, []):
                times.setdefault(name, [0.0, 0.0])[place] = event["qstamp"]
    now = Fraction(0)
    for part, syllable, index, note in walk(number(hymn)):
        name = note_id(syllable, index)
        key = reader.getMIDIValuesForElement(name)["pitch"]
        # The nearest key to the degree when ni is c of the piano.
        sounds = hz(scale, note.degree, base_degree=0, base_hz=261.6255653, bend=note.bend)
        best = 440 * 2 ** ((key - 69) / 12)
        assert abs(sounds / best - 1) < 2 ** (3.01 / 72) - 1
        assert times[name][0] == pytest.approx(float(now), abs=0.01)
        now += note.beats
        last = part.syllables[-1]
        if syllable is last and index + 1 == len(syllable.notes):
            now += part.rest


def test_mei_gives_back_every_syllable_and_word() -> None:
    root = etree.fromstring(to_mei(PSALM, TONES).encode())
    assert root.get("meiversion") == "5.1"
    found = root.xpath("//m:verse[@n='1']/m:syl", namespaces=MEI)
    wanted = [s for p in PSALM.phrases for s in p.syllables]
    assert [s.text for s in found] == [s.text for s in wanted]
    places = {None: "single", "i": "begin", "m": "middle", "t": "end"}
    assert [places[s.get("wordpos")] for s in found] == [s.place for s in wanted]
    measures = root.xpath("//m:measure", namespaces=MEI)
    assert len(measures) == len(PSALM.phrases)
    assert {m.get("metcon") for m in measures} == {"false"}
    bars = [m.get("right") for m in measures]
    assert bars == ["invis", "invis", "single", "dbl", "invis", "end"]
    assert len(root.xpath("//m:breath", namespaces=MEI)) == 3
    ids = root.xpath("//@xml:id")
    assert len(ids) == len(set(ids))
    targets = {t.lstrip("#") for t in root.xpath("//@startid | //@endid")}
    assert targets <= set(ids)


def test_drone_letters_stand_where_the_drone_moves() -> None:
    root = etree.fromstring(to_mei(PSALM, TONES).encode())
    found = [
        (d.get("startid"), "".join(d.itertext())) for d in root.xpath("//m:dir", namespaces=MEI)
    ]
    assert found == [("#p1s1n1", "Pa"), ("#p3s1n1", "Di"), ("#p4s1n1", "Pa"), ("#p6s1n1", "un.")]
    drawn = [
        t.text for r in parsed(PSALM) for t in r.xpath("//s:text[@class='ison']", namespaces=SVG)
    ]
    assert [t for t in drawn if not t.startswith("(")] == ["Pa", "Di", "Pa", "un."]
    assert not [r for r in parsed(PSALM, StaffOptions(ison=False)) if r.xpath("//*[@class='ison']")]


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (StaffOptions(), ["Pa", "Pa", "Pa", "Vou", "Ga", "Di", "Ga", "Vou"]),
        (StaffOptions(letters="western"), ["re", "re", "re", "mi", "fa", "sol", "fa", "mi"]),
        (StaffOptions(script="greek"), ["Πα", "Πα", "Πα", "Βου", "Γα", "Δι", "Γα", "Βου"]),
        (
            StaffOptions(letters="western", script="greek"),
            ["ρε", "ρε", "ρε", "μι", "φα", "σολ", "φα", "μι"],
        ),
        (StaffOptions(letters=None), []),
    ],
)
def test_letters_in_either_system_and_script(options: StaffOptions, expected: list[str]) -> None:
    root = parsed(PSALM, options)[0]
    found = [t.text for t in root.xpath("//s:text[@class='letter']", namespaces=SVG)]
    assert found[: len(expected)] == expected
    assert bool(found) == bool(expected)


def accidentals(hymn: Hymn, choice: Any) -> tuple[list[str], list[str], list[str]]:
    """Signature, printed accidentals and numbers over notes."""
    root = etree.fromstring(to_mei(hymn, TONES, StaffOptions(accidentals=choice)).encode())
    return (
        root.xpath("//m:staffDef/@keysig", namespaces=MEI),
        root.xpath("//m:accid/@accid", namespaces=MEI),
        [d.text for d in root.xpath("//m:dir[not(m:rend)]", namespaces=MEI)],
    )


def test_accidentals_exact_conventional_none() -> None:
    bent = Phrase(
        tuple(
            Syllable(t, notes=(Note(d, bend=Fraction(b)),))
            for t, d, b in [("a", 6, -4), ("b", 6, -4), ("c", 6, 0), ("d", 1, 4), ("e", 0, 2)]
        )
    )
    hymn = Hymn(tone=1, phrases=(bent,))
    # zo with -4 is b flat, said once for the note held, then natural; pa +4 is d sharp -2.
    assert accidentals(hymn, "conventional") == ([], ["f", "n", "s"], [])
    assert accidentals(hymn, "exact") == ([], ["f", "n", "s"], ["−2", "+2"])
    assert accidentals(hymn, "none") == ([], [], [])
    hard = replace(PSALM, tone=2, branch="t2.heirmologic_hard", phrases=(phrase("a:1 b:2 c:3"),))
    assert accidentals(hard, "conventional") == (["2f"], ["s"], [])
    assert accidentals(hard, "none") == ([], [], [])


def test_a_rubric_or_verse_begins_a_line_and_phrases_stay_whole() -> None:
    found = lines(PSALM, TONES)
    assert [s.rubric for s in found if s.rubric] == ["Left choir"]
    assert [s.words for s in found if s.verse_start] == [
        next(s.words for s in found if s.rubric == "Left choir")
    ]
    # Each phrase is narrower than a line, so none is broken.
    assert sum(len(s.phrases) for s in found) == len(PSALM.phrases)
    assert " ".join(s.words for s in found) == " ".join(p.words for p in PSALM.phrases)


@pytest.mark.parametrize("width", [70, 120, 170])
@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_lines_keep_to_the_width(hymn: Hymn, width: int) -> None:
    for system in lines(hymn, TONES, StaffOptions(width_mm=width)):
        assert system.width_mm <= width + 0.5
        box = etree.fromstring(system.svg.encode()).get("viewBox").split()
        assert float(box[2]) / float(box[3]) == pytest.approx(
            system.width_mm / system.height_mm, rel=2e-3
        )


def gaps(svg: str, options: StaffOptions) -> list[float]:
    """Room between neighbours of a text line, in ems of the words."""
    root = etree.fromstring(svg.encode())
    out = []
    for kind in ("syl", "letter"):
        texts = root.xpath(f"//s:text[@class='{kind}']", namespaces=SVG)
        for one, after in pairwise(texts):
            size = float(one.get("font-size"))
            right = float(one.get("x")) + text_width(one.text or "") * size
            out.append((float(after.get("x")) - right) / size)
    return out


WORDS = st.lists(
    st.lists(st.sampled_from(["a", "strengths", "the", "I", "Lord,", "thought", "λό"]), max_size=4),
    min_size=3,
    max_size=24,
)


@settings(deadline=None, max_examples=25)
@given(WORDS, st.sampled_from([8.0, 12.5, 20.0]), st.integers(0, 5))
def test_words_never_touch(words: list[list[str]], size: float, seed: int) -> None:
    lengths = [Fraction(1), Fraction(1, 2), Fraction(2), Fraction(1, 4)]
    made: list[Syllable] = []
    for number_, parts in enumerate(w or ["O"] for w in words):
        for i, text in enumerate(parts):
            place: Any = "middle"
            if len(parts) == 1:
                place = "single"
            elif i in (0, len(parts) - 1):
                place = "end" if i else "begin"
            count = 1 + (number_ + i * seed) % 3 // 2 * 2
            sung = tuple(
                Note((number_ * 3 + k + i) % 7, lengths[(number_ + i + k + seed) % 4])
                for k in range(count)
            )
            made.append(Syllable(text, place, notes=sung))
    options = StaffOptions(words_pt=size, staff_mm=7.0)
    for svg in systems(Hymn(tone=1, phrases=(Phrase(tuple(made)),)), TONES, options):
        assert all(gap >= 0.15 for gap in gaps(svg, options))


def ink(svg: str, room: float) -> tuple[tuple[int, int, int, int] | None, tuple[int, int]]:
    """Box of the ink on a page `room` units larger than the drawing on every side."""
    root = etree.fromstring(svg.encode())
    x, y, w, h = (float(n) for n in root.get("viewBox").split())
    root.set("viewBox", f"{x - room} {y - room} {w + 2 * room} {h + 2 * room}")
    page = "#set page(width: auto, height: auto, margin: 0pt)\n#image(bytes(sys.inputs.svg))"
    inputs = {"svg": etree.tostring(root, encoding="unicode")}
    png = typst.compile(page.encode(), format="png", ppi=20, sys_inputs=inputs)
    picture = Image.open(io.BytesIO(png)).convert("L")
    return ImageChops.invert(picture).getbbox(), picture.size


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_nothing_is_cut_off(hymn: Hymn) -> None:
    room = 900.0
    for system in lines(hymn, TONES, StaffOptions(accidentals="exact")):
        box, size = ink(system.svg, room)
        assert box is not None
        width = float(etree.fromstring(system.svg.encode()).get("viewBox").split()[2])
        edge = room * size[0] / (width + 2 * room)
        slack = 2.0  # pixels, for anti-aliasing
        assert box[0] >= edge - slack
        assert box[1] >= edge - slack
        assert box[2] <= size[0] - edge + slack
        assert box[3] <= size[1] - edge + slack
        # ... and it is cut close.
        assert box[1] <= edge + 0.2 * (size[1] - 2 * edge)


@pytest.mark.parametrize(
    ("hymn", "match"),
    [
        (Hymn(tone=1), "no words yet"),
        (Hymn(tone=1, phrases=(Phrase(text="O taste and see"),)), "no melody yet"),
        (replace(PSALM, tone=None, branch=None), "names no tone"),
        (replace(PSALM, branch="t9.x"), "no branch"),
        (replace(PSALM, phrases=(replace(PSALM.phrases[0], scale="nope"),)), "no scale"),
        (Hymn(tone=1, phrases=(phrase("a:1*1/7"),)), "cannot be printed"),
    ],
)
def test_what_cannot_be_drawn_is_a_sentence(hymn: Hymn, match: str) -> None:
    with pytest.raises(ChantError, match=match) as caught:
        systems(hymn, TONES)
    assert caught.value.remedy


@pytest.mark.parametrize(
    "choice", [{"letters": "x"}, {"clef": "alto"}, {"width_mm": 1}, {"words_pt": 400}]
)
def test_a_wrong_option_is_a_sentence(choice: dict[str, Any]) -> None:
    with pytest.raises(ChantError, match=next(iter(choice))):
        StaffOptions(**choice)


def test_a_long_phrase_and_a_long_melisma() -> None:
    long = Phrase(PSALM.phrases[1].syllables * 36)
    found = lines(replace(PSALM, phrases=(long,)), TONES)
    assert " ".join(s.words for s in found) == long.words
    sung = Syllable("A", "begin", notes=tuple(Note(i % 6) for i in range(120)))
    close = Syllable("men.", "end", notes=(Note(1),))
    drawn = parsed(replace(PSALM, phrases=(Phrase((sung, close)),)))
    assert len(drawn) > 2
    for root in drawn[:-1]:  # hyphens go on to the line's end
        assert root.xpath("//s:rect[@class='hyphen']", namespaces=SVG)
