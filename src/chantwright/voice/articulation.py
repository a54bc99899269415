"""Which sound the voice makes at every moment: vowels on the beat, consonants before it.

Conventions
-----------
Times in seconds, levels as factors. The vowel of a syllable begins exactly on its beat; its
onset, and the coda of the syllable before, are sung out of the time before that beat, as choirs
are taught. The line of sounds has no gaps: silence is a piece too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from chantwright.voice.contour import PhraseEvent, SyllableEvent
from chantwright.voice.joints import Array, Joints, halves
from chantwright.voice.sounds import Sounds
from chantwright.voice.tract import Tract, pitch_class

__all__ = ["Articulation", "Hiss", "articulate"]

_SOFT = 0.020  # half-width of a change between vowels, or from silence
_CRISP = 0.010  # of a change to or from a consonant
_SLOW = 0.035  # of a diphthong
_RELEASE = 0.035  # of the end of a phrase
_CLUSTER = 0.22  # longest group of consonants between two vowels
_CLUSTER_PART = 0.45  # and its largest part of the note it is taken from
_STRESS = {0: 0.0, 1: 1.2, 2: 0.6}  # decibels


@dataclass(frozen=True, slots=True)
class Hiss:
    """The noise of a consonant: its row, from when to when, and the stress it stands in."""

    sound: str
    start: float
    end: float


@dataclass(frozen=True, slots=True, eq=False)
class Articulation:
    """The line of sounds.

    Attributes
    ----------
    joints : Joints
        Where sounds meet.
    keys : tuple of (sound, pitch class) or None
        Each piece's sound; None is silence.
    levels : Array, shape (n,)
        Each piece's level.
    hisses : tuple of Hiss
        Noises laid over it.
    """

    joints: Joints
    keys: tuple[tuple[str, int] | None, ...]
    levels: Array
    hisses: tuple[Hiss, ...]


@dataclass(slots=True)
class _Line:
    """Pieces gathered so far; the first is the silence before everything."""

    at: list[float] = field(default_factory=list)
    half: list[float] = field(default_factory=list)
    keys: list[tuple[str, int] | None] = field(default_factory=lambda: [None])
    levels: list[float] = field(default_factory=lambda: [0.0])
    hisses: list[Hiss] = field(default_factory=list)

    def add(self, at: float, half: float, key: tuple[str, int] | None, level: float) -> None:
        self.at.append(at)
        self.half.append(half)
        self.keys.append(key)
        self.levels.append(level)


def articulate(
    phrases: Sequence[PhraseEvent], tract: Tract, languages: Sequence[str]
) -> Articulation:
    """Turn phrases into the line of sounds.

    Parameters
    ----------
    phrases : sequence of PhraseEvent
        In order of time.
    tract : Tract
        Colour and sounds.
    languages : sequence of str
        Language of each phrase.
    """
    line = _Line()
    quiet_since = phrases[0].start - 1.0 if phrases else 0.0
    for phrase, language in zip(phrases, languages, strict=True):
        read = [tract.spelling.read(s.syllable, language) for s in phrase.syllables]
        room = 0.8 * (phrase.start - quiet_since)
        for index, (event, sounds) in enumerate(zip(phrase.syllables, read, strict=True)):
            coda = read[index - 1].coda if index else ()
            if index:
                before = phrase.syllables[index - 1].notes[-1]
                room = _CLUSTER_PART * (before.end - before.start)
            first = event.notes[0].hz
            _cluster(line, tract, (*coda, *sounds.onset), event.start, min(room, _CLUSTER), first)
            _vowel(line, event, sounds, last=index == len(read) - 1)
        if read:
            note = phrase.notes[-1]
            room = min(0.3 * (note.stop - note.start), _CLUSTER)
            _cluster(line, tract, read[-1].coda, note.stop - _RELEASE, room, note.hz)
            line.add(note.stop - _RELEASE, _RELEASE, None, 0.0)
            quiet_since = note.stop
    at = np.array(line.at)
    span = (at[0] - 1.0, at[-1] + 1.0) if len(at) else (0.0, 1.0)
    room_for = halves(at, 1.0, *span, part=0.45)
    return Articulation(
        Joints(at, np.minimum(room_for, np.array(line.half))),
        tuple(line.keys),
        np.array(line.levels),
        tuple(line.hisses),
    )


def _cluster(
    line: _Line, tract: Tract, sounds: Sequence[str], end: float, room: float, hz: float
) -> None:
    """Sing consonants so that they end on a moment, squeezed into the room there is."""
    rows = [tract.consonant(s) for s in sounds]
    total = sum(float(r["seconds"]) for r in rows)
    if not rows or room <= 0:
        return
    squeeze = min(1.0, room / total)
    at = end - total * squeeze
    for sound, row in zip(sounds, rows, strict=True):
        length = float(row["seconds"]) * squeeze
        voice = row.get("voice")
        if voice is None:
            line.add(at, _CRISP, None, 0.0)
        else:
            line.add(at, _CRISP, (sound, pitch_class(hz)), 10 ** (float(voice) / 20))
        if row.get("noise") is not None:
            burst = row.get("burst")
            start = at if burst is None else at + length - min(float(burst), length)
            line.hisses.append(Hiss(sound, start, at + length))
        at += length


def _vowel(line: _Line, event: SyllableEvent, sounds: Sounds, *, last: bool) -> None:
    """Sing the vowel through all notes of a syllable, a diphthong closing late on the last."""
    level = 10 ** (_STRESS.get(event.syllable.stress, 0.0) / 20)
    lead = _CRISP if sounds.onset else _SOFT
    for index, note in enumerate(event.notes):
        half = _SOFT if index else lead
        line.add(note.start, half, (sounds.nucleus[0], pitch_class(note.hz)), level)
    if len(sounds.nucleus) > 1:
        note = event.notes[-1]
        length = note.stop - note.start
        # The consonants after it will take their part from the end of the same note.
        close = min(0.16, 0.3 * length) + (min(0.2, 0.3 * length) if last else 0.25 * length)
        at = note.stop - min(close, 0.6 * length)
        line.add(at, _SLOW, (sounds.nucleus[1], pitch_class(note.hz)), level)
