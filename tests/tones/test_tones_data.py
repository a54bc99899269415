"""The tones as data: every branch is there, and agrees with what is published of it."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from chantwright.errors import ChantError
from chantwright.rows import CONFIDENCE
from chantwright.tones import load_tones
from chantwright.tuning import degree_name, load_sources, parse_degree

TONES = load_tones()

BRANCHES = """
t1.heirmologic t1.sticheraric t1.papadic t2.sticheraric t2.papadic t2.heirmologic_soft
t2.heirmologic_hard t3.heirmologic t3.sticheraric t3.papadic t4.heirmologic_legetos
t4.heirmologic_soft t4.sticheraric t4.papadic_agia t4.papadic_legetos t5.heirmologic
t5.heirmologic_pa t5.sticheraric t5.papadic t6.sticheraric t6.papadic t6.heirmologic t7.heirmologic
t7.sticheraric t7.papadic_zo t8.heirmologic t8.sticheraric t8.papadic t8.heirmologic_triphonic
t7.heirmologic_protovarys t7.sticheraric_protovarys t2.verses t5.verses t6.verses
"""
INTONATIONS = "t1 t2 t3 t4.legetos t4.agia_pa t4.agia t5 t5.ke t6 t6.vou t7.ga t7.zo t8 t8.ga"
ATTRACTIONS = "zo_flat zo_low_to_ni ni_to_pa pa_to_vou vou_to_ga ga_to_di di_to_ke ke_low"
SCALES = """
diatonic soft_chromatic soft_chromatic_wheel hard_chromatic hard_chromatic_wheel
hard_chromatic_mixed enharmonic triphonic diatonic_wheel chrys_diatonic chrys_soft_chromatic
chrys_hard_chromatic chrys_enharmonic xen_diatonic xen_soft_chromatic xen_hard_chromatic
"""


def notes(text: str) -> tuple[int, ...]:
    return tuple(parse_degree(n) for n in text.split())


def test_every_row_is_there() -> None:
    assert list(TONES.branches) == BRANCHES.split()
    assert list(TONES.intonations) == INTONATIONS.split()
    assert set(TONES.attractions) == set(ATTRACTIONS.split())
    assert set(TONES.scales) == set(SCALES.split())
    assert list(TONES.tones) == list(range(1, 9))
    assert list(TONES.styles) == ["heirmologic", "sticheraric", "papadic", "verses"]
    assert list(TONES.groups) == ["men", "women", "children", "mixed_octaves"]


# Table of contents of a handbook of formulas for composing in English (2010): the branches it has.
@pytest.mark.parametrize(
    ("tone", "style", "count"),
    [
        (1, "sticheraric", 1),
        (1, "heirmologic", 1),
        (2, "sticheraric", 1),
        (2, "heirmologic", 2),
        (2, "verses", 1),
        (3, "sticheraric", 1),
        (3, "heirmologic", 1),
        (4, "sticheraric", 1),
        (4, "heirmologic", 2),
        (5, "sticheraric", 1),
        (5, "verses", 1),
        (6, "heirmologic", 1),
        (6, "verses", 1),
        (7, "sticheraric", 2),
        (7, "heirmologic", 2),
        (8, "sticheraric", 1),
        (8, "heirmologic", 2),
    ],
)
def test_branches_of_the_handbook(tone: int, style: str, count: int) -> None:
    own = [b for b in TONES.branches.values() if (b.tone, b.style) == (tone, style)]
    assert len(own) == count
    assert {b.exists for b in own} == {"high"}


def test_tone_8_agrees_with_the_theory_sheet() -> None:
    # Romanian two-page theory sheet, tone 8: main degrees ni vou di (ni' in the slower style); half
    # closes vou di ni'; full closes ni di; final ni
    for style in ("heirmologic", "sticheraric"):
        branch = TONES.branch(f"t8.{style}")
        assert set(branch.incomplete) == set(notes("vou di ni'"))
        assert set(branch.complete) == set(notes("ni di"))
        assert branch.final == notes("ni")
        assert set(notes("ni vou di")) <= set(branch.dominating)


# Bases and genera (common practice; the soft chromatic of tone 6 fast hymns: published appendix on
# the soft chromatic intervals; the bases of tone 4: handbook 2010).
@pytest.mark.parametrize(
    ("branch", "base", "genus"),
    [
        ("t1.heirmologic", "pa", "diatonic"),
        ("t2.sticheraric", "di", "soft chromatic"),
        ("t2.heirmologic_hard", "pa", "hard chromatic"),
        ("t3.heirmologic", "ga", "enharmonic"),
        ("t4.heirmologic_legetos", "vou", "diatonic"),
        ("t4.sticheraric", "pa", "diatonic"),
        ("t4.papadic_agia", "di", "diatonic"),
        ("t5.heirmologic", "ke", "diatonic"),
        ("t5.sticheraric", "pa", "diatonic"),
        ("t6.sticheraric", "pa", "hard chromatic"),
        ("t6.heirmologic", "vou", "soft chromatic"),
        ("t7.heirmologic", "ga", "enharmonic"),
        ("t7.papadic_zo", "zo_", "diatonic"),
        ("t8.heirmologic", "ni", "diatonic"),
        ("t8.heirmologic_triphonic", "ga", "diatonic"),
    ],
)
def test_bases_and_genera(branch: str, base: str, genus: str) -> None:
    row = TONES.branch(branch)
    assert degree_name(row.base) == base
    assert TONES.scales[row.scale].genus == genus


def test_the_exceptions_of_practice() -> None:
    # common practice: canons of tone 2 are hard chromatic from pa, its dismissal hymn soft
    # chromatic; tone 4 sticheraric stands on pa and ends on vou; soft chromatic fast hymns share
    # one scale
    assert TONES.branch_for(2, "canon").id == "t2.heirmologic_hard"
    assert TONES.branch_for(2, "dismissal hymn").id == "t2.heirmologic_soft"
    assert TONES.branch_for(8, "dismissal hymn").id == "t8.heirmologic_triphonic"
    assert TONES.branch_for(1, "aposticha").id == "t1.sticheraric"
    assert TONES.branch_for(3, "cherubic hymn").id == "t3.papadic"
    four = TONES.branch("t4.sticheraric")
    assert (four.base, four.final) == (1, (2,))
    soft = ("t2.heirmologic_soft", "t4.heirmologic_soft", "t6.heirmologic")
    assert {TONES.branch(b).scale for b in soft} == {"soft_chromatic"}


def test_first_rows_are_the_defaults() -> None:
    expected = {
        1: "t1.heirmologic",
        2: "t2.heirmologic_soft",
        3: "t3.heirmologic",
        4: "t4.heirmologic_legetos",
        5: "t5.heirmologic",
        6: "t6.heirmologic",
        7: "t7.heirmologic",
        8: "t8.heirmologic",
    }
    assert {n: TONES.default_branch(n).id for n in range(1, 9)} == expected
    assert TONES.default_branch(7, "sticheraric").id == "t7.sticheraric"
    assert {TONES.default_branch(n, "papadic").tone for n in range(1, 9)} == set(range(1, 9))


def test_names_of_the_tones() -> None:
    # common practice: 1 to 4 by number, 5 6 8 plagal of the first, second and fourth, 7 grave
    assert [t.name for t in TONES.tones.values()] == [f"Tone {n}" for n in range(1, 9)]
    assert [TONES.tones[n].mode_name for n in (1, 4, 5, 6, 7, 8)] == [
        "First Mode",
        "Fourth Mode",
        "Plagal First",
        "Plagal Second",
        "Grave",
        "Plagal Fourth",
    ]
    short = [t.greek_short for t in TONES.tones.values()]
    assert short[0] == "Ἦχος αʹ"
    assert short[4:] == ["Ἦχος πλ. αʹ", "Ἦχος πλ. βʹ", "Ἦχος βαρύς", "Ἦχος πλ. δʹ"]


def test_signs_of_the_tones() -> None:
    # the Unicode standard names the testimony signs
    words = {
        1: ["PROTOS"],
        2: ["DEYTEROS"],
        3: ["TRITOS"],
        4: ["TETARTOS", "LEGETOS"],
        5: ["PLAGIOS", "PROTOS"],
        6: ["PLAGIOS", "DEYTEROS"],
        7: ["VARYS"],
        8: ["PLAGIOS", "TETARTOS"],
    }
    for n, expected in words.items():
        signs = [chr(int(c.removeprefix("U+"), 16)) for c in TONES.tones[n].martyria]
        names = " ".join(unicodedata.name(s) for s in signs)
        assert names.count("MARTYRIA") == len(signs)
        assert all(word in names for word in expected)


def test_titles() -> None:
    assert TONES.branch("t4.heirmologic_legetos").title == "tone 4, heirmologic (legetos)"
    assert TONES.branch("t1.sticheraric").title == "tone 1, sticheraric"


def test_every_row_has_grounds() -> None:
    known = load_sources()
    tables = (
        TONES.tones,
        TONES.branches,
        TONES.scales,
        TONES.intonations,
        TONES.styles,
        TONES.attractions,
        TONES.groups,
        TONES.usage,
        TONES.listening,
    )
    count = 0
    for table in tables:
        for row in table.values():
            assert row.conf in CONFIDENCE
            assert row.src
            assert set(row.src) <= set(known)
            count += 1
    assert count > 110
    # nothing written from memory alone claims to be sure
    for branch in TONES.branches.values():
        if set(branch.src) <= {"memory", "practice"}:
            assert branch.conf != "high"
    assert {i.conf for i in TONES.intonations.values()} == {"low"}


def test_intonation_syllables() -> None:
    # modern practice, from memory of textbooks
    expected = {"t1": "ananes", "t2": "neanes", "t3": "nana", "t5": "aneanes", "t6": "neheanes"}
    for key, syllables in expected.items():
        row = TONES.intonations[key]
        for form in (row.short, row.long):
            assert "".join(text for text, _, _ in form) == syllables
        assert sum(b for _, _, b in row.short) < sum(b for _, _, b in row.long)


def test_slower_styles_take_more_notes() -> None:
    # published appendix on intonations: one or two notes a syllable in the fast style, three or
    # four in the slower, a dozen or more in the slowest
    fast, slower, slowest = (TONES.styles[s] for s in ("heirmologic", "sticheraric", "papadic"))
    assert fast.notes_per_syllable == (1, 2)
    assert slower.notes_per_syllable[0] <= 3
    assert slower.notes_per_syllable[1] >= 4
    assert slowest.notes_per_syllable[1] >= 12
    assert fast.tempo > slower.tempo > slowest.tempo
    for style in TONES.styles.values():
        assert style.tempo_range[0] <= style.tempo <= style.tempo_range[1]


def test_limits_of_listening() -> None:
    # 50 and 100 cents: cut-offs in Dalla Bella 2015
    limits = TONES.listening
    assert limits["poor_pitch_strict"].cents == pytest.approx(50)
    assert limits["poor_pitch_loose"].cents == pytest.approx(100)
    assert limits["tool_error"].moria < limits["report_unit"].moria
    order = [limits[f"flag_{who}"].moria for who in ("leader", "regular", "beginner")]
    assert order == sorted(order)


def test_comfortable_children_stay_inside_measured_ranges() -> None:
    # working range of girls 6-12 (2021): from about 220 Hz; a quarter of children reach only 784 Hz
    low, high = TONES.groups["children"].comfortable_hz
    assert low > 220
    assert high < 776


def test_unknown_names_are_sentences() -> None:
    with pytest.raises(ChantError, match="no branch") as caught:
        TONES.branch("t4.hermologic_legetos")
    assert caught.value.remedy == "Did you mean “t4.heirmologic_legetos”?"
    with pytest.raises(ChantError, match="no tone 9"):
        TONES.default_branch(9)
    with pytest.raises(ChantError, match="tone 1 has no verses branch") as caught:
        TONES.default_branch(1, "verses")
    assert "heirmologic, sticheraric, papadic" in caught.value.remedy
    with pytest.raises(ChantError, match="no kind of hymn") as caught:
        TONES.branch_for(1, "dismissal")
    assert "dismissal hymn" in caught.value.remedy


def own(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_parish_row_wins_field_by_field(tmp_path: Path) -> None:
    path = own(tmp_path, '[[branch]]\nid = "t7.heirmologic"\ncomplete = ["ga", "di"]\n')
    tones = load_tones([path])
    ours, theirs = TONES.branch("t7.heirmologic"), tones.branch("t7.heirmologic")
    assert (ours.origin, theirs.origin) == ("chantwright", "parish")
    assert theirs.complete == notes("ga di")
    assert (theirs.base, theirs.wide, theirs.ison_at) == (ours.base, ours.wide, ours.ison_at)
    assert (theirs.conf, theirs.src) == ("high", ("parish file own.toml",))
    assert tones.branch("t8.heirmologic") == TONES.branch("t8.heirmologic")
    assert tones.default_branch(7).id == "t7.heirmologic"
    assert load_tones().branch("t7.heirmologic") == ours  # nothing is remembered


def test_a_parish_may_say_how_sure_it_is(tmp_path: Path) -> None:
    path = own(
        tmp_path,
        '[[source]]\nid = "protopsaltis"\ntext = "our teacher, 2026"\n'
        '[[intonation]]\nid = "t3"\nconf = "medium"\nsrc = ["protopsaltis"]\n',
    )
    row = load_tones([path]).intonations["t3"]
    assert (row.conf, row.src) == ("medium", ("protopsaltis",))
    assert load_sources([path])["protopsaltis"] == "our teacher, 2026"


def test_a_parish_may_add_a_branch_and_send_hymns_to_it(tmp_path: Path) -> None:
    path = own(
        tmp_path,
        """
