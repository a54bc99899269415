"""Tracks heard by others: two trackers of pitch, a loudness meter, and a look for clicks."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import listening
import numpy as np
import pyloudnorm
import pytest
from scipy import signal

from chantwright.errors import ChantError
from chantwright.score import Base, Hymn, Note, Phrase, Syllable
from chantwright.tones import load_tones
from chantwright.tuning import hz
from chantwright.voice import MODES, Track, TrackOptions, sing
from chantwright.voice.loudness import loudness, true_peak

TONES = load_tones()
RATE = 48_000
BARE = TrackOptions(mode="melody", intonation="none", count_in=0, holders=1)


@pytest.fixture(scope="module")
def full() -> Track:
    return sing(listening.psalm(TONES, verses=2), TONES)


@pytest.mark.parametrize(
    ("tone", "base", "voice"),
    [(1, 80.0, "low"), (2, 120.0, "low"), (3, 150.0, "low"), (4, 196.0, "high"),
     (5, 220.0, "high"), (6, 180.0, "high"), (7, 262.0, "child"), (8, 400.0, "child")],
)  # fmt: skip
def test_sung_pitch_by_two_trackers(tone: int, base: float, voice: str) -> None:
    branch = TONES.default_branch(tone)
    hymn = listening.ladder(TONES, branch.id, base)
    track = sing(hymn, TONES, replace(BARE, voice=voice))
    # What was asked comes straight from the scale, not from the timing map.
    scale = TONES.scales[branch.scale]
    written = [n for p in hymn.phrases for s in p.syllables for n in s.notes]
    for note, heard in zip(written, track.timing.notes, strict=True):
        asked = hz(scale, note.degree, base_degree=branch.base, base_hz=base, bend=note.bend)
        assert heard.hz == pytest.approx(asked, rel=1e-12)
    spans = listening.inside(track, consonants=True)
    times = np.concatenate([t for _, t in spans])
    low, high = base / 2.5, base * 4  # the compass of the hymn and an octave to either side
    for found in (
        listening.by_world(track.samples, times, low, high),
        listening.by_autocorrelation(track.samples, times, low, high),
    ):
        assert np.count_nonzero(found) > 0.98 * len(times)
        off = np.abs(listening.errors(track, found, spans))
        assert np.median(off) < 1.0  # cents
        assert np.percentile(off, 95) < 3.0


def test_notes_begin_within_ten_milliseconds_of_the_map() -> None:
    # On one open vowel: a note after a note is heard by its pitch passing the middle of the step,
    # a note after a breath by its sound reaching half of its height.
    track = sing(listening.ladder(TONES, "t1.heirmologic", 146.8, ("a",)), TONES, BARE)
    grid = np.arange(0.3, track.seconds - 0.6, 0.002)
    pitch = np.log2(np.maximum(listening.by_autocorrelation(track.samples, grid, high=400.0), 1.0))
    notes = track.timing.notes
    checked = 0
    for a, b in pairwise(notes):
        near = np.abs(grid - b.start) < 0.06
        if a.stop == a.end and abs(np.log2(b.hz / a.hz)) > 0.05:
            beyond = (pitch[near] - 0.5 * np.log2(a.hz * b.hz)) * np.sign(b.hz - a.hz) > 0
            heard = grid[near][np.argmax(beyond)]
            assert abs(heard - b.start) < 0.010
            checked += 1
        elif a.stop < a.end:
            piece = np.abs(track.samples[round((b.start - 0.1) * RATE) :][: round(0.4 * RATE)])
            level = np.sqrt(np.convolve(piece**2, np.hanning(RATE // 75), "same"))
            heard = b.start - 0.1 + np.argmax(level > 0.5 * np.median(level[-RATE // 10 :])) / RATE
            assert abs(heard - b.start) < 0.010
            checked += 1
    assert checked > 8


@pytest.mark.parametrize(
    ("mode", "voice"), [*((m, "low") for m in MODES), ("full", "high"), ("full", "child")]
)
def test_loudness_and_peak_by_another_meter(mode: str, voice: str) -> None:
    track = sing(listening.psalm(TONES), TONES, TrackOptions(mode=mode, voice=voice))
    meter = pyloudnorm.Meter(RATE)  # its own reading of ITU-R BS.1770-4
    assert meter.integrated_loudness(track.samples.astype(np.float64)) == pytest.approx(
        -19, abs=0.5
    )
    over = signal.resample_poly(track.samples.astype(np.float64), 8, 1)
    assert 20 * np.log10(np.max(np.abs(over))) < -1.0


def test_peaks_are_held_down_by_gain_not_by_clipping(full: Track) -> None:
    loud = sing(listening.psalm(TONES, verses=2), TONES, TrackOptions(loudness=-14))
    assert true_peak(loud.samples) <= -1.0 + 1e-6
    scale = float(np.max(loud.samples) / np.max(full.samples))
    assert np.max(np.abs(loud.samples - scale * full.samples)) < 1e-4


def test_loudness_of_a_published_tone() -> None:
    # EBU Tech 3341, case 1: 1 kHz at -23 dBFS in both channels of a pair reads -23 LUFS.
    times = np.arange(20 * RATE) / RATE
    tone = (10 ** (-23 / 20) * np.sin(2 * np.pi * 1000 * times)).astype(np.float32)
    assert loudness(np.stack((tone, tone), axis=1)) == pytest.approx(-23.0, abs=0.1)
    assert loudness(tone) == pytest.approx(-26.0, abs=0.1)
    assert loudness(tone[: RATE // 10]) == pytest.approx(-26.0, abs=0.3)
    assert loudness(np.zeros(RATE, np.float32)) == -np.inf


def _step(track: Track, start: float, end: float) -> float:
    return float(np.max(np.abs(np.diff(track.samples[round(start * RATE) : round(end * RATE)]))))


@pytest.mark.parametrize("mode", ["melody", "drone", "full"])
def test_no_click_where_notes_vowels_and_isons_change(mode: str) -> None:
    branch = TONES.default_branch(1)
    isons = [1, 1, 4, 1, None, None, 1, 3]
    line = Phrase(
        tuple(
            Syllable(vowel, notes=(Note(1 + d, Fraction(2)),), ison=ison)
            for vowel, d, ison in zip("aeiouaei", [0, 1, 2, 4, 3, 3, 1, 0], isons, strict=True)
        )
    )
    hymn = Hymn("Vowels", 1, branch.id, language="la", base=Base(1, 146.8), phrases=(line, line))
    track = sing(hymn, TONES, replace(BARE, mode=mode))
    notes = track.timing.notes
    for a, b in pairwise(notes):
        typical = max(_step(track, n.start + 0.1, n.stop - 0.1) for n in (a, b))
        assert _step(track, a.stop - 0.08, b.start + 0.08) < 1.25 * typical
    # A click would fill the top of the band, where the voice itself has next to nothing.
    top = signal.sosfilt(signal.butter(6, 15_000, "high", fs=RATE, output="sos"), track.samples)
    assert 20 * np.log10(np.max(np.abs(top)) / np.max(np.abs(track.samples))) < -60


def test_drone_holds_the_ison_in_tune_and_joins_the_melody() -> None:
    hymn = listening.psalm(TONES)
    track = sing(hymn, TONES, replace(BARE, mode="drone"))
    scale = TONES.scales[TONES.default_branch(1).scale]
    spans = listening.inside(track, 0.08)
    for index, times in spans:
        note = track.timing.notes[index]
        ison = hymn.phrases[0].syllables[index].ison
        degree = ison if isinstance(ison, int) else note.degree
        asked = hz(scale, degree, base_degree=1, base_hz=150.0)
        for found in (
            listening.by_world(track.samples, times),
            listening.by_autocorrelation(track.samples, times),
        ):
            assert np.max(np.abs(1200 * np.log2(found / asked))) < 1.0


@pytest.mark.parametrize("holding", ["vowel", "hum"])
def test_a_group_of_holders_stays_in_tune_and_never_stops(holding: str) -> None:
    held = tuple(Syllable("a", notes=(Note(1, Fraction(10)),), ison=1) for _ in range(3))
    hymn = Hymn("x", 1, language="la", tempo=60, base=Base(1, 150.0), phrases=(Phrase(held),))
    options = replace(BARE, mode="drone", holders=3, holding=holding)
    track = sing(hymn, TONES, options)
    times = np.arange(1.0, track.seconds - 1.5, 0.05)
    for found in (
        listening.by_world(track.samples, times),
        listening.by_autocorrelation(track.samples, times),
    ):
        off = np.abs(1200 * np.log2(found / 150.0))
        assert np.median(off) < 1.0
        assert np.percentile(off, 95) < 3.0
    size = RATE // 4
    level = [
        float(np.std(track.samples[s : s + size]))
        for s in range(RATE, len(track.samples) - 2 * RATE, size)
    ]
    assert min(level) > 0.5 * max(level)  # holders breathe by turns, so the group never does
    alone = sing(hymn, TONES, replace(options, holders=1))
    assert np.std([np.std(alone.samples[s : s + size]) for s in range(RATE, 20 * RATE, size)]) < (
        np.std(level)
    )


def test_drone_alone_lies_an_octave_lower_when_asked() -> None:
    low = sing(listening.psalm(TONES), TONES, replace(BARE, mode="drone", drone_octave=-1))
    times = np.arange(0.5, 1.5, 0.02)
    heard = listening.by_autocorrelation(low.samples, times, low=40.0)
    assert np.median(heard) == pytest.approx(75.0, rel=1e-3)


def test_drone_is_ten_decibels_under_the_melody() -> None:
    hymn = listening.psalm(TONES, verses=2)
    meter = pyloudnorm.Meter(RATE)

    def stem(level: float) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        options = TrackOptions(intonation="none", count_in=0, stereo=True, drone_db=level)
        return sing(hymn, TONES, options).samples.astype(np.float64)

    # The left is 0.9 melody + 0.436 drone, the right the other way round: solve for the two.
    left, right = stem(-10.0).T
    near, far = 0.9, np.sqrt(1 - 0.9**2)
    melody = (near * left - far * right) / (near**2 - far**2)
    drone = (near * right - far * left) / (near**2 - far**2)
    gap = meter.integrated_loudness(drone) - meter.integrated_loudness(melody)
    assert gap == pytest.approx(-10.0, abs=0.3)


def test_nothing_is_held_where_the_score_holds_nothing() -> None:
    held = tuple(Syllable("a", notes=(Note(1, Fraction(4)),), ison=i) for i in (1, None, 1))
    hymn = Hymn("x", 1, language="la", tempo=60, base=Base(1, 150.0), phrases=(Phrase(held),))
    track = sing(hymn, TONES, replace(BARE, mode="drone"))
    first, gap, last = (
        float(np.std(track.samples[round((s + 1) * RATE) : round((s + 3) * RATE)]))
        for s in (0.25, 4.25, 8.25)
    )
    assert gap < 1e-4 * first
    assert last == pytest.approx(first, rel=0.2)


def test_the_ison_glides_when_it_moves_and_never_starts_with_a_jerk() -> None:
    held = tuple(Syllable("a", notes=(Note(1, Fraction(3)),), ison=i) for i in (1, 4))
    hymn = Hymn("x", 1, language="la", tempo=60, base=Base(1, 150.0), phrases=(Phrase(held),))
    track = sing(hymn, TONES, replace(BARE, mode="drone"))
    # The first harmonic alone, and how fast its phase turns: the pitch at every sample.
    band = signal.butter(10, 225, "low", fs=RATE, output="sos")
    first = signal.hilbert(signal.sosfiltfilt(band, track.samples.astype(np.float64)))
    change = round((0.25 + 3) * RATE)
    pitch = np.diff(np.unwrap(np.angle(first))) * RATE / (2 * np.pi)
    near = pitch[change - RATE // 8 : change + RATE // 8]
    upper = 150.0 * 2 ** (30 / 72)  # pa to di is 30 moria, a fourth of 500 cents
    moving = np.count_nonzero((near > 155) & (near < upper - 5)) / RATE
    assert 0.06 < moving < 0.12
    assert near.min() > 145
    assert near.max() < upper + 5
    level = np.abs(first[: RATE // 2])
    full = np.median(np.abs(first[RATE : 2 * RATE]))
    rise = (np.argmax(level > 0.9 * full) - np.argmax(level > 0.1 * full)) / RATE
    assert 0.05 < rise < 0.25


def test_a_hymn_without_ison_is_held_on_the_base() -> None:
    hymn = listening.psalm(TONES)
    bare = replace(
        hymn.phrases[0], syllables=tuple(replace(s, ison=None) for s in hymn.phrases[0].syllables)
    )
    track = sing(replace(hymn, phrases=(bare,)), TONES, replace(BARE, mode="drone"))
    heard = listening.by_autocorrelation(track.samples, np.arange(0.6, 4, 0.05))
    assert np.allclose(heard, 150.0, rtol=1e-3)


def test_intonation_stands_alone_and_the_count_in_keeps_the_beat(full: Track) -> None:
    kinds = [p.kind for p in full.timing.parts]
    assert kinds == ["intonation", "count-in", "phrase", "phrase"]
    intonation, count, first = full.timing.parts[:3]
    assert full.timing.notes[0].id.startswith("intonation")
    # 132 beats a minute is the style's own tempo; four ticks lead to the first note.
    assert count.end - count.start == pytest.approx(4 * 60 / 132, abs=1e-4)
    assert first.start == count.end
    # Ticks are found by ear: bursts above 1.5 kHz over the drone, one on every beat.
    band = signal.butter(4, 1500, "high", fs=RATE, output="sos")
    piece = signal.sosfilt(
        band, full.samples[round(count.start * RATE) : round((count.end - 0.1) * RATE)]
    )
    energy = np.sqrt(signal.fftconvolve(piece**2, np.ones(240) / 240, "same").clip(0))
    peaks = signal.find_peaks(energy, height=0.5 * energy.max(), distance=RATE // 5)[0] / RATE
    assert len(peaks) == 4
    assert np.allclose(np.diff(peaks), 60 / 132, atol=0.004)
    # The ison is silent while the intonation is sung: nothing at its pitch but the voice.
    alone = sing(listening.psalm(TONES, verses=2), TONES, TrackOptions(mode="melody"))
    a, b = (
        t.samples[round(intonation.start * RATE) : round(intonation.end * RATE)]
        for t in (full, alone)
    )
    ratio = float(np.dot(a, b) / np.dot(b, b))
    assert np.max(np.abs(a - ratio * b)) < 1e-5


def test_echo_leaves_room_to_answer_with_the_drone() -> None:
    hymn = listening.psalm(TONES, verses=2)
    track = sing(hymn, TONES, TrackOptions(mode="echo", intonation="none", count_in=0))
    parts = track.timing.parts
    assert [p.kind for p in parts] == ["phrase", "answer"] * 2
    for sung, answer in zip(parts[::2], parts[1::2], strict=True):
        assert answer.start == sung.end
        assert answer.end - answer.start == pytest.approx(sung.end - sung.start, abs=1e-4)
        times = np.arange(answer.start + 0.3, answer.end - 0.3, 0.05)
        heard = listening.by_autocorrelation(track.samples, times)
        scale = TONES.scales["diatonic"]
        held = [hz(scale, d, base_degree=1, base_hz=150.0) for d in (1, 3)]
        off = np.min([np.abs(1200 * np.log2(heard / h)) for h in held], axis=0)
        assert np.percentile(off, 80) < 2.0  # the drone alone: on one of its two notes
        assert all(
            n.end <= answer.start + 1e-9 or n.start >= answer.end for n in track.timing.notes
        )


def test_pace_slows_the_beats_and_keeps_the_pitch() -> None:
    hymn = listening.psalm(TONES)
    slow = sing(hymn, TONES, replace(BARE, pace=0.5))
    plain = sing(hymn, TONES, BARE)
    assert slow.seconds - 0.75 == pytest.approx(2 * (plain.seconds - 0.75), abs=1e-4)
    assert [n.hz for n in slow.timing.notes] == [n.hz for n in plain.timing.notes]


@pytest.mark.parametrize(("engine", "onset"), [("plain", 0.08), ("speech", 0.19)])
def test_breath_is_silent_and_the_beat_goes_on(engine: str, onset: float) -> None:
    # The next phrase begins with an l, which is sung before the beat, out of the silence.
    options = replace(BARE, engine=engine)
    track = sing(listening.psalm(TONES, verses=2), TONES, options)
    last = track.timing.notes[11]
    quiet = track.samples[round((last.stop + 0.03) * RATE) : round((last.end - onset) * RATE)]
    assert len(quiet) > 0.05 * RATE
    assert 20 * np.log10(np.std(quiet) / np.std(track.samples)) < -45
    assert track.timing.notes[12].start == last.end


def test_timing_map_is_plain_json(full: Track) -> None:
    told = json.loads(full.timing.to_json())
    assert told["rate"] == RATE
    assert told["base_hz"] == 150.0
    assert {p["id"] for p in told["phrases"]} == {"intonation", "p1", "p2"}
    names = {s["id"] for s in told["syllables"]}
    assert all(n["syllable"] in names for n in told["notes"])
    assert full.timing.note_at(full.timing.notes[5].start + 0.01) == full.timing.notes[5]
    assert full.timing.note_at(0.0) is None


def test_the_same_hymn_sounds_the_same_twice(full: Track) -> None:
    again = sing(listening.psalm(TONES, verses=2), TONES)
    assert np.array_equal(again.samples, full.samples)


def test_default_base_follows_the_group_of_the_voice() -> None:
    hymn = replace(listening.psalm(TONES), base=None)
    for voice, group in (("low", "men"), ("high", "women"), ("child", "children")):
        track = sing(hymn, TONES, replace(BARE, voice=voice))
        ni = TONES.groups[group].ni_default_hz
        assert track.timing.base_hz == pytest.approx(ni * 2 ** (12 / 72))  # pa is 12 moria above ni


def one(title: str, *, beats: int = 1, **head: Any) -> Hymn:
    """A hymn of one note."""
    note = Note(1, Fraction(beats))
    return Hymn(title, **{"tone": 1, **head}, phrases=(Phrase((Syllable("O", notes=(note,)),)),))


HALF = Phrase((Syllable("O", notes=(Note(1),)), Syllable("Lord")))


@pytest.mark.parametrize(
    ("hymn", "said"),
    [
        (Hymn("Empty", tone=1), "no words and no notes"),
        (Hymn("Bare", tone=1, phrases=(Phrase(text="O Lord"),)), "is not set: phrase 1"),
        (Hymn("Half", tone=1, phrases=(HALF,)), "“Lord”"),
        (one("Toneless", tone=None), "has no tone"),
        (one("Fast", tempo=9000), "9000 beats"),
        (one("High", base=Base(1, 5000)), "beyond any voice"),
        (one("Odd", intonation="t9"), "no intonation"),
        (one("Long", beats=9000), "minutes"),
    ],
)
def test_what_cannot_be_sung_is_said(hymn: Hymn, said: str) -> None:
    with pytest.raises(ChantError, match=said) as caught:
        sing(hymn, TONES)
    assert str(caught.value).count(".") >= 2  # what is wrong, and what to do


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"mode": "loud"}, "no mode"),
        ({"intonation": "medium"}, "no intonation"),
        ({"pace": 0.0}, "pace cannot be 0"),
        ({"pace": float("nan")}, "pace cannot be nan"),
        ({"count_in": 99}, "count-in cannot be 99"),
        ({"vibrato": 80.0}, "vibrato cannot be 80"),
    ],
)
def test_options_out_of_bounds(options: dict[str, object], said: str) -> None:
    with pytest.raises(ChantError, match=said):
        TrackOptions(**options)  # type: ignore[arg-type]
