"""From samples to a pitch contour: drone out, coarse pitch, refinement, gates.

Conventions
-----------
See `chantwright.ear.contour`. Frames are 10 ms apart.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt
import swift_f0

from chantwright.ear.contour import Contour
from chantwright.ear.recording import Samples

__all__ = ["trace"]

HOP = 0.01


@cache
def _detector() -> swift_f0.SwiftF0:
    return swift_f0.SwiftF0(threads=1, spin=False)


def trace(
    samples: Samples,
    rate: int,
    *,
    lowest: float | None = None,
    highest: float | None = None,
    drone: float | Literal["detect"] | None = None,  # noqa: ARG001 (taken up by the next step)
) -> Contour:
    """Trace the pitch of a recording.

    Parameters
    ----------
    samples : ndarray of float32, shape (n,)
        One channel.
    rate : int
        Samples a second.
    lowest, highest : float, optional
        Limits of what the singer can have sung, Hz.
    drone : float, "detect" or None
        A steady drone that sounds in the recording: its pitch in Hz, or to be found, or none.

    Returns
    -------
    Contour
    """
    count = int(samples.size / rate / HOP)
    times = HOP * np.arange(count)
    found = _detector().detect(samples, rate, lowest, highest)
    pitch = np.exp(np.interp(times, found.timestamps, np.log(found.pitch_hz)))
    confidence: npt.NDArray[np.float64] = np.interp(times, found.timestamps, found.confidence)
    level = np.interp(times, found.timestamps, found.loudness_db)
    return Contour(np.where(confidence >= 0.5, pitch, np.nan), confidence, level, HOP)
