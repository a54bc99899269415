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


def _free(pitch: Array, hymn: Lattice, longest: int, weights: Mapping[str, float]) -> Array:
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
    frames, count = len(pitch), len(hymn.beats)
    spread = weights["length"] if spread is None else spread
    longest = int(min(_LONGEST / FRAME, max(20.0, 2.6 * lengths.max()), frames))
    if frames < _SHORTEST + 1:
        return Path((), _NEVER)
    band, where = np.unique(np.stack((hymn.low, hymn.high)), axis=1, return_inverse=True)
    total = _summed(_pitch_cost(pitch, band[0], band[1], weights))[:, where.ravel()]
    free = _free(pitch, hymn, longest, weights) - weights["wrong"]
    suits = np.zeros((frames + 1, count), np.float32)
    if vowels is not None:
        heard = np.where(np.isfinite(pitch)[:, None], vowels, 0.0) * weights["vowel"]
        suits[1:] = np.cumsum(heard, axis=0)
        total = total + suits
    sizes = np.arange(longest, 0, -1, dtype=np.float64)
    last_price = -0.5 * (np.log(sizes[None, :] / lengths[:, None]) / spread) ** 2
    last_price[:, sizes < _SHORTEST] = _NEVER
    price = last_price.astype(np.float32)
    charge = np.concatenate(([0.0], np.cumsum(weights["inner"] * np.maximum(onset, 0.0))))
    moves = _Moves(hymn, weights)
    silence = np.where(np.isfinite(pitch), -weights["voice_in_rest"], 0.0)
    to_rest = np.where(hymn.last, weights["breath"], weights["rest"])
    lead = np.concatenate(([0.0], np.cumsum(silence)))

    # Columns are boundaries; `pad` keeps every window the same size.
    pad = longest
    width = frames + 1 + pad
    entered = np.full((count, width), _NEVER, np.float32)
    started = np.full((count, width), _NEVER, np.float32)
    rested = np.full(count, _NEVER)
    ended = np.full((frames + 1, count), _NEVER)
    length_of = np.zeros((frames + 1, count), np.int16)
    is_free = np.zeros((frames + 1, count), np.bool_)
    rest_from = np.zeros((frames + 1, count), np.int32)
    in_rest = np.zeros((frames + 1, count), np.bool_)
    came_from = np.full((frames + 1, count), -1, np.int16)
    index = np.arange(count)
    current = np.zeros(count, np.int32)
    reach = np.arange(frames + 1 + pad) - pad
    inner = np.zeros(longest, np.float32)
    for t in range(frames + 1):
        if t >= _SHORTEST:
            stop = charge[max(t - _MARGIN + 1, 0)]
            begin = charge[np.clip(reach[t : t + pad] + _MARGIN, 0, frames + 1)]
            inner = np.maximum(stop - begin, 0.0).astype(np.float32)
            cost = price - inner
            window = started[:, t : t + pad] + cost
            best = window.argmax(axis=1)
            score = window[index, best] + total[t]
            other = entered[:, t : t + pad] + (cost + free[t])
            wild = other.argmax(axis=1)
            wild_score = other[index, wild] + suits[t]
            worse = wild_score > score
            ended[t] = np.where(worse, wild_score, score)
            length_of[t] = longest - np.where(worse, wild, best)
            is_free[t] = worse
        if t > 0:
            rested = rested + silence[t - 1]
        fresh = ended[t] - to_rest
        newer = fresh > rested
        rested = np.where(newer, fresh, rested)
        current = np.where(newer, t, current).astype(np.int32)
        rest_from[t] = current
        in_rest[t] = rested > ended[t]
        enter, source = moves.enter(np.maximum(ended[t], rested))
        opening = lead[t] - moves.begin
        opens = opening > enter
        enter = np.where(opens, opening, enter) + np.where(hymn.first, onset[t], 0.0)
        came_from[t] = np.where(opens, -1, source)
        entered[:, t + pad] = enter - suits[t]
        started[:, t + pad] = enter - total[t]
    # After the last note the take may go on: silence is free, other singing costs as in a rest.
    tail = (lead[-1] - lead)[:, None]
    final = ended - moves.close + tail
    t, note = np.unravel_index(int(np.argmax(final)), final.shape)
    best_score = float(final[t, note])
    if best_score <= _NEVER / 2:
        return Path((), _NEVER)
    spans: list[Span] = []
    t, note = int(t), int(note)
    while True:
        start = t - int(length_of[t, note])
        spans.append(Span(note, start, t, bool(is_free[t, note])))
        before = int(came_from[start, note])
        if before < 0:
            break
        t = int(rest_from[start, before]) if in_rest[start, before] else start
        note = before
    spans.reverse()
    return Path(tuple(spans), best_score)
