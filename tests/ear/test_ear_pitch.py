"""Pitch of synthetic singing: fine, through drones, and only where something is sung.

Figures asked for here are below those of bench/ear_f0.py, which has more and longer takes. That a
held pitch is no drone, and a drone no singing, is common sense of the trade.
"""

from typing import Literal

import numpy as np
import pytest
import swift_f0
from singer import VOICES, Drone, Manner, Scene, Take, breath, drone, melody, places, sing, speech

from chantwright.ear.coarse import coarse_pitch, own_range
from chantwright.ear.drone import find_drone
from chantwright.ear.trace import trace
from chantwright.ear.voicing import nothing_sung
from chantwright.errors import ChantError

RATE = 16_000
SCALE = list(places("diatonic", 0, 5).values())


def take(voice: str, scene: Scene, seed: int = 11, base: float | None = None) -> Take:
    tune = melody(seed, 9, SCALE)
    return sing(tune, base or VOICES[voice][1], seed=seed, voice=voice, scene=scene)


def cents(f0: np.ndarray, truth: np.ndarray) -> np.ndarray:
    """Distance in cents wherever something was truly sung; what was not heard is far away."""
    n = min(f0.size, truth.size)
    sung = np.isfinite(truth[:n])
    off = 1200 * np.log2(f0[:n][sung] / truth[:n][sung])
    return np.abs(np.where(np.isfinite(off), off, 1e4))


@pytest.mark.parametrize(("voice", "base"), [("bass", 80.0), ("tenor", 160.0), ("child", 440.0)])
def test_pitch_is_fine_from_80_to_800_hz(voice: str, base: float) -> None:
    sung = take(voice, Scene(snr=25), base=base)
    heard = trace(sung.samples, RATE)
    off = cents(heard.f0, sung.f0)
    assert (off <= 8).mean() > 0.97
    assert np.median(off) < 1.5
    alone = swift_f0.SwiftF0(threads=1, spin=False).detect(sung.samples, RATE)
    bare = np.exp(np.interp(heard.times, alone.timestamps, np.log(alone.pitch_hz)))
    assert (off > 8).mean() < 0.5 * (cents(bare, sung.f0) > 8).mean()


@pytest.mark.parametrize("moria", [-42.0, 0.0, -72.0])
@pytest.mark.parametrize("wobble", [0.0, 6.0])
def test_a_drone_does_not_draw_the_pitch_away(moria: float, wobble: float) -> None:
    sung = take("alto", Scene(snr=30, drone=Drone(moria, -12, wobble)))
    off = cents(trace(sung.samples, RATE, drone="detect").f0, sung.f0)
    assert (off <= 8).mean() > 0.94
    assert ((off > 500) & (off < 1e4)).mean() < 0.01


def test_a_known_drone_needs_only_to_be_near() -> None:
    sung = take("tenor", Scene(snr=30, drone=Drone(0, -12)))
    off = cents(trace(sung.samples, RATE, drone=160.0 * 2 ** (8 / 1200)).f0, sung.f0)
    assert (off <= 8).mean() > 0.95


@pytest.mark.parametrize("straight", [False, True])
def test_a_singer_who_holds_one_pitch_is_no_drone(straight: bool) -> None:
    manner = Manner(vibrato=0, wander=0, jitter=0, shimmer=0, scoops=0) if straight else Manner()
    sung = sing([(0.0, 20.0, "a")], 150.0, seed=5, manner=manner, scene=Scene(snr=30))
    assert find_drone(sung.samples, RATE) is None
    heard = trace(sung.samples, RATE, drone="detect")
    assert (cents(heard.f0, sung.f0) <= 8).mean() > 0.98
    assert not nothing_sung(heard)


def test_a_drone_alone_is_no_singing() -> None:
    alone = 0.1 * drone(146.8, 8.0, seed=1)
    alone += 0.0005 * np.random.default_rng(1).normal(size=alone.size)
    named: float | Literal["detect"]
    for named in ("detect", 146.0):
        heard = trace(alone.astype(np.float32), RATE, drone=named)
        assert not heard.voiced.any()
        assert nothing_sung(heard)


def test_breath_noise_and_talk_are_no_singing() -> None:
    noise = np.random.default_rng(2).normal(0, 0.05, 4 * RATE).astype(np.float32)
    assert nothing_sung(trace(breath(1, 6.0), RATE))
    assert nothing_sung(trace(noise, RATE))
    assert nothing_sung(trace(speech(2, 8.0).samples, RATE))
    assert not nothing_sung(trace(take("tenor", Scene(snr=20)).samples, RATE))


def test_without_the_trained_tracker_it_still_works() -> None:
    sung = take("tenor", Scene(snr=30))
    off = cents(trace(sung.samples, RATE, plain=True).f0, sung.f0)
    assert (off <= 8).mean() > 0.95


def test_limits_are_kept() -> None:
    sung = take("alto", Scene(snr=10))
    heard = trace(sung.samples, RATE, lowest=230.0, highest=420.0)
    assert np.nanmin(heard.f0) > 215 and np.nanmax(heard.f0) < 450


def test_the_range_of_a_recording_is_found_with_a_margin() -> None:
    sung = take("tenor", Scene(snr=30))
    own = own_range(coarse_pitch(sung.samples, RATE))
    assert own is not None
    assert own[0] < np.nanmin(sung.f0) and np.nanmax(sung.f0) < own[1]
    assert own[1] / own[0] < 4.5


@pytest.mark.parametrize(
    "wrong", [{"lowest": 0.0}, {"drone": -5.0}, {"lowest": 300, "highest": 310}]
)
def test_impossible_limits_are_sentences(wrong: dict[str, float]) -> None:
    with pytest.raises(ChantError):
        trace(np.zeros(RATE, np.float32), RATE, **wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("size", [0, 1, 100, 2000])
def test_tiny_recordings_hold_nothing(size: int) -> None:
    heard = trace(np.zeros(size, np.float32), RATE, drone="detect")
    assert not heard.voiced.any() and nothing_sung(heard)
