"""Steps with smooth joints: the one shape behind glides, vowel changes and fades.

A line of pieces (notes, vowels, levels) holds still inside each piece and passes into the next by
a raised cosine centred on the joint. Times and half-widths in seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

__all__ = ["Array", "Joints", "halves"]

Array: TypeAlias = npt.NDArray[np.float64]
"""One-dimensional float64."""

Indices: TypeAlias = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Joints:
    """Where n pieces meet.

    Attributes
    ----------
    at : Array, shape (n - 1,)
        Joints in seconds, ascending.
    half : Array, shape (n - 1,)
        Half-width of each passage; neighbouring passages must not overlap.
    """

    at: Array
    half: Array

    def mix(self, times: Array) -> tuple[Indices, Indices, Array]:
        """Which pieces sound at given times.

        Parameters
        ----------
        times : Array, shape (m,)
            Seconds.

        Returns
        -------
        here, other : int arrays, shape (m,)
            The piece that holds the time, and the neighbour that mixes in.
        share : Array, shape (m,)
            Share of the neighbour, 0 to 1/2.
        """
        here = np.searchsorted(self.at, times, side="right")
        other = here.copy()
        share = np.zeros(len(times))
        if not len(self.at):
            return here, other, share
        for step, index in ((-1, here - 1), (1, here)):
            safe = np.clip(index, 0, len(self.at) - 1)
            distance = np.abs(times - self.at[safe])
            near = (index == safe) & (distance < self.half[safe])
            share[near] = 0.5 - 0.5 * np.sin(0.5 * np.pi * distance[near] / self.half[safe][near])
            other[near] = here[near] + step
        return here, other, share

    def value(self, levels: Array, times: Array) -> Array:
        """Value of the line at given times, `levels` being the n pieces' own."""
        here, other, share = self.mix(times)
        out: Array = levels[here] * (1 - share) + levels[other] * share
        return out


def halves(at: Array, wanted: float, first: float, last: float, part: float = 0.3) -> Array:
    """Half-widths that keep to a part of the shorter neighbour, so that no passages overlap.

    Parameters
    ----------
    at : Array, shape (n,)
        Joints.
    wanted : float
        Half-width where there is room, in seconds.
    first, last : float
        Where the line begins and ends.
    part : float
        Largest part of the shorter neighbour; at most 1/2.
    """
    if not len(at):
        return np.zeros(0)
    lengths = np.diff(np.concatenate(([first], at, [last])))
    out: Array = np.clip(np.minimum(lengths[:-1], lengths[1:]) * part, 0.0, wanted)
    return out
