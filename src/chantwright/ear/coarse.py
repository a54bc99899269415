"""Coarse pitch: which octave and which note, to within a few cents, on an even grid.

A small trained tracker (swift-f0) does this when it is installed; a plain autocorrelation tracker
stands in where it is not. Either can be told the lowest and highest pitch the singer can have sung.
Where it is not told, it listens twice: the first time freely, the second within the range that the
recording itself shows, which takes out most errors of an octave.

Conventions
-----------
One value each `HOP` seconds from time 0. Pitch in Hz, never ``nan``; confidence 0 to 1.

References
----------
P. McLeod & G. Wyvill, "A smarter way to find pitch", ICMC 2005 (the normalised square difference).
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from chantwright.ear.recording import Samples

__all__ = ["HIGHEST", "HOP", "LOWEST", "Coarse", "coarse_pitch", "own_range"]

Floats = npt.NDArray[np.float64]

HOP = 0.01
LOWEST, HIGHEST = 50.0, 1000.0
"""Hz: a low bass's low notes; above a child's high ones."""

_SURE = 0.6
_STRAY = 0.2
_ENOUGH = 50  # sure frames before the recording's own range is believed
_MARGIN = 2 ** (4.5 / 12)  # beyond the lowest and highest pitch heard
_WINDOW = 0.05
_NEAR_DRONE = 40.0  # cents


@dataclass(frozen=True, slots=True, eq=False)
class Coarse:
    """Pitch in Hz and confidence, both of shape (n,), one each `HOP` seconds."""

    pitch: Floats
    confidence: Floats


@cache
def _detector() -> Any:
    """The trained tracker, or None where it is not installed."""
    try:
        return importlib.import_module("swift_f0").SwiftF0(threads=1, spin=False)
    except ImportError:
        return None


def coarse_pitch(
    samples: Samples,
    rate: int,
    *,
    lowest: float | None = None,
    highest: float | None = None,
    drone: float | None = None,
    plain: bool = False,
) -> Coarse:
    """Follow the pitch.

    Parameters
    ----------
    samples : ndarray of float32, shape (n,)
        One channel.
    rate : int
        Samples a second.
    lowest, highest : float, optional
        Limits in Hz. What is not given is taken from the recording itself.
    drone : float, optional
        Pitch of a drone that still sounds in the samples, Hz: its own pitch, and the deeper
        pitches it makes together with a voice, say nothing about the singer's range.
    plain : bool
        Use the plain tracker even where the trained one is installed.

    Returns
    -------
    Coarse
    """
    follow = _plain if plain or _detector() is None else _trained
    loud = float(np.quantile(np.abs(samples[:: max(1, samples.size // 200_000)]), 0.999))
    even = samples * np.float32(0.3 / loud) if loud > 0 else samples
    bottom, top = lowest or LOWEST, highest or HIGHEST
    first = follow(even, rate, bottom, top)
    if lowest is not None and highest is not None:
        return first
    own = own_range(first, drone)
    if own is None:
        return first
    low = max(bottom, own[0]) if lowest is None else bottom
    high = min(top, own[1]) if highest is None else top
    stray = ((first.pitch < low) | (first.pitch > high)) & (first.confidence > _STRAY)
    if low < high / 1.2 and stray.any():
        return follow(even, rate, low, high)
    return first


def own_range(heard: Coarse, drone: float | None = None) -> tuple[float, float] | None:
    """Range that a recording shows, with a margin of a good third; None where too little is sure.

    Parameters
    ----------
    heard : Coarse
        A free first listening.
    drone : float, optional
        Pitch of a drone, Hz.

    Returns
    -------
    (float, float) or None
        Hz.
    """
    sure = heard.confidence > _SURE
    if drone is not None:
        parts = np.log2(drone / heard.pitch)
        whole = np.maximum(np.round(drone / heard.pitch), 1)
        sure &= np.abs(parts - np.log2(whole)) * 1200 > _NEAR_DRONE
    if sure.sum() < _ENOUGH:
        return None
    cents = np.sort(1200 * np.log2(heard.pitch[sure]))
    # Most of what is sung lies within an octave and a half: take the fullest such stretch, so that
    # a few stray octaves at either end do not widen it.
    ends = np.searchsorted(cents, cents + 1800, side="right")
    best = int(np.argmax(ends - np.arange(cents.size)))
    inside = cents[best : ends[best]]
    low, high = np.quantile(inside, [0.02, 0.98])
    return float(2 ** (low / 1200) / _MARGIN), float(2 ** (high / 1200) * _MARGIN)


def _grid(samples: Samples, rate: int) -> Floats:
    return np.asarray(HOP * np.arange(int(samples.size / rate / HOP)))


def _trained(samples: Samples, rate: int, lowest: float, highest: float) -> Coarse:
    times = _grid(samples, rate)
    if not times.size:
        return Coarse(times, times)
    found = _detector().detect(samples, rate, lowest, highest)
    return Coarse(
        np.exp(np.interp(times, found.timestamps, np.log(found.pitch_hz))),
        np.interp(times, found.timestamps, found.confidence),
    )


def _plain(samples: Samples, rate: int, lowest: float, highest: float) -> Coarse:
    """Normalised square difference in windows of four cycles of the lowest pitch, then a best path.

    Each frame offers its five best peaks; the path pays for leaps and for weak peaks.
    """
    times = _grid(samples, rate)
    longest = int(rate / lowest) + 2
    size = max(int(_WINDOW * rate), 2 * longest)
    padded = np.pad(samples.astype(np.float64), (size // 2, size))
    starts = np.round(times * rate).astype(int)
    pitch = np.full((times.size, 5), lowest)
    clear = np.zeros((times.size, 5))
    full = 1 << int(np.ceil(np.log2(size + longest)))
    lags = np.arange(longest)
    for a in range(0, times.size, 500):
        rows = padded[starts[a : a + 500, None] + np.arange(size)]
        rows = rows - rows.mean(axis=1, keepdims=True)
        power = np.abs(np.fft.rfft(rows, full)) ** 2
        same = np.fft.irfft(power, full)[:, :longest]
        squares = np.cumsum(rows**2, axis=1)
        both = (
            squares[:, size - 1 - lags]
            + squares[:, -1:]
            - np.pad(squares, ((0, 0), (1, 0)))[:, lags]
        )
        near = 2 * same / np.maximum(both, 1e-9)
        p, c = _peaks(near, rate, lowest, highest)
        pitch[a : a + 500], clear[a : a + 500] = p, c
    return _best_path(pitch, clear)


def _peaks(near: Floats, rate: int, lowest: float, highest: float) -> tuple[Floats, Floats]:
    """Pitch and clearness of the five best peaks of each row, shape (rows, 5)."""
    inner = near[:, 1:-1]
    peak = (inner > near[:, :-2]) & (inner >= near[:, 2:])
    lags = np.arange(1, near.shape[1] - 1)
    peak &= (lags >= rate / highest - 1) & (lags <= rate / lowest + 1)
    # A small price on long lags: every multiple of the period is a peak as well.
    height = np.where(peak, inner - 0.02 * np.log2(lags * lowest / rate + 1), -1.0)
    best = np.argsort(-height, axis=1)[:, :5]
    rows = np.arange(near.shape[0])[:, None]
    left, here, right = near[rows, best], near[rows, best + 1], near[rows, best + 2]
    curve = left - 2 * here + right
    shift = np.where(np.abs(curve) > 1e-12, 0.5 * (left - right) / np.where(curve, curve, 1), 0.0)
    found = rate / (best + 1 + np.clip(shift, -0.5, 0.5))
    real = np.take_along_axis(height, best, axis=1) > -1.0
    return np.where(real, found, lowest), np.where(real, np.clip(here, 0, 1), 0.0)


def _best_path(pitch: Floats, clear: Floats) -> Coarse:
    count, width = pitch.shape
    octaves = np.log2(pitch)
    cost = 1.0 - clear + 0.02 * np.arange(width)
    total, back = cost[0].copy() if count else np.zeros(width), np.zeros((count, width), int)
    for i in range(1, count):
        leap = np.minimum(np.abs(octaves[i][:, None] - octaves[i - 1][None, :]), 0.5)
        ways = total[None, :] + 1.2 * leap
        back[i] = np.argmin(ways, axis=1)
        total = cost[i] + ways[np.arange(width), back[i]]
    path = np.zeros(count, int)
    if count:
        path[-1] = int(np.argmin(total))
        for i in range(count - 1, 0, -1):
            path[i - 1] = back[i, path[i]]
    rows = np.arange(count)
    return Coarse(pitch[rows, path], clear[rows, path] ** 2)
