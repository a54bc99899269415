"""Choosing the bases of a service: how fast, and whether any other choice is better.

Beside it stand every combination of bases tried one after the other (on the same costs, with
numpy), and a general optimiser of the library a user would otherwise take (scipy's differential
evolution over whole numbers). Run: python bench/pitch_choice.py
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from figures import FULL, Figure
from scipy.optimize import differential_evolution
from setting_texts import texts

from chantwright.parish import Singer, group_singers
from chantwright.parish.pitch import base_costs
from chantwright.parish.service_bases import Kinship, choose_service_bases, kin, load_kinship
from chantwright.score import Hymn
from chantwright.setting import load_books, set_hymn
from chantwright.tones import Tones, load_tones

SEED = 7


def services(tones: Tones, count: int) -> list[list[Hymn]]:
    """Services of six hymns in two tones, the ends in the tone of the week."""
    books = load_books()
    words = [h for _, h in texts()[: 6 * count]]
    out = []
    for n in range(count):
        tone, other = n % 8 + 1, (n + 3) % 8 + 1
        told = [tone, tone, other, tone, other, tone]
        out.append(
            [
                set_hymn(replace(h, tone=t), tones, books)[0].hymn
                for h, t in zip(words[6 * n :] or words[:6], told, strict=False)
            ]
        )
    return out


class Costs:
    """The costs of a service, as its definition says."""

    def __init__(self, hymns: Sequence[Hymn], tones: Tones, people: Sequence[Singer],
                 kinship: Kinship) -> None:  # fmt: skip
        names = [str(h.branch) for h in hymns]
        whole = sum(float(h.beats) for h in hymns)
        self.branches = list(dict.fromkeys(names))
        self.sums: dict[str, np.ndarray] = {}
        for hymn, name in zip(hymns, names, strict=True):
            self.grid, costs = base_costs(hymn, tones, people, 100.0)
            share = costs * float(hymn.beats) / whole
            self.sums[name] = self.sums.get(name, 0.0) + share
        self.pairs = [(a, b) for a, b in pairwise(names) if a != b]
        n = len(self.grid)
        self.strange = np.array(
            [[0.0 if kin(self.grid[a], self.grid[b], kinship) else kinship.price
              for b in range(n)] for a in range(n)]
        )  # fmt: skip

    def of(self, way: Sequence[int]) -> float:
        """Cost of one base for each branch."""
        at = dict(zip(self.branches, way, strict=True))
        discomfort = sum(float(self.sums[b][i]) for b, i in at.items())
        return discomfort + sum(float(self.strange[at[a], at[b]]) for a, b in self.pairs)


def figures(size: str) -> Iterator[Figure]:
    """Yield times and costs."""
    tones, kinship = load_tones(), load_kinship()
    people = group_singers(tones, "mixed")
    count = 24 if size == FULL else 8
    spent = {"ours": 0.0, "brute": 0.0, "scipy": 0.0}
    worse = 0
    over: list[float] = []
    for hymns in services(tones, count):
        start = time.process_time()
        found = choose_service_bases(hymns, tones, people, kinship=kinship)
        spent["ours"] += time.process_time() - start
        start = time.process_time()
        costs = Costs(hymns, tones, people, kinship)
        size_of = len(costs.grid)
        least = min(map(costs.of, itertools.product(range(size_of), repeat=len(costs.branches))))
        spent["brute"] += time.process_time() - start
        start = time.process_time()
        costs = Costs(hymns, tones, people, kinship)
        general = differential_evolution(
            lambda x, costs=costs: costs.of([round(v) for v in x]),
            [(0, size_of - 1)] * len(costs.branches),
            integrality=[True] * len(costs.branches), rng=SEED,
        )  # fmt: skip
        spent["scipy"] += time.process_time() - start
        worse += found.cost > least + 1e-9
        over.append(float(general.fun) - found.cost)
    told = f"{count} services of 6 hymns, {size_of} bases, {len(people)} singers"
    yield Figure("pitch", "services for which another choice is better", worse, most=0, count=told)
    yield Figure("pitch", "bases of a service", 1000 * spent["ours"] / count, "ms",
                 peer="every combination tried", peer_value=1000 * spent["brute"] / count,
                 count=told)  # fmt: skip
    yield Figure("pitch", "bases of a service, against a general optimiser",
                 1000 * spent["ours"] / count, "ms", peer="scipy differential evolution",
                 peer_value=1000 * spent["scipy"] / count, count=told, seed=str(SEED))  # fmt: skip
    yield Figure("pitch", "what that optimiser's choice costs more, at most", max(over),
                 "semitones²", count=told, seed=str(SEED))  # fmt: skip


if __name__ == "__main__":
    for figure in figures("usual"):
        print(f"{figure.what}: {figure.value:.4g} {figure.unit}; {figure.peer} {figure.peer_value}")
