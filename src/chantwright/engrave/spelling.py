"""How degrees are written on the staff: ni is c, pa is d and so on, with sharps and flats.

A staff position has a *keyboard place* in moria (c 0, d 12, e 24, f 30, g 42, a 54, b 66; 6 moria
are one semitone). A degree's place in its scale, with the bend of the note, is compared with it:
the nearest whole number of semitones becomes the *alteration* (-1 flat, 1 sharp), and what is
left over is the *remainder* in moria. An exact half is written with the smaller alteration.

So in the diatonic scale vou and zo are 2 moria below e and b and are written plain; ke of the
soft chromatic scale, 4 below a, is a flat; ga of the hard chromatic scale is f sharp.

References
----------
The keyboard divides the octave (72 moria) into 12 equal semitones. Staff transcriptions with
ni = c: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from chantwright.tuning import Scale

__all__ = ["PLACES", "Spelling", "departures", "moria_text", "signature", "spell"]

PLACES = (0, 12, 24, 30, 42, 54, 66)
"""Keyboard places of c d e f g a b in moria."""
_STEPS = "cdefgab"
_SHARPS = "fcgdaeb"
_FLATS = "beadgcf"


@dataclass(frozen=True, slots=True)
class Spelling:
    """A note on the staff.

    Attributes
    ----------
    step : str
        c d e f g a b.
    octave : int
        As written: ni = 0 is c of octave 4.
    alteration : int
        Semitones: -1 flat, 1 sharp, -2 and 2 double.
    remainder : Fraction
        Moria from that key of the keyboard to the note, -3 to 3.
    """

    step: str
    octave: int
    alteration: int
    remainder: Fraction


def spell(scale: Scale, degree: int, bend: Fraction = Fraction(0)) -> Spelling:
    """Write a degree of a scale on the staff.

    Parameters
    ----------
    scale : Scale
        Where the degree lies.
    degree : int
        Step number, ni = 0.
    bend : Fraction
        Moria added to the degree's own place.
    """
    octave, step = divmod(degree, 7)
    off = scale.moria(degree) + bend - (72 * octave + PLACES[step])
    semitones = off / 6
    size = math.ceil(abs(semitones) - Fraction(1, 2))
    alteration = max(-2, min(2, size if semitones > 0 else -size))
    return Spelling(_STEPS[step], 4 + octave, alteration, Fraction(off - 6 * alteration))


def signature(scale: Scale, degrees: Iterable[int]) -> tuple[tuple[str, int], ...]:
    """Key signature: those alterations of a scale that the trade's signatures know.

    Flats are taken while they follow the order b e a d g c f, sharps while they follow
    f c g d a e b, and only when every octave of the step in use is altered alike. What does not
    fit (a flat without b flat, a sharp among flats) is written at the notes.

    Returns
    -------
    tuple of (step, alteration)
        In the order of the signature.
    """
    seen: dict[str, set[int]] = {}
    for degree in degrees:
        written = spell(scale, degree)
        seen.setdefault(written.step, set()).add(written.alteration)
    if len(seen) < 7:  # steps that are not sung still belong to the signature
        for degree in range(7):
            written = spell(scale, degree)
            seen.setdefault(written.step, {written.alteration})
    for order, alteration in ((_FLATS, -1), (_SHARPS, 1)):
        out: list[tuple[str, int]] = []
        for step in order:
            if seen[step] != {alteration}:
                break
            out.append((step, alteration))
        if out:
            return tuple(out)
    return ()


def moria_text(moria: Fraction) -> str:
    """A signed number of moria, such as ``−2`` or ``+1½``."""
    size = abs(moria)
    whole, part = divmod(size, 1)
    if part == Fraction(1, 2):
        digits = f"{whole or ''}½"
    else:
        digits = str(whole) if part == 0 else f"{float(size):.1f}"
    return f"{'−' if moria < 0 else '+'}{digits}"


def departures(scale: Scale, degrees: Iterable[int]) -> tuple[tuple[int, Fraction], ...]:
    """Degrees (0 to 6) whose written key differs from where they are sung, with the moria.

    A degree is named once; one that differs from octave to octave is told as in the octave of ni.
    """
    out = []
    for step in sorted({d % 7 for d in degrees}):
        remainder = spell(scale, step).remainder
        if remainder:
            out.append((step, remainder))
    return tuple(out)
