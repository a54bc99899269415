"""Tones, branches, intonations and styles as the rest of the program sees them.

All notes are degrees (ni = 0); sizes are moria; pitches are Hz. A hymn needs a *branch*: one tone
may live on several bases and scales (tone 4 on vou, pa and di).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from chantwright.errors import ChantError
from chantwright.rows import Row
from chantwright.tuning import Scale

__all__ = ["Attraction", "Branch", "Group", "Intonation", "Style", "Tone", "Tones"]


@dataclass(frozen=True, slots=True)
class Branch:
    """A branch of a tone: its scale, base, cadence notes, compass and ison."""

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
    """A bend of a degree, in moria, and when it is made."""

    id: str
    note: int
    moria: Fraction
    to: int | None
    when: tuple[str, ...]
    unless_above: bool
    range: tuple[Fraction, Fraction]
    conf: str
    src: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Style:
    """A style and its tempo in beats a minute."""

    id: str
    tempo: int
    tempo_range: tuple[int, int]
    conf: str
    src: tuple[str, ...]


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
class Tones:
    """Everything that is known of the tones."""

    tones: Mapping[int, Tone]
    branches: Mapping[str, Branch]
    scales: Mapping[str, Scale]
    intonations: Mapping[str, Intonation]
    styles: Mapping[str, Style]
    attractions: Mapping[str, Attraction]
    groups: Mapping[str, Group]
    usage: Mapping[str, Row]

    def branch(self, branch_id: str) -> Branch:
        """Return a branch; an unknown one is a sentence."""
        if branch_id not in self.branches:
            raise ChantError(
                f"there is no branch “{branch_id}”.",
                remedy=f"Branches are: {', '.join(sorted(self.branches))}.",
            )
        return self.branches[branch_id]

    def default_branch(self, tone: int, style: str = "heirmologic") -> Branch:
        """Return the first branch of a tone in a style."""
        if tone not in self.tones:
            raise ChantError(f"there is no tone {tone}.", remedy="Tones are 1 to 8.")
        for branch in self.branches.values():
            if branch.tone == tone and branch.style == style:
                return branch
        raise ChantError(f"tone {tone} has no {style} branch.")

    def branch_for(self, tone: int, kind: str) -> Branch:
        """Return the branch a kind of hymn takes in a tone."""
        own = self.usage.get(f"t{tone}.{kind}")
        if own is not None:
            return self.branch(str(own["branch"]))
        common = self.usage.get(f"any.{kind}")
        if common is None:
            raise ChantError(f"“{kind}” is no kind of hymn we know.")
        return self.default_branch(tone, str(common["style"]))
