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

from chantwright.ear.alignment import Alignment, align
from chantwright.ear.contour import Contour
from chantwright.ear.drone import find_drone, follow_drone, without_drone
from chantwright.ear.evidence import evidence
from chantwright.ear.expected import Expected, expected_line, to_hz, to_moria
from chantwright.ear.recording import Samples
from chantwright.ear.trace import trace
from chantwright.ear.verdict import Verdict, judge
from chantwright.errors import ChantError
from chantwright.score.model import Hymn
from chantwright.tones import Tones

__all__ = ["ListenOptions", "listen"]

_ROOM = 12.0  # moria left beyond the hymn's compass
_BEYOND = 0.02  # part of the sung time beyond it from which a second tracing is worth while
_NEAR = 4.0  # moria between a base and a drone that agree
_STAGES = 3
_LONGEST, _TIMES = 300.0, 8.0  # seconds, and times the hymn's own length, that a take may last


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


def _ni_of(expected: Expected, degree: int, hz: float) -> float:
    """Pitch of ni, where a degree sounds at `hz`."""
    return float(hz * 2.0 ** (-float(expected.scales[0].moria(degree)) / 72.0))


def _must_be_of_a_length(expected: Expected, seconds: float) -> None:
    written = sum(n.beats + n.rest for n in expected.notes) * 60.0 / expected.tempo
    if seconds > max(_LONGEST, _TIMES * written):
        raise ChantError(
            f"this recording lasts {seconds / 60:.0f} minutes, and the hymn about "
            f"{max(1, round(written / 60))}.",
            remedy="Cut out the part in which the hymn is sung, and give that.",
        )


def _undroned(
    samples: Samples, rate: int, drone: float | Literal["detect"] | None
) -> tuple[Samples, float | None]:
    """Take the drone out, for what listens to vowels; and the drone's pitch where there is one."""
    if drone is None or not samples.size:
        return samples, None
    found = (
        find_drone(samples, rate)
        if drone == "detect"
        else follow_drone(samples, rate, float(drone))
    )
    return (samples, None) if found is None else (without_drone(samples, rate, found), found.hz)


def _agrees(alignment: Alignment, ni: float) -> bool:
    """Whether the base that was found is the one a drone suggests, in some octave."""
    if alignment.fit is None:
        return False
    apart = float(alignment.fit.line.moria[0]) - float(to_moria(ni))
    return abs((apart + 36.0) % 72.0 - 36.0) < _NEAR


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
    samples: Samples,
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
        If the hymn is not set, the level is unknown, or the take is far longer than the hymn.
    """
    options = options or ListenOptions()
    told = progress or (lambda _label, _done, _total: None)
    expected = expected_line(hymn, tones)
    _must_be_of_a_length(expected, len(samples) / rate)
    told("hearing the pitch", 1, _STAGES)
    alone, drone = _undroned(samples, rate, options.drone)
    ni = None
    if options.base_hz is not None:
        ni = _ni_of(expected, expected.branch.base, options.base_hz)

    def take(limits: tuple[float | None, float | None]) -> Contour:
        return trace(samples, rate, lowest=limits[0], highest=limits[1], drone=options.drone)

    contour = take((None, None))
    told("following the hymn", 2, _STAGES)
    signs = evidence(alone, rate, contour)
    found = align(expected, contour, signs, base_hz=ni)
    if found.fit is not None:
        limits = _limits(expected, found)
        if _beyond(contour, limits) > _BEYOND:
            again = take(limits)
            other = evidence(alone, rate, again)
            second = align(expected, again, other, base_hz=ni)
            if second.fit is not None and second.score >= found.score:
                contour, found, signs = again, second, other
    if ni is None and drone is not None:
        # A drone as a rule holds the tone's base; it is believed where the singing agrees.
        given = _ni_of(expected, expected.branch.ison_base, drone)
        if _agrees(found, given):
            ni = given
            found = align(expected, contour, signs, base_hz=ni)
    told("judging", 3, _STAGES)
    return judge(found, contour, tones, level=options.level, base_hz=ni, overrides=overrides)
