"""Scala texts: written, read, and wrong ones told with their line.

The format as the public archive of scales describes it: cents have a dot, ratios have none.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.tuning import (
    CENTS_PER_MORION,
    Scale,
    coloured,
    dump_kbm,
    dump_scl,
    hz,
    key_hz,
    keyboard_for,
    load_colourings,
    load_kbm,
    load_scales,
    load_scl,
)

SCALES = load_scales()


def pitches(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if not line.startswith("!")][2:]


def test_the_diatonic_scale_as_text() -> None:
    text = dump_scl(SCALES["diatonic"])
    assert pitches(text) == ["200.0", "366.66667", "500.0", "700.0", "900.0", "1066.66667", "2/1"]
    assert text.splitlines()[0] == "! diatonic.scl"
    assert text.splitlines()[3] == " 7"


def test_ratios_as_text() -> None:
    text = dump_scl(SCALES["chrys_diatonic"], ratios=True)
    assert pitches(text) == ["9/8", "27/22", "4/3", "3/2", "27/16", "81/44", "2/1"]
    assert load_scl(text).ratios == SCALES["chrys_diatonic"].ratios
    with pytest.raises(ChantError, match="no ratios"):
        dump_scl(SCALES["enharmonic"], ratios=True)
    kliton = coloured(SCALES["diatonic"], load_colourings()["kliton"])
    with pytest.raises(ChantError, match="plain scale only"):
        dump_scl(kliton, ratios=True)
    with pytest.raises(ChantError, match="plain scale only"):
        dump_scl(SCALES["diatonic"], ratios=True, highest=9)


def test_a_ratio_and_cents_are_read_alike() -> None:
    for octave in ("2/1", "1200.", "1200.0", "2", "4/2", " 2/1 octave", "1200. ! octave"):
        text = f"! a comment\nfifth and octave\n! another\n2\n!\n 3/2\n{octave}\n"
        scale = load_scl(text, id="two")
        assert scale.span == 72
        assert float(scale.steps[0] * CENTS_PER_MORION) == pytest.approx(701.955, abs=1e-3)
    # without a dot it is a ratio: 3 is three times the frequency, 3. is three cents
    assert load_scl("x\n1\n3\n").span == pytest.approx(72 * math.log2(3))
    assert load_scl("x\n1\n3.\n").span * CENTS_PER_MORION == 3


def test_files_of_other_programs() -> None:
    # a byte-order mark, line ends of other systems, and a description that looks like a comment
    for text in ("\ufeff! x\r\nname\r\n1\r\n2/1\r\n", "! x\rname\r1\r2/1\r"):
        assert load_scl(text).span == 72
    loud = dump_scl(SCALES["diatonic"], description="! not a comment")
    assert load_scl(loud).id == "not a comment"
    assert load_scl(loud).steps == SCALES["diatonic"].steps


# The archive's own entry of a Xenakis scale (12 11 7 parts of 72), rounded as it gives it.
ARCHIVE = "! xen.scl\n!\ndiatonic\n 7\n!\n" + "\n".join(
    ["200.00000", "383.33333", "500.00000", "700.00000", "900.00000", "1083.33333", "2/1"]
)


def test_rounded_cents_come_back_as_whole_moria() -> None:
    assert load_scl(ARCHIVE).steps == SCALES["xen_diatonic"].steps


@pytest.mark.parametrize("name", sorted(SCALES))
def test_our_scales_come_back_exact(name: str) -> None:
    scale = SCALES[name]
    again = load_scl(dump_scl(scale), start=scale.start)
    assert (again.steps, again.origin, again.start) == (scale.steps, scale.origin, scale.start)


def test_a_colouring_and_a_wheel_show_in_the_text() -> None:
    kliton = coloured(SCALES["diatonic"], load_colourings()["kliton"])
    assert pitches(dump_scl(kliton))[:4] == ["200.0", "433.33333", "633.33333", "700.0"]
    wheel = dump_scl(SCALES["soft_chromatic"], lowest=0, highest=9)
    assert pitches(wheel)[-2:] == ["1400.0", "1533.33333"]
    with pytest.raises(ChantError, match="no note to write"):
        dump_scl(SCALES["diatonic"], lowest=3, highest=3)


@given(
    st.lists(st.fractions(Fraction(1, 50), 30, max_denominator=1000), min_size=1, max_size=24),
    st.text(max_size=30),
)
@settings(deadline=None)
def test_any_scale_comes_back(steps: list[Fraction], description: str) -> None:
    scale = Scale("any", "any", "other72", 0, Fraction(0), tuple(steps))
    again = load_scl(dump_scl(scale, description=description))
    assert len(again.steps) == len(steps)
    for degree in range(len(steps) + 1):
        assert again.cents(degree) == pytest.approx(scale.cents(degree), abs=1e-5)


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        ("", 0, "no Scala scale"),
        ("! only a comment\nname\n", 2, "no Scala scale"),
        ("name\nseven\n", 2, "no number of notes"),
        ("name\n0\n", 2, "no number of notes"),
        ("name\n3\n200.\n2/1\n", 2, "3 notes but gives 2"),
        ("name\n2\n! one\n20O.\n2/1\n", 4, "is no pitch"),
        ("name\n2\n3/0\n2/1\n", 3, "is no pitch"),
        ("name\n2\n-3/2\n2/1\n", 3, "is no pitch"),
        ("name\n2\n700.\n500.\n", 4, "not higher"),
        ("name\n1\n1/1\n", 3, "not higher"),
        ("name\n1\n1e400.\n", 3, "is no pitch"),
        ("name\n1\n" + "9" * 5000 + "\n", 3, "is no pitch"),
        ("name\n1\n" + "9" * 5000 + ".\n", 3, "is no pitch"),
        ("name\n" + "9" * 5000 + "\n2/1\n", 2, "no number of notes"),
    ],
)
def test_wrong_scales_are_told_with_their_line(text: str, line: int, sentence: str) -> None:
    with pytest.raises(ChantError, match=sentence) as caught:
        load_scl(text, file="wrong.scl")
    assert (caught.value.where.file, caught.value.where.line) == ("wrong.scl", line)
    assert caught.value.remedy


@given(st.text(alphabet="0123456789./!x \n-", max_size=60))
@settings(deadline=None)
def test_any_text_is_a_scale_or_a_sentence(text: str) -> None:
    for reader in (load_scl, load_kbm):
        try:
            reader(text)
        except ChantError as exc:
            assert exc.what


@pytest.mark.parametrize("name", ["diatonic", "soft_chromatic", "enharmonic", "triphonic"])
def test_keys_sound_the_scale(name: str) -> None:
    scale = SCALES[name]
    keyboard = load_kbm(dump_kbm(keyboard_for(scale, base_degree=1, base_hz=146.832384)))
    assert keyboard == keyboard_for(scale, base_degree=1, base_hz=146.832384)
    if len(scale.steps) == 7:
        # white keys from middle c upward are ni pa vou ga di ke zo ni'; black keys are silent
        for degree, key in enumerate((60, 62, 64, 65, 67, 69, 71, 72)):
            assert key_hz(scale, keyboard, key) == pytest.approx(
                hz(scale, degree, base_degree=1, base_hz=146.832384)
            )
        assert [key_hz(scale, keyboard, k) for k in (61, 63, 66, 68, 70)] == [None] * 5
    else:
        assert key_hz(scale, keyboard, 65) == pytest.approx(
            hz(scale, 3, base_degree=1, base_hz=146.832384)
        )


def test_standard_pitch_on_the_keyboard() -> None:
    # a = 440 Hz on key 69; with the Committee's diatonic scale c d f g a agree with the keyboard
    keyboard = keyboard_for(SCALES["diatonic"], base_degree=5, base_hz=440.0)
    assert keyboard.reference == 69
    for key in (60, 62, 65, 67, 69, 72):
        found = key_hz(SCALES["diatonic"], keyboard, key)
        assert found == pytest.approx(440 * 2 ** ((key - 69) / 12))


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("! nothing\n", "has no size"),
        ("12\n0\n127\n60\n69\n", "has no frequency"),
        ("12\n0\n127\n60\n69\nla\n7\n", "is no frequency"),
        ("12\n0\n127\n60.5\n69\n440.\n7\n", "is no middle key"),
        ("2\n0\n127\n60\n69\n440.\n7\n0\ny\n", "no degree of the scale"),
        ("2\n0\n127\n60\n69\n0.0\n7\n0\nx\n", "is no frequency"),
        ("0\n0\n128\n60\n69\n440\n7\n", "“128” is no last key"),
        ("99999999999999\n0\n127\n60\n69\n440\n7\n", "is no size"),
        ("0\n0\n127\n60\n69\n" + "9" * 400 + "\n7\n", "is no frequency"),
        ("0\n0\n127\n60\n69\n440\n-7\n", "is no octave"),
    ],
)
def test_wrong_keyboards(text: str, sentence: str) -> None:
    with pytest.raises(ChantError, match=sentence):
        load_kbm(text, file="wrong.kbm")


def test_a_silent_reference_is_told() -> None:
    keyboard = load_kbm("2\n0\n127\n60\n61\n440.\n7\n0\n")
    assert keyboard.pattern == (0, None)
    with pytest.raises(ChantError, match="reference key 61 is silent"):
        key_hz(SCALES["diatonic"], keyboard, 60)
