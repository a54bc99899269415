"""From samples and a hymn to a verdict: the whole way in one call.

Conventions
-----------
Samples in one channel. Pitches in Hz. The pitch is traced twice where that helps: once with no
limits, then within the hymn's own compass on the base that was found, so that a drone an octave
below, or an overtone, is not taken for the singer.

References
----------
See `chantwright.ear.trace`, `alignment` and `verdict`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

from chantwright.ear.alignment import Alignment, align
from chantwright.ear.contour import Contour
from chantwright.ear.evidence import evidence
from chantwright.ear.expected import Expected, expected_line, to_hz, to_moria
from chantwright.ear.trace import trace
from chantwright.ear.verdict import Verdict, judge
from chantwright.score.model import Hymn
from chantwright.tones import Tones

__all__ = ["ListenOptions", "listen"]

_ROOM = 12.0  # moria left beyond the hymn's compass
_BEYOND = 0.02  # part of the sung time beyond it from which a second tracing is worth while
_STAGES = 3


@dataclass(frozen=True, slots=True)
class ListenOptions:
    """How a take is heard.

    Attributes
    ----------
    level : str
        beginner, regular or leader.
    base_hz : float or None
        Pitch of the tone's base degree, where it was given to the singer.
    drone : float, "detect" or None
        A drone in the recording: its pitch in Hz, or to be found, or none.
    """

    level: str = "regular"
    base_hz: float | None = None
    drone: float | Literal["detect"] | None = None


def _ni(expected: Expected, options: ListenOptions) -> float | None:
    """Pitch of ni, from the base that was given or from the drone."""
    scale = expected.scales[0]
    if options.base_hz is not None:
        return options.base_hz * 2.0 ** (-float(scale.moria(expected.branch.base)) / 72.0)
    if isinstance(options.drone, float | int):
        held = float(scale.moria(expected.branch.ison_base))
        return float(options.drone) * 2.0 ** (-held / 72.0)
    return None


def _limits(expected: Expected, alignment: Alignment) -> tuple[float, float]:
    """Lowest and highest pitch that the singer can have sung, Hz."""
    assert alignment.fit is not None
    line = alignment.fit.line.moria
    low = min(n.low for n in expected.notes) + float(line.min()) - _ROOM
    high = max(n.high for n in expected.notes) + float(line.max()) + _ROOM
    return to_hz(low), to_hz(high)


def _beyond(contour: Contour, limits: tuple[float, float]) -> float:
    pitch = contour.f0[contour.voiced]
    if not len(pitch):
        return 0.0
    low, high = to_moria(np.array(limits))
    moria = to_moria(pitch)
    return float(np.mean((moria < low) | (moria > high)))


def listen(
    hymn: Hymn,
    samples: npt.NDArray[np.float32],
    rate: int,
    tones: Tones,
    options: ListenOptions | None = None,
    *,
    overrides: Iterable[Path] = (),
    progress: Callable[[str, int, int], None] | None = None,
) -> Verdict:
    """Hear a take of a hymn and judge it.

    Parameters
    ----------
    hymn : Hymn
        Set: with notes on every syllable.
    samples : ndarray of float32, shape (n,)
        One channel.
    rate : int
        Samples a second.
    tones : Tones
        Scales, attractions and limits.
    options : ListenOptions, optional
        Level, base and drone.
    overrides : iterable of Path
        Parish files whose sentences and limits win.
    progress : callable, optional
        Called with what is being done, which step, and how many.

    Returns
    -------
    Verdict

    Raises
    ------
    ChantError
        If the hymn is not set or the level is unknown.
    """
    options = options or ListenOptions()
    told = progress or (lambda _label, _done, _total: None)
    expected = expected_line(hymn, tones)
    ni = _ni(expected, options)
    told("hearing the pitch", 1, _STAGES)
    contour = trace(samples, rate, drone=options.drone)
    told("following the hymn", 2, _STAGES)
    found = align(expected, contour, evidence(samples, rate, contour), base_hz=ni)
    if found.fit is not None:
        limits = _limits(expected, found)
        if options.drone is not None or _beyond(contour, limits) > _BEYOND:
            again = trace(
                samples, rate, lowest=limits[0], highest=limits[1], drone=options.drone
            )
            second = align(expected, again, evidence(samples, rate, again), base_hz=ni)
            if second.fit is not None and second.score >= found.score:
                contour, found = again, second
    told("judging", 3, _STAGES)
    return judge(
        found, contour, tones, level=options.level, base_hz=ni, overrides=overrides
    )
