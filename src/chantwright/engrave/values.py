"""Beats as note values: a quarter note is one beat.

Ordinary note values are used, stems and all. A stemless notation looks nearer to speech, but the
singers of a parish choir read quarters, halves and eighths at sight and need no key to them.

References
----------
Beamed and dotted values as in common music notation; one beat (chronos) as a quarter note: common
practice of staff transcriptions.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from chantwright.errors import ChantError, Where

__all__ = ["Value", "split", "values"]


@dataclass(frozen=True, slots=True)
class Value:
    """One printed note value.

    Attributes
    ----------
    beats : Fraction
        As sung.
    dur : int
        1 whole, 2 half, 4 quarter, 8 eighth, and so on to 64.
    dots : int
        0 or 1.
    triplet : bool
        Three in the time of two.
    """

    beats: Fraction
    dur: int
    dots: int
    triplet: bool = False


def _plain() -> tuple[Value, ...]:
    found = []
    for dur in (1, 2, 4, 8, 16, 32, 64):
        beats = Fraction(4, dur)
        if dur < 64:
            found.append(Value(beats * Fraction(3, 2), dur, 1))
        found.append(Value(beats, dur, 0))
    return tuple(v for v in found if v.beats <= 4)


_PLAIN = _plain()


@lru_cache(maxsize=1024)
def split(beats: Fraction) -> tuple[Value, ...] | None:
    """Write a length as note values to be tied, longest first; None when that is not possible."""
    if beats <= 0:
        return None
    triplet = beats.denominator % 3 == 0
    left = beats * Fraction(3, 2) if triplet else beats
    out: list[Value] = []
    while left:
        best = next((v for v in _PLAIN if v.beats <= left), None)
        if best is None:
            return None
        sung = best.beats * Fraction(2, 3) if triplet else best.beats
        out.append(Value(sung, best.dur, best.dots, triplet))
        left -= best.beats
        if len(out) > 64:
            return None
    return tuple(out)


def values(beats: Fraction, word: str = "") -> tuple[Value, ...]:
    """Write a length as note values to be tied.

    Parameters
    ----------
    beats : Fraction
        Above 0.
    word : str
        Syllable the error names.

    Raises
    ------
    ChantError
        If no note values add up to the length.
    """
    found = split(beats)
    if found is None:
        raise ChantError(
            f"a note of {beats} beats cannot be printed.",
            where=Where(word=word),
            remedy="Use beats such as 1, 2, 1/2, 3/2, 1/3 or 1/4, and no note over 200 beats.",
        )
    return found
