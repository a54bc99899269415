"""From a hymn to sound events in time and the line of its pitch.

Conventions
-----------
Time runs in seconds; every beat falls on an exact sample, worked out from fractions, so that a
hymn lasts exactly its beats. Pitch in Hz comes from `chantwright.tuning.hz`; *moria* are counted
from diatonic ni, the written bend included. Where the scale changes within a hymn, the note that
the new scale is built on keeps its pitch, and the other degrees move around it.

Singing is legato: notes of one phrase are joined by a short glide centred on the beat, and
between the glides the pitch is exact. A phrase begins on its pitch, without a scoop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import numpy as np

from chantwright.errors import ChantError
from chantwright.score.model import Base, Hymn, Phrase, Syllable, note_id
from chantwright.tuning import Scale, hz
from chantwright.voice.joints import Array, Joints, halves
from chantwright.voice.tract import RATE

if TYPE_CHECKING:
    from chantwright.tones import Branch, Tones

__all__ = [
    "GLIDE",
    "Contour",
    "NoteEvent",
    "PhraseEvent",
    "Tuner",
    "branch_of",
    "contour",
    "phrase_event",
    "samples",
    "tempo_of",
]

GLIDE = 0.09
"""Length of a glide between notes, in seconds."""

BREATH = 0.28
"""Silence for a breath between phrases, in seconds, taken from the last note."""

_BREATH_PART = Fraction(2, 5)  # a short last note keeps at least three fifths
_LOWEST, _HIGHEST = 30.0, 1500.0  # Hz that a voice or a drone can be asked for
_SLOWEST, _FASTEST = 15, 400  # beats a minute
_VIBRATO = 5.3  # Hz; Prame, J. Acoust. Soc. Am. 96 (1994): singers lie between 5 and 7
_VIBRATO_BEATS = Fraction(3, 2)


@dataclass(frozen=True, slots=True)
class NoteEvent:
    """One note in time.

    Attributes
    ----------
    id, syllable : str
        Ids of the note and its syllable.
    start, end : float
        Seconds; `end` is where the next note or the rest begins.
    stop : float
        Seconds; where the sound ends. Before `end` when a breath follows.
    degree : int
        As written.
    moria : float
        Above diatonic ni, the bend included.
    hz : float
        Sounding pitch.
    beats : Fraction
        Written length.
    """

    id: str
    syllable: str
    start: float
    end: float
    stop: float
    degree: int
    moria: float
    hz: float
    beats: Fraction


@dataclass(frozen=True, slots=True)
class SyllableEvent:
    """One syllable in time: its written form, its notes and what the drone holds under it.

    `ison` is in Hz, `UNISON`, or None when nothing is held.
    """

    syllable: Syllable
    start: float
    end: float
    notes: tuple[NoteEvent, ...]
    ison: float | Literal["unison"] | None


@dataclass(frozen=True, slots=True)
class PhraseEvent:
    """One phrase in time; `end` is where its rest, if any, begins, and `close` where that ends."""

    id: str
    start: float
    end: float
    close: float
    syllables: tuple[SyllableEvent, ...]

    @property
    def notes(self) -> tuple[NoteEvent, ...]:
        """All notes in order."""
        return tuple(n for s in self.syllables for n in s.notes)


class Tuner:
    """Sounding pitch of every degree of one hymn.

    Parameters
    ----------
    tones : Tones
        Holds all scales.
    home : str
        Scale of the branch.
    base : Base
        Sounding pitch of the base.
    """

    def __init__(self, tones: Tones, home: str, base: Base) -> None:
        self._scales = tones.scales
        self.home = home
        self.base = base
        self._ni = base.hz / 2 ** (float(self.scale(home).moria(base.degree)) / 72)

    def scale(self, name: str | None) -> Scale:
        """Scale of a name, or the branch's own."""
        try:
            return self._scales[name or self.home]
        except KeyError:
            raise ChantError(
                f"there is no scale “{name}”.",
                remedy=f"Choose one of: {', '.join(self._scales)}.",
            ) from None

    def moria(self, degree: int, scale: str | None = None, bend: Fraction = Fraction(0)) -> float:
        """Moria above diatonic ni."""
        return float(self.scale(scale).moria(degree) + bend)

    def hz(self, degree: int, scale: str | None = None, bend: Fraction = Fraction(0)) -> float:
        """Sounding pitch in Hz.

        Raises
        ------
        ChantError
            If it lies beyond any voice.
        """
        found = self.scale(scale)
        anchor = self._ni * 2 ** (float(found.moria(self.base.degree)) / 72)
        value = float(hz(found, degree, base_degree=self.base.degree, base_hz=anchor, bend=bend))
        if not _LOWEST <= value <= _HIGHEST:
            raise ChantError(
                f"a note would sound at {value:.0f} Hz, beyond any voice.",
                remedy="Choose another base pitch for this hymn.",
            )
        return value


def branch_of(hymn: Hymn, tones: Tones) -> Branch:
    """Branch a hymn is sung in.

    Raises
    ------
    ChantError
        If the hymn names neither tone nor branch.
    """
    if hymn.branch is not None:
        return tones.branch(hymn.branch)
    if hymn.tone is None:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no tone, so its notes have no pitch.",
            remedy="Add a line such as “tone: 1” at its head.",
        )
    return tones.default_branch(hymn.tone, hymn.style or "heirmologic")


