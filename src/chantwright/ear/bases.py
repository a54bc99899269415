"""Where the singer's base may lie, and how fast he sings, before anything is aligned.

Conventions
-----------
A base is the pitch of the hymn's ni in moria above 440 Hz; it may drift by a slope in moria a
second, counted from the middle of the take. Frames as in `chantwright.ear.decode`.

Two steps. First every base and slope is scored by how likely the take's pitches are if the hymn's
pitches are drawn by their lengths, without order; that is one cross-correlation for each slope.
The few best are then walked through in the order of the notes, with lengths left free.

References
----------
Histogram matching of pitch against a scale: Bozkurt, J. New Music Research 37 (2008); Panteli and
Purwins, Proc. Folk Music Analysis (2013), on Byzantine scales.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chantwright.ear.decode import FRAME, Lattice

__all__ = ["Hypothesis", "guess", "steady", "walk_tempo"]

Array = npt.NDArray[np.float64]

_BIN = 0.5  # moria
_SPREAD = 2.5  # moria
_SLOPES = np.array([0, -4, 4, -8, 8, -13, 13, -19, 19, -26, 26, -34, 34]) / 60.0
_SLOPE_PRICE = 0.004  # nats a frame for each moria a minute: a steady base is the likelier one
_KEPT = 5
_STEADY_WINDOW = 5  # frames
_STEADY_REACH = 2.5  # moria


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A base at the middle of the take, its slope, and how well the ordered notes fit, in nats."""

    base: float
    slope: float
    score: float
    frames_a_beat: float


def steady(pitch: Array) -> npt.NDArray[np.bool_]:
    """Frames that lie within a short stretch of nearly one pitch; shape as `pitch`."""
    half = _STEADY_WINDOW // 2
    wide = np.concatenate((np.full(half, np.nan), pitch, np.full(half, np.nan)))
    windows = np.lib.stride_tricks.sliding_window_view(wide, _STEADY_WINDOW)
    reach = windows.max(axis=1) - windows.min(axis=1)  # nan where anything is unvoiced
    return np.asarray(np.nan_to_num(reach, nan=np.inf) < _STEADY_REACH)


def _template(hymn: Lattice) -> tuple[Array, float]:
    """Log density of the hymn's pitches on the grid, and the place of its first bin."""
    first = float(np.floor(hymn.low.min())) - 12.0
    grid = np.arange(first, hymn.high.max() + 12.0, _BIN)
    middle = 0.5 * (hymn.low + hymn.high)
    wide = np.hypot(_SPREAD, 0.5 * (hymn.high - hymn.low))
    bells = np.exp(-0.5 * ((grid[:, None] - middle) / wide) ** 2) / wide
    density = bells @ hymn.beats / (hymn.beats.sum() * np.sqrt(2 * np.pi))
    return np.log(density + 1e-3), first


def guess(
    pitch: Array, hymn: Lattice, *, fixed: tuple[float, ...] = ()
) -> tuple[tuple[float, float], ...]:
    """Return the likeliest (base, slope) without regard to order, best first.

    Parameters
    ----------
    pitch : ndarray, shape (frames,)
        Moria above 440 Hz, ``nan`` where nothing was sung.
    hymn : Lattice
        The notes.
    fixed : tuple of float
        Only these bases, without slope; any when empty.
    """
    if fixed:
        return tuple((b, 0.0) for b in fixed)
    keep = steady(pitch)
    if keep.sum() < 10:
        keep = np.isfinite(pitch)
    times = (np.arange(len(pitch)) - len(pitch) / 2) * FRAME
    template, first = _template(hymn)
    floor = float(np.log(1e-3))
    found: list[tuple[float, float, float]] = []
    total = len(pitch) * FRAME
    slopes = _SLOPES if total > 8.0 else _SLOPES[:1]
    for slope in slopes:
        values = pitch[keep] - slope * times[keep]
        low = np.floor(values.min()) - 1.0
        bins = np.bincount(((values - low) / _BIN).astype(int)).astype(float)
        bins /= bins.sum()
        # score(base) = sum over bins of share * log density at (pitch - base)
        lift = np.convolve(bins, (template - floor)[::-1])
        places = low - first + _BIN * (np.arange(len(lift)) - (len(template) - 1))
        score = lift - _SLOPE_PRICE * abs(slope) * 60.0
        inner = np.flatnonzero(
            (score >= np.roll(score, 1)) & (score >= np.roll(score, -1)) & (score > 0)
        )
        found += [(float(score[i]), float(places[i]) + _BIN / 2, float(slope)) for i in inner]
    found.sort(reverse=True)
    kept: list[tuple[float, float, float]] = []
    for one in found:
        if all(abs(one[1] - k[1]) > 3.0 for k in kept):
            kept.append(one)
        if len(kept) == _KEPT:
            break
    return tuple((base, slope) for _, base, slope in kept)


