"""Which octave after all: how well a row of harmonics stands out, and the smoothest path.

A coarse tracker errs by octaves and loses faint frames. Here each frame also offers the pitches
whose harmonics stand out most from the recording's own noise and whose half-way places do not; the
path through all offers that is best supported and leaps least is taken.

Conventions
-----------
One frame each `HOP` seconds from time 0; pitch in Hz.

References
----------
X. Sun, "Pitch determination and voice quality analysis using subharmonic-to-harmonic ratio",
ICASSP 2002: harmonics for a pitch, places half-way between them against it.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.ndimage import uniform_filter1d

from chantwright.ear.coarse import HOP, Coarse
from chantwright.ear.recording import Samples

__all__ = ["best_path", "noise_spectrum"]

Floats = npt.NDArray[np.float64]

WINDOW = 0.064
_FINE = 4  # zero padding
_PER_OCTAVE = 60
_HARMONICS = 8
_TOP = 4500.0
_LEAP = 12.0  # price of an octave
_TRUST = 2.0  # weight of the coarse tracker's confidence
_OFFERS = 3
_CLEAR = 2.0  # salience of a pitch beyond doubt
_BLOCK = 1000  # frames


def _spectra(samples: Samples, rate: int, frames: npt.NDArray[np.intp]) -> tuple[Floats, float]:
    """Power spectra of some frames, and the width of a bin in Hz."""
    size = int(WINDOW * rate)
    step = HOP * rate
    starts = np.round(frames * step).astype(int) - size // 2
    at = starts[:, None] + np.arange(size)
    inside = (at >= 0) & (at < samples.size)
    pieces = np.where(inside, samples[np.clip(at, 0, max(0, samples.size - 1))], 0.0)
    full = 1 << int(np.ceil(np.log2(size * _FINE)))
    shape = np.hanning(size)
    power = np.abs(np.fft.rfft((pieces * shape).astype(np.float32), full)) ** 2 / (shape**2).sum()
    return np.asarray(power, dtype=np.float64), rate / full


def noise_spectrum(samples: Samples, rate: int) -> tuple[Floats, Floats]:
    """Noise that is always there: frequencies in Hz, and power per sample and bin of unit window.

    The level that each bin exceeds nine tenths of the time, read as a tenth of an exponential
    distribution.
    """
    total = max(1, int(samples.size / rate / HOP))
    chosen = np.unique(np.linspace(0, total - 1, min(total, 1000)).astype(np.intp))
    power, _ = _spectra(samples, rate, chosen)
    width = rate / 2 / (power.shape[1] - 1)
    floor = np.quantile(power, 0.1, axis=0) / 0.105
    smooth = np.exp(uniform_filter1d(np.log(floor + 1e-14), 61))
    return np.asarray(width * np.arange(power.shape[1])), np.asarray(smooth)


def _read(logs: Floats, width: float, at: Floats) -> Floats:
    place = at / width
    left = place.astype(int)
    part = place - left
    known = (left + 1 < logs.shape[1]) & (at < _TOP)
    left = np.where(known, left, 0)
    return np.asarray(np.where(known, logs[:, left] * (1 - part) + logs[:, left + 1] * part, 0.0))


def _salience(power: Floats, floor: Floats, width: float, grid: Floats) -> Floats:
    """How far each pitch of the grid stands out, shape (frames, grid)."""
    logs = np.log1p(np.minimum(power / floor / 4, 300.0))
    out = np.zeros((len(power), grid.size))
    weights = 0.0
    for k in range(1, _HARMONICS + 1):
        weight = k**-0.5
        out += weight * (_read(logs, width, k * grid) - _read(logs, width, (k - 0.5) * grid))
        weights += weight
    return np.asarray(out / weights)


def best_path(
    samples: Samples,
    rate: int,
    heard: Coarse,
    lowest: float,
    highest: float,
    *,
    noise: tuple[Floats, Floats],
) -> Coarse:
    """Choose among the coarse pitch and the most salient ones, frame by frame, as one path.

    Returns
    -------
    Coarse
        Confidence is the pitch's salience as a share of `_CLEAR`, or the coarse tracker's own where
        that is higher and its pitch was kept.
    """
    count = heard.pitch.size
    if count == 0:
        return heard
    lowest, highest = min(lowest, highest / 1.3), max(highest, lowest * 1.3)
    grid = lowest * 2 ** (np.arange(int(np.log2(highest / lowest) * _PER_OCTAVE) + 1) / _PER_OCTAVE)
    offers = np.empty((count, _OFFERS + 1))
    worth = np.empty((count, _OFFERS + 1))
    offers[:, 0] = np.log2(heard.pitch)
    for a in range(0, count, _BLOCK):
        some = slice(a, min(a + _BLOCK, count))
        power, width = _spectra(samples, rate, np.arange(a, some.stop))
        sal = _salience(power, noise[1], width, grid)
        inner = sal[:, 1:-1]
        height = np.where((inner >= sal[:, :-2]) & (inner > sal[:, 2:]), inner, -9.0)
        top = np.argpartition(-height, _OFFERS, axis=1)[:, :_OFFERS]
        offers[some, 1:] = np.log2(grid[top + 1])
        worth[some, 1:] = np.take_along_axis(height, top, axis=1)
        near = np.round(_PER_OCTAVE * (offers[some, 0] - np.log2(lowest))).astype(int)
        worth[some, 0] = sal[np.arange(len(sal)), np.clip(near, 0, grid.size - 1)]
    own = worth[:, 0].copy()
    worth[:, 0] += _TRUST * heard.confidence
    path = _viterbi(offers, worth)
    rows = np.arange(count)
    kept = (path == 0) | (np.abs(offers[rows, path] - offers[:, 0]) < 1 / 24)
    salient = np.where(path == 0, own, worth[rows, path])
    clear = np.clip(salient / _CLEAR, 0.0, 1.0)
    confidence = np.where(kept, np.maximum(heard.confidence, clear), clear)
    pitch = 2 ** np.where(kept, offers[:, 0], offers[rows, path])
    return Coarse(pitch, confidence)


def _viterbi(offers: Floats, worth: Floats) -> npt.NDArray[np.intp]:
    count, width = offers.shape
    leaps = _LEAP * np.minimum(np.abs(offers[1:, :, None] - offers[:-1, None, :]), 0.5)
    total = worth[0].copy()
    back = np.zeros((count, width), np.intp)
    every = np.arange(width)
    for i in range(1, count):
        ways = total - leaps[i - 1]
        back[i] = ways.argmax(axis=1)
        total = worth[i] + ways[every, back[i]]
    path = np.zeros(count, np.intp)
    path[-1] = int(total.argmax())
    for i in range(count - 1, 0, -1):
        path[i - 1] = back[i, path[i]]
    return path
