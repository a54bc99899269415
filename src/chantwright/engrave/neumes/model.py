"""Neumes as structure: signs, clusters, lines.

Conventions
-----------
A *sign* has a name and a place in its cluster: ``base``, ``joined`` (touching the base from the
left), ``right``, ``above``, ``above_left``, ``above_right``, ``below`` or ``before`` (a vareia). A
*neume* is one cluster of signs; it is sung to one note, or to two of one syllable, or is a rest.
Steps are counted from the note before, beats in the beat of the hymn (one chronos). The structure
is what is kept; drawings and text are made from it.

References
----------
Order of reading in a cluster (base, above, below, then time, quality, accidentals): our own; the
Unicode standard defines no layout for these signs.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

__all__ = ["Neume", "NeumeLine", "NeumeScore", "Sign", "Sung"]


class Sign(NamedTuple):
    """A sign of a cluster: its name and its place."""

    name: str
    place: str = "base"

    def __str__(self) -> str:
        return self.name if self.place == "base" else f"{self.name}.{self.place}"


class Sung(NamedTuple):
    """What a neume says of one note: steps from the note before, and beats. A rest has no steps."""

    step: int | None
    beats: Fraction


@dataclass(frozen=True, slots=True)
class Neume:
    """One cluster.

    Attributes
    ----------
    signs : tuple of Sign
        In reading order, the base first.
    notes : tuple of str
        Ids of the notes sung to it, in the order they are sung; empty for a rest.
    """

    signs: tuple[Sign, ...]
    notes: tuple[str, ...] = ()

    def __str__(self) -> str:
        return "+".join(map(str, self.signs))


@dataclass(frozen=True, slots=True)
class NeumeLine:
    """The neumes of one phrase.

    Attributes
    ----------
    phrase : str
        Id of the phrase.
    neumes : tuple of Neume
        In order, rests after the phrase last.
    phthora : str
        Scale sign over the first neume where the scale changes, by its row; or empty.
    close : int
        Degree of the last note, named by the martyria after the phrase.
    scale : str
        Scale of the phrase.
    """

    phrase: str
    neumes: tuple[Neume, ...]
    phthora: str
    close: int
    scale: str


@dataclass(frozen=True, slots=True)
class NeumeScore:
    """A hymn in neumes.

    Attributes
    ----------
    start : int
        Degree from which the first step is counted: the note of the signature.
    lines : tuple of NeumeLine
        One a phrase.
    pad : Fraction
        Beats of the rest that fills up the very last beat; not part of the hymn.
    """

    start: int
    lines: tuple[NeumeLine, ...]
    pad: Fraction = Fraction(0)
