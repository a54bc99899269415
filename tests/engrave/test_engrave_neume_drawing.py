"""Neumes as drawn: nothing touches, nothing is cut off, all ids are kept.

Checked from the outlines in the drawings themselves, flattened to polygons, not from the boxes that
the layout works with.
"""

from __future__ import annotations

import random
import re
import unicodedata
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from drawn_ink import SVG, Ink, ink
from hymns_for_print import DENSE, GREEK, PSALM, phrase
from neume_lines import random_line
from shapely.strtree import STRtree

from chantwright.engrave.neumes import NeumeOptions, load_tables, systems
from chantwright.engrave.neumes.cluster import cluster
from chantwright.engrave.neumes.marks import family, martyria, mode_signs, phthora_code, tempo_code
from chantwright.engrave.neumes.model import Neume
from chantwright.engrave.neumes.orthography import spell
from chantwright.engrave.neumes.outlines import has_outline, outline
from chantwright.engrave.neumes.signature import signature
from chantwright.engrave.neumes.systems import Canvas
from chantwright.engrave.neumes.times import timed
from chantwright.errors import ChantError
from chantwright.score import Hymn, Ison, Note, Phrase, Place, Syllable, number
from chantwright.tones import load_tones

TONES = load_tones()
TABLES = load_tables()
DRONES: tuple[Ison, ...] = (1, 1, 1, 4, "unison", None)
SIZES = (9, 12.5, 20, 28)


def random_hymn(seed: int, phrases: int = 6) -> Hymn:
    """A hymn of random lines, with accidentals, scale changes, drones, rests and words."""
    source = random.Random(seed)
    words = ["a", "I", "thee,", "Lord", "through", "strengths", "O", "soul;", "we", "bless"]
    degree, out = 1, []
    for _ in range(phrases):
        syllables: list[Syllable] = []
        rest = Fraction(0)
        for tone in random_line(source, TABLES):
            if tone.step is None:
                rest = Fraction(source.randint(1, 5))
                continue
            degree += tone.step
            if not -9 <= degree <= 16:  # turn back into the compass of a voice
                degree -= 2 * tone.step
            bend = Fraction(source.choice((0, 0, 0, 0, -4, 6, 2, -8)))
            note = Note(degree, tone.beats, bend)
            if tone.fresh or not syllables:
                place: Place = source.choice(("single", "begin", "middle", "end"))
                ison: Ison = source.choice(DRONES)
                syllables.append(Syllable(source.choice(words), place, tone.stress, (note,), ison))
            else:
                last = syllables[-1]
                syllables[-1] = replace(last, notes=(*last.notes, note))
        scale = source.choice((None, None, "soft_chromatic", "hard_chromatic", "enharmonic"))
        out.append(Phrase(tuple(syllables), scale=scale, rest=rest))
    return Hymn(title=f"Random {seed}", tone=1, phrases=tuple(out))


def legal(hymn: Hymn) -> bool:
    try:
        systems(hymn, TONES)
    except ChantError:  # rests left out of a line may leave a beat that cannot be shared
        return False
    return True


def check(found: Ink) -> None:
    shapes = [g for _, g in found.glyphs]
    tree = STRtree(shapes)
    for k, shape in enumerate(shapes):
        for other in tree.query(shape):
            if other > k:
                apart = shape.distance(shapes[other])
                assert apart > 0, (found.glyphs[k][0], found.glyphs[int(other)][0])
        assert found.page.contains(shape), found.glyphs[k][0]
    areas = [a for _, _, a in found.words]
    for k, (kind, said, area) in enumerate(found.words):
        assert not any(area.intersects(shapes[i]) for i in tree.query(area)), said
        assert found.page.buffer(2).contains(area), (kind, said)
        for other in range(k + 1, len(areas)):
            overlap = area.intersection(areas[other]).area
            assert overlap < 1, (said, found.words[other][1])
    for rule in found.rules:
        assert not any(rule.intersects(shapes[i]) for i in tree.query(rule))
        assert found.page.contains(rule)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("hymn", [PSALM, DENSE, GREEK], ids=lambda h: h.title)
def test_nothing_touches_and_nothing_is_cut_off(hymn: Hymn, size: float) -> None:
    for justify in (True, False):
        for letters in ("byzantine", None):
            options = NeumeOptions(size_pt=size, justify=justify, letters=letters, width_mm=150)
            for system in systems(hymn, TONES, options):
                check(ink(system.svg))


def test_nothing_touches_in_random_hymns() -> None:
    drawn = 0
    for seed in range(60):
        hymn = random_hymn(seed)
        if not legal(hymn):
            continue
        size = SIZES[seed % len(SIZES)]
        options = NeumeOptions(
            size_pt=size,
            width_mm=(90, 170, 250)[seed % 3],
            letters=("byzantine", None, "western")[seed % 3],
            justify=seed % 2 == 0,
        )
        for system in systems(hymn, TONES, options):
            check(ink(system.svg))
            drawn += 1
    assert drawn > 200


