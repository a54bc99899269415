"""The ison: the held note under the melody.

Conventions
-----------
One continuous voice from its first note to its last: where the ison moves, the pitch glides, and
the phase never breaks. No two voices are detuned against each other, so there is nothing that
beats: the drone is in tune to the accuracy of the sum. It breathes nowhere; a group of holders
breathes by turns. Its life comes from a slow turning between two vowels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from chantwright.score.model import UNISON
from chantwright.voice.contour import Contour, PhraseEvent
from chantwright.voice.joints import Array, Joints, halves
from chantwright.voice.singer import Samples, pulses
from chantwright.voice.tract import RATE, Tract

__all__ = ["Hold", "holds", "sing_drone"]

_GLIDE = 0.12  # seconds
_FADE = 0.16  # seconds, where the drone enters, leaves or changes its level
_TURN = 7.3  # seconds for a turn between the two vowels
_REFERENCE = 220.0


@dataclass(frozen=True, slots=True)
class Hold:
    """One stretch of the ison.

    Attributes
    ----------
    start, end : float
        Seconds.
    pitch : float, "unison" or None
        Hz; with the melody; or nothing.
    level : float
        Factor.
    """

    start: float
    end: float
    pitch: float | str | None
    level: float = 1.0


def holds(phrases: Sequence[PhraseEvent], *, level: float = 1.0, moving: bool = True) -> list[Hold]:
    """Ison line of some phrases, breaths and rests included.

    Parameters
    ----------
    phrases : sequence of PhraseEvent
        In order, each beginning where the one before closes.
    level : float
        Level to hold at.
    moving : bool
        Whether the drone joins the melody where the score says unison; otherwise it keeps the
        last held note, so as not to sing the answer for the learner.
    """
    out: list[Hold] = []
    kept: float | None = next(
        (s.ison for p in phrases for s in p.syllables if isinstance(s.ison, float)), None
    )
    for phrase in phrases:
        for index, syllable in enumerate(phrase.syllables):
            last = index == len(phrase.syllables) - 1
            pitch: float | str | None = syllable.ison
            if isinstance(pitch, float):
                kept = pitch
            elif pitch == UNISON and not moving:
                pitch = kept
            out.append(Hold(syllable.start, phrase.close if last else syllable.end, pitch, level))
    return out


def sing_drone(
    line: Sequence[Hold], melody: Contour, tract: Tract, length: int, *, octave: int = 0
) -> Samples:
    """Sing the ison.

    Parameters
    ----------
    line : sequence of Hold
        In order of time, without overlap.
    melody : Contour
        Line that the drone follows in unison.
    tract : Tract
        The holders' voice.
    length : int
        Samples to return; time 0 is the first.
    octave : int
        Octaves to move the drone by.

    Returns
    -------
    Samples, shape (length,)
        Effective value about 1 while it sounds.
    """
    merged = _merged(line)
    sounding = [h for h in merged if h.pitch is not None]
    if not sounding:
        return np.zeros(length, np.float32)
    first, last = sounding[0].start, sounding[-1].end

    levels, gates = _line([(h.start, h.level) for h in merged], last, _FADE)
    fixed = [h for h in merged if h.pitch is not None]
    pitches, notes = _line(
        [(h.start, np.log2(h.pitch) if isinstance(h.pitch, float) else -1.0) for h in fixed],
        last,
        _GLIDE,
    )

    def pitch(times: Array) -> Array:
        here, other, share = notes.mix(times)
        sung = np.log2(melody.hz(times))
        a = np.where(pitches[here] < 0, sung, pitches[here])
        b = np.where(pitches[other] < 0, sung, pitches[other])
        out: Array = np.exp2(a * (1 - share) + b * share + octave)
        return out

    start = max(0.0, first - _FADE)
    times, hz = pulses(pitch, start, min(length / RATE, last + 3 * _FADE))
    ends = Joints(np.array([first, last]), np.array([_FADE, _FADE]) / 2)
    size = np.sqrt(_REFERENCE / hz) * gates.value(levels, times)
    size *= ends.value(np.array([0.0, 1.0, 0.0]), times)
    turn = 0.5 + 0.35 * np.sin(2 * np.pi * times / _TURN)
    # By semitones, so that a glide does not ask for a new response at every pulse.
    classes = 4 * np.rint(12 * np.log2(hz / _REFERENCE)).astype(np.intp)
    keys = [(sound, int(c)) for sound in ("oo", "oh") for c in np.unique(classes)]
    count = len(keys) // 2
    row = np.searchsorted(np.unique(classes), classes)
    moments = np.concatenate((times, times))
    sizes = np.concatenate((size * turn, size * (1 - turn)))
    which = np.concatenate((row, row + count))
    heard = np.flatnonzero(sizes > 0)
    heard = heard[np.argsort(moments[heard], kind="stable")]
    return tract.lay(moments[heard] * RATE, sizes[heard], keys, which[heard], length)


def _merged(line: Sequence[Hold]) -> list[Hold]:
    """Join stretches of the same pitch and level; a stretch of nothing becomes level 0."""
    out = []
    for (pitch, level), group in groupby(line, key=lambda h: (h.pitch, h.level)):
        stretch = list(group)
        silent = pitch is None
        out.append(Hold(stretch[0].start, stretch[-1].end, pitch, 0.0 if silent else level))
    return out


def _line(points: Sequence[tuple[float, float]], end: float, width: float) -> tuple[Array, Joints]:
    """Values and joints of a line of pieces given by their starts."""
    values: list[float] = []
    at: list[float] = []
    for start, value in points:
        if values and values[-1] == value:
            continue
        if values:
            at.append(start)
        values.append(value)
    joints = np.array(at)
    return np.array(values), Joints(joints, halves(joints, width / 2, points[0][0], end, part=0.45))
