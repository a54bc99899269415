"""From samples to a pitch contour: drone out, coarse pitch, best path, refinement, gates.

Conventions
-----------
See `chantwright.ear.contour`. Frames are `HOP` (10 ms) apart, from time 0. A long recording is
taken in pieces of some minutes that overlap a little, so that what is held stays bounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.signal import butter, sosfiltfilt

from chantwright.ear.coarse import HIGHEST, HOP, LOWEST, coarse_pitch, own_range
from chantwright.ear.contour import Contour
from chantwright.ear.drone import DroneFound, find_drone, follow_drone, without_drone
from chantwright.ear.recording import Samples
from chantwright.ear.refinement import refine
from chantwright.ear.salience import best_path, noise_spectrum
from chantwright.ear.voicing import FAR, levels, voiced_frames
from chantwright.errors import ChantError

__all__ = ["Followed", "follow", "trace"]

_PIECE = 240.0  # seconds of a long recording that are taken at once
_OVERLAP = 2.0
_HISS = 1500.0  # Hz; consonants hiss above it, and most of a drone lies below
_SHORTEST = 0.1  # seconds of a recording in which anything can be heard

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """What every stage but the gates found, frame by frame.

    Attributes
    ----------
    pitch, confidence, spread, level, body : ndarray of float64, shape (n,)
        Hz; 0 to 1; standard error in cents; dBFS without the drone, and the same without hiss.
    drone : DroneFound or None
        The drone that was taken out.
    """

    pitch: Floats
    confidence: Floats
    spread: Floats
    level: Floats
    body: Floats
    drone: DroneFound | None


def trace(
    samples: Samples,
    rate: int,
    *,
    lowest: float | None = None,
    highest: float | None = None,
    drone: float | Literal["detect"] | None = None,
    plain: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Contour:
    """Trace the pitch of a recording.

    Parameters
    ----------
    samples : ndarray of float32, shape (n,)
        One channel, without a constant offset (see `chantwright.ear.recording`).
    rate : int
        Samples a second; 16,000 is what everything is tuned for.
    lowest, highest : float, optional
        Limits of what the singer can have sung, Hz; taken from the recording where not given.
    drone : float, "detect" or None
        A drone that sounds in the recording: its pitch in Hz, or to be found, or none.
    plain : bool
        Do without the trained coarse tracker.
    progress : callable, optional
        Called after each piece with the share done, 0 to 1.

    Returns
    -------
    Contour
        Pitch is ``nan`` where nothing was sung.

    Raises
    ------
    ChantError
        If a limit or the drone's pitch is no pitch, or the limits leave no room.
    """
    heard = follow(
        samples,
        rate,
        lowest=lowest,
        highest=highest,
        drone=drone,
        plain=plain,
        progress=progress,
    )
    sung = voiced_frames(
        heard.pitch, heard.confidence, heard.spread, heard.level, heard.drone, heard.body
    )
    return Contour(np.where(sung, heard.pitch, np.nan), heard.confidence, heard.level, HOP)


def follow(
    samples: Samples,
    rate: int,
    *,
    lowest: float | None = None,
    highest: float | None = None,
    drone: float | Literal["detect"] | None = None,
    plain: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Followed:
    """Do all of `trace` but the gates: a pitch for every frame, whether anything sounds or not."""
    _check(lowest, highest, drone)
    frames = int(samples.size / rate / HOP)
    whole = round(_PIECE / HOP)
    edge = round(_OVERLAP / HOP)
    pieces: list[Followed] = []
    for a in range(0, max(1, frames), whole):
        b = frames if frames - a < 1.5 * whole else a + whole
        first, last = max(0, a - edge), min(frames, b + edge)
        some = samples[round(first * HOP * rate) : round(last * HOP * rate) + 1]
        if last == frames:
            some = samples[round(first * HOP * rate) :]
        heard = _piece(some, rate, lowest, highest, drone, plain)
        pieces.append(_cut(heard, a - first, b - first))
        if progress is not None:
            progress(b / max(1, frames))
        if b == frames:
            break
    return Followed(
        np.concatenate([p.pitch for p in pieces]),
        np.concatenate([p.confidence for p in pieces]),
        np.concatenate([p.spread for p in pieces]),
        np.concatenate([p.level for p in pieces]),
        np.concatenate([p.body for p in pieces]),
        next((p.drone for p in pieces if p.drone is not None), None),
    )


def _cut(heard: Followed, first: int, last: int) -> Followed:
    part = slice(first, last)
    return Followed(
        heard.pitch[part],
        heard.confidence[part],
        heard.spread[part],
        heard.level[part],
        heard.body[part],
        heard.drone,
    )


def _piece(
    samples: Samples,
    rate: int,
    lowest: float | None,
    highest: float | None,
    drone: float | Literal["detect"] | None,
    plain: bool,
) -> Followed:
    if samples.size < _SHORTEST * rate:
        count = int(samples.size / rate / HOP)
        none = np.zeros(count)
        return Followed(none + LOWEST, none, none + FAR, none - 120.0, none - 120.0, None)
    found = _drone(samples, rate, drone)
    clean = samples if found is None else without_drone(samples, rate, found)
    left = found.hz if found is not None and not found.steady else None
    heard = coarse_pitch(clean, rate, lowest=lowest, highest=highest, drone=left, plain=plain)
    own = own_range(heard)
    low = lowest or max(LOWEST, own[0] if own else LOWEST)
    high = highest or min(HIGHEST, own[1] if own else HIGHEST)
    noise = noise_spectrum(clean, rate)
    heard = best_path(clean, rate, heard, low, high, noise=noise)
    pitch, spread = refine(clean, rate, heard.pitch, noise=noise)
    level = levels(clean, rate, pitch.size)
    # A hiss is loud and has no pitch: beside it the pitch of a drone's remains would pass as sung.
    body = level if found is None else levels(_without_hiss(clean, rate), rate, pitch.size)
    return Followed(pitch, heard.confidence, spread, level, body, found)


def _without_hiss(samples: Samples, rate: int) -> Samples:
    sos = butter(4, _HISS, fs=rate, output="sos")
    return np.asarray(sosfiltfilt(sos, samples), np.float32)


def _check(lowest: float | None, highest: float | None, drone: float | str | None) -> None:
    named = [v for v in (lowest, highest, drone) if isinstance(v, int | float)]
    if any(not (math.isfinite(v) and 20 <= v <= 4000) for v in named):
        raise ChantError(
            "a limit or a drone's pitch is no pitch that a voice can have.",
            remedy="Give pitches in Hz, such as 110.",
        )
    if lowest is not None and highest is not None and highest < 1.15 * lowest:
        raise ChantError(
            f"from {lowest:.0f} to {highest:.0f} Hz there is no room to sing in.",
            remedy="Set the limits at least two notes apart.",
        )


def _drone(
    samples: Samples, rate: int, drone: float | Literal["detect"] | None
) -> DroneFound | None:
    if drone is None or not samples.size:
        return None
    if drone == "detect":
        return find_drone(samples, rate)
    return follow_drone(samples, rate, float(drone))
