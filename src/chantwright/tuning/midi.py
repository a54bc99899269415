"""Moria as MIDI pitch bend: 14 bits, 8192 in the middle."""

from __future__ import annotations

from fractions import Fraction

from chantwright.errors import ChantError

__all__ = ["BEND_MIDDLE", "pitch_bend"]

BEND_MIDDLE = 8192


def pitch_bend(moria: Fraction | float, *, semitones: int = 2) -> int:
    """Pitch-bend value for a distance from a key of the keyboard.

    Parameters
    ----------
    moria : Fraction or float
        Distance; 6 moria are a semitone.
    semitones : int
        Bend range to each side, in semitones.

    Returns
    -------
    int
        0 to 16383; 8192 is no bend. Rounded to the nearest step.

    Raises
    ------
    ChantError
        If the distance is larger than the range.
    """
    value = BEND_MIDDLE + round(Fraction(moria) * BEND_MIDDLE / (6 * semitones))
    if value == 2 * BEND_MIDDLE:
        return value - 1  # the upper end of the range has no step of its own
    if not 0 <= value < 2 * BEND_MIDDLE:
        raise ChantError(
            f"a bend of {float(moria):g} moria is larger than {semitones} semitones.",
            remedy="Start from a nearer key, or set a wider bend range.",
        )
    return value
