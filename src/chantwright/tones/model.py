"""Tones, branches, intonations and styles as the rest of the program sees them.

All notes are degrees (ni = 0); sizes are moria; pitches are Hz. A hymn needs a *branch*: one tone
may live on several bases and scales (tone 4 on vou, pa and di).
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from chantwright.errors import ChantError
from chantwright.rows import Row
from chantwright.tuning import CENTS_PER_MORION, Scale

__all__ = [
    "Attraction",
    "Branch",
    "Group",
    "Intonation",
    "Limit",
    "Style",
    "Tone",
    "Toned",
    "Tones",
]

Toned = tuple[str, int, Fraction]
"""A syllable (empty where the one before goes on), its degree and its beats."""


@dataclass(frozen=True, slots=True)
class Branch:
    """A branch of a tone: its scale, base, cadence notes, compass and ison.

    Attributes
    ----------
    id : str
        Such as ``t4.heirmologic_legetos``.
    tone, style, scale : int, str, str
        Number of the tone; ids of style and scale.
    base : int
        Degree of the base.
    dominating : tuple of int
        Degrees the melody dwells on.
    incomplete, complete, final : tuple of int
        Degrees on which phrases close: half, fully, and at the end.
    usual, wide : (int, int)
        Compass as a rule, and at most.
    attractions : tuple of str
        Ids of the attractions it knows.
    ison_base : int
        Degree the drone holds.
    ison_at : mapping
        Degree of a close -> degree held there, or "unison" with the melody.
    intonation : str
        Id of the intonation.
    exists, conf : str
        How sure it is that there is such a branch, and that its notes are right.
    src : tuple of str
        Ids of sources.
    origin : str
        chantwright or parish.
    """

    id: str
    tone: int
    style: str
    scale: str
    base: int
    dominating: tuple[int, ...]
    incomplete: tuple[int, ...]
    complete: tuple[int, ...]
    final: tuple[int, ...]
    usual: tuple[int, int]
    wide: tuple[int, int]
    attractions: tuple[str, ...]
    ison_base: int
    ison_at: Mapping[int, int | Literal["unison"]]
    intonation: str
    exists: str
    conf: str
    src: tuple[str, ...]
    origin: str

    @property
    def title(self) -> str:
        """Plain name, such as ``tone 4, heirmologic (legetos)``."""
        kind = self.id.rpartition(".")[2]
        rest = kind.removeprefix(self.style).strip("_").replace("_", " ")
        return f"tone {self.tone}, {self.style}" + (f" ({rest})" if rest else "")

    @property
    def closes(self) -> frozenset[int]:
        """All degrees on which a phrase may close, with base and dominating degrees."""
        return frozenset(
            (self.base, *self.dominating, *self.incomplete, *self.complete, *self.final)
        )


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone's names and signs."""

    n: int
    english: tuple[str, ...]
    greek: str
    arabic: str
    ethos: str
    martyria: tuple[str, ...]
    signature_note: int
    conf: str
    src: tuple[str, ...]

    @property
    def name(self) -> str:
        """Plain name by number: Tone 5."""
        return f"Tone {self.n}"

    @property
    def mode_name(self) -> str:
        """Name by the old order of modes: First Mode, Plagal First, Grave."""
        return self.english[1] if len(self.english) > 1 else self.english[0]

    @property
    def greek_short(self) -> str:
        """Greek name as printed over a hymn: Ἦχος πλ. αʹ."""
        head, bracket, rest = self.greek.partition("(")
        return f"{head.split()[0]} {rest.rstrip(') ')}" if bracket else head.strip()


