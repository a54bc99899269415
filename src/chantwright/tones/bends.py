"""Attractions (elxeis) written into a line: a moving degree leans to the one it serves."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from chantwright.errors import ChantError
from chantwright.tones.model import Attraction, Branch, Tones

__all__ = ["LEVELS", "bends"]

LEVELS = ("none", "beginner", "all")
_BEGINNER = ("zo_flat",)


def _applies(rule: Attraction, line: Sequence[int], i: int) -> bool:
    degree = line[i]
    if (degree - rule.note) % 7 or (rule.to is None and degree != rule.note and degree % 7 != 6):
        return False
    before = next((d for d in reversed(line[:i]) if d != degree), None)
    after = next((d for d in line[i + 1 :] if d != degree), None)
    if rule.unless_above and after is not None and after > degree:
        return False
    peak = (before is None or before < degree) and after is not None and after < degree
    down = before is not None and before > degree and after is not None and after < degree
    target = degree + 1
    neighbour = before == target and after == target
    rising = after == target
    made = {"peak": peak, "down": down, "lower_neighbour": neighbour, "rising_to": rising}
    return any(made.get(w, False) for w in rule.when)


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
        none, beginner (zo only) or all.
    """
    if level not in LEVELS:
        raise ChantError(f"“{level}” is no level.", remedy=f"Choose one of: {', '.join(LEVELS)}.")
    if level == "none":
        return (Fraction(0),) * len(degrees)
    rules = [
        tones.attractions[a]
        for a in branch.attractions
        if a in tones.attractions and (level == "all" or a in _BEGINNER)
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
