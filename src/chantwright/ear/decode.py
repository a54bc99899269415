"""The best path of a take through a hymn: which note was sung when.

Conventions
-----------
Frames of 20 ms. A *boundary* ``t`` stands before frame ``t``; a note from boundary ``a`` to ``b``
holds the frames ``a .. b - 1``. Pitch is in moria above ni, the base already taken off; ``nan``
where nothing was sung. Scores are natural log likelihoods up to a constant.

The model is a semi-Markov chain (explicit log-normal lengths): after each note an optional rest,
then the next note, or one further on (skipped), the same or one before (repeated), or the start
of any phrase. Each note may be sung at a pitch that is not written, at a price. Pitch costs are cut
off, so that glides, scoops and coughs cost a bounded amount. Evidence of a syllable's beginning is
earned where a syllable begins and charged where it falls within a note.

References
----------
Rabiner, Proc. IEEE 77 (1989), section IV.D: explicit state duration. Cont, IEEE Trans. Pattern
Anal. 32 (2010): semi-Markov chains for following a score.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chantwright.ear.expected import Expected

__all__ = ["FRAME", "Lattice", "Path", "Span", "decode", "lattice"]

Array = npt.NDArray[np.float64]

FRAME = 0.02
"""Seconds between frames."""

_LONGEST = 7.0  # seconds that one note may last
_SHORTEST = 2  # frames
_MARGIN = 3  # frames at either edge of a note in which evidence is not charged
_GRID = 2.0  # moria between the pitches a wrong note may have
_REACH = 24.0  # moria that a wrong note may lie beyond the hymn's compass
_NEVER = -1e9


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """A hymn ready to be searched.

    Attributes
    ----------
    low, high : ndarray, shape (n,)
        Bands of right pitches, moria above ni.
    beats : ndarray, shape (n,)
        Lengths.
    first : ndarray of bool, shape (n,)
        Whether a syllable begins.
    last : ndarray of bool, shape (n,)
        Whether a phrase ends.
    start : ndarray of bool, shape (n,)
        Whether a phrase begins.
    """

    low: Array
    high: Array
    beats: Array
    first: npt.NDArray[np.bool_]
    last: npt.NDArray[np.bool_]
    start: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Span:
    """One sung note: index of the written note, first and last boundary, whether off the page."""

    note: int
    start: int
    end: int
    free: bool


@dataclass(frozen=True, slots=True)
class Path:
    """The best path and its score in nats."""

    spans: tuple[Span, ...]
    score: float


def lattice(expected: Expected) -> Lattice:
    """Arrange a hymn's notes for the search."""
    notes = expected.notes
    starts = set(expected.starts)
    return Lattice(
        np.array([n.low for n in notes]),
        np.array([n.high for n in notes]),
        np.array([n.beats for n in notes]),
        np.array([n.first for n in notes]),
        np.array([n.last for n in notes]),
        np.array([i in starts for i in range(len(notes))]),
    )


def _pitch_cost(pitch: Array, low: Array, high: Array, weights: Mapping[str, float]) -> Array:
    """Cost of each frame in each band, shape (frames, bands)."""
    away = np.maximum(np.maximum(low - pitch[:, None], pitch[:, None] - high), 0.0)
    cost = np.minimum(0.5 * (away / weights["spread"]) ** 2, weights["ceiling"])
    voiced = np.isfinite(pitch)[:, None]
    out: Array = np.where(voiced, cost * weights["frame"], weights["silence_in_note"])
    return out


def _summed(cost: Array) -> npt.NDArray[np.float32]:
    top = np.zeros((1, cost.shape[1]))
    return np.concatenate((top, np.cumsum(-cost, axis=0))).astype(np.float32)


def _free(
    pitch: Array, hymn: Lattice, longest: int, weights: Mapping[str, float]
) -> npt.NDArray[np.float32]:
    """Best score of the frames before each boundary at any one pitch, shape (t, d).

    Column ``d`` stands for a length of ``longest - d`` frames.
    """
    grid = np.arange(hymn.low.min() - _REACH, hymn.high.max() + _REACH, _GRID)
    total = _summed(_pitch_cost(pitch, grid, grid, weights))
    frames = len(pitch)
    out = np.full((frames + 1, longest), _NEVER, np.float32)
    for length in range(_SHORTEST, min(longest, frames) + 1):
        best = (total[length:] - total[:-length]).max(axis=1)
        out[length:, longest - length] = best
    return out


