"""The ison holder: how steady the held note was, where it sank, and which changes came late.

A line of ison is a row of spans, each with its pitch. The holder's own base may be unknown: the
whole line is then laid on what was sung. Steadiness is how far single moments stray from the span's
own middle; drift is how the whole line sank or rose; a change is late when the new note is reached
later than a moment after its time.

Conventions
-----------
Seconds from the beginning of the recording; distances in moria; drift in moria a minute.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from chantwright.ear.contour import Contour
from chantwright.ear.stretches import moria_of
from chantwright.errors import ChantError
from chantwright.score import UNISON, Hymn
from chantwright.tuning import Scale

__all__ = ["Change", "Holding", "IsonSpan", "ison_spans", "judge_holding"]

Floats = npt.NDArray[np.float64]

LATE = 0.35
"""Seconds after its time from which a change is late."""
OFF = 3.0
"""Moria from its note within which a note is reached."""

_GAP = 0.7  # seconds of silence that are more than a breath
_SETTLE = 0.15  # seconds in which a new note must stay


@dataclass(frozen=True, slots=True)
class IsonSpan:
    """A held note: start and end in seconds, and moria above the base."""

    start: float
    end: float
    moria: float


@dataclass(frozen=True, slots=True)
class Change:
    """A change of the ison: when it was due, and how much later it was reached (None: never)."""

    at: float
    moria: float
    late: float | None


@dataclass(frozen=True, slots=True)
class Holding:
    """How an ison was held.

    Attributes
    ----------
    base_hz : float
        The base as sung, at the beginning.
    offset : float or None
        Moria above the base that was asked for; None when none was asked for.
    unsteadiness : float
        Moria, as the standard deviation of single moments.
    drift : float
        Moria a minute; negative sinks.
    silent : float
        Seconds of silence longer than a breath.
    changes : tuple of Change
        Every change that was due.
    sung : float
        Share of the time in which something was sung.
    """

    base_hz: float
    offset: float | None
    unsteadiness: float
    drift: float
    silent: float
    changes: tuple[Change, ...]
    sung: float

    @property
    def late(self) -> tuple[Change, ...]:
        """Changes that came late or never."""
        return tuple(c for c in self.changes if c.late is None or c.late > LATE)


def ison_spans(
    hymn: Hymn, scale: Scale, *, base_degree: int, tempo: float, start: float = 0.0
) -> tuple[IsonSpan, ...]:
    """Make spans of a hymn's ison, at a tempo in beats a minute, from `start` seconds.

    Where the holders join the melody the melody's own notes stand.

    Raises
    ------
    ChantError
        If the hymn has no ison.
    """
    beat = 60.0 / tempo
    spans: list[IsonSpan] = []
    at = start
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            for note in syllable.notes:
                end = at + float(note.beats) * beat
                if syllable.ison is not None:
                    degree = note.degree if syllable.ison == UNISON else int(syllable.ison)
                    place = float(scale.moria(degree) - scale.moria(base_degree))
                    last = spans[-1] if spans else None
                    if last is not None and last.moria == place and math.isclose(last.end, at):
                        spans[-1] = IsonSpan(last.start, end, place)
                    else:
                        spans.append(IsonSpan(at, end, place))
                at = end
        at += float(phrase.rest) * beat
    if not spans:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no ison.",
            remedy="Write a line “ison: ...” under its notes, or let the tool lay one.",
        )
    return tuple(spans)


def judge_holding(
    contour: Contour, spans: Sequence[IsonSpan], *, base_hz: float | None = None
) -> Holding:
    """Judge how an ison was held.

    Parameters
    ----------
    contour : Contour
        What was sung.
    spans : sequence of IsonSpan
        What was to be held; at least one.
    base_hz : float, optional
        Pitch of the base that was given to the singer.

    Raises
    ------
    ChantError
        If hardly anything was sung within the spans.
    """
    times, voiced = contour.times, contour.voiced
    moria = np.full(times.size, np.nan)
    moria[voiced] = moria_of(contour.f0[voiced])
    asked = np.full(times.size, np.nan)
    for span in spans:
        asked[(times >= span.start) & (times < span.end)] = span.moria
    inside = np.isfinite(asked)
    known = inside & voiced
    if known.sum() * contour.hop < 1.0:
        raise ChantError(
            "hardly anything was sung where the ison was to be held.",
            remedy="Check that this is the right recording, and that it begins with the hymn.",
        )
    rest = moria - asked
    base, slope = _line(times[known], rest[known])
    left = rest - (base + slope * (times - spans[0].start) / 60)
    near = known & (np.abs(left) <= 2 * OFF)
    # Fast wavering within each second; slow sinking is told as drift.
    spread = float(1.4826 * np.median(np.abs(left[near] - np.median(left[near]))))
    changes = tuple(
        Change(b.start, b.moria, _reached(times, left, b, contour.hop))
        for a, b in pairwise(spans)
        if a.moria != b.moria
    )
    return Holding(
        base_hz=float(2 ** (base / 72)),
        offset=None if base_hz is None else float(base - 72 * np.log2(base_hz)),
        unsteadiness=spread,
        drift=slope,
        silent=_silence(voiced[inside], contour.hop),
        changes=changes,
        sung=float(voiced[inside].mean()),
    )


def _line(at: Floats, value: Floats) -> tuple[float, float]:
    """Robust straight line: its value at the first moment, and its slope a minute."""
    first = at[0]
    x = (at - first) / 60
    weight = np.abs(value - np.median(value)) <= 12
    level, slope = float(np.median(value)), 0.0
    for _ in range(6):
        w = weight.astype(np.float64)
        if w.sum() < 10:
            break
        mx, my = (w * x).sum() / w.sum(), (w * value).sum() / w.sum()
        varied = (w * (x - mx) ** 2).sum()
        slope = float((w * (x - mx) * (value - my)).sum() / varied) if varied > 0 else 0.0
        level = float(my - slope * mx)
        weight = np.abs(value - level - slope * x) <= OFF
    return level, slope


def _reached(times: Floats, left: Floats, span: IsonSpan, hop: float) -> float | None:
    """Seconds after the span's start at which its note is reached and kept; None if never."""
    inside = (times >= span.start - 0.3) & (times < span.end)
    close = np.abs(left[inside]) <= OFF
    size = max(1, round(_SETTLE / hop))
    at = times[inside]
    # Before its time the old note is still due: what counts is where the new pitch begins.
    run = 0
    for i in range(close.size):
        run = run + 1 if close[i] and at[i] >= span.start else 0
        if run >= size:
            return float(max(0.0, at[i - size + 1] - span.start))
    return None


def _silence(voiced: npt.NDArray[np.bool_], hop: float) -> float:
    total, run = 0, 0
    least = round(_GAP / hop)
    for sounds in [*voiced.tolist(), True]:
        if sounds:
            total += run if run >= least else 0
            run = 0
        else:
            run += 1
    return total * hop
