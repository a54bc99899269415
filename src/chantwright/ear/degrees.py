"""How each degree was sung: its mean, its spread, on the way up and on the way down.

Conventions
-----------
Moria from where the degree should lie on the singer's own base. For a note that the tone lets
move, what counts is how far it lies outside the band from plain to bent; within it all is right.
``doubt`` is the standard error of the mean, the base's own uncertainty included.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from chantwright.ear.alignment import Heard
from chantwright.ear.events import is_wrong
from chantwright.ear.expected import Expected

__all__ = ["DegreeReport", "Habit", "degree_reports", "habit", "off_by"]

_KEYBOARD = 6.0  # moria of a keyboard's half tone
_APART = 1.5  # moria by which a keyboard must differ before a habit can be heard
_BASE_KNOWN, _BASE_FOUND = 0.1, 0.3  # moria of uncertainty


@dataclass(frozen=True, slots=True)
class DegreeReport:
    """One degree.

    Attributes
    ----------
    degree : int
        Step number.
    count : int
        Notes measured, wrong notes left out.
    mean, spread, doubt : float
        Moria.
    up, down : float or None
        Mean on the way up and on the way down; None when sung seldom that way.
    moving : bool
        Whether the tone lets it move somewhere in this hymn.
    """

    degree: int
    count: int
    mean: float
    spread: float
    doubt: float
    up: float | None
    down: float | None
    moving: bool


@dataclass(frozen=True, slots=True)
class Habit:
    """How far a singer's degrees go towards a keyboard's: 0 not at all, 1 all the way."""

    share: float
    doubt: float
    degrees: tuple[int, ...]
    amounts: tuple[float, ...]


def off_by(heard: Heard) -> float:
    """Moria that count against a note: outside its band, or from its place where it has none."""
    return heard.outside if heard.asked.moving else heard.deviation


def _usable(heard: Sequence[Heard], expected: Expected) -> list[tuple[Heard, int]]:
    """Notes that can be measured, each with its direction: 1 up, -1 down, 0 neither."""
    out = []
    before: int | None = None
    for one in heard:
        degree = one.asked.degree
        way = 0 if before is None else int(np.sign(degree - before))
        before = degree
        if np.isfinite(one.deviation) and one.trust >= 0.3 and not is_wrong(one, expected):
            out.append((one, way))
    return out


def _mean(values: Sequence[float]) -> float:
    """Mean that a single slip does not move."""
    array = np.sort(np.asarray(values))
    cut = len(array) // 6
    return float(array[cut : len(array) - cut].mean())


def degree_reports(
    heard: Sequence[Heard], expected: Expected, *, known: bool
) -> tuple[DegreeReport, ...]:
    """Report every degree that was sung, from low to high."""
    usable = _usable(heard, expected)
    out = []
    for degree in sorted({h.asked.degree for h, _ in usable}):
        mine = [(off_by(h), way) for h, way in usable if h.asked.degree == degree]
        values = [v for v, _ in mine]
        up = [v for v, way in mine if way > 0]
        down = [v for v, way in mine if way < 0]
        spread = float(np.std(values, ddof=1)) if len(values) > 1 else float("nan")
        scatter = spread if len(values) > 2 else max(1.0, np.nan_to_num(spread))
        doubt = float(
            np.hypot(scatter / np.sqrt(len(values)), _BASE_KNOWN if known else _BASE_FOUND)
        )
        out.append(
            DegreeReport(
                degree,
                len(values),
                _mean(values),
                spread,
                doubt,
                _mean(up) if len(up) >= 3 else None,
                _mean(down) if len(down) >= 3 else None,
                any(h.asked.moving for h, _ in usable if h.asked.degree == degree),
            )
        )
    return tuple(out)


def habit(heard: Sequence[Heard], expected: Expected) -> Habit | None:
    """Measure the keyboard habit; None where the scale and a keyboard hardly differ.

    A keyboard's place of a degree is the nearest half tone counted from the tone's base. Notes
    that the tone lets move are left out, since their bends often lead to the same place.
    """
    base = float(expected.scales[0].moria(expected.branch.base))
    pairs: dict[int, list[tuple[float, float]]] = {}
    for one, _ in _usable(heard, expected):
        if one.asked.moving:
            continue
        place = one.asked.moria - base
        away = round(place / _KEYBOARD) * _KEYBOARD - place
        pairs.setdefault(one.asked.degree, []).append((away, one.deviation))
    told = {d: v for d, v in pairs.items() if abs(v[0][0]) >= _APART and len(v) >= 3}
    if not told:
        return None
    far = np.array([a for v in told.values() for a, _ in v])
    here = np.array([d for v in told.values() for _, d in v])
    others = [d for k, v in pairs.items() if abs(v[0][0]) < _APART for _, d in v]
    level = _mean(others) if len(others) >= 3 else 0.0
    here = here - level
    share = float(far @ here / (far @ far))
    rest = here - share * far
    doubt = float(np.sqrt(max(float(rest @ rest) / max(len(rest) - 1, 1), 0.25) / (far @ far)))
    names = tuple(sorted(told))
    return Habit(share, doubt, names, tuple(_mean([d for _, d in told[k]]) - level for k in names))
