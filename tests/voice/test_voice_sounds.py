"""Spelling into sounds, and sounds into formants."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from chantwright.errors import ChantError
from chantwright.score import Place, Syllable
from chantwright.voice.sounds import load_sounds, load_spelling
from chantwright.voice.tract import RATE, Tract, pitch_class, tract

SPELLING = load_sounds()

# Common English pronunciation, from memory; "open" syllables stand as the setter divides them.
SAID: list[tuple[str, Place, int, str]] = [
    ("Lord,", "single", 1, "l aw r d"),
    ("thee,", "single", 1, "dh ee"),
    ("night", "single", 1, "n ah ee t"),
    ("praise", "single", 1, "p r ay ee s"),
    ("name", "single", 1, "n ay ee m"),
    ("voice", "single", 1, "v aw ee s"),
    ("haste", "single", 1, "h ay ee s t"),
    ("cloud", "single", 1, "k l ah oo d"),
    ("sing", "single", 1, "s ih ng"),
    ("bless", "single", 1, "b l eh s"),
    ("moon", "single", 1, "m oo n"),
    ("hope", "single", 1, "h oh oo p"),
    ("quick", "single", 1, "k w ih k"),
    ("sheep", "single", 1, "sh ee p"),
    ("know", "single", 1, "n oh oo"),
    ("judge", "single", 1, "j uh j"),
    ("church", "single", 1, "ch er ch"),
    ("I", "single", 0, "ah ee"),
    ("by", "single", 0, "b ah ee"),
    ("ho", "begin", 1, "h oh oo"),
    ("ly", "end", 0, "l ee"),
    ("cy", "end", 0, "s ee"),
    ("mer", "begin", 1, "m er"),
    ("va", "middle", 1, "v ay ee"),
    ("tion", "end", 0, "sh uh n"),
    ("Christ", "single", 1, "k r ah ee s t"),
    ("cried", "single", 1, "k r ah ee d"),
    ("skies", "single", 1, "s k ah ee z"),
    ("ried", "end", 0, "r ee d"),
    ("field", "single", 1, "f ee l d"),
    ("die", "single", 1, "d ah ee"),
]


@pytest.mark.parametrize(("text", "place", "stress", "asked"), SAID)
def test_english_spelling(text: str, place: Place, stress: int, asked: str) -> None:
    read = SPELLING.read(Syllable(text, place, stress))
    assert " ".join((*read.onset, *read.nucleus, *read.coda)) == asked


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("ne", "n eh"),
        ("nes", "n eh s"),
        ("gi", "g ee"),
        ("Κύ", "k ee"),
        ("ου", "oo"),
        ("Го", "g oh"),
    ],
)
def test_other_languages_take_each_vowel_as_itself(text: str, asked: str) -> None:
    read = SPELLING.read(Syllable(text), "grc")
    assert " ".join((*read.onset, *read.nucleus, *read.coda)) == asked


@given(st.text(max_size=12), st.sampled_from(["en", "grc", "ro"]), st.integers(0, 2))
@settings(deadline=None, max_examples=200)
def test_any_text_has_a_vowel_to_sing(text: str, language: str, stress: int) -> None:
    read = SPELLING.read(Syllable(text, "end", stress), language)
    assert read.nucleus
    assert all(s in SPELLING.rows["vowel"] for s in read.nucleus)
    assert all(s in SPELLING.rows["consonant"] for s in (*read.onset, *read.coda))


def test_every_row_says_where_it_comes_from() -> None:
    for table in SPELLING.rows.values():
        for row in table.values():
            assert row.src
            assert row.conf in ("high", "medium", "low")


def test_a_parish_row_wins(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[word]]\nid = "lord"\nsounds = ["l", "oh", "r", "d"]\n', encoding="utf-8")
    assert load_spelling([own]).read(Syllable("Lord")).nucleus == ("oh",)
    own.write_text('[[word]]\nid = "lord"\nsounds = ["l", "ö"]\n', encoding="utf-8")
    with pytest.raises(ChantError, match="no sound “ö”"):
        load_spelling([own])


def test_unknown_voice() -> None:
    with pytest.raises(ChantError, match="no voice “bass”"):
        Tract("bass", SPELLING)


def test_a_parish_voice_must_be_whole(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[[colour]]\nid = "low"\nupper = [3200, 3600]\n', encoding="utf-8")
    with pytest.raises(ChantError, match="one bandwidth for each formant"):
        Tract("low", load_spelling([own]))


# Peterson and Barney 1952, averages of men and women, F1 and F2 in Hz.
PUBLISHED = {
    "low": {"ee": (270, 2290), "eh": (530, 1840), "ah": (730, 1090), "oo": (300, 870)},
    "high": {"ee": (310, 2790), "eh": (610, 2330), "ah": (850, 1220), "oo": (370, 950)},
}


@pytest.mark.parametrize("colour", PUBLISHED)
def test_formants_stand_where_they_were_published(colour: str) -> None:
    for vowel, asked in PUBLISHED[colour].items():
        response = tract(colour).response(vowel, pitch_class(100.0))
        spectrum = np.abs(np.fft.rfft(response, 1 << 15))
        peaks = signal.find_peaks(spectrum)[0] * RATE / (1 << 15)
        for formant in asked:
            assert np.min(np.abs(peaks / formant - 1)) < 0.05, (vowel, formant, peaks[:4])


def test_vowels_differ_and_are_even_in_loudness() -> None:
    voice = tract("low")
    power = {}
    shapes = {}
    for vowel in SPELLING.rows["vowel"]:
        spectrum = np.abs(np.fft.rfft(voice.response(vowel, pitch_class(150.0)), 1 << 14))
        harmonics = spectrum[np.round(np.arange(1, 40) * 150 * (1 << 14) / RATE).astype(int)]
        power[vowel] = 10 * np.log10(np.sum(harmonics**2))
        shapes[vowel] = 20 * np.log10(harmonics)
    assert np.ptp(list(power.values())) < 4.0  # decibels; spoken vowels differ by up to 10
    for a, b in combinations(shapes, 2):
        difference = shapes[a] - shapes[b]
        # Three decibels of change in shape is well above what is heard as a change of colour.
        assert np.std(difference) > 1.5, (a, b)


def test_a_vowel_opens_for_a_note_above_its_first_formant() -> None:  # Sundberg 1987
    voice = tract("high")
    assert voice.formants("oo", pitch_class(220.0))[0] == 370
    assert voice.formants("oo", pitch_class(440.0))[0] == pytest.approx(440, rel=0.01)


def test_responses_hold_nothing_near_the_edge_of_the_band() -> None:
    for colour in ("low", "high", "child", "drone"):
        spectrum = np.abs(np.fft.rfft(tract(colour).response("ah", pitch_class(200.0)), 1 << 14))
        top = spectrum[int(20_000 * (1 << 14) / RATE) :]
        assert 20 * np.log10(np.max(top) / np.max(spectrum)) < -70
