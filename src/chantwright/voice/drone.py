"""The ison: the held note under the melody.

Conventions
-----------
Continuous from its first note to its last: where the ison moves, the pitch glides, and the phase
never breaks. A single holder is as true as a machine, and his life comes from a slow turning
between two vowels. A group of two to four has mouths of different sizes; each holder wanders by a
cent or so around the true pitch, so that the group breathes and shimmers and yet stays in tune,
and they take breath by turns, never two at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from chantwright.score.model import UNISON
from chantwright.voice.contour import Contour, PhraseEvent
from chantwright.voice.joints import Array, Joints, halves
from chantwright.voice.singer import Samples, pulses
from chantwright.voice.tract import RATE, Tract

__all__ = ["WANDER", "Hold", "holds", "sing_drone"]

_GLIDE = 0.12  # seconds
_FADE = 0.16  # seconds, where the drone enters, leaves or changes its level
_TURN = 7.3  # seconds for a turn between the two vowels
_REFERENCE = 220.0
WANDER = 1.0
"""Cents by which a holder of a group may leave the true pitch."""

_MOUTH = 0.05  # difference in size between one holder's mouth and the next
_BREATH_EVERY = 3.7  # seconds between one holder's breath and the next one's
_BREATH = 0.25  # seconds of silence of a breath
_BREATH_FADE = 0.25
_SOUNDS = {"vowel": ("oo", "oh"), "hum": ("m", "n")}


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
    line: Sequence[Hold],
    melody: Contour,
    tract: Tract,
    length: int,
    *,
    octave: int = 0,
    holders: int = 1,
    sound: str = "vowel",
) -> Iterator[Samples]:
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
        Samples to make; time 0 is the first.
    octave : int
        Octaves to move the drone by.
    holders : int
        1, as true as a machine and without a breath; or 2 to 4, each with a mouth of its own, each
        wandering by up to `WANDER` cents around the true pitch, and breathing by turns.
    sound : str
        ``vowel`` or ``hum``.

    Yields
    ------
    Samples
        Piece after piece, effective value about 1 while it sounds.
    """
    merged = _merged(line)
    sounding = [h for h in merged if h.pitch is not None]
    if not sounding:
        yield np.zeros(length, np.float32)
        return
    first, last = sounding[0].start, sounding[-1].end
    pitch = _pitch(sounding, melody, last, octave)
    levels, gates = _line([(h.start, h.level) for h in merged], last, _FADE)
    ends = Joints(np.array([first, last]), np.array([_FADE, _FADE]) / 2)

    def size(times: Array, hz: Array) -> Array:
        out = np.sqrt(_REFERENCE / hz) * gates.value(levels, times)
        out *= ends.value(np.array([0.0, 1.0, 0.0]), times)
        return np.asarray(out / np.sqrt(holders))

    start, end = max(0.0, first - _FADE), min(length / RATE, last + 3 * _FADE)
    voices = []
    for index in range(holders):
        own = pitch if holders == 1 else _wandering(pitch, index)
        times, hz = pulses(own, start, end)
        sizes = size(times, hz)
        if holders > 1:
            sizes *= _breathing(times - first, last - first, index, holders)
        voices.append(_voice(tract, times, hz, sizes, _SOUNDS[sound], index, holders, length))
    for pieces in zip(*voices, strict=True):
        total = pieces[0]
        for piece in pieces[1:]:
            total += piece
        yield total


def _pitch(
    sounding: Sequence[Hold], melody: Contour, last: float, octave: int
) -> Callable[[Array], Array]:
    """Line of the ison in Hz, gliding where it moves and joining the melody in unison."""
    pitches, notes = _line(
        [(h.start, np.log2(h.pitch) if isinstance(h.pitch, float) else -1.0) for h in sounding],
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

    return pitch


def _wandering(pitch: Callable[[Array], Array], index: int) -> Callable[[Array], Array]:
    """A holder's own pitch: three slow waves of no common period, none of them biased."""

    def own(times: Array) -> Array:
        drift = np.zeros(len(times))
        for wave, seconds in enumerate((1.9, 2.9, 4.7)):
            turn = times / (seconds * (1 + 0.13 * index)) + 0.37 * index + 0.21 * wave
            drift += np.sin(2 * np.pi * turn) / 3
        out: Array = pitch(times) * np.exp2(WANDER / 1200 * drift)
        return out

    return own


def _breathing(since: Array, whole: float, index: int, holders: int) -> Array:
    """Level of a holder who breathes in his turn; never at the beginning or the end."""
    cycle = _BREATH_EVERY * holders
    turn = since - _BREATH_EVERY * (index + 0.6)
    near = np.rint(turn / cycle)
    centre = near * cycle
    allowed = (near >= 0) & (centre + _BREATH_EVERY * (index + 0.6) < whole - 2.0)
    off = np.abs(turn - centre)
    open_ = np.clip((off - _BREATH / 2) / _BREATH_FADE, 0, 1)
    out: Array = np.where(allowed, 0.5 - 0.5 * np.cos(np.pi * open_), 1.0)
    return out


def _voice(
    tract: Tract,
    times: Array,
    hz: Array,
    size: Array,
    sounds: tuple[str, str],
    index: int,
    holders: int,
    length: int,
) -> Iterator[Samples]:
    """One holder."""
    # By semitones, so that a glide does not ask for a new response at every pulse.
    classes = 4 * np.rint(12 * np.log2(hz / _REFERENCE)).astype(np.intp)
    used = np.unique(classes)
    row = np.searchsorted(used, classes)
    moments, sizes, which = times, size, row
    if holders == 1:
        # Alone, a voice is kept alive by a slow turning between two vowels.
        turn = 0.5 + 0.35 * np.sin(2 * np.pi * times / _TURN)
        moments = np.concatenate((times, times))
        sizes = np.concatenate((size * turn, size * (1 - turn)))
        which = np.concatenate((row, row + len(used)))
        keys = [(sound, int(c)) for sound in sounds for c in used]
    else:
        keys = [(sounds[index % 2], int(c)) for c in used]
    heard = np.flatnonzero(sizes > 0)
    heard = heard[np.argsort(moments[heard], kind="stable")]
    mouth = tract.of_size(1 + _MOUTH * (index - (holders - 1) / 2)) if holders > 1 else tract
    return mouth.lay(moments[heard] * RATE, sizes[heard], keys, which[heard], length)


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
