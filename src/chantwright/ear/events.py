"""What was left out, added or sung wrong, read from an alignment.

Conventions
-----------
A *wrong note* is one that lies nearer to another degree of the scale than to its own band; all
smaller errors are tuning. Skips and repeats are told by whole syllables where a whole syllable
was left out or sung again. Indexes are those of the hymn's notes, `last` included.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chantwright.ear.alignment import Alignment, Heard
from chantwright.ear.expected import Expected

__all__ = ["Event", "events", "is_wrong", "sung_degree"]

_SHARE = 0.55  # of the step to the next degree
_LEAST = 3.6  # moria
_TRUST = 0.3


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that differs from the page.

    Attributes
    ----------
    kind : str
        wrong, skip, repeat, restart, left out (whole phrases), begun late, ended early.
    first, last : int
        Notes of the hymn that it concerns.
    time : float
        When it is heard, seconds.
    moria : float
        For a wrong note: how far it lies from the written one.
    degree : int or None
        For a wrong note: the degree that was sung instead.
    """

    kind: str
    first: int
    last: int
    time: float
    moria: float = 0.0
    degree: int | None = None


def is_wrong(heard: Heard, expected: Expected) -> bool:
    """Whether a note lies nearer to another degree than to its own band."""
    if heard.trust < _TRUST or not np.isfinite(heard.deviation):
        return False
    step = expected.step(heard.asked, heard.outside > 0)
    # A degree that this singer has high as a rule is a tuning matter, however often it is sung.
    least = max(_LEAST, _SHARE * step)
    return abs(heard.outside) > least and abs(heard.apart) > least


def sung_degree(heard: Heard, expected: Expected) -> int:
    """Degree that lies nearest to what was sung."""
    scale = expected.scales[heard.asked.phrase]
    place = heard.asked.moria + heard.deviation
    near = range(heard.asked.degree - 10, heard.asked.degree + 11)
    return min(near, key=lambda d: abs(float(scale.moria(d)) - place))


def _whole_phrases(expected: Expected, first: int, last: int) -> bool:
    starts = set(expected.starts)
    return first in starts and (last + 1 in starts or last + 1 == len(expected.notes))


def _gap(expected: Expected, first: int, last: int, time: float) -> Event:
    kind = "left out" if _whole_phrases(expected, first, last) else "skip"
    return Event(kind, first, last, time)


def events(alignment: Alignment) -> tuple[Event, ...]:
    """List what differs from the page, in order of time."""
    expected, heard = alignment.expected, alignment.heard
    if not heard:
        return ()
    starts = set(expected.starts)
    out: list[Event] = []
    if heard[0].index > 0:
        out.append(Event("begun late", 0, heard[0].index - 1, heard[0].start))
    before: Heard | None = None
    furthest = heard[0].index
    for one in heard:
        if before is not None:
            step = one.index - before.index
            if step > 1 and one.index > furthest:
                out.append(
                    _gap(expected, max(before.index, furthest) + 1, one.index - 1, one.start)
                )
            elif step <= 0:
                again = one.index in starts and before.index - one.index > 1
                out.append(
                    Event("restart" if again else "repeat", one.index, before.index, one.start)
                )
        furthest = max(furthest, one.index)
        if is_wrong(one, expected):
            out.append(
                Event(
                    "wrong",
                    one.index,
                    one.index,
                    one.start,
                    one.deviation,
                    sung_degree(one, expected),
                )
            )
        before = one
    if furthest < len(expected.notes) - 1:
        out.append(Event("ended early", furthest + 1, len(expected.notes) - 1, heard[-1].end))
    return tuple(out)
