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
_CLOSE = 0.14  # time for the second vowel of a diphthong
_CLOSE_PART = 0.35  # and its largest part of the vowel
_STRESS = {0: 0.0, 1: 1.2, 2: 0.6}  # decibels


@dataclass(frozen=True, slots=True)
class Hiss:
    """The noise of a consonant, and from when to when it is heard."""

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


@dataclass(frozen=True, slots=True)
class _Group:
    """Consonants between two vowels: what, from when, and by how much they are squeezed."""

    sounds: tuple[str, ...]
    start: float
    squeeze: float


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
        if not phrase.syllables:
            continue
        read = [tract.spelling.read(s.syllable, language) for s in phrase.syllables]
        groups = _groups(phrase, read, tract, quiet_since)
        for index, (event, sounds) in enumerate(zip(phrase.syllables, read, strict=True)):
            _consonants(line, tract, groups[index], event.notes[0].hz)
            _vowel(line, event, sounds, groups[index + 1].start)
        stop = phrase.notes[-1].stop
        _consonants(line, tract, groups[-1], phrase.notes[-1].hz)
        line.add(stop - _RELEASE, _RELEASE, None, 0.0)
        quiet_since = stop
    at = np.array(line.at)
    first, last = (at[0] - 1.0, at[-1] + 1.0) if len(at) else (0.0, 1.0)
    room_for = halves(at, 1.0, first, last, part=0.45)
    return Articulation(
        Joints(at, np.minimum(room_for, np.array(line.half))),
        tuple(line.keys),
        np.array(line.levels),
        tuple(line.hisses),
    )


def _groups(
    phrase: PhraseEvent, read: Sequence[Sounds], tract: Tract, quiet_since: float
) -> list[_Group]:
    """Consonants before each syllable, and after the last."""
    groups = []
    codas = ((), *(s.coda for s in read))
    onsets = (*(s.onset for s in read), ())
    for index, (coda, onset) in enumerate(zip(codas, onsets, strict=True)):
        if index == 0:
            end = phrase.start
            room = 0.8 * (end - quiet_since)
        else:
            before = phrase.syllables[index - 1].notes[-1]
            final = index == len(read)
            end = before.stop - _RELEASE if final else before.end
            room = _CLUSTER_PART * (before.stop - before.start)
        sounds = (*coda, *onset)
        full = sum(float(tract.consonant(s)["seconds"]) for s in sounds)
        squeeze = min(1.0, max(0.0, min(room, _CLUSTER)) / full) if full else 0.0
        groups.append(_Group(sounds, end - full * squeeze, squeeze))
    return groups


def _consonants(line: _Line, tract: Tract, group: _Group, hz: float) -> None:
    """Sing a group of consonants, squeezed into the room there is."""
    at = group.start
    for sound in group.sounds:
        row = tract.consonant(sound)
        length = float(row["seconds"]) * group.squeeze
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


def _vowel(line: _Line, event: SyllableEvent, sounds: Sounds, until: float) -> None:
    """Sing the vowel through all notes of a syllable; a diphthong closes late on the last."""
    level = 10 ** (_STRESS.get(event.syllable.stress, 0.0) / 20)
    for index, note in enumerate(event.notes):
        half = _CRISP if sounds.onset and not index else _SOFT
        line.add(note.start, half, (sounds.nucleus[0], pitch_class(note.hz)), level)
    if len(sounds.nucleus) > 1:
        note = event.notes[-1]
        close = min(_CLOSE, _CLOSE_PART * (until - note.start))
        line.add(until - close, _SLOW, (sounds.nucleus[1], pitch_class(note.hz)), level)
