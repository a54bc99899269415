"""Singers made of sines for the tests of the practice pack: known notes, known faults.

Forty harmonics under three formants (Peterson and Barney 1952, vowel of "father", rounded),
vibrato, glides of 60 ms, gaps between words, breath noise; moria and seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import signal

Floats = npt.NDArray[np.float64]
RATE = 48_000
FORMANTS = ((730.0, 90.0, 1.0), (1090.0, 110.0, 0.5), (2440.0, 160.0, 0.2))


@dataclass(frozen=True, slots=True)
class Take:
    """Samples, the notes that were meant (rows of start, end, moria), and the pitch in Hz."""

    samples: npt.NDArray[np.float32]
    sung: tuple[tuple[float, float, float], ...]
    zero_hz: float
    hz: Floats


def voice(
    hz: Floats, loud: Floats, seed: int = 1, noise_db: float = -45.0, rate: int = RATE
) -> Floats:
    """Sing a line of pitches (Hz, 0 for silence) with a loudness, both sample by sample."""
    sound = np.zeros_like(hz)
    phase = 2 * np.pi * np.cumsum(hz) / rate
    for k in range(1, 41):
        partial = hz * k
        if not (partial < 0.45 * rate).any() or hz[hz > 0].min() * k > 0.45 * rate:
            break
        gain = sum(g / (1 + ((partial - f) / b) ** 2) for f, b, g in FORMANTS) / k**0.5
        sound += np.where(partial < 0.45 * rate, gain, 0.0) * np.sin(k * phase)
    sound *= loud
    sound *= 0.2 / max(1e-9, float(np.sqrt(np.mean(sound[loud > 0.5] ** 2))))
    rng = np.random.default_rng(seed)
    return np.asarray(sound + 0.2 * 10 ** (noise_db / 20) * rng.standard_normal(hz.size))


VOWELS = ((650, 1080, 2650, 3300), (400, 1700, 2600, 3300), (450, 800, 2830, 3400))


def throat(
    hz: Floats, loud: Floats, seed: int = 1, noise_db: float = -45.0, rate: int = RATE
) -> Floats:
    """Sing the same in another way: pulses of a glottis through the resonances of a throat.

    Rosenberg's pulse (J. Acoust. Soc. Am. 49, 1971), four resonators in a row (Klatt, J. Acoust.
    Soc. Am. 67, 1980), vowels that change twice a second, periods that are never quite the same.
    """
    rng = np.random.default_rng(seed)
    knots = np.arange(0, hz.size + 480, 480)
    slow = np.interp(np.arange(hz.size), knots, rng.normal(0, 2.0, knots.size))
    phase = np.cumsum(hz * 2 ** (slow / 1200) / rate)
    place = phase % 1.0
    closing = np.where(place < 0.56, np.cos(np.pi / 2 * (place - 0.4) / 0.16), 0.0)
    flow = np.where(place < 0.4, 0.5 - 0.5 * np.cos(np.pi * place / 0.4), closing)
    source = np.diff(flow, prepend=0.0) * rate / 400
    source += 0.02 * rng.standard_normal(hz.size) * (0.3 + flow)
    source *= np.where(hz > 0, loud, 0.0)
    sound = np.zeros_like(source)
    turn = np.arange(hz.size) / rate * 2.0
    for number, formants in enumerate(VOWELS):
        part = source
        for centre, wide in zip(formants, (80, 100, 140, 200), strict=True):
            radius = np.exp(-np.pi * wide / rate)
            back = [1.0, -2 * radius * np.cos(2 * np.pi * centre / rate), radius**2]
            part = signal.lfilter([sum(back)], back, part)
        share = np.clip(1 - np.abs((turn - number + 1.5) % 3 - 1.5), 0, 1)
        sound += share * part
    sound *= 0.2 / max(1e-9, float(np.sqrt(np.mean(sound[loud > 0.5] ** 2))))
    return np.asarray(sound + 0.2 * 10 ** (noise_db / 20) * rng.standard_normal(hz.size))


def take(
    notes: Sequence[tuple[float, float]],
    zero_hz: float,
    *,
    beat: float = 0.5,
    delay: float = 0.5,
    shift: float = 0.0,
    off: dict[int, float] | None = None,
    vibrato: float = 35.0,
    gaps: Sequence[int] = (),
    order: Sequence[int] | None = None,
    drift: float = 0.0,
    noise_db: float = -45.0,
    tail: float = 0.6,
    rate: int = RATE,
    singer: Callable[..., Floats] = voice,
) -> Take:
    """Sing notes given as (moria, beats).

    `off` moves single notes (place -> moria); before the places in `gaps` the singer breathes;
    `order` is the order of singing (for notes left out and phrases sung again); `drift` is in moria
    from first to last; `vibrato` in cents to either side.
    """
    sequence = list(range(len(notes))) if order is None else list(order)
    pitch = [np.zeros(round(delay * rate))]
    loud = [np.zeros(round(delay * rate))]
    rows = []
    at = delay
    for count, index in enumerate(sequence):
        if index in gaps and count:
            pitch.append(np.zeros(round(0.35 * rate)))
            loud.append(np.zeros(round(0.35 * rate)))
            at += 0.35
        moria, beats = notes[index]
        size = round(beats * beat * rate)
        moved = moria + shift + (off or {}).get(index, 0.0) + drift * count / len(sequence)
        hz = np.full(size, zero_hz * 2 ** (moved / 72))
        before = pitch[-1][-1] if pitch[-1].size else 0.0
        glide = min(size, round(0.06 * rate))
        if before > 0:
            hz[:glide] = before * (hz[:glide] / before) ** np.linspace(0, 1, glide)
        edge = np.ones(size)
        soft = min(size // 3, round(0.02 * rate))
        edge[:soft] = np.linspace(0.3 if before > 0 else 0.0, 1, soft)
        edge[-soft:] = np.linspace(1, 0.3, soft)
        pitch.append(hz)
        loud.append(edge)
        rows.append((at, at + size / rate, moved))
        at += size / rate
    pitch.append(np.zeros(round(tail * rate)))
    loud.append(np.zeros(round(tail * rate)))
    hz = np.concatenate(pitch)
    times = np.arange(hz.size) / rate
    hz = hz * 2 ** (vibrato / 1200 * np.sin(2 * np.pi * 5.4 * times))
    sound = singer(hz, np.concatenate(loud), noise_db=noise_db, rate=rate)
    return Take(sound.astype(np.float32), tuple(rows), zero_hz, hz)


def silence(seconds: float = 6.0) -> npt.NDArray[np.float32]:
    rng = np.random.default_rng(3)
    return (1e-4 * rng.standard_normal(round(seconds * RATE))).astype(np.float32)


def breath(seconds: float = 6.0) -> npt.NDArray[np.float32]:
    """Noise that comes and goes, coloured like air at the lips."""
    rng = np.random.default_rng(4)
    white = rng.standard_normal(round(seconds * RATE))
    soft = np.convolve(white, np.ones(12) / 12, "same")
    swell = np.sin(np.pi * np.arange(white.size) / RATE / 1.5) ** 2
    return np.asarray(0.1 * soft * swell, np.float32)


def drone(hz: float, seconds: float = 6.0) -> npt.NDArray[np.float32]:
    t = np.arange(round(seconds * RATE)) / RATE
    sound = np.zeros_like(t)
    for k, part in enumerate((1, 0.55, 0.32, 0.22, 0.12, 0.07), 1):
        sound += part * np.sin(2 * np.pi * hz * k * t)
    return np.asarray(0.15 * sound, np.float32)


def speech(seconds: float = 8.0) -> npt.NDArray[np.float32]:
    """Talking: syllables of a fifth of a second, each gliding, over falling sentences."""
    rng = np.random.default_rng(5)
    size = round(seconds * RATE)
    t = np.arange(size) / RATE
    sentence = 135 - 30 * (t % 2.4) / 2.4
    hz = np.zeros(size)
    loud = np.zeros(size)
    at = 0.0
    while at < seconds - 0.4:
        length = rng.uniform(0.12, 0.26)
        inside = (t >= at) & (t < at + length)
        along = (t[inside] - at) / length
        rise = rng.uniform(0.05, 0.3) * rng.choice([-1, 1])
        hz[inside] = sentence[inside] * 2 ** (rise * (along - 0.5) + 0.08 * np.sin(np.pi * along))
        loud[inside] = np.sin(np.pi * along) ** 0.5
        at += length + rng.uniform(0.03, 0.12) + (0.35 if rng.random() < 0.12 else 0)
    return voice(hz, loud).astype(np.float32)
