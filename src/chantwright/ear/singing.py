"""Whether a contour is singing at all: pitches that rest, and more than one of them.

Conventions
-----------
Pitch in moria, smoothed over the length of one vibrato; steadiness is the part of the sounding time
in which it stays within a small reach for nearly a fifth of a second.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from chantwright.ear.contour import Contour
from chantwright.ear.expected import to_moria

__all__ = ["NEAR", "away", "one_note", "steadiness"]

Array = npt.NDArray[np.float64]

_SMOOTH = 0.18  # seconds, a turn of vibrato
_LONG = 0.18  # seconds
_REACH = 2.5  # moria
NEAR = 3.8
"""Moria from the middle of one held note within which a voice may waver: less than any step."""
_ELSEWHERE = 0.04  # part of the sung time that a tune at least spends on other notes


def _smooth(contour: Contour) -> Array:
    """Pitch in moria without vibrato, ``nan`` where nothing is sung."""
    pitch = to_moria(contour.f0)
    voiced = np.isfinite(pitch)
    width = max(1, round(_SMOOTH / contour.hop)) | 1
    if len(pitch) < width:
        return np.asarray(pitch)
    kernel = np.ones(width)
    total = np.convolve(np.where(voiced, pitch, 0.0), kernel, "same")
    count = np.convolve(voiced, kernel, "same")
    return np.asarray(np.where(voiced, total / np.maximum(count, 1.0), np.nan))


def steadiness(contour: Contour) -> float:
    """Part of the sounding time that rests on a pitch, 0 to 1."""
    if not contour.voiced.any():
        return 0.0
    smooth = _smooth(contour)
    size = max(3, round(_LONG / contour.hop)) | 1
    wide = np.pad(smooth, size // 2, constant_values=np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(wide, size)
    reach = windows.max(axis=1) - windows.min(axis=1)
    return float(np.sum(np.nan_to_num(reach, nan=np.inf) < _REACH) / contour.voiced.sum())


def away(contour: Contour) -> float:
    """Part of the sung time spent on other notes than the middle one, 0 to 1."""
    pitch = _smooth(contour)
    pitch = pitch[np.isfinite(pitch)]
    if not len(pitch):
        return 0.0
    return float(np.mean(np.abs(pitch - np.median(pitch)) > NEAR))


def one_note(contour: Contour) -> bool:
    """Whether no more than one note was sung: an ison, say, and no melody."""
    return away(contour) < _ELSEWHERE