def test_every_cluster_there_is_keeps_its_signs_apart() -> None:
    seen: set[tuple[str, ...]] = set()
    source = random.Random(2)

    clusters: dict[tuple[object, ...], Neume] = {}
    for _ in range(4000):
        line = random_line(source, TABLES)
        times, _pad = timed([t.beats for t in line], TABLES)
        for neume in spell(line, times, TABLES):
            clusters.setdefault(neume.signs, neume)
    for neume in clusters.values():
        for phthora in ("", "1D0C5"):
            shape = cluster(neume, TABLES, phthora)

            canvas = Canvas.new("t", black=True)
            for piece in shape.pieces:
                canvas.piece(canvas.root, piece, 1000, 2000)
            check(ink(canvas.finish(3000, 4000, "")))
            seen.add(tuple(map(str, neume.signs)))
    assert len(seen) > 300


def test_filled_lines_end_where_the_line_ends() -> None:
    options = NeumeOptions(width_mm=140, size_pt=11)
    found = systems(PSALM, TONES, options)
    filled = [s for s in found if abs(s.width_mm - 140) < 0.2]
    assert filled
    assert all(s.width_mm <= 140.2 for s in found)
    for system in filled:
        right = max(g.bounds[2] for _, g in ink(system.svg).glyphs)
        assert right == pytest.approx(140 / options.unit_mm, abs=3)


def test_no_word_of_a_phrase_is_left_alone_when_it_can_be_helped() -> None:
    first = phrase("Come:1 and:2 hear:3 all:2 ye:1 that:2 fear:3 and:2 wait:1")
    second = phrase("I:1 wait:2 for:3 the:2 light:1 of:2 the:3 morn-ing:2|1 and:2 sing:1")
    for width in range(60, 150, 3):
        options = NeumeOptions(width_mm=width)
        for system in systems(Hymn(tone=1, phrases=(first, second)), TONES, options):
            words = system.words.split()
            assert len(words) > 1
            assert words[-1] != "I"


def test_all_ids_are_kept_once() -> None:
    hymn = number(PSALM)
    ids: list[str] = []
    for system in systems(hymn, TONES, NeumeOptions(id_prefix="h1-")):
        root = ET.fromstring(system.svg)
        ids += [e.get("id", "") for e in root.iter() if e.get("id") and e.tag != f"{SVG}path"]
        assert "style" not in system.svg
    wanted = {f"h1-{p.id}" for p in hymn.phrases}
    wanted |= {f"h1-{s.id}" for p in hymn.phrases for s in p.syllables}
    notes = {
        f"h1-{s.id}n{k + 1}" for p in hymn.phrases for s in p.syllables for k in range(len(s.notes))
    }
    assert wanted | notes <= set(ids)
    assert len(ids) == len(set(ids))


def test_every_note_shows_a_sign() -> None:
    """Also the second note of a pair, and both notes of a hyporrhoe."""
    hymn = Hymn(tone=1, phrases=(phrase("Come:1 all:1*1/2,2*1/2,1,0 now:1,2"),))
    root = ET.fromstring(systems(hymn, TONES)[0].svg)
    for group in root.iter(f"{SVG}g"):
        if group.get("class") == "note":
            assert next(group.iter(f"{SVG}use"), None) is not None, group.get("id")


def test_words_of_a_line_are_text_in_order() -> None:
    for system in systems(PSALM, TONES):
        root = ET.fromstring(system.svg)
        said = [t.text or "" for t in root.iter(f"{SVG}text") if t.get("class") == "syl"]
        assert "".join(said) == system.words.replace(" ", "")
        assert root.get("aria-label") == system.words
    assert " ".join(s.words for s in systems(PSALM, TONES)) == " ".join(
        p.words for p in PSALM.phrases
    )


def test_secondary_signs_are_red_and_black_only_has_no_red() -> None:
    red = "".join(s.svg for s in systems(PSALM, TONES))
    black = "".join(s.svg for s in systems(PSALM, TONES, NeumeOptions(black=True)))
    assert "#a3121f" in red
    assert not re.search(r"#[0-9a-f]{6}", re.sub(r'href="[^"]*"', "", black))
    root = ET.fromstring(systems(DENSE, TONES)[0].svg)
    for use in root.iter(f"{SVG}use"):
        code = use.get("href", "")[1:6]
        if code in ("1D08F", "1D0F5"):  # gorgon: red by common practice
            assert use.get("fill") == "#a3121f"
        if code in ("1D046", "1D047", "1D051"):
            assert use.get("fill") is None


