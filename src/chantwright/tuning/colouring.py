"""Colourings (chroai) and accidentals: signs that retune a few notes of a scale.

A colouring retunes the notes of its span and no others; both ends of the span stay where the
scale has them. Sizes are moria. Printed sizes of accidentals are nominal: what is sung depends on
the tone (a slight sign 1-3, a plain one 4-6, a strong one 6-9 moria).

References
----------
Melling, Reading Psalmodia, 2000 (kliton, spathi, sizes of accidentals); the Unicode standard, block
Byzantine Musical Symbols (accidentals in twelfths of the tone).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from chantwright.errors import ChantError
from chantwright.rows import Row, load_rows
from chantwright.tuning import fields
from chantwright.tuning.scale import Scale, retuned

__all__ = [
    "Accidental",
    "Colouring",
    "coloured",
    "load_accidentals",
    "load_colourings",
    "read_accidental",
    "read_colouring",
]


@dataclass(frozen=True, slots=True)
class Colouring:
    """A colouring of a span of notes.

    Attributes
    ----------
    id : str
        Its name.
    on : int
        The note that carries the sign.
    start, end : int
        First and last degree of the span.
    steps : tuple of Fraction
        Sizes from `start` upward, in moria.
    variant : tuple of Fraction
        Another reading of the same sign; empty where there is none.
    conf : str
        high, medium or low.
    src : tuple of str
        Ids of sources.
    """

    id: str
    on: int
    start: int
    end: int
    steps: tuple[Fraction, ...]
    variant: tuple[Fraction, ...]
    conf: str
    src: tuple[str, ...]

    @property
    def span(self) -> Fraction:
        """Moria from its first to its last note."""
        return sum(self.steps, Fraction(0))


@dataclass(frozen=True, slots=True)
class Accidental:
    """A sharp or flat: its nominal size in moria (flats negative) and its sign."""

    id: str
    moria: Fraction
    sign: str
    conf: str
    src: tuple[str, ...]


def read_colouring(row: Row) -> Colouring:
    """Make a colouring of its row.

    Raises
    ------
    ChantError
        If a field is missing or wrong; names the row.
    """
    start, end = fields.degree(row, "from"), fields.degree(row, "to")
    steps = fields.numbers(row, "steps")
    variant = fields.numbers(row, "variant") if row.get("variant") else ()
    for sizes in (steps, variant):
        if sizes and (len(sizes) != end - start or min(sizes) <= 0):
            raise row.error(
                f"from “{row['from']}” to “{row['to']}” there are {end - start} steps, "
                f"and it gives {len(sizes)}, or one of them is not larger than nothing.",
                "Write one size for each step.",
            )
    if not steps:
        raise row.error("it has no steps.", "Write: steps = [14, 12, 4]")
    return Colouring(
        row.id, fields.degree(row, "on"), start, end, steps, variant, row.conf, row.src
    )


def read_accidental(row: Row) -> Accidental:
    """Make an accidental of its row.

    Raises
    ------
    ChantError
        If a field is missing or wrong; names the row.
    """
    code = fields.text(row, "char")
    try:
        sign = chr(int(code.removeprefix("U+"), 16))
    except (ValueError, OverflowError):
        raise row.error(f"“{code}” is no sign.", 'Write it as: char = "U+1D0D5"') from None
    return Accidental(row.id, fields.number(row, "moria"), sign, row.conf, row.src)


def load_colourings(overrides: Iterable[Path] = ()) -> Mapping[str, Colouring]:
    """Load every colouring, ours with the parish's rows over them."""
    rows = load_rows("chantwright.tuning", ["scales.toml"], overrides=overrides, tables=["chroa"])
    return {key: read_colouring(row) for key, row in rows["chroa"].items()}


def load_accidentals(overrides: Iterable[Path] = ()) -> Mapping[str, Accidental]:
    """Load every accidental, ours with the parish's rows over them."""
    rows = load_rows(
        "chantwright.tuning", ["scales.toml"], overrides=overrides, tables=["accidental"]
    )
    return {key: read_accidental(row) for key, row in rows["accidental"].items()}


def coloured(scale: Scale, colouring: Colouring, *, variant: bool = False) -> Scale:
    """Return the scale with a colouring laid over its span.

    Parameters
    ----------
    scale : Scale
        The scale underneath.
    colouring : Colouring
        The colouring.
    variant : bool
        Take its other reading.

    Raises
    ------
    ChantError
        If the colouring does not close on the scale's own note, or has no other reading.
    """
    if variant and not colouring.variant:
        raise ChantError(f"the colouring “{colouring.id}” has no other reading.")
    return retuned(scale, colouring.start, colouring.variant if variant else colouring.steps)