def walk_tempo(
    pitch: Array, hymn: Lattice, candidates: tuple[tuple[float, float], ...]
) -> tuple[Hypothesis, ...]:
    """Walk each candidate through the notes in order, with free lengths; best first.

    Parameters
    ----------
    pitch, hymn : ndarray, Lattice
        As for `guess`.
    candidates : tuple of (base, slope)
        From `guess`.

    Returns
    -------
    tuple of Hypothesis
        With the frames a beat that each walk suggests.
    """
    times = (np.arange(len(pitch)) - len(pitch) / 2) * FRAME
    voiced = np.flatnonzero(np.isfinite(pitch))
    # Every second voiced frame is enough to tell the candidates apart.
    use = voiced[::2]
    if len(use) < 4 or not candidates:
        return ()
    bases = np.array([c[0] for c in candidates])
    slopes = np.array([c[1] for c in candidates])
    line = pitch[use][None, :] - bases[:, None] - slopes[:, None] * times[use][None, :]
    below = hymn.low[None, None, :] - line[:, :, None]
    above = line[:, :, None] - hymn.high[None, None, :]
    cost = np.minimum(0.5 * (np.maximum(np.maximum(below, above), 0.0) / 3.0) ** 2, 5.0) * 0.3
    many, steps, count = cost.shape
    score = np.full((many, count), -1e9)
    starts = np.flatnonzero(hymn.start)
    score[:, starts] = -6.0
    score[:, 0] = 0.0
    score -= cost[:, 0]
    back = np.zeros((many, steps, count), np.int8)
    for t in range(1, steps):
        options = np.full((3, many, count), -1e9)
        options[0] = score
        options[1, :, 1:] = score[:, :-1]
        options[2, :, 2:] = score[:, :-2] - 5.0
        best = options.argmax(axis=0)
        score = np.take_along_axis(options, best[None], axis=0)[0] - cost[:, t]
        back[:, t] = best
    out = []
    close = np.where(hymn.last, -6.0, -12.0)
    close[-1] = 0.0
    for i in range(many):
        note = int(np.argmax(score[i] + close))
        best_score = float(score[i, note] + close[note])
        owner = np.zeros(steps, int)
        for t in range(steps - 1, -1, -1):
            owner[t] = note
            note -= int(back[i, t, note])
        out.append(
            Hypothesis(
                candidates[i][0], candidates[i][1], best_score / steps, _frames_a_beat(owner, hymn)
            )
        )
    out.sort(key=lambda h: -h.score)
    return tuple(out)


def _frames_a_beat(owner: npt.NDArray[np.int_], hymn: Lattice) -> float:
    """Frames a beat, from stretches in which the asked pitch does not change."""
    joined = np.concatenate(([0], np.cumsum((np.diff(hymn.low) != 0) | (np.diff(hymn.high) != 0))))
    frames = np.bincount(joined[owner], minlength=joined[-1] + 1) * 2.0
    beats = np.bincount(joined, weights=hymn.beats, minlength=joined[-1] + 1)
    sung = frames > 0
    if sung.sum() > 2:
        sung[joined[owner[0]]] = False  # the ends are often cut or held
        sung[joined[owner[-1]]] = False
    ratio = np.log(frames[sung] / beats[sung])
    order = np.argsort(ratio)
    share = np.cumsum(beats[sung][order])
    middle = int(np.searchsorted(share, share[-1] / 2))
    return float(np.exp(ratio[order][middle]))
