"""Fine pitch from a coarse one: every harmonic brought down to rest, and its remaining turn read.

Each harmonic is multiplied by the conjugate of the coarse contour's own phase (heterodyning), so a
harmonic that followed the contour exactly stands still; how fast it still turns is the contour's
error at that harmonic. The harmonics' readings are put together by their weight (harmonic k at a
signal-to-noise ratio r reads the fundamental with a variance in proportion to 1 / (k k r)),
robustly, and the pitch is then smoothed over time only as much as the readings' own variance asks.

Conventions
-----------
Contours are evenly spaced, one value each `HOP` seconds from time 0; pitch in Hz, spread in cents.

References
----------
The smoother is E. Whittaker's, "On a new method of graduation", Proc. Edinburgh Math. Soc. 41
(1923), with a weight for each reading.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.linalg import solveh_banded

from chantwright.ear.coarse import HOP
from chantwright.ear.recording import Samples
from chantwright.ear.salience import noise_spectrum

__all__ = ["refine"]

Floats = npt.NDArray[np.float64]

HARMONICS = 12
TOP = 5000.0
WINDOW = 0.04
_BENDS = (24.0, 3.0)  # cents by which pitch may bend in a reading's step, for each pass
_PER_FRAME = 2  # readings a frame
_FARTHEST = 80.0  # cents a reading may differ from the coarse pitch
_LEAST_VARIANCE = 0.05  # cents^2
_BLOCK = 3000  # frames
_EDGE = 20  # frames of overlap on either side


def refine(
    samples: Samples, rate: int, pitch: Floats, *, noise: tuple[Floats, Floats] | None = None
) -> tuple[Floats, Floats]:
    """Refine a contour.

    Parameters
    ----------
    samples : ndarray of float32, shape (n,)
        One channel.
    rate : int
        Samples a second.
    pitch : ndarray, shape (m,)
        Coarse pitch in Hz at every frame, within about a quarter tone where it is right.
    noise : (ndarray, ndarray), optional
        See `chantwright.ear.salience.noise_spectrum`; found in the samples where it is not given.

    Returns
    -------
    pitch : ndarray, shape (m,)
        Hz.
    spread : ndarray, shape (m,)
        Standard error of a reading, cents: large where no harmonic stands out from the noise.
    """
    if pitch.size < 4:
        return pitch, np.full(pitch.size, _FARTHEST)
    floor = noise_spectrum(samples, rate) if noise is None else noise
    out, spread = np.empty_like(pitch), np.empty_like(pitch)
    for a in range(0, pitch.size, _BLOCK):
        b = min(a + _BLOCK, pitch.size)
        first, last = max(0, a - _EDGE), min(pitch.size, b + _EDGE)
        begin = round(first * HOP * rate)
        piece = samples[begin : round(last * HOP * rate) + 1].astype(np.float64)
        fine, error = _piece(piece, rate, pitch[first:last], floor)
        out[a:b], spread[a:b] = fine[a - first : b - first], error[a - first : b - first]
    return out, spread


def _piece(
    samples: Floats, rate: int, pitch: Floats, floor: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    error = np.full(pitch.size, _FARTHEST)
    if pitch.size < 4:
        return pitch, error
    for bend in _BENDS:
        now = _between(pitch)
        off, variance = _readings(samples, rate, pitch, now, floor)
        cents = 1200 * np.log2(now) + np.clip(off, -_FARTHEST, _FARTHEST)
        middle = float(np.mean(cents))
        weights = bend**2 / (variance + _LEAST_VARIANCE)
        smooth = _smoothed(cents - middle, weights) + middle
        pitch = 2 ** (smooth[::_PER_FRAME][: pitch.size] / 1200)
        error = np.sqrt(variance)[::_PER_FRAME][: pitch.size]
    return pitch, error


def _between(pitch: Floats) -> Floats:
    """Pitch at every reading: `_PER_FRAME` readings a frame."""
    at = np.arange(_PER_FRAME * pitch.size) / _PER_FRAME
    return np.asarray(np.interp(at, np.arange(pitch.size), pitch))


def _readings(
    samples: Floats, rate: int, pitch: Floats, now: Floats, floor: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """Cents above the contour, and their variance, at every reading."""
    step = int(HOP * rate) // _PER_FRAME
    lapse = 2 * step / rate
    size = int(WINDOW * rate) | 1
    window = np.hanning(size + 2)[1:-1]
    window /= window.sum()
    through = float((window**2).sum())  # share of white noise that the window lets through
    at = np.arange(samples.size) / rate
    cycles = np.cumsum(np.interp(at, HOP * np.arange(pitch.size), pitch)) / rate
    down = np.exp(-2j * np.pi * (cycles % 1.0))
    turned = samples.astype(complex)
    inner = now[1:-1]
    offs, weights = [], []
    missing = max(0, (now.size - 1) * step + 1 - samples.size)
    for k in range(1, HARMONICS + 1):
        turned *= down
        padded = np.pad(turned, (size // 2, size // 2 + missing))
        rest = np.lib.stride_tricks.sliding_window_view(padded, size)[::step][: now.size] @ window
        pair = rest[2:] * np.conj(rest[:-2])
        offs.append(np.angle(pair) / (2 * np.pi * lapse * k))
        clear = np.abs(pair) / (np.interp(inner * k, *floor) * through)
        clear = np.clip(clear - 1.5, 0.0, 3000.0)
        weights.append(np.where(inner * k < TOP, k * k * clear, 0.0))
    off, weight = np.array(offs), np.array(weights)
    total = weight.sum(axis=0) + 1e-3
    mean = (weight * off).sum(axis=0) / total
    for _ in range(4):
        far = np.abs(off - mean)
        usual = np.sqrt((weight * far**2).sum(axis=0) / total) + 1e-9
        robust = weight / (1 + (far / (1.5 * usual)) ** 2)
        mean = (robust * off).sum(axis=0) / (robust.sum(axis=0) + 1e-9)
    strength = robust.sum(axis=0)
    expected = 1 / (2 * np.pi * lapse) ** 2 / (strength + 1e-3)
    scatter = (robust * (off - mean) ** 2).sum(axis=0) / (strength + 1e-9) / 6
    cents = 1200 / np.log(2) / inner
    return (
        np.pad(mean * cents, 1, mode="edge"),
        np.pad((expected + scatter) * cents**2, 1, mode="edge"),
    )


def _smoothed(values: Floats, weights: Floats) -> Floats:
    """Least sum of weighted squared errors and squared second differences."""
    count = values.size
    bands = np.zeros((3, count))
    bands[0, 2:] = 1.0
    bands[1, 1:] = -4.0
    bands[1, [1, -1]] = -2.0
    bands[2] = 6.0
    bands[2, [1, -2]] = 5.0
    bands[2, [0, -1]] = 1.0
    bands[2] += weights
    return np.asarray(solveh_banded(bands, weights * values))
