"""Name a sounding pitch the way singers do: a letter, an octave and a remainder in cents.

Octaves are numbered as in scientific pitch notation: C4 is the middle c of the piano.

References
----------
ISO 16:1975, standard tuning frequency: a' (A4) = 440 Hz.
"""

from __future__ import annotations

import math

from chantwright.errors import ChantError

__all__ = ["pitch_name", "pitch_words"]

_NAMES = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")
_WESTERN = ("do", "do♯", "re", "mi♭", "mi", "fa", "fa♯", "sol", "la♭", "la", "si♭", "si")


def _nearest(hz: float, a4: float) -> tuple[int, int]:
    if not (math.isfinite(hz) and hz > 0 and math.isfinite(a4) and a4 > 0):
        raise ChantError(
            f"a pitch of {hz} Hz cannot be named.",
            remedy="Give the base as a number of Hz above 0, such as 146.8.",
        )
    steps = 69 + 12 * math.log2(hz / a4)
    key = math.floor(steps + 0.5)
    return key, round(100 * (steps - key))


def pitch_name(hz: float, *, a4: float = 440.0) -> tuple[str, int]:
    """Nearest key of the keyboard and what remains.

    Parameters
    ----------
    hz : float
        Frequency in Hz, above 0.
    a4 : float
        Frequency of A4 in Hz.

    Returns
    -------
    name : str
        Such as ``D3`` or ``B♭2``.
    cents : int
        From that key to the pitch, -50 to 50; above 0 when the pitch is higher.

    Raises
    ------
    ChantError
        If `hz` is not a number above 0.
    """
    key, cents = _nearest(hz, a4)
    return f"{_NAMES[key % 12]}{key // 12 - 1}", cents


def pitch_words(hz: float, *, a4: float = 440.0, fixed: bool = True) -> str:
    """Say a pitch in a heading: ``D3 (re), 146.8 Hz`` with the cents when there are any.

    Parameters
    ----------
    hz, a4 : float
        As in `pitch_name`.
    fixed : bool
        Whether to add the fixed do re mi name. Leave it out where re already names a degree.
    """
    name, cents = pitch_name(hz, a4=a4)
    key, _ = _nearest(hz, a4)
    off = ""
    if cents:
        off = (
            f", {abs(cents)} cent{'s' if abs(cents) != 1 else ''} {'high' if cents > 0 else 'low'}"
        )
    solfege = f" ({_WESTERN[key % 12]})" if fixed else ""
    return f"{name}{solfege}{off}, {hz:.1f} Hz"
