"""A singer's range, taken from a recording of held notes.

The singer sings single notes, or a scale, from a middle note down as far as is comfortable and up
as far as is comfortable, and holds each for a second or so. Only notes that were held steadily and
as strongly as the others count; a glide touches notes that nobody could sing on. The comfortable
range ends a tone inside the outermost held notes, so that nobody is ever pushed (common practice).

Conventions
-----------
Pitch in Hz; distances in moria.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from chantwright.ear.contour import Contour
from chantwright.ear.stretches import Stretch, stretches, to_hz
from chantwright.errors import ChantError

__all__ = ["Compass", "take_compass"]

INSIDE = 12.0
"""Moria by which the comfortable range lies inside the outermost held notes: a tone."""

_HELD = 0.6  # seconds
_STEADY = 2.0  # moria of spread
_FAINT = 15.0  # dB below the singer's usual level
_SAME = 4.0  # moria within which two held notes are one
_FEWEST = 4
_NARROW = 42.0  # moria: less than a fifth is hardly anybody's range


@dataclass(frozen=True, slots=True)
class Compass:
    """A range.

    Attributes
    ----------
    low_hz, high_hz : float
        Comfortable range.
    lowest_hz, highest_hz : float
        Outermost notes that were held.
    notes : int
        Different notes that were held.
    sure : bool
        Whether enough notes over a wide enough range were held.
    remarks : tuple of str
        Sentences for the teacher.
    """

    low_hz: float
    high_hz: float
    lowest_hz: float
    highest_hz: float
    notes: int
    sure: bool
    remarks: tuple[str, ...]


def take_compass(contour: Contour) -> Compass:
    """Take a singer's range.

    Parameters
    ----------
    contour : Contour
        A recording of held notes.

    Raises
    ------
    ChantError
        If fewer than two different notes were held.
    """
    every = stretches(contour, shortest=0.2, dips=False)
    steady = [s for s in every if s.seconds >= _HELD and s.spread <= _STEADY]
    if steady:
        usual = float(np.median([s.level for s in steady]))
        faint = [s for s in steady if s.level < usual - _FAINT]
        steady = [s for s in steady if s.level >= usual - _FAINT]
    else:
        faint = []
    places = _different(steady)
    if len(places) < 2:
        raise ChantError(
            "hardly any note was held long enough to take a range from this recording.",
            remedy="Sing one note after another, down and then up, and hold each for a second on "
            "“ah”; do not slide.",
        )
    lowest, highest = places[0], places[-1]
    inside = min(INSIDE, (highest - lowest) / 4)
    remarks = []
    if faint:
        remarks.append("Some outer notes were much fainter than the rest and are not counted.")
    touched = [s for s in every if s.seconds < _HELD and not lowest - 3 < s.moria < highest + 3]
    if touched:
        remarks.append("Notes farther out were touched but not held; they are not counted.")
    sure = len(places) >= _FEWEST and highest - lowest >= _NARROW
    if not sure:
        remarks.append(
            f"Only {len(places)} different notes over {(highest - lowest) / 6:.0f} semitones were "
            "held: take this as a beginning, and record again with more notes."
        )
    return Compass(
        low_hz=to_hz(lowest + inside),
        high_hz=to_hz(highest - inside),
        lowest_hz=to_hz(lowest),
        highest_hz=to_hz(highest),
        notes=len(places),
        sure=sure,
        remarks=tuple(remarks),
    )


def _different(notes: list[Stretch]) -> list[float]:
    out: list[float] = []
    for place in sorted(n.moria for n in notes):
        if not out or place - out[-1] > _SAME:
            out.append(place)
    return out