@dataclass(frozen=True, slots=True)
class Intonation:
    """Notes that put the singers into the tone: (syllable, degree, beats)."""

    id: str
    syllables: str
    scale: str
    short: tuple[tuple[str, int, Fraction], ...]
    long: tuple[tuple[str, int, Fraction], ...]
    conf: str
    src: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Attraction:
    """A bend of a degree, in moria, and when it is made.

    Attributes
    ----------
    id : str
        Its name.
    note, to : int, int or None
        Degree that bends, and the degree it leans to.
    moria : Fraction
        Usual size; negative lowers.
    when : tuple of str
        peak (highest of its neighbours), down (passed going down), lower_neighbour (left from the
        degree above and back to it), rising_to (goes up to the degree above).
    unless_above : bool
        Not made when the melody goes on above it.
    range : (Fraction, Fraction)
        Smallest and largest size heard.
    every_octave : bool
        Made in every octave, not only at the written note.
    for_beginners : bool
        Written for beginners too; the others are taught by ear.
    """

    id: str
    note: int
    moria: Fraction
    to: int | None
    when: tuple[str, ...]
    unless_above: bool
    range: tuple[Fraction, Fraction]
    conf: str
    src: tuple[str, ...]
    every_octave: bool = False
    for_beginners: bool = False


@dataclass(frozen=True, slots=True)
class Style:
    """A style: its tempo in beats a minute, and how many notes a syllable takes as a rule."""

    id: str
    tempo: int
    tempo_range: tuple[int, int]
    conf: str
    src: tuple[str, ...]
    notes_per_syllable: tuple[int, int] = (1, 2)


@dataclass(frozen=True, slots=True)
class Group:
    """A group of singers: usual pitches of ni and a comfortable range, in Hz."""

    id: str
    ni_hz: tuple[float, float]
    ni_default_hz: float
    comfortable_hz: tuple[float, float]
    conf: str
    src: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Limit:
    """A size that matters when singing is listened to, in moria."""

    id: str
    moria: Fraction
    conf: str
    src: tuple[str, ...]

    @property
    def cents(self) -> float:
        """The same in cents."""
        return float(self.moria * CENTS_PER_MORION)


@dataclass(frozen=True, slots=True)
class Tones:
    """Everything that is known of the tones.

    Each mapping goes from id to row; `tones` from number to tone, `usage` from
    ``t2.canon`` or ``any.canon`` to the row that names a branch or a style.
    """

    tones: Mapping[int, Tone]
    branches: Mapping[str, Branch]
    scales: Mapping[str, Scale]
    intonations: Mapping[str, Intonation]
    styles: Mapping[str, Style]
    attractions: Mapping[str, Attraction]
    groups: Mapping[str, Group]
    usage: Mapping[str, Row]
    listening: Mapping[str, Limit] = field(default_factory=lambda: MappingProxyType({}))

    def branch(self, branch_id: str) -> Branch:
        """Return a branch; an unknown one is a sentence."""
        if branch_id not in self.branches:
            near = difflib.get_close_matches(branch_id, list(self.branches), 1, 0.6)
            raise ChantError(
                f"there is no branch “{branch_id}”.",
                remedy=f"Did you mean “{near[0]}”?"
                if near
                else f"Branches are: {', '.join(sorted(self.branches))}.",
            )
        return self.branches[branch_id]

    def default_branch(self, tone: int, style: str = "heirmologic") -> Branch:
        """Return the first branch of a tone in a style."""
        if tone not in self.tones:
            raise ChantError(f"there is no tone {tone}.", remedy="Tones are 1 to 8.")
        for branch in self.branches.values():
            if branch.tone == tone and branch.style == style:
                return branch
        kinds = dict.fromkeys(b.style for b in self.branches.values() if b.tone == tone)
        raise ChantError(
            f"tone {tone} has no {style} branch.", remedy=f"It has: {', '.join(kinds)}."
        )

    def branch_for(self, tone: int, kind: str) -> Branch:
        """Return the branch a kind of hymn takes in a tone."""
        own = self.usage.get(f"t{tone}.{kind}")
        if own is not None:
            return self.branch(str(own["branch"]))
        common = self.usage.get(f"any.{kind}")
        if common is None:
            known = sorted({str(r["kind"]) for r in self.usage.values()})
            near = difflib.get_close_matches(kind, known, 1, 0.6)
            raise ChantError(
                f"“{kind}” is no kind of hymn we know.",
                remedy=f"Did you mean “{near[0]}”?" if near else f"Kinds are: {', '.join(known)}.",
            )
        return self.default_branch(tone, str(common["style"]))
