"""From samples and a hymn to a verdict: the whole way in one call.

Conventions
-----------
Samples in one channel. Pitches in Hz. The pitch is traced twice where that helps: once with no
limits, then within the hymn's own compass on the base that was found, so that a drone an octave
below, or an overtone, is not taken for the singer.

A drone in unison with the tune's base that comes and goes with the singing looks like the singer's
own favourite note. Where a drone is to be found and none is beyond doubt, the take is heard with
and without the one that may be there, and what fits the hymn better is kept. The same is done where
no drone was told of and the take has more mistakes than a few.

References
----------
See `chantwright.ear.trace`, `alignment` and `verdict`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from chantwright.ear.alignment import Alignment, align
from chantwright.ear.contour import Contour
from chantwright.ear.drone import DroneFound, find_drone, follow_drone, suspect_drone, without_drone
from chantwright.ear.events import events
from chantwright.ear.evidence import Evidence, evidence
from chantwright.ear.expected import Expected, expected_line, to_hz, to_moria
from chantwright.ear.recording import Samples
from chantwright.ear.trace import trace
from chantwright.ear.verdict import TROUBLE, Verdict, judge
from chantwright.errors import ChantError
from chantwright.score.model import Hymn
from chantwright.tones import Tones

__all__ = ["ListenOptions", "listen"]

_ROOM = 12.0  # moria left beyond the hymn's compass
_BEYOND = 0.02  # part of the sung time beyond it from which a second tracing is worth while
_NEAR = 4.0  # moria between a base and a drone that agree
_STAGES = 3
_FITS = 0.95  # part of the sung time within its notes from which nothing else need be tried
_DOUBTFUL = 0.02  # mistakes a note from which an ison is looked for that nobody told of
_CLEARLY = 0.01  # nats a frame by which it must then be followed better
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


@dataclass(frozen=True, slots=True, eq=False)
class _Hearing:
    """A take heard in one way: with a drone taken out, or as it is."""

    contour: Contour
    signs: Evidence
    found: Alignment
    drone: float | None


def _troubles(alignment: Alignment) -> int:
    """Mistakes that the take would be said to have."""
    return sum(e.kind in TROUBLE or e.kind == "begun late" for e in events(alignment))


def _doubtful(alignment: Alignment) -> bool:
    """Whether so much seems wrong that another way of hearing is worth while."""
    return _troubles(alignment) >= max(2.0, _DOUBTFUL * len(alignment.heard)) or not alignment.heard


def _is_better(one: Alignment, other: Alignment) -> bool:
    clearly = one.score > other.score + _CLEARLY and bool(one.heard)
    return clearly and (not other.heard or _troubles(one) < _troubles(other))


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
    ni = None
    if options.base_hz is not None:
        ni = _ni_of(expected, expected.branch.base, options.base_hz)
    told("hearing the pitch", 1, _STAGES)

    def hear(drone: DroneFound | None) -> _Hearing:
        return _hear(expected, samples, rate, ni, drone)

    best = _best(hear, samples, rate, options.drone)
    told("following the hymn", 2, _STAGES)
    found = best.found
    if ni is None and best.drone is not None:
        # A drone as a rule holds the tone's base; it is believed where the singing agrees.
        given = _ni_of(expected, expected.branch.ison_base, best.drone)
        if _agrees(found, given):
            ni = given
            found = align(expected, best.contour, best.signs, base_hz=ni)
    if options.base_hz is not None and _doubtful(found):
        # A singer may miss the pitch he was given, by any amount.
        free = align(expected, best.contour, best.signs)
        if _is_better(free, found):
            found = free
    told("judging", 3, _STAGES)
    verdict = judge(
        found, best.contour, tones, level=options.level, base_hz=ni, overrides=overrides
    )
    if verdict.status == "another hymn" and options.drone is None:
        # Before that is said: an ison that nobody told of may have spoilt the hearing.
        again = replace(options, drone="detect")
        second = listen(hymn, samples, rate, tones, again, overrides=overrides)
        if second.status in ("heard", "unsure"):
            return second
    return verdict


def _best(
    hear: Callable[[DroneFound | None], _Hearing],
    samples: Samples,
    rate: int,
    drone: float | Literal["detect"] | None,
) -> _Hearing:
    """Hear it with and without a drone, wherever that is open, and take what fits the hymn."""
    if isinstance(drone, int | float) and len(samples):
        return hear(follow_drone(samples, rate, float(drone)))
    if drone == "detect":
        sure = find_drone(samples, rate)
        best = hear(sure)
        if best.found.explained < _FITS:
            other = hear(suspect_drone(samples, rate) if sure is None else None)
            best = max(best, other, key=lambda h: h.found.score)
        return best
    best = hear(None)
    if _doubtful(best.found) and (held := suspect_drone(samples, rate)) is not None:
        # An ison that nobody told of: kept where the hymn is followed better without it.
        other = hear(held)
        best = other if _is_better(other.found, best.found) else best
    return best


def _hear(
    expected: Expected, samples: Samples, rate: int, ni: float | None, drone: DroneFound | None
) -> _Hearing:
    """Trace the pitch and follow the hymn, with a drone taken out where there is one."""
    alone = samples if drone is None else without_drone(samples, rate, drone)
    named = None if drone is None else drone.hz
    contour = trace(samples, rate, drone=named)
    signs = evidence(alone, rate, contour)
    found = align(expected, contour, signs, base_hz=ni)
    if found.fit is not None:
        low, high = _limits(expected, found)
        if _beyond(contour, (low, high)) > _BEYOND:
            again = trace(samples, rate, lowest=low, highest=high, drone=named)
            other = evidence(alone, rate, again)
            second = align(expected, again, other, base_hz=ni)
            if second.fit is not None and second.score >= found.score:
                return _Hearing(again, other, second, named)
    return _Hearing(contour, signs, found, named)