class _Moves:
    """From which note to which, and at what price."""

    def __init__(self, hymn: Lattice, weights: Mapping[str, float]) -> None:
        count = len(hymn.beats)
        self.steps: list[tuple[int, float]] = [(1, 0.0)]
        for more in range(3):
            self.steps.append((2 + more, weights["skip"] + more * weights["skip_more"]))
        for more in range(4):
            self.steps.append((-more, weights["again"] + more * weights["again_more"]))
        self.jump = np.where(hymn.start, weights["jump"], -_NEVER)
        begin = np.where(hymn.start, weights["part"], weights["part"] + weights["skip"])
        begin[0] = 0.0
        early = weights["skip"] + weights["skip_more"] * np.arange(count)
        self.begin = np.minimum(begin, np.where(np.arange(count) > 0, early, 0.0))
        close = np.where(hymn.last, weights["part"], weights["part"] + weights["skip"])
        close[-1] = 0.0
        late = weights["skip"] + weights["skip_more"] * np.arange(count)[::-1]
        self.close = np.minimum(close, np.where(np.arange(count) < count - 1, late, 0.0))
        self.close[-1] = 0.0

    def enter(self, left: Array) -> tuple[Array, npt.NDArray[np.int16]]:
        """Best way into every note from the notes just left, and the note it came from."""
        count = len(left)
        best = np.full(count, _NEVER)
        source = np.full(count, -1, np.int16)
        index = np.arange(count)
        for step, price in self.steps:
            score = np.full(count, _NEVER)
            if step >= count:
                continue
            if step > 0:
                score[step:] = left[:-step] - price
            elif step == 0:
                score = left - price
            else:
                score[:step] = left[-step:] - price
            better = score > best
            best = np.where(better, score, best)
            source = np.where(better, index - step, source).astype(np.int16)
        far = int(np.argmax(left))
        score = left[far] - self.jump
        better = score > best
        return np.where(better, score, best), np.where(better, far, source).astype(np.int16)


