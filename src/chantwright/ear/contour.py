"""The pitch contour of a recording: what the ear heard, frame by frame, before any score is asked.

Conventions
-----------
Frames are evenly spaced; frame ``k`` is centred on ``start + k * hop`` seconds. Pitch is in Hz and
``nan`` where nothing was sung; confidence is 0 to 1; level is in dB below full scale (rms of the
frame, after any drone was taken out). Nothing here knows of degrees or of a base.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["Contour"]


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """Pitch, confidence and level of a recording in even frames.

    Attributes
    ----------
    f0 : ndarray of float64, shape (n,)
        Pitch in Hz, ``nan`` where nothing was sung.
    confidence : ndarray of float64, shape (n,)
        0 (a guess) to 1 (certain).
    level : ndarray of float64, shape (n,)
        Level in dBFS.
    hop : float
        Seconds between frames.
    start : float
        Time of the first frame's centre, seconds.
    """

    f0: npt.NDArray[np.float64]
    confidence: npt.NDArray[np.float64]
    level: npt.NDArray[np.float64]
    hop: float = 0.01
    start: float = 0.0

    @property
    def times(self) -> npt.NDArray[np.float64]:
        """Centre of each frame, seconds, shape (n,)."""
        return np.asarray(self.start + self.hop * np.arange(self.f0.size), dtype=np.float64)

    @property
    def voiced(self) -> npt.NDArray[np.bool_]:
        """True where something was sung, shape (n,)."""
        return np.isfinite(self.f0)
