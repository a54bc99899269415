"""What a hymn asks the singer to sing: its notes as a line of pitches and lengths.

Conventions
-----------
Pitch is in moria above the diatonic ni of the hymn's own base; lengths are in beats. A note asks
for a *band* of pitch: where the tone knows an attraction at that place, everything from the plain
note to the bent one is right; elsewhere the band has no width. The singer's own pitch is the band
plus an unknown *base*, the moria of that ni above 440 Hz.

References
----------
Attractions: `chantwright.tones.bends` and its rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from chantwright.errors import ChantError
from chantwright.score.model import Hymn, Syllable, note_id, number
from chantwright.tones import Branch, Tones, bends
from chantwright.tuning import Scale

__all__ = ["REFERENCE_HZ", "Asked", "Expected", "expected_line", "to_hz", "to_moria"]

Array = npt.NDArray[np.float64]

REFERENCE_HZ = 440.0
"""Pitch from which moria are counted where no base is known yet."""


def to_moria(hz: Array | float) -> Array:
    """Moria above `REFERENCE_HZ`; ``nan`` stays ``nan``."""
    out: Array = 72.0 * np.log2(np.asarray(hz, dtype=np.float64) / REFERENCE_HZ)
    return out


def to_hz(moria: float) -> float:
    """Hz of moria above `REFERENCE_HZ`."""
    return float(REFERENCE_HZ * 2.0 ** (moria / 72.0))


@dataclass(frozen=True, slots=True)
class Asked:
    """One note as the hymn asks for it.

    Attributes
    ----------
    id, syllable, text : str
        Ids of the note and its syllable, and the syllable's letters.
    phrase : int
        Phrase, counted from 0.
    first : bool
        Whether it is the first note of its syllable.
    last : bool
        Whether it is the last note of its phrase.
    degree : int
        Step number.
    moria : float
        Place above ni, the written bend included.
    low, high : float
        Band of right pitches, moria above ni.
    beats : float
        Length.
    rest : float
        Beats of silence written after it.
    pillar : bool
        Whether the tone stands on this degree: its base, its dominating notes and its closes.
    """

    id: str
    syllable: str
    text: str
    phrase: int
    first: bool
    last: bool
    degree: int
    moria: float
    low: float
    high: float
    beats: float
    rest: float
    pillar: bool

    @property
    def moving(self) -> bool:
        """Whether the tone knows an attraction at this place."""
        return self.high - self.low > 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """The line of a hymn.

    Attributes
    ----------
    hymn : Hymn
        Numbered.
    branch : Branch
        Its branch.
    notes : tuple of Asked
        In order.
    scales : tuple of Scale
        Scale in force in each phrase.
    tempo : float
        Beats a minute as written.
    """

    hymn: Hymn
    branch: Branch
    notes: tuple[Asked, ...]
    scales: tuple[Scale, ...]
    tempo: float

    @property
    def starts(self) -> tuple[int, ...]:
        """Index of the first note of each phrase."""
        out: list[int] = []
        seen = -1
        for i, note in enumerate(self.notes):
            if note.phrase != seen:
                out.append(i)
                seen = note.phrase
        return tuple(out)

    def notes_of(self, syllable: Syllable) -> tuple[Asked, ...]:
        """Notes of one syllable."""
        return tuple(n for n in self.notes if n.syllable == syllable.id)

    def step(self, note: Asked, upward: bool) -> float:
        """Moria from a note's degree to the next one above or below it."""
        scale = self.scales[note.phrase]
        here = scale.moria(note.degree)
        there = scale.moria(note.degree + (1 if upward else -1))
        return abs(float(there - here))


def _branch(hymn: Hymn, tones: Tones) -> Branch:
    if hymn.branch is not None:
        return tones.branch(hymn.branch)
    if hymn.tone is None:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no tone, so its notes have no pitch.",
            remedy="Add a line such as “tone: 1” at its head.",
        )
    return tones.default_branch(hymn.tone, hymn.style or "heirmologic")


def expected_line(hymn: Hymn, tones: Tones) -> Expected:
    """Work out what a hymn asks for.

    Parameters
    ----------
    hymn : Hymn
        Set: with notes on every syllable.
    tones : Tones
        Scales and attractions.

    Raises
    ------
    ChantError
        If the hymn is not set, has no tone, or names a scale that does not exist.
    """
    if not hymn.is_set:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no melody yet, so singing cannot be heard "
            "against it.",
            remedy="Set its words first: chantwright set FILE -o FILE",
        )
    hymn = number(hymn)
    branch = _branch(hymn, tones)
    name = branch.scale
    asked: list[Asked] = []
    scales: list[Scale] = []
    for index, phrase in enumerate(hymn.phrases):
        name = phrase.scale or name
        if name not in tones.scales:
            raise ChantError(
                f"there is no scale “{name}”.", remedy=f"Choose one of: {', '.join(tones.scales)}."
            )
        scale = tones.scales[name]
        scales.append(scale)
        line = [n.degree for s in phrase.syllables for n in s.notes]
        # Attractions are known for the branch's own scale; after a change of scale none is assumed.
        own = name == branch.scale
        known = bends(tones, branch, line, "all") if own else (Fraction(0),) * len(line)
        at = 0
        for syllable in phrase.syllables:
            for place, note in enumerate(syllable.notes):
                plain = scale.moria(note.degree)
                leanings = (Fraction(0), note.bend, known[at])
                at += 1
                last = at == len(line)
                asked.append(
                    Asked(
                        id=note_id(syllable, place),
                        syllable=syllable.id,
                        text=syllable.text if place == 0 else "",
                        phrase=index,
                        first=place == 0,
                        last=last,
                        degree=note.degree,
                        moria=float(plain + note.bend),
                        low=float(plain + min(leanings)),
                        high=float(plain + max(leanings)),
                        beats=float(note.beats),
                        rest=float(phrase.rest) if last else 0.0,
                        pillar=note.degree in branch.closes,
                    )
                )
    tempo = float(hymn.tempo or tones.styles[hymn.style or branch.style].tempo)
    return Expected(hymn, branch, tuple(asked), tuple(scales), tempo)
