"""Where syllables begin, heard from vowels and consonants and not from pitch.

Conventions
-----------
Frames follow the contour (10 ms). The sound of each frame is a short vector (cepstrum of 24 bands
that widen with frequency, the overall level left out), so that a vowel has one place whoever sings
it and however loud. A beginning is heard by five signs, each about 0 where nothing happens and 1
where it clearly does: the sound after differs from the sound before (*change*); the sound just
before differs from both sides (*blip*, a consonant between two like vowels); the level dips; the
level rises; the voice breaks off and comes back. Their weights are rows (``data/onsets.toml``).

References
----------
Davis and Mermelstein, IEEE Trans. ASSP 28 (1980), cepstra of mel bands; Bello et al., IEEE Trans.
Speech Audio Process. 13 (2005), onset detection by change of spectrum.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.fft import dct

from chantwright.ear.contour import Contour
from chantwright.rows import load_rows

__all__ = ["SIGNS", "Evidence", "evidence", "signs", "sounds"]

Array = npt.NDArray[np.float64]

SIGNS = ("change", "blip", "dip", "rise", "break")
_BANDS = 24
_COEFFICIENTS = 12
_WINDOW = 0.03  # seconds


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Evidence of syllables.

    Attributes
    ----------
    onset : ndarray, shape (n,)
        Log odds that a syllable begins at each frame, beside a frame taken at random.
    sound : ndarray, shape (n, k) or (n, 0)
        What each frame sounds like; no columns where there are no samples.
    """

    onset: Array
    sound: Array


@lru_cache(maxsize=4)
def _bands(rate: int, size: int) -> Array:
    """Triangles of equal width in mel, shape (bands, bins)."""
    top = min(7000.0, 0.47 * rate)
    mel = np.linspace(np.log1p(120 / 700), np.log1p(top / 700), _BANDS + 2)
    edges = 700 * np.expm1(mel)
    bins = np.arange(size // 2 + 1) * rate / size
    low, mid, high = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    rise, fall = (bins - low) / (mid - low), (high - bins) / (high - mid)
    out: Array = np.maximum(np.minimum(rise, fall), 0.0)
    return out


def sounds(samples: npt.NDArray[np.float32], rate: int, contour: Contour) -> Array:
    """Cepstra of each frame, shape (n, coefficients)."""
    size = 1 << int(np.ceil(np.log2(_WINDOW * rate)))
    width = int(_WINDOW * rate)
    window = np.hanning(width)
    count = contour.f0.size
    centres = np.round(contour.times * rate).astype(int)
    padded = np.pad(samples.astype(np.float64), (width, width + size))
    bands = _bands(rate, size)
    out = np.empty((count, _COEFFICIENTS))
    # In blocks, so that an hour needs no more room than a minute.
    for begin in range(0, count, 2000):
        at = centres[begin : begin + 2000] + width - width // 2
        pieces = np.lib.stride_tricks.sliding_window_view(padded, width)[
            np.clip(at, 0, len(padded) - width)
        ]
        power = np.abs(np.fft.rfft(pieces * window, size, axis=1)) ** 2
        energy = power @ bands.T
        floor = 10 ** (-5.5) * max(float(energy.max()), 1e-12)
        out[begin : begin + 2000] = dct(np.log(energy + floor), axis=1, norm="ortho")[
            :, 1 : _COEFFICIENTS + 1
        ]
    return out


def _mean(value: Array, first: int, last: int) -> Array:
    """Mean of ``value[t + first .. t + last]`` for every t, edges repeated."""
    pad = max(abs(first), abs(last)) + 1
    wide = np.pad(value, ((pad, pad),) + ((0, 0),) * (value.ndim - 1), mode="edge")
    total = np.concatenate((np.zeros((1, *wide.shape[1:])), np.cumsum(wide, axis=0)))
    count = len(value)
    high = total[pad + last + 1 : pad + last + 1 + count]
    low = total[pad + first : pad + first + count]
    out: Array = (high - low) / (last - first + 1)
    return out


def _extreme(value: Array, first: int, last: int, *, largest: bool) -> Array:
    pad = max(abs(first), abs(last)) + 1
    wide = np.pad(value, (pad, pad), mode="edge")
    view = np.lib.stride_tricks.sliding_window_view(wide, last - first + 1)
    rows = view[pad + first : pad + first + len(value)]
    out: Array = rows.max(axis=1) if largest else rows.min(axis=1)
    return out


def signs(contour: Contour, sound: Array) -> Array:
    """The five signs, shape (n, 5), in the order of `SIGNS`."""
    level = np.maximum(contour.level, np.nanmax(contour.level) - 45.0)
    level = _mean(level, -1, 1)
    voiced = contour.voiced.astype(np.float64)
    out = np.zeros((len(level), len(SIGNS)))
    if sound.shape[1]:
        before, after = _mean(sound, -7, -2), _mean(sound, 1, 6)
        early, now = _mean(sound, -16, -10), _mean(sound, -6, -3)
        change = np.linalg.norm(after - before, axis=1)
        blip = np.minimum(np.linalg.norm(now - early, axis=1), np.linalg.norm(now - after, axis=1))
        # The recording is its own yardstick: rooms and voices differ in how much anything changes.
        sung = contour.voiced
        typical = np.median(change[sung]) if sung.any() else 1.0
        spread = np.percentile(change[sung], 92) - typical if sung.any() else 1.0
        out[:, 0] = np.clip((change - typical) / max(spread, 1e-6), 0, 2)
        typical = np.median(blip[sung]) if sung.any() else 1.0
        spread = np.percentile(blip[sung], 92) - typical if sung.any() else 1.0
        out[:, 1] = np.clip((blip - typical) / max(spread, 1e-6), 0, 2)
    lowest = _extreme(level, -9, 0, largest=False)
    left = _extreme(level, -18, -8, largest=True)
    right = _extreme(level, 1, 9, largest=True)
    out[:, 2] = np.clip((np.minimum(left, right) - lowest) / 8.0, 0, 2)
    out[:, 3] = np.clip((_mean(level, 0, 4) - _mean(level, -6, -2)) / 8.0, 0, 2)
    out[:, 4] = (1.0 - _extreme(voiced, -8, 0, largest=False)) * _mean(voiced, 1, 5)
    return out


@lru_cache(maxsize=1)
def _weights() -> tuple[Mapping[str, float], float]:
    rows = load_rows("chantwright.ear", ["onsets.toml"])["sign"]
    return {k: float(r["value"]) for k, r in rows.items() if k != "bias"}, float(
        rows["bias"]["value"]
    )


def evidence(samples: npt.NDArray[np.float32] | None, rate: int, contour: Contour) -> Evidence:
    """Gather the evidence.

    Parameters
    ----------
    samples : ndarray of float32, shape (n,), or None
        One channel; None where only the contour is known, which leaves level and voicing.
    rate : int
        Samples a second.
    contour : Contour
        Of the same recording.
    """
    sound = np.zeros((contour.f0.size, 0)) if samples is None else sounds(samples, rate, contour)
    if contour.f0.size == 0:
        return Evidence(np.zeros(0), sound)
    weights, bias = _weights()
    value = signs(contour, sound) @ np.array([weights[s] for s in SIGNS]) + bias
    # Only the top of each hill counts in full: one beginning, not six.
    top = _extreme(value, -5, 5, largest=True)
    return Evidence(np.clip(np.where(value >= top - 1e-9, value, value - 1.5), -3.0, 5.0), sound)