def tempo_of(hymn: Hymn, tones: Tones, branch: Branch) -> float:
    """Beats a minute: the hymn's own, or its style's."""
    tempo = float(hymn.tempo or tones.styles[hymn.style or branch.style].tempo)
    if not _SLOWEST <= tempo <= _FASTEST:
        raise ChantError(
            f"the tempo of “{hymn.title or 'this hymn'}” is {tempo:g} beats a minute.",
            remedy=f"Write a tempo between {_SLOWEST} and {_FASTEST}.",
        )
    return tempo


def samples(beats: Fraction, tempo: Fraction) -> Fraction:
    """Count the samples of some beats at a tempo in beats a minute, exactly."""
    return beats * 60 * RATE / tempo


def phrase_event(
    phrase: Phrase,
    tuner: Tuner,
    tempo: Fraction,
    *,
    at: int,
    offset: Fraction = Fraction(0),
    scale: str | None = None,
    breathe: bool = True,
    stem: str = "",
) -> PhraseEvent:
    """Place one phrase in time.

    Parameters
    ----------
    phrase : Phrase
        With notes on every syllable.
    tuner : Tuner
        Gives the pitches.
    tempo : Fraction
        Beats a minute, the pace included.
    at : int
        Sample that the count of beats begins on.
    offset : Fraction
        Beats from there to the phrase.
    scale : str or None
        Scale in force; None for the branch's own.
    breathe : bool
        Whether a breath is taken from the last note when no rest follows.
    stem : str
        Put before the ids, to tell a repeat from the first time.
    """
    count = Fraction(0)

    def moment(beats: Fraction) -> float:
        return (at + round(samples(offset + beats, tempo))) / RATE

    last = phrase.beats
    rest = moment(last + phrase.rest) - moment(last)
    events = []
    for syllable in phrase.syllables:
        begin = count
        notes = []
        for index, note in enumerate(syllable.notes):
            start, end = moment(count), moment(count + note.beats)
            stop = end
            if breathe and count + note.beats == last:
                stop -= min(max(BREATH - rest, 0.0), float(_BREATH_PART) * (end - start))
            notes.append(
                NoteEvent(
                    stem + note_id(syllable, index),
                    stem + syllable.id,
                    start,
                    end,
                    stop,
                    note.degree,
                    tuner.moria(note.degree, scale, note.bend),
                    tuner.hz(note.degree, scale, note.bend),
                    note.beats,
                )
            )
            count += note.beats
        ison = syllable.ison
        held: float | Literal["unison"] | None
        held = tuner.hz(ison, scale) if isinstance(ison, int) else ison
        events.append(SyllableEvent(syllable, moment(begin), moment(count), tuple(notes), held))
    return PhraseEvent(
        stem + phrase.id,
        moment(Fraction(0)),
        moment(last),
        moment(last + phrase.rest),
        tuple(events),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """The line of pitch.

    Attributes
    ----------
    joints : Joints
        Where notes meet.
    pitch : Array, shape (n,)
        log2 of the Hz of each note.
    vibrato : tuple of (start, end)
        Spans that carry vibrato, in seconds, each a whole number of turns.
    cents : float
        Reach of the vibrato to either side.
    """

    joints: Joints
    pitch: Array
    vibrato: tuple[tuple[float, float], ...] = ()
    cents: float = 0.0

    def hz(self, times: Array) -> Array:
        """Pitch in Hz at given times, shape (n,)."""
        line = self.joints.value(self.pitch, times)
        for start, end in self.vibrato:
            first, last = np.searchsorted(times, (start, end))
            # sin² over the span lets it come and go; a whole number of turns leaves no bias.
            turn = (times[first:last] - start) / (end - start)
            turns = round((end - start) * _VIBRATO)
            swing = np.sin(np.pi * turn) ** 2 * np.sin(2 * np.pi * turns * turn)
            line[first:last] += self.cents / 1200 * swing
        out: Array = np.exp2(line)
        return out


def contour(
    phrases: Sequence[PhraseEvent],
    *,
    glide: float = GLIDE,
    vibrato: float = 0.0,
    across: bool = False,
) -> Contour:
    """Join notes into a line of pitch.

    Parameters
    ----------
    phrases : sequence of PhraseEvent
        In order of time.
    glide : float
        Length of a glide in seconds; shorter where the notes are short.
    vibrato : float
        Reach in cents, on notes of a beat and a half or more.
    across : bool
        Glide from phrase to phrase too (for a drone that sings along). Otherwise the pitch steps
        in the middle of the silence.
    """
    events = [n for p in phrases for n in p.notes]
    firsts = {p.notes[0].id for p in phrases if p.notes}
    at, half = [], []
    for left, right in pairwise(events):
        silent = right.id in firsts
        at.append(right.start if across or not silent else 0.5 * (left.stop + right.start))
        half.append(0.0 if silent and not across else glide / 2)
    joints = np.array(at)
    start = events[0].start if events else 0.0
    end = events[-1].end if events else 1.0
    room = halves(joints, glide / 2, start, end)
    spans = []
    for event in events:
        if vibrato and event.beats >= _VIBRATO_BEATS:
            low, high = event.start + glide, event.stop - glide
            turns = int((high - low) * _VIBRATO)
            if turns > 1:
                spans.append((low, low + turns / _VIBRATO))
    return Contour(
        Joints(joints, np.minimum(room, np.array(half))),
        np.log2([e.hz for e in events]) if events else np.zeros(1),
        tuple(spans),
        vibrato,
    )
