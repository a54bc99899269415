"""Bases for a whole service: each branch its best, neighbours kin where that costs little.

When one hymn follows another in a different tone, the singers find their new base easily if it is
the old one, or a fourth or a fifth from it; any other step has to be given by the leader. So the
bases of a service are chosen together: the sum of everybody's discomfort, and a small price for
each pair of neighbours whose bases are not kin. One branch keeps one base all through. Which steps
are kin, and the price, stand in ``data/kinship.toml``; a parish's own rows win.

The search is exact: a base of a branch that alone costs more than all prices of kinship together
can never be part of the best choice, and what is left is tried out to the end.

References
----------
Neighbouring hymns on related bases: common practice of leaders; a fourth and a fifth are 30 and 42
moria of 72 (in cents of a keyboard 500 and 700).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from chantwright.errors import ChantError
from chantwright.parish.pitch import base_costs
from chantwright.parish.singers import Singer
from chantwright.rows import Row, load_rows
from chantwright.score import Base, Hymn
from chantwright.tones import Tones

__all__ = ["Kinship", "ServiceBases", "choose_service_bases", "kin", "load_kinship"]

_OCTAVE = 1200.0
_DEAREST = 1000.0


@dataclass(frozen=True, slots=True)
class Kinship:
    """Which bases are kin, and what it costs where neighbours are not.

    Attributes
    ----------
    steps : tuple of float
        Steps between bases that singers find by themselves, in cents, octaves apart or not.
    near : float
        Cents by which a step may miss one of them.
    price : float
        Of a pair of neighbours that are not kin, in semitones squared of discomfort.
    """

    steps: tuple[float, ...]
    near: float
    price: float


def load_kinship(overrides: Iterable[Path] = ()) -> Kinship:
    """Read which bases are kin, a parish's own rows first.

    Raises
    ------
    ChantError
        If a step, the nearness or the price is no number that can be used.
    """
    tables = load_rows(
        "chantwright.parish", ["kinship.toml"], overrides=tuple(overrides),
        tables=["kin", "strangers"],
    )  # fmt: skip

    def number(row: Row, key: str, most: float) -> float:
        value = row[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
            raise row.error(f"“{key}” is not a number from 0 to {most:g}.", "Write one.")
        return float(value)

    strangers = tables["strangers"]["strangers"]
    return Kinship(
        tuple(number(row, "cents", _OCTAVE) for row in tables["kin"].values()),
        number(strangers, "near", _OCTAVE / 2),
        number(strangers, "price", _DEAREST),
    )


@dataclass(frozen=True, slots=True)
class ServiceBases:
    """The choice.

    Attributes
    ----------
    bases : tuple of Base
        One for each hymn, in order.
    cost : float
        Discomfort and prices together, in semitones squared.
    strangers : int
        Pairs of neighbours whose bases are not kin.
    """

    bases: tuple[Base, ...]
    cost: float
    strangers: int


def kin(first_cents: float, second_cents: float, kinship: Kinship) -> bool:
    """Whether two bases are the same, a fourth or a fifth apart, or what else counts as kin."""
    step = (second_cents - first_cents) % _OCTAVE
    return any(
        min(abs(step - k), _OCTAVE - abs(step - k)) <= kinship.near
        for near in kinship.steps
        for k in (near % _OCTAVE, -near % _OCTAVE)
    )


def choose_service_bases(
    hymns: Sequence[Hymn],
    tones: Tones,
    singers: Sequence[Singer],
    *,
    grid_cents: float = 100.0,
    kinship: Kinship | None = None,
) -> ServiceBases:
    """Choose the bases of a service together.

    Parameters
    ----------
    hymns : sequence of Hymn
        Set, in the order in which they are sung.
    tones : Tones
        Branches and scales.
    singers : sequence of Singer
        At least one.
    grid_cents : float
        Step between candidate bases; 100 gives keyboard pitches.
    kinship : Kinship, optional
        Which bases are kin; our own rows when it is not given.

    Returns
    -------
    ServiceBases

    Raises
    ------
    ChantError
        If there is nobody to sing, or a hymn has no melody or no branch.
    """
    if not singers:
        raise ChantError("there is nobody to choose a pitch for.", remedy="Name a singer or group.")
    if not hymns:
        return ServiceBases((), 0.0, 0)
    bonds = load_kinship() if kinship is None else kinship
    names = [str(h.branch) for h in hymns]
    branches = list(dict.fromkeys(names))
    whole = float(sum(float(h.beats) for h in hymns)) or 1.0
    grid: np.ndarray[tuple[int], np.dtype[np.float64]] | None = None
    sums: dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]] = {}
    for hymn, name in zip(hymns, names, strict=True):
        grid, costs = base_costs(hymn, tones, singers, grid_cents)
        share = costs * float(hymn.beats) / whole
        sums[name] = sums[name] + share if name in sums else share
    assert grid is not None  # there is a hymn
    pairs = [(a, b) for a, b in pairwise(names) if a != b]
    most = bonds.price * len(pairs)
    able = {
        n: [int(i) for i in np.flatnonzero(sums[n] <= sums[n].min() + most + 1e-12)]
        for n in branches
    }
    best = _best(branches, able, sums, grid, pairs, bonds)
    strangers = sum(not kin(grid[best[1][a]], grid[best[1][b]], bonds) for a, b in pairs)
    bases = tuple(
        Base(tones.branch(n).base, float(440.0 * 2 ** (grid[best[1][n]] / 1200))) for n in names
    )
    return ServiceBases(bases, best[0], strangers)


def _best(
    branches: Sequence[str],
    able: dict[str, list[int]],
    sums: dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]],
    grid: np.ndarray[tuple[int], np.dtype[np.float64]],
    pairs: Sequence[tuple[str, str]],
    bonds: Kinship,
) -> tuple[float, dict[str, int]]:
    """Go through every choice, leaving a way as soon as it costs too much."""
    rest = [0.0]
    for name in reversed(branches):
        rest.append(rest[-1] + float(sums[name].min()))
    rest.reverse()
    found: tuple[float, dict[str, int]] = (float("inf"), {})

    def go(place: int, cost: float, chosen: dict[str, int]) -> None:
        nonlocal found
        if cost + rest[place] >= found[0] - 1e-12:
            return
        if place == len(branches):
            found = (cost, dict(chosen))
            return
        name = branches[place]
        for i in sorted(able[name], key=lambda k: (float(sums[name][k]), k)):
            chosen[name] = i
            price = sum(
                bonds.price
                for a, b in pairs
                if name in (a, b) and a in chosen and b in chosen
                and not kin(grid[chosen[a]], grid[chosen[b]], bonds)
            )  # fmt: skip
            go(place + 1, cost + float(sums[name][i]) + price, chosen)
            del chosen[name]

    go(0, 0.0, {})
    return found
