"""Whether a contour is singing at all: pitches that rest, and more than one of them.

Conventions
-----------
Pitch in moria; steadiness is the part of the sounding time in which the pitch, smoothed over the
length of one vibrato, stays within a small reach for nearly a fifth of a second.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from chantwright.ear.contour import Contour
from chantwright.ear.expected import to_moria

__all__ = ["compass", "steadiness"]

Array = npt.NDArray[np.float64]

_SMOOTH = 0.18  # seconds, a turn of vibrato
_LONG = 0.18  # seconds
_REACH = 2.5  # moria


def steadiness(contour: Contour) -> float:
    """Part of the sounding time that rests on a pitch, 0 to 1."""
    pitch = to_moria(contour.f0)
    voiced = np.isfinite(pitch)
    if not voiced.any():
        return 0.0
    width = max(1, round(_SMOOTH / contour.hop)) | 1
    kernel = np.ones(width)
    total = np.convolve(np.where(voiced, pitch, 0.0), kernel, "same")
    count = np.convolve(voiced, kernel, "same")
    smooth = np.where(voiced, total / np.maximum(count, 1.0), np.nan)
    size = max(3, round(_LONG / contour.hop)) | 1
    wide = np.pad(smooth, size // 2, constant_values=np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(wide, size)
    reach = windows.max(axis=1) - windows.min(axis=1)
    return float(np.sum(np.nan_to_num(reach, nan=np.inf) < _REACH) / voiced.sum())


def compass(contour: Contour) -> float:
    """Moria between the low and the high tenth of what was sung."""
    pitch = to_moria(contour.f0)
    pitch = pitch[np.isfinite(pitch)]
    if not len(pitch):
        return 0.0
    low, high = np.percentile(pitch, (10, 90))
    return float(high - low)
