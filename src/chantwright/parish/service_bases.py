"""Bases for a whole service: each branch its best, neighbours kin where that costs little.

When one hymn follows another in a different tone, the singers find their new base easily if it is
the old one, or a fourth or a fifth from it; any other step has to be given by the leader. So the
bases of a service are chosen together: the sum of everybody's discomfort, and a small price for
each pair of neighbours whose bases are not kin. One branch keeps one base all through.

The search is exact: a base of a branch that alone costs more than all prices of kinship together
can never be part of the best choice, and what is left is tried out to the end.

References
----------
Neighbouring hymns on related bases: common practice of leaders; a fourth and a fifth are 30 and 42
moria of 72 (in cents of a keyboard 500 and 700).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from chantwright.errors import ChantError
from chantwright.parish.pitch import base_costs
from chantwright.parish.singers import Singer
from chantwright.score import Base, Hymn
from chantwright.tones import Tones

__all__ = ["KIN_CENTS", "NOT_KIN", "ServiceBases", "choose_service_bases", "kin"]

KIN_CENTS = (0.0, 500.0, 700.0)
"""Steps between bases that singers find by themselves, octaves apart or not."""
NOT_KIN = 0.12
"""Price of a pair of neighbours whose bases are not kin, in semitones squared of discomfort."""
_NEAR = 26.0


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


def kin(first_cents: float, second_cents: float) -> bool:
    """Whether two bases are the same, a fourth or a fifth apart, within 26 cents."""
    step = (second_cents - first_cents) % 1200
    return any(
        min(abs(step - k), 1200 - abs(step - k)) <= _NEAR
        for near in KIN_CENTS
        for k in (near, (1200 - near) % 1200)
    )


def choose_service_bases(
    hymns: Sequence[Hymn],
    tones: Tones,
    singers: Sequence[Singer],
    *,
    grid_cents: float = 100.0,
    not_kin: float = NOT_KIN,
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
    not_kin : float
        Price of neighbours that are not kin.

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
    most = not_kin * len(pairs)
    able = {
        n: [int(i) for i in np.flatnonzero(sums[n] <= sums[n].min() + most + 1e-12)]
        for n in branches
    }
    best = _best(branches, able, sums, grid, pairs, not_kin)
    strangers = sum(not kin(grid[best[1][a]], grid[best[1][b]]) for a, b in pairs)
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
    not_kin: float,
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
                not_kin
                for a, b in pairs
                if name in (a, b) and a in chosen and b in chosen
                and not kin(grid[chosen[a]], grid[chosen[b]])
            )  # fmt: skip
            go(place + 1, cost + float(sums[name][i]) + price, chosen)
            del chosen[name]

    go(0, 0.0, {})
    return found
