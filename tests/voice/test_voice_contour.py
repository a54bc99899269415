"""Time and pitch of the singing line, before any sound is made."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.score import Base, Hymn, Note, Phrase, Syllable
from chantwright.tones import load_tones
from chantwright.voice import TrackOptions, sing
from chantwright.voice.contour import BREATH, Tuner, contour, phrase_event, samples
from chantwright.voice.joints import Joints, halves

TONES = load_tones()
RATE = 48_000


def phrase(*notes: tuple[int, str], rest: str = "0", name: str = "p1", bend: str = "0") -> Phrase:
    syllables = tuple(
        Syllable("la", notes=(Note(d, Fraction(b), Fraction(bend)),), id=f"{name}s{i}")
        for i, (d, b) in enumerate(notes, start=1)
    )
    return Phrase(syllables, rest=Fraction(rest), id=name)


# Equal temperament on A = 440 Hz (ISO 16:1975) gives C4 = 261.6256 and, two, five, seven and nine
# semitones above, D, F, G and A. The diatonic scale of the Patriarchal Committee of 1881-83 (12 10
# 8 12 12 10 8 of 72) shares those; its vou and zo lie 22 and 64 moria up: 261.6256 * 2^(22/72).
PUBLISHED = {
    0: 261.6256,
    1: 293.665,
    2: 323.342,
    3: 349.228,
    4: 391.995,
    5: 440.0,
    6: 484.465,
    7: 523.251,
}


def test_published_frequencies_reach_the_events() -> None:
    tuner = Tuner(TONES, "diatonic", Base(0, 261.6256))
    event = phrase_event(phrase(*((d, "1") for d in PUBLISHED)), tuner, Fraction(120), at=0)
    for note, asked in zip(event.notes, PUBLISHED.values(), strict=True):
        assert note.hz == pytest.approx(asked, abs=6e-4)
    assert [n.moria for n in event.notes] == [0, 12, 22, 30, 42, 54, 64, 72]


def test_a_bend_of_six_moria_is_a_semitone() -> None:  # 72 to the octave, 6 = 100 cents
    tuner = Tuner(TONES, "diatonic", Base(0, 200.0))
    plain, bent = (
        phrase_event(phrase((3, "1"), bend=b), tuner, Fraction(120), at=0).notes[0]
        for b in ("0", "-6")
    )
    assert 1200 * np.log2(plain.hz / bent.hz) == pytest.approx(100, abs=1e-9)
    assert plain.moria - bent.moria == 6


def test_a_new_scale_keeps_the_note_it_is_built_on() -> None:
    # A sign of another genus stands on a note that both scales share (common practice): hard
    # chromatic on pa, soft chromatic on di, enharmonic on ga.
    tuner = Tuner(TONES, "diatonic", Base(2, 150.0))
    for name, shared in (("hard_chromatic", 1), ("soft_chromatic", 4), ("enharmonic", 3)):
        assert tuner.hz(shared, name) == pytest.approx(tuner.hz(shared), rel=1e-12)
    # Hard chromatic from pa is 6 20 4 where diatonic is 10 8 12 (Committee): vou lies 4 lower.
    low = 1200 * np.log2(tuner.hz(2, "hard_chromatic") / tuner.hz(2))
    assert low == pytest.approx(-4 * 1200 / 72)


beats = st.fractions(Fraction(1, 4), Fraction(6), max_denominator=6)


@given(st.lists(beats, min_size=1, max_size=12), st.integers(40, 300), beats)
@settings(deadline=None, max_examples=60)
def test_every_beat_falls_on_its_sample(
    lengths: list[Fraction], tempo: int, before: Fraction
) -> None:
    tuner = Tuner(TONES, "diatonic", Base(0, 130.0))
    written = phrase(*((i % 5, str(b)) for i, b in enumerate(lengths)))
    event = phrase_event(written, tuner, Fraction(tempo), at=1000, offset=before)
    count = before
    for note in event.notes:
        # 60 / tempo seconds to a beat: the meaning of beats a minute.
        assert abs(note.start * RATE - 1000 - float(count * 60 * RATE / tempo)) <= 0.5 + 1e-6
        assert (note.start * RATE) == pytest.approx(round(note.start * RATE), abs=1e-6)
        count += note.beats
    assert all(a.end == b.start for a, b in pairwise(event.notes))
    assert event.end == event.notes[-1].end
    assert event.notes[-1].end - event.notes[-1].stop <= BREATH + 1e-9


def test_breath_is_taken_from_the_last_note_only() -> None:
    tuner = Tuner(TONES, "diatonic", Base(0, 130.0))
    event = phrase_event(phrase((0, "1"), (1, "3")), tuner, Fraction(120), at=0)
    assert event.notes[0].stop == event.notes[0].end
    assert event.notes[1].end - event.notes[1].stop == pytest.approx(BREATH)
    rested = phrase_event(phrase((0, "1"), (1, "3"), rest="1"), tuner, Fraction(120), at=0)
    assert rested.notes[1].stop == rested.notes[1].end  # half a second of rest is breath enough
    assert rested.close - rested.end == pytest.approx(0.5)
    short = phrase_event(phrase((0, "1/2")), tuner, Fraction(240), at=0)
    assert short.notes[0].stop - short.notes[0].start >= 0.6 * 0.125 - 1e-9


def test_pitch_is_exact_inside_notes_and_glides_between_them() -> None:
    tuner = Tuner(TONES, "diatonic", Base(0, 130.0))
    first = phrase_event(phrase((0, "1"), (4, "1"), (2, "2")), tuner, Fraction(120), at=0)
    second = phrase_event(
        phrase((5, "1"), (4, "1"), name="p2"), tuner, Fraction(120), at=0, offset=Fraction(4)
    )
    line = contour([first, second])
    for note in (*first.notes, *second.notes):
        inside = np.linspace(note.start + 0.046, note.stop - 0.046, 50)
        assert np.max(np.abs(1200 * np.log2(line.hz(inside) / note.hz))) < 1e-6
    a, b = first.notes[:2]
    assert line.hz(np.array([b.start]))[0] == pytest.approx(np.sqrt(a.hz * b.hz))
    # No scoop: a phrase begins on its own pitch, which is reached in the silence before it.
    start = second.notes[0].start
    onset = np.linspace(start - 0.1, start + 0.2, 60)
    assert np.max(np.abs(line.hz(onset) / second.notes[0].hz - 1)) < 1e-12


def test_vibrato_is_mild_unbiased_and_only_on_long_notes() -> None:
    tuner = Tuner(TONES, "diatonic", Base(0, 130.0))
    event = phrase_event(phrase((0, "1"), (1, "4"), (0, "1")), tuner, Fraction(120), at=0)
    line = contour([event], vibrato=12)
    short, long_, _ = event.notes
    assert np.ptp(line.hz(np.linspace(short.start + 0.05, short.end - 0.05, 99))) < 1e-9
    times = np.arange(long_.start + 0.05, long_.stop - 0.05, 0.001)
    cents = 1200 * np.log2(line.hz(times) / long_.hz)
    assert 10 < np.max(cents) <= 12
    assert -12 <= np.min(cents) < -10
    assert abs(np.mean(cents)) < 0.05
    rising = times[:-1][(cents[:-1] < 0) & (cents[1:] >= 0)]
    assert 1 / np.mean(np.diff(rising)) == pytest.approx(5.3, abs=0.3)  # Prame 1994: 5 to 7 Hz


@given(
    st.lists(st.floats(0.02, 2.0), min_size=2, max_size=10),
    st.floats(0.001, 0.5),
    st.integers(0, 2**32 - 1),
)
@settings(deadline=None, max_examples=60)
def test_joints_never_jump_and_stay_between_neighbours(
    lengths: list[float], width: float, seed: int
) -> None:
    at = np.cumsum(lengths)[:-1]
    end = float(np.sum(lengths))
    joints = Joints(at, halves(at, width, 0.0, end))
    values = np.random.default_rng(seed).normal(size=len(lengths))
    times = np.linspace(0, end, 4001)
    line = joints.value(values, times)
    assert values.min() - 1e-9 <= line.min() <= line.max() <= values.max() + 1e-9
    for place, half, a, b in zip(at, joints.half, values, values[1:], strict=False):
        step = 1e-4 * half
        left, right = joints.value(values, np.array([place - step, place + step]))
        assert abs(left - right) <= abs(a - b) * 1e-3 + 1e-12
        assert left == pytest.approx((a + b) / 2, abs=abs(a - b) * 1e-3 + 1e-12)


@given(
    st.lists(beats, min_size=1, max_size=4),
    st.sampled_from([60, 97, 132]),
    st.sampled_from(["1", "0.7", "0.5"]),
)
@settings(deadline=None, max_examples=10)
def test_a_hymn_lasts_its_beats_to_the_sample(
    lengths: list[Fraction], tempo: int, pace: str
) -> None:
    line = Phrase(tuple(Syllable("la", notes=(Note(1, b),)) for b in lengths), rest=Fraction(1, 2))
    hymn = Hymn("x", tone=1, tempo=tempo, phrases=(line, line))
    bare = TrackOptions(mode="melody", intonation="none", count_in=0, pace=float(pace))
    track = sing(hymn, TONES, bare)
    # Beats a minute slowed by the pace, plus a lead of a quarter and a tail of half a second.
    asked = round(hymn.beats * 60 * RATE / (tempo * Fraction(pace)))
    assert len(track.samples) == asked + RATE // 4 + RATE // 2
    assert asked == round(samples(hymn.beats, tempo * Fraction(pace)))


def test_a_pitch_beyond_any_voice_is_refused() -> None:
    with pytest.raises(ChantError, match="beyond any voice"):
        Tuner(TONES, "diatonic", Base(0, 4000.0)).hz(0)
    with pytest.raises(ChantError, match="no scale"):
        Tuner(TONES, "diatonic", Base(0, 100.0)).hz(0, "lydian")
