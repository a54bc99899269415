"""Attractions (elxeis) written into a line: a moving degree leans to the one it serves.

A degree bends only while it moves: the neighbours looked at are the nearest *different* degrees of
the line, and a line's last degree never bends. No bend may carry a degree to the place of the one
above or below it; one that would is left out.

References
----------
Direction and moments: a Romanian theory sheet for tone 8, and common practice; sizes mostly from
memory (see the rows). Tsiappoutas 2004 measured the bend of vou in a chanter's singing.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from chantwright.errors import ChantError
from chantwright.tones.model import Attraction, Branch, Tones

__all__ = ["LEVELS", "MOMENTS", "bends"]

LEVELS = ("none", "beginner", "all")
MOMENTS = ("peak", "down", "lower_neighbour", "rising_to")


def _applies(rule: Attraction, line: Sequence[int], i: int) -> bool:
    degree = line[i]
    away = degree - rule.note
    if away % 7 if rule.every_octave else away:
        return False
    before = next((d for d in reversed(line[:i]) if d != degree), None)
    after = next((d for d in line[i + 1 :] if d != degree), None)
    if after is None or (rule.unless_above and after > degree):
        return False
    target = degree + 1 if rule.to is None else rule.to + away
    moments = {
        "peak": (before is None or before < degree) and after < degree,
        "down": before is not None and before > degree and after < degree,
        "lower_neighbour": before == target and after == target,
        "rising_to": after == target,
    }
    return any(moments.get(when, False) for when in rule.when)


def bends(
    tones: Tones, branch: Branch, degrees: Sequence[int], level: str = "beginner"
) -> tuple[Fraction, ...]:
    """Bends of a melody line, in moria, one a note.

    Parameters
    ----------
    tones, branch : Tones, Branch
        The attractions that the branch knows.
    degrees : sequence of int
        The line.
    level : str
        none, beginner (those whose row says so: zo alone in ours) or all.

    Returns
    -------
    tuple of Fraction
        As many as `degrees`.

    Raises
    ------
    ChantError
        If the level is unknown.
    """
    if level not in LEVELS:
        raise ChantError(f"“{level}” is no level.", remedy=f"Choose one of: {', '.join(LEVELS)}.")
    if level == "none":
        return (Fraction(0),) * len(degrees)
    rules = [
        tones.attractions[a]
        for a in branch.attractions
        if a in tones.attractions and (level == "all" or tones.attractions[a].for_beginners)
    ]
    scale = tones.scales[branch.scale]
    out = []
    for i, degree in enumerate(degrees):
        bend = next((r.moria for r in rules if _applies(r, degrees, i)), Fraction(0))
        place = scale.moria(degree) + bend
        if not scale.moria(degree - 1) < place < scale.moria(degree + 1):
            bend = Fraction(0)
        out.append(bend)
    return tuple(out)