def test_ison_letters_stand_over_the_neumes_where_the_drone_moves() -> None:
    found = "".join(s.svg for s in systems(PSALM, TONES))
    said = re.findall(r'class="ison"[^>]*>([^<]*)<', found)
    assert [s for s in said if not s.startswith("(")] == ["Pa", "Di", "Pa", "un."]
    assert 'class="ison"' not in "".join(
        s.svg for s in systems(PSALM, TONES, NeumeOptions(ison=False))
    )


@pytest.mark.parametrize("scale", sorted(TONES.scales))
def test_every_note_of_every_scale_has_a_martyria_and_a_phthora(scale: str) -> None:
    own = TONES.scales[scale]
    seen = set()
    for degree in range(-9, 17):
        shape = martyria(degree, own, TABLES)
        assert len(shape.pieces) >= 2
        seen.add(tuple((p.code, p.x, p.y) for p in shape.pieces))
        assert has_outline(phthora_code(degree, own, TABLES))
    assert len(seen) == 26, "two notes have the same martyria"


def test_chromatic_and_diatonic_martyriai_differ() -> None:
    di = {s: martyria(4, TONES.scales[s], TABLES).pieces for s in ("diatonic", "soft_chromatic")}
    assert di["diatonic"] != di["soft_chromatic"]
    pa = {s: martyria(1, TONES.scales[s], TABLES).pieces for s in ("diatonic", "hard_chromatic")}
    assert pa["diatonic"] != pa["hard_chromatic"]
    assert family(TONES.scales["hard_chromatic_mixed"], TABLES) == "hard_chromatic"


def test_the_marks_of_a_chromatic_scale_alternate_and_high_ni_has_that_of_ga() -> None:
    # Common practice: two marks alternate from step to step; from di the tetrachord is that of ni.
    for scale, degrees in (("soft_chromatic", range(8)), ("hard_chromatic", range(1, 8))):
        marks = [martyria(d, TONES.scales[scale], TABLES).pieces[1].code for d in degrees]
        assert all(a != b for a, b in pairwise(marks)), scale
        assert len(set(marks)) == 2
    soft = TONES.scales["soft_chromatic"]
    for low, high in ((0, 4), (1, 5), (2, 6), (3, 7)):
        one, other = martyria(low, soft, TABLES), martyria(high, soft, TABLES)
        assert one.pieces[1].code == other.pieces[1].code


@pytest.mark.parametrize("scale", ["diatonic", "soft_chromatic", "hard_chromatic", "enharmonic"])
def test_a_martyria_stands_on_the_axis_of_the_line(scale: str) -> None:
    # Its letter stands just above the middle of an ison or oligon, its mark hangs just below.
    ison = outline("1D046")
    middle = (ison.top + ison.bottom) / 2
    for degree in range(8):
        letter, mark = martyria(degree, TONES.scales[scale], TABLES).pieces[:2]
        assert abs(letter.box[1] - middle) < 80, degree
        assert letter.box[1] > mark.box[3]
        assert abs(mark.box[3] - middle) < 80, degree


def test_letters_of_the_drone_keep_off_the_signs() -> None:
    size = NeumeOptions().words
    seen = 0
    for hymn in (PSALM, DENSE):
        for system in systems(hymn, TONES):
            drawn = ink(system.svg)
            lows = [shape.bounds[3] for kind, _, shape in drawn.words if kind == "ison"]
            if lows:
                seen += 1
                assert min(g.bounds[1] for _, g in drawn.glyphs) - max(lows) > 0.1 * size
    assert seen > 3


def test_a_phthora_stands_where_the_scale_changes_and_only_there() -> None:
    changed = replace(PSALM.phrases[2], scale="hard_chromatic")
    back = replace(PSALM.phrases[4], scale="diatonic")
    phrases = (*PSALM.phrases[:2], changed, PSALM.phrases[3], back, PSALM.phrases[5])
    found = "".join(s.svg for s in systems(replace(PSALM, phrases=phrases), TONES))
    hard = phthora_code(1, TONES.scales["hard_chromatic"], TABLES)
    plain = phthora_code(1, TONES.scales["diatonic"], TABLES)
    uses = re.findall(r'href="#(1D0[0-9A-F]{2})', found)
    assert uses.count(hard) == 1
    assert uses.count(plain) == 1
    assert not {hard, plain} & set(
        re.findall(r'href="#(1D0[0-9A-F]{2})', "".join(s.svg for s in systems(PSALM, TONES)))
    )


@pytest.mark.parametrize("branch", sorted(TONES.branches))
def test_every_branch_has_a_signature(branch: str) -> None:
    hymn = Hymn(branch=branch, tone=TONES.branches[branch].tone)
    system = signature(hymn, TONES)
    check(ink(system.svg))
    assert mode_signs(hymn, TONES, TABLES)
    assert "Ἦχος" in system.svg
    assert system.words.startswith(f"Tone {TONES.branches[branch].tone}")
    assert "#a3121f" not in signature(hymn, TONES, NeumeOptions(black=True)).svg


