"""What was sung at all: gates on level, confidence and the drone, and notes that are held.

Conventions
-----------
Masks and levels have one value each frame of 10 ms; levels in dBFS.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.ndimage import binary_closing, binary_opening, median_filter

from chantwright.ear.coarse import HOP
from chantwright.ear.contour import Contour
from chantwright.ear.drone import DroneFound
from chantwright.ear.recording import Samples

__all__ = ["held", "levels", "nothing_sung", "voiced_frames"]

Floats = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

SURE = 0.5
FAR = 25.0
"""Cents of standard error from which a pitch is no pitch."""
_WINDOW = 0.03
_OVER_FLOOR = 2.0  # dB
_UNDER_DRONE = 8.0  # dB: a voice fainter than that beside its drone cannot be told from it
_ASIDE = 8.0  # dB under the voice at which what lies on the drone's pitch may be the drone
_CLEAR = 5.0  # cents of standard error up to which a pitch is beyond doubt
# A high note on “oo” or “ee” can be as faint as the room; so far under the gate, this sure, this
# sharp, it is still sung.
_FAINT, _FAINT_SURE, _FAINT_SHARP = 5.0, 0.6, 6.0  # dB, 0 to 1, cents of standard error
_UNDER_VOICE = (45.0, 20.0)  # the gate stands at least and at most so far below the voice, dB
_SHORTEST = 0.04  # seconds
_HELD = 0.24  # seconds
_STILL = 70.0  # cents
_ENOUGH = 0.6  # seconds of held notes in what counts as singing
_SHARE = 0.3  # of the voiced time


def levels(samples: Samples, rate: int, count: int) -> Floats:
    """Level of each frame, dBFS, shape (count,)."""
    total = np.concatenate([[0.0], np.cumsum(np.square(samples, dtype=np.float64))])
    centre = np.round(np.arange(count) * HOP * rate).astype(int)
    half = int(_WINDOW * rate) // 2
    a, b = np.clip(centre - half, 0, samples.size), np.clip(centre + half, 0, samples.size)
    mean = (total[b] - total[a]) / np.maximum(b - a, 1)
    return np.asarray(10 * np.log10(np.maximum(mean, 1e-12)))


def voiced_frames(
    pitch: Floats,
    confidence: Floats,
    spread: Floats,
    level: Floats,
    drone: DroneFound | None = None,
    body: Floats | None = None,
) -> Mask:
    """Frames in which something was sung.

    Parameters
    ----------
    pitch, confidence, spread, level : ndarray, shape (n,)
        Hz, 0 to 1, cents, dBFS.
    drone : DroneFound, optional
        A drone that was taken out; something of a wobbling one may be left.
    body : ndarray, shape (n,), optional
        Levels without hiss, dBFS, beside a drone.
    """
    if not pitch.size:
        return np.zeros(0, bool)
    floor, voice = np.quantile(level, 0.05), np.quantile(level, 0.9)
    most, least = _UNDER_VOICE
    gate = float(np.clip(floor + _OVER_FLOOR, voice - most, voice - least))
    sure = median_filter(confidence, 3)
    sung = (level > gate) & ((sure >= SURE) | (spread < _CLEAR)) & (spread < FAR)
    sung |= (level > gate - _FAINT) & (sure >= _FAINT_SURE) & (spread < _FAINT_SHARP)
    if drone is not None:
        sung &= level > drone.level - _UNDER_DRONE
    if drone is not None:
        parts = np.log2(np.maximum(pitch, drone.hz) / np.minimum(pitch, drone.hz))
        whole = np.log2(np.maximum(np.round(2**parts), 1))
        on_it = np.abs(parts - whole) * 1200 < 40
        full = level if body is None else body
        faint = full < np.quantile(full, 0.9) - _ASIDE
        # What is left of a group that holds it, or of one who wobbles.
        sung &= ~(on_it & faint & (whole < 1.5) & (full < drone.level))
        if not drone.steady:
            sung &= ~(on_it & (level < floor + 10.0) & (level < voice - _ASIDE))
    size = max(1, round(_SHORTEST / HOP))
    closed = binary_closing(np.pad(sung, 3), np.ones(3))[3:-3] & (confidence > 0.2)
    return np.asarray(binary_opening(closed, np.ones(size)))


def held(contour: Contour) -> Mask:
    """Frames within a note that is held: 240 ms or more within 70 cents, shape (n,)."""
    voiced = contour.voiced
    size = max(2, round(_HELD / contour.hop))
    out = np.zeros(voiced.size, bool)
    if voiced.size < size:
        return out
    cents = np.where(voiced, 1200 * np.log2(np.where(voiced, contour.f0, 1.0)), np.nan)
    view = np.lib.stride_tricks.sliding_window_view(cents, size)
    whole = np.isfinite(view).all(axis=1)
    still = np.zeros(len(view), bool)
    still[whole] = np.ptp(view[whole], axis=1) < _STILL
    for i in np.flatnonzero(still):
        out[i : i + size] = True
    return out


def nothing_sung(contour: Contour) -> bool:
    """Whether a recording holds no singing: silence, breath, noise, a drone alone, or talk."""
    voiced = int(contour.voiced.sum())
    still = int(held(contour).sum())
    return still * contour.hop < _ENOUGH or still < _SHARE * voiced