class _Search:
    """All that the search holds; a column stands for a boundary, a row for a note."""

    def __init__(
        self,
        pitch: Array,
        onset: Array,
        hymn: Lattice,
        lengths: Array,
        weights: Mapping[str, float],
        spread: float,
        vowels: Array | None,
    ) -> None:
        frames, count = len(pitch), len(hymn.beats)
        self.frames, self.count = frames, count
        self.hymn, self.onset = hymn, onset
        self.longest = int(min(_LONGEST / FRAME, max(20.0, 2.6 * lengths.max()), frames))
        band, where = np.unique(np.stack((hymn.low, hymn.high)), axis=1, return_inverse=True)
        self.total = _summed(_pitch_cost(pitch, band[0], band[1], weights))[:, where.ravel()]
        self.free = _free(pitch, hymn, self.longest, weights) - np.float32(weights["wrong"])
        self.suits = np.zeros((frames + 1, count), np.float32)
        if vowels is not None:
            heard = np.where(np.isfinite(pitch)[:, None], vowels, 0.0) * weights["vowel"]
            self.suits[1:] = np.cumsum(heard, axis=0)
            self.total = self.total + self.suits
        sizes = np.arange(self.longest, 0, -1, dtype=np.float64)
        price = -0.5 * (np.log(sizes[None, :] / lengths[:, None]) / spread) ** 2
        price[:, sizes < _SHORTEST] = _NEVER
        self.price = price.astype(np.float32)
        self.charge = np.concatenate(
            ([0.0], np.cumsum(weights["inner"] * np.maximum(onset, 0.0)))
        ).astype(np.float32)
        self.moves = _Moves(hymn, weights)
        self.silence = np.where(np.isfinite(pitch), -weights["voice_in_rest"], 0.0)
        self.to_rest = np.where(hymn.last, weights["breath"], weights["rest"])
        # An intonation may stand before the hymn: it costs less than a hum in its midst.
        before = np.where(np.isfinite(pitch), -weights["lead_in"], 0.0)
        self.before = np.concatenate(([0.0], np.cumsum(before)))
        self.lead = np.concatenate(([0.0], np.cumsum(self.silence)))
        # `longest` columns stand before the first boundary, so that every window has one size.
        self.entered = np.full((count, frames + 1 + self.longest), _NEVER, np.float32)
        self.started = self.entered.copy()
        self.ended = np.full((frames + 1, count), _NEVER)
        self.length_of = np.zeros((frames + 1, count), np.int16)
        self.is_free = np.zeros((frames + 1, count), np.bool_)
        self.rest_from = np.zeros((frames + 1, count), np.int32)
        self.in_rest = np.zeros((frames + 1, count), np.bool_)
        self.came_from = np.full((frames + 1, count), -1, np.int16)

    def _end(self, t: int) -> None:
        """Best way to end each note at boundary `t`."""
        window = slice(t, t + self.longest)
        begun = np.arange(t - self.longest, t) + _MARGIN
        edge = self.charge[max(t - _MARGIN + 1, 0)]
        inner = np.maximum(edge - self.charge[np.clip(begun, 0, self.frames + 1)], 0.0)
        cost = self.price - inner
        rows = np.arange(self.count)
        tame = self.started[:, window] + cost
        best = tame.argmax(axis=1)
        score = tame[rows, best] + self.total[t]
        wild = self.entered[:, window] + (cost + self.free[t])
        other = wild.argmax(axis=1)
        wild_score = wild[rows, other] + self.suits[t]
        worse = wild_score > score
        self.ended[t] = np.where(worse, wild_score, score)
        self.length_of[t] = self.longest - np.where(worse, other, best)
        self.is_free[t] = worse

    def run(self) -> None:
        """Go through all boundaries in order."""
        rested = np.full(self.count, _NEVER)
        current = np.zeros(self.count, np.int32)
        for t in range(self.frames + 1):
            if t >= _SHORTEST:
                self._end(t)
            if t > 0:
                rested = rested + self.silence[t - 1]
            fresh = self.ended[t] - self.to_rest
            newer = fresh > rested
            rested = np.where(newer, fresh, rested)
            current = np.where(newer, t, current).astype(np.int32)
            self.rest_from[t] = current
            self.in_rest[t] = rested > self.ended[t]
            enter, source = self.moves.enter(np.maximum(self.ended[t], rested))
            opening = self.before[t] - self.moves.begin
            opens = opening > enter
            enter = np.where(opens, opening, enter)
            enter = enter + np.where(self.hymn.first, self.onset[t], 0.0)
            self.came_from[t] = np.where(opens, -1, source)
            self.entered[:, t + self.longest] = enter - self.suits[t]
            self.started[:, t + self.longest] = enter - self.total[t]

    def path(self) -> Path:
        """Follow the best end back to its beginning."""
        # After the last note the take may go on: silence is free, other singing costs as in a rest.
        final = self.ended - self.moves.close + (self.lead[-1] - self.lead)[:, None]
        t, note = divmod(int(np.argmax(final)), self.count)
        score = float(final[t, note])
        if score <= _NEVER / 2:
            return Path((), _NEVER)
        spans: list[Span] = []
        while True:
            start = t - int(self.length_of[t, note])
            spans.append(Span(note, start, t, bool(self.is_free[t, note])))
            before = int(self.came_from[start, note])
            if before < 0:
                break
            t = int(self.rest_from[start, before]) if self.in_rest[start, before] else start
            note = before
        return Path(tuple(reversed(spans)), score)


def decode(
    pitch: Array,
    onset: Array,
    hymn: Lattice,
    lengths: Array,
    weights: Mapping[str, float],
    *,
    spread: float | None = None,
    vowels: Array | None = None,
) -> Path:
    """Find the best path.

    Parameters
    ----------
    pitch : ndarray, shape (frames,)
        Moria above ni.
    onset : ndarray, shape (frames + 1,)
        Evidence that a syllable begins at each boundary, in nats; negative where it does not.
    hymn : Lattice
        The notes.
    lengths : ndarray, shape (n,)
        Frames that each note should last.
    weights : mapping
        See `chantwright.ear.weights`.
    spread : float, optional
        Spread of lengths, natural log; the weights' own when None.
    vowels : ndarray, shape (frames, n), optional
        How well each frame suits the vowel of each note, in nats.

    Returns
    -------
    Path
        Empty when there are too few frames.
    """
    if len(pitch) < _SHORTEST + 1:
        return Path((), _NEVER)
    wide = weights["length"] if spread is None else spread
    search = _Search(pitch, onset, hymn, lengths, weights, wide, vowels)
    search.run()
    return search.path()
