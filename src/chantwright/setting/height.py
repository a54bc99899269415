"""The heights of the stresses of a line: a chanter does not lift every one to the same note.

That four stresses in a row on one height grow dull is common practice, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["LEVEL_RUN", "NO_HEIGHT", "heading", "levelled"]

LEVEL_RUN = 3
"""Stresses in a row on one height that nobody minds (common practice)."""

NO_HEIGHT = 99
"""Height where no stress has been sung; no note is so high."""


def levelled(peaks: Sequence[int], height: int = NO_HEIGHT, run: int = 0) -> tuple[int, int, int]:
    """Count stresses beyond `LEVEL_RUN` in a row on one height.

    Parameters
    ----------
    peaks : sequence of int
        Highest degree of each stress.
    height, run : int
        Of the stress before them, and how many in a row had it.

    Returns
    -------
    (int, int, int)
        Height of the last stress, how many in a row have it, and the surplus of all runs.
    """
    over = 0
    for peak in peaks:
        run = run + 1 if peak == height else 1
        height = peak
        over += run > LEVEL_RUN
    return height, run, over


def heading(peaks: Sequence[int]) -> tuple[int, int]:
    """Height of the first stress (`NO_HEIGHT` without one), and how many from there on have it."""
    if not peaks:
        return NO_HEIGHT, 0
    for count, peak in enumerate(peaks):
        if peak != peaks[0]:
            return peaks[0], count
    return peaks[0], len(peaks)
