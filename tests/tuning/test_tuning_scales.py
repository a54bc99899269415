"""Scales against published numbers: units, frequencies, ratios, repetition, colourings."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.rows import load_rows
from chantwright.tuning import (
    CENTS_PER_MORION,
    Scale,
    anchored,
    by_ratio,
    coloured,
    hz,
    load_accidentals,
    load_colourings,
    load_scales,
    load_sources,
    parse_degree,
    pitch_bend,
    retuned,
)
from chantwright.tuning.scale import DIATONIC_PLACES

SCALES = load_scales()
DIATONIC = SCALES["diatonic"]
C4 = 261.6255653005986  # equal temperament with a = 440 Hz
each_scale = st.sampled_from(sorted(SCALES))


def places(scale: Scale, text: str) -> list[Fraction]:
    return [scale.moria(parse_degree(n)) for n in text.split()]


# Arithmetic of 72 parts to the octave.
@pytest.mark.parametrize(
    ("moria", "cents"),
    [(12, 200), (6, 100), (30, 500), (42, 700), (4, 66.6667), (8, 133.3333), (20, 333.3333)],
)
def test_a_morion_is_a_72nd_of_the_octave(moria: int, cents: float) -> None:
    assert float(moria * CENTS_PER_MORION) == pytest.approx(cents, abs=5e-5)


# Patriarchal Musical Committee 1881-83: places above the start note, as secondary texts quote them.
@pytest.mark.parametrize(
    ("name", "start", "expected"),
    [
        ("diatonic", "ni", [0, 12, 22, 30, 42, 54, 64, 72]),
        ("soft_chromatic", "ni", [0, 8, 22, 30, 42, 50, 64, 72]),
        ("hard_chromatic", "pa", [0, 6, 26, 30, 42, 48, 68, 72]),
        ("enharmonic", "ga", [0, 12, 24, 30, 42, 54, 66, 72]),
    ],
)
def test_committee_scales(name: str, start: str, expected: list[int]) -> None:
    scale, low = SCALES[name], parse_degree(start)
    assert [scale.moria(low + i) - scale.moria(low) for i in range(8)] == expected
    assert list(scale.positions()) == expected
    if name == "diatonic":
        rows = load_rows("chantwright.tuning", ["notes.toml"])["note"].values()
        assert [row["moria"] for row in rows] == list(DIATONIC_PLACES) == expected[:7]
    # every tetrachord is 30 and every fifth 42 (the Committee)
    assert (expected[3], expected[4]) == (30, 42)


def test_frequencies_from_middle_c() -> None:
    # f = 261.6256 * 2^(m/72); pa ga di ke are those of the keyboard (registry of equal temperament)
    expected = {
        "pa": 293.665,
        "vou": 323.342,
        "ga": 349.228,
        "di": 391.995,
        "ke": 440.000,
        "zo": 484.465,
        "ni'": 523.251,
    }
    for name, frequency in expected.items():
        found = hz(DIATONIC, parse_degree(name), base_degree=0, base_hz=C4)
        assert found == pytest.approx(frequency, abs=6e-4)
    assert hz(DIATONIC, 2, base_degree=0, base_hz=C4 / 2) == pytest.approx(161.671, abs=6e-4)
    assert hz(DIATONIC, 6, base_degree=0, base_hz=C4 / 2) == pytest.approx(242.232, abs=6e-4)
    assert hz(DIATONIC, 6, base_degree=0, base_hz=C4, bend=-4) == pytest.approx(C4 * 2 ** (60 / 72))


def test_ratios_of_committee_and_chrysanthos_close_on_the_fourth() -> None:
    # exact arithmetic: both authors divide 4/3
    for name in ("diatonic", "chrys_diatonic"):
        ratios = SCALES[name].ratios
        assert math.prod(ratios[:3], start=Fraction(1)) == Fraction(4, 3)
        assert math.prod(ratios, start=Fraction(1)) == 2
    cents = [by_ratio(DIATONIC).cents(d) for d in range(8)]
    # Committee ratios in cents: 1, 9/8, 100/81, 4/3, 3/2, 27/16, 50/27, 2
    exact = [1200 * math.log2(r) for r in (1, 9 / 8, 100 / 81, 4 / 3, 3 / 2, 27 / 16, 50 / 27, 2)]
    assert cents == pytest.approx(exact, abs=1e-6)
    assert max(abs(a - DIATONIC.cents(d)) for d, a in enumerate(cents)) == pytest.approx(
        5.9, abs=0.05
    )


# Cents against the Committee's 72 parts, pa vou ga di ke zo: worked from the published ratios and
# tables of Committee, Chrysanthos 1832 and Xenakis.
@pytest.mark.parametrize(
    ("scale", "expected"),
    [
        (by_ratio(DIATONIC), [3.9, -1.9, -2.0, 2.0, 5.9, 0.1]),
        (by_ratio(SCALES["chrys_diatonic"]), [3.9, -12.1, -2.0, 2.0, 5.9, -10.2]),
        (SCALES["chrys_diatonic"], [11.8, 3.9, -5.9, 5.9, 17.6, 9.8]),
        (SCALES["xen_diatonic"], [0, 16.7, 0, 0, 0, 16.7]),
    ],
)
def test_how_far_the_systems_are_apart(scale: Scale, expected: list[float]) -> None:
    found = [scale.cents(d) - DIATONIC.cents(d) for d in range(1, 7)]
    assert found == pytest.approx(expected, abs=0.06)


def test_the_keyboard_differs_on_vou_and_zo_alone() -> None:
    keyboard = (200, 400, 500, 700, 900, 1100)  # equal temperament
    found = [k - DIATONIC.cents(d) for d, k in enumerate(keyboard, start=1)]
    assert found == pytest.approx([0, 33.3, 0, 0, 0, 33.3], abs=0.05)


def test_soft_chromatic_steps_against_the_keyboard() -> None:
    # published appendix on the soft chromatic intervals: 67 33 33 0 67 33 33 cents, step by step
    white = (200, 200, 100, 200, 200, 200, 100)
    steps = [float(s * CENTS_PER_MORION) for s in SCALES["soft_chromatic"].steps]
    found = [round(abs(s - w)) for s, w in zip(steps, white, strict=True)]
    assert found == [67, 33, 33, 0, 67, 33, 33]


# Xenakis' tetrachords as the public Scala archive gives them, in Hz from c4 (rounded to 1e-5).
@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("xen_diatonic", [293.66477, 326.46944, 349.22823, 391.99544, 440.0, 489.15148]),
        ("xen_hard_chromatic", [274.52698, 329.62756, 349.22823, 391.99544, 411.32572, 493.88330]),
    ],
)
def test_public_archive_values(name: str, expected: list[float]) -> None:
    for degree, frequency in enumerate(expected, start=1):
        off = 1200 * math.log2(hz(SCALES[name], degree, base_degree=0, base_hz=C4) / frequency)
        rounding = 1200 * math.log2(1 + 5e-6 / frequency)  # of the fifth decimal in Hz
        assert abs(off) < rounding + 1e-5  # and of the archive's cents


def _letters(scale: Scale, low: int, count: int) -> str:
    keys = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    return " ".join(keys[round(scale.moria(low + i) / 6) % 12] for i in range(count))


def test_three_ways_to_repeat() -> None:
    # Melling, Reading Psalmodia 2000, the three systems from c
    assert _letters(DIATONIC, 0, 12) == "C D E F G A B C D E F G"
    assert _letters(SCALES["diatonic_wheel"], 0, 12) == "C D E F G A B C D E F# G"
    assert _letters(SCALES["triphonic"], 0, 12) == "C D E F G A Bb C D Eb F G"
    wheel = SCALES["diatonic_wheel"]
    assert places(wheel, "vou' ga' zo_ ke_") == [96, 106, -12, -20]
    assert places(SCALES["triphonic"], "ni ke zo ni' pa' vou'") == [0, 52, 60, 72, 82, 90]


def test_soft_chromatic_goes_on_by_fifths() -> None:
    # wheel: pa' is a true fifth above di, and zo_ a tone under ni (common practice)
    assert places(SCALES["soft_chromatic"], "zo_ ni di ni' pa'") == [-12, 0, 42, 72, 84]
    octave = replace(SCALES["soft_chromatic"], beyond=None)
    assert places(octave, "zo_ pa'") == [-8, 80]


def test_hard_chromatic_stands_a_tone_above_its_low_ni() -> None:
    # from memory: transcriptions of tone 6 write c natural under d, c sharp under the upper d
    hard = SCALES["hard_chromatic"]
    assert places(hard, "ni pa ni' pa'") == [0, 12, 80, 84]


def test_colourings() -> None:
    # Melling 2000: kliton 14 12 4 (or 12 14 4), spathi 20 4 4 14; zygos 18 4 16 4 from memory
    rows = load_colourings()
    assert [sum(rows[n].steps) for n in ("kliton", "spathi_ke", "zygos")] == [30, 42, 42]
    kliton = coloured(DIATONIC, rows["kliton"])
    assert places(kliton, "ni pa vou ga di ke") == [0, 12, 26, 38, 42, 54]
    assert places(coloured(DIATONIC, rows["kliton"], variant=True), "pa vou ga di") == [
        12,
        24,
        38,
        42,
    ]
    assert places(coloured(DIATONIC, rows["spathi_ke"]), "ga di ke zo ni'") == [30, 50, 54, 58, 72]
    for colouring in rows.values():
        changed = coloured(DIATONIC, colouring)
        for degree in range(-7, 15):
            if not colouring.start < degree < colouring.end:
                assert changed.moria(degree) == DIATONIC.moria(degree)
    with pytest.raises(ChantError, match="no other reading"):
        coloured(DIATONIC, rows["zygos"], variant=True)


def test_a_colouring_that_does_not_close_is_a_sentence() -> None:
    with pytest.raises(ChantError, match="does not close on di") as caught:
        retuned(DIATONIC, 1, [14, 12, 6])
    assert "32 moria" in caught.value.what


def test_accidentals_are_named_in_twelfths_by_unicode() -> None:
    words = {2: "DYO", 4: "TESSERA", 6: "EX", 8: "OKTO"}
    signs = load_accidentals()
    for name in ("sharp2", "sharp4", "sharp6", "sharp8", "flat2", "flat4", "flat6", "flat8"):
        title = unicodedata.name(signs[name].sign)
        size = signs[name].moria
        assert f"{words[abs(int(size))]} DODEKATA" in title
        assert ("DIESIS" in title) == (size > 0)
        assert ("YFESIS" in title) == (size < 0)
    assert "GENIKI" in unicodedata.name(signs["general_flat"].sign)


def test_pitch_bend_arithmetic() -> None:
    # MIDI: 14 bits, here over two semitones to each side; 12 moria = 8192 steps
    per_morion = 8192 / 12
    assert per_morion == pytest.approx(682.67, abs=0.01)
    assert pitch_bend(0) == 8192
    assert pitch_bend(-12) == 0
    assert pitch_bend(12) == 16383
    for moria in range(-12, 12):
        wanted = 8192 + moria * per_morion
        assert abs(pitch_bend(moria) - wanted) * 400 / 16384 <= 0.013  # cents
    assert pitch_bend(12, semitones=12) == 8192 + round(8192 / 6)
    with pytest.raises(ChantError, match="larger than 2 semitones"):
        pitch_bend(13)


def test_sources_explain_every_row() -> None:
    known = load_sources()
    for scale in SCALES.values():
        assert scale.src
        assert set(scale.src) <= set(known)
    assert "1832" in known["chrys1832"]


@given(each_scale, st.integers(-21, 28))
@settings(deadline=None)
def test_every_scale_rises(name: str, degree: int) -> None:
    assert SCALES[name].moria(degree) < SCALES[name].moria(degree + 1)


@given(each_scale, st.integers(-14, 20), st.integers(-14, 20), st.floats(60, 900))
@settings(deadline=None)
def test_frequency_rises_with_the_degree(name: str, low: int, up: int, base: float) -> None:
    scale = SCALES[name]
    frequencies = [hz(scale, low + i, base_degree=up, base_hz=base) for i in range(3)]
    assert frequencies == sorted(set(frequencies))
    assert hz(scale, up, base_degree=up, base_hz=base) == pytest.approx(base)


@given(each_scale, st.integers(-7, 14), st.integers(-7, 14), st.fractions(-72, 72))
@settings(deadline=None)
def test_a_moved_scale_keeps_its_steps(name: str, pivot: int, degree: int, place: Fraction) -> None:
    scale = SCALES[name]
    if name == "diatonic":
        scale = coloured(scale, load_colourings()["kliton"])
    moved = anchored(scale, pivot, place)
    assert moved.moria(pivot) == place
    assert moved.moria(degree) - place == scale.moria(degree) - scale.moria(pivot)


def test_a_moved_scale_keeps_its_colouring_and_what_lies_beyond() -> None:
    kliton = coloured(DIATONIC, load_colourings()["kliton"])
    # tone 5 from ke, sung so that ke lies where pa was (common practice)
    low = anchored(kliton, parse_degree("ke"), DIATONIC.moria(parse_degree("pa")))
    assert places(low, "pa vou ga di ke") == [-30, -16, -4, 0, 12]
    soft = anchored(SCALES["soft_chromatic"], 4, Fraction(12))
    assert places(soft, "zo_ ni di pa'") == [-42, -30, 12, 54]


@given(st.integers(-21, 21))
@settings(deadline=None)
def test_octave_scales_repeat_after_72(degree: int) -> None:
    for name in ("diatonic", "enharmonic", "xen_soft_chromatic"):
        scale = SCALES[name]
        assert scale.moria(degree + 7) == scale.moria(degree) + 72


def test_own_scale_of_a_parish(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[scale]]\nid = "diatonic"\nsteps = [12, 11, 7, 12, 12, 11, 7]\n')
    scale = load_scales([own])["diatonic"]
    assert scale.moria(2) == 23
    assert scale.src == ("parish file own.toml",)
    assert load_scales()["diatonic"].moria(2) == 22


def test_a_parish_may_go_on_by_the_octave(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[scale]]\nid = "soft_chromatic"\nbeyond = ""\n')
    assert places(load_scales([own])["soft_chromatic"], "zo_ di pa'") == [-8, 42, 80]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("steps = 12", "must be a list"),
        ("steps = [12, 'ten']", "is no number"),
        ("steps = [12, -10, 8]", "larger than nothing"),
        ("system = 'pmc'", "no system of division"),
        ("from = 'xy'", "is not a note"),
        ("beyond = 'nothing'", "names no scale"),
        ("beyond = 'diatonic'", "leads back to itself"),
    ],
)
def test_a_broken_scale_row_is_a_sentence(tmp_path: Path, line: str, sentence: str) -> None:
    own = tmp_path / "own.toml"
    own.write_text(f'# ours\n[[scale]]\nid = "diatonic"\n{line}\n')
    with pytest.raises(ChantError, match=sentence) as caught:
        load_scales([own])
    assert "own.toml, line 2" in str(caught.value)


def test_no_pitch_no_sound() -> None:
    for bad in (0.0, -1.0, math.inf, math.nan):
        with pytest.raises(ChantError, match="is no pitch"):
            hz(DIATONIC, 0, base_degree=0, base_hz=bad)
    with pytest.raises(ChantError, match="no ratios"):
        by_ratio(SCALES["enharmonic"])


def test_the_first_span_keeps_its_own_last_note() -> None:
    # where a scale and the one beyond it disagree at the joint, the scale itself holds up to there
    wide = replace(SCALES["diatonic_wheel"], start=0, origin=Fraction(-4))
    scale = replace(DIATONIC, beyond=wide)
    assert wide.moria(7) != 72
    assert scale.moria(7) == 72
    assert scale.moria(8) == wide.moria(8)
    assert scale.moria(-1) == wide.moria(-1)