def test_every_tempo_has_a_sign_and_quicker_ones_come_later() -> None:
    """The order of the agogai is that of the Unicode standard."""
    codes = [tempo_code(t, TABLES) for t in range(20, 260, 5)]
    assert codes == sorted(codes)
    assert len(set(codes)) == 8


def test_every_code_in_the_tables_has_an_outline() -> None:
    for table, rows in TABLES.rows.items():
        for row in rows.values():
            named = [v for k, v in row.values.items() if k.startswith(("code", "letter", "sign"))]
            for value in [c for n in named for c in (n if isinstance(n, list) else [n])]:
                if re.fullmatch("1D0[0-9A-F]{2}", str(value)):
                    assert has_outline(str(value)), f"{table} {row.id}"


def test_codes_are_those_of_the_standard() -> None:
    """Names in the Unicode standard, which spells some of them its own way."""

    names = {
        "ison": "ISON NEO", "oligon": "OLIGON NEO", "petaste": "PETASTI",
        "kentemata": "KENTIMATA NEO MESO", "kentema": "KENTIMA NEO MESO", "hypsile": "YPSILI",
        "apostrophos": "APOSTROFOS NEO", "elaphron": "ELAFRON", "chamile": "CHAMILI",
        "hyporrhoe": "YPORROI", "vareia": "VAREIA NEO", "psefiston": "PSIFISTON NEO",
        "antikenoma": "ANTIKENOMA", "omalon": "OMALON", "heteron": "ETERON PARAKALESMA",
        "klasma": "KLASMA ANO", "aple": "APLI", "diple": "DIPLI", "triple": "TRIPLI",
        "tetraple": "TETRAPLI", "gorgon": "GORGON NEO ANO", "digorgon": "DIGORGON",
        "trigorgon": "TRIGORGON", "argon": "ARGON", "hemidiargon": "IMIDIARGON",
        "diargon": "DIARGON", "rest1": "LEIMMA ENOS CHRONOU", "rest2": "LEIMMA DYO CHRONON",
        "rest3": "LEIMMA TRION CHRONON", "rest4": "LEIMMA TESSARON CHRONON",
        "gorgon_dot_left": "GORGON PARESTIGMENON ARISTERA",
        "gorgon_dot_right": "GORGON PARESTIGMENON DEXIA",
        "digorgon_dot_first": "DIGORGON PARESTIGMENON ARISTERA KATO",
        "digorgon_dot_second": "DIGORGON PARESTIGMENON ARISTERA ANO",
        "digorgon_dot_third": "DIGORGON PARESTIGMENON DEXIA",
        "sharp2": "DIESIS APLI DYO DODEKATA", "flat4": "YFESIS MONOGRAMMOS TESSERA DODEKATA",
        "sharp6": "DIESIS DIGRAMMOS EX DODEKATA", "flat8": "YFESIS TRIGRAMMOS OKTO DODEKATA",
    }  # fmt: skip
    for name, wanted in names.items():
        code = str(TABLES.rows["neume_sign"][name]["code"])
        found = unicodedata.name(chr(int(code, 16))).removeprefix("BYZANTINE MUSICAL SYMBOL ")
        assert found == wanted


def test_a_very_long_phrase_is_broken_and_nothing_is_lost() -> None:
    line = " ".join(f"word{i}-ly:{1 + i % 3}|{1 + (i + 1) % 3}" for i in range(250))
    hymn = Hymn(tone=1, phrases=(phrase(line),))
    found = systems(hymn, TONES)
    assert len(found) > 20
    assert " ".join(s.words for s in found) == hymn.phrases[0].words
    assert all(s.width_mm <= 170.5 for s in found)


@pytest.mark.parametrize("word", ["שלום", "سلام", "♪", "a\x07b", "I̊́"])
def test_strange_words_do_no_harm(word: str) -> None:
    one = phrase("Come-ly:1|2 now:1")
    first, *rest = one.syllables
    hymn = Hymn(tone=1, phrases=(replace(one, syllables=(replace(first, text=word), *rest)),))
    for system in systems(hymn, TONES):
        check(ink(system.svg))


def test_a_hymn_without_words_or_melody_is_a_sentence() -> None:
    with pytest.raises(ChantError, match="no words"):
        systems(Hymn(tone=1), TONES)
    with pytest.raises(ChantError, match="no melody"):
        systems(Hymn(tone=1, phrases=(Phrase(text="Come"),)), TONES)


@pytest.mark.parametrize("size", [3, 60])
def test_a_size_out_of_bounds_is_a_sentence(size: float) -> None:
    with pytest.raises(ChantError, match="size_pt"):
        NeumeOptions(size_pt=size)