[[branch]]
id = "t1.heirmologic_ours"
tone = 1
style = "heirmologic"
scale = "diatonic"
base = "pa"
dominating = ["pa", "di"]
incomplete = ["di"]
complete = ["pa"]
final = ["pa"]
usual = ["ni", "ke"]
wide = ["zo_", "ni'"]
attractions = []
ison = { base = "pa" }
intonation = "t1"

[[usage]]
id = "t1.canon"
tone = 1
kind = "canon"
branch = "t1.heirmologic_ours"
""",
    )
    tones = load_tones([path])
    assert tones.branch_for(1, "canon").origin == "parish"
    assert tones.default_branch(1).id == "t1.heirmologic"


def test_later_files_win(tmp_path: Path) -> None:
    first, second = tmp_path / "a.toml", tmp_path / "b.toml"
    first.write_text('[[style]]\nid = "papadic"\nchronos_default = 60\n')
    second.write_text('[[style]]\nid = "papadic"\nchronos_default = 70\n')
    assert load_tones([first, second]).styles["papadic"].tempo == 70
    assert load_tones([second, first]).styles["papadic"].tempo == 60


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('[[branch]]\nid = "t1.papadic"\nscale = "diatonik"\n', "no scale “diatonik”"),
        ('[[branch]]\nid = "t1.papadic"\nison = "pa"\n', "“ison” must give a base"),
        ('[[branch]]\nid = "t1.papadic"\nfinal = []\n', "names no note"),
        ('[[branch]]\nid = "t1.papadic"\nbase = "pi"\n', "“pi” is not a note"),
        ('[[branch]]\nid = "t1.papadic"\nwide = ["ni\'", "ni"]\n', "lowest and the highest"),
        ('[[branch]]\nid = "new"\ntone = 1\n', "has no “style”"),
        ('[[branch]]\nid = "t1.papadic"\nscale = {}\n', "must be words in quotes"),
        ('[[branch]]\nid = "t1.papadic"\nsrc = 3\nfinal = []\n', "names no note"),
        ('[[usage]]\nid = "any.ode"\nkind = "ode"\n', "has no “style”"),
        ('[[usage]]\nid = "any.canon"\nstyle = "slow"\n', "no style “slow”"),
        ('[[attraction]]\nid = "zo_flat"\ncancel = "above"\n', "“cancel” is “above”"),
        ('[[scale]]\nid = "diatonic"\nbeyond = {}\n', "must be words in quotes"),
        ('[[intonation]]\nid = "t1"\nshort = [["a", "pa"]]\n', "syllable, note and beats"),
        ('[[intonation]]\nid = "t1"\nshort = [["a", "pa", 0]]\n', "without beats"),
        ('[[style]]\nid = "papadic"\nchronos_default = 200\n', "between the slowest"),
        ('[[style]]\nid = "papadic"\nnotes_per_syllable = [2, 1]\n', "fewest and the most"),
        ('[[group]]\nid = "men"\nni_default_hz = 300\n', "lies outside"),
        ('[[tone]]\nid = "t1"\nn = "one"\n', "is no number"),
        ('[[listening]]\nid = "drift_warning"\nmoria = 0\n', "larger than nothing"),
        ('[[attraction]]\nid = "zo_flat"\nrange = [1]\n', "smallest and a largest"),
    ],
)
def test_a_broken_row_is_a_sentence_with_its_place(
    tmp_path: Path, text: str, sentence: str
) -> None:
    path = own(tmp_path, f"# our own\n{text}")
    with pytest.raises(ChantError, match=sentence) as caught:
        load_tones([path])
    assert caught.value.where.file == str(path)
    assert caught.value.where.line == 2
