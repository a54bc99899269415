"""When each phone of what was said begins and ends.

The engine plans whole units of 25 ms, and its plan is loose: a vowel may be heard two units before
or after. So the phones are laid on the frames anew, by the path on which every frame sounds most
like its phone, with the plan as a gentle guide. How each phone sounds was measured on this very
voice (``data/acoustics.toml``, made by ``tools/measure_phones.py``).

References
----------
L. R. Rabiner, Proc. IEEE 77 (1989) 257-286: hidden Markov models, the best path (Viterbi), and
training by it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from chantwright.rows import load_rows
from chantwright.voice.joints import Array
from chantwright.voice.phones import STRESS, VOWELS, phone_rows
from chantwright.voice.speech import FRAME, STEP, Spoken

__all__ = ["Model", "SILENCE", "align", "features", "states_of", "sounds_of_phones"]

Sheet = npt.NDArray[np.float64]
Model = Mapping[str, tuple[Array, Array]]
"""Phone -> mean and deviation of its features."""

SILENCE = "_"
_TONES = (0, 500, 1000, 1800, 2800, 5000)
_BREATH = (0, 1000, 3000, 6000, 11000)
_FLOOR = -60.0  # decibels
_LOOSE = 3.0  # frames by which a boundary may well differ from the plan
_PRIOR = 0.5
_REACH = 14  # frames by which it may differ at all
_UNVOICED_VOWEL = 12.0  # cost of a vowel's frame without pitch
_SHORTEST = 2  # frames of a vowel


def features(spoken: Spoken) -> Sheet:
    """What is heard in each frame: bands of tone and of breath in decibels, and pitch or none.

    Returns
    -------
    Sheet, shape (frames, 10)
    """
    out = []
    for spectra, edges, gate in (
        (spoken.tones, _TONES, spoken.voiced),
        (spoken.breath, _BREATH, None),
    ):
        for low, high in pairwise(edges):
            band = np.exp(2.0 * spectra[:, int(low / STEP) : int(high / STEP)]).mean(axis=1)
            if gate is not None:
                band = band * gate
            out.append(np.maximum(10 * np.log10(band + 1e-12), _FLOOR))
    out.append(20.0 * spoken.voiced)
    return np.stack(out, axis=1)


def states_of(spoken: Spoken) -> tuple[list[str], Array]:
    """Phones and silences in order, and where the plan lets each begin and the last end (frames).

    A stress mark belongs to the vowel after it, a space between words to nobody: its time is left
    to its neighbours.
    """
    names: list[str] = [SILENCE]
    bounds: list[float] = [0.0]
    waiting: float | None = None
    for symbol, start in zip(spoken.symbols[1:-1], spoken.starts[1:], strict=False):
        if symbol in STRESS:
            waiting = start if waiting is None else waiting
        elif symbol in phone_rows():
            names.append(symbol)
            bounds.append((start if waiting is None else waiting) / FRAME)
            waiting = None
    last = max(i for i, s in enumerate(spoken.symbols) if s in phone_rows())
    names.append(SILENCE)
    bounds += [spoken.starts[last + 1] / FRAME, float(len(spoken.tones))]
    return names, np.array(bounds)


@lru_cache(maxsize=1)
def sounds_of_phones() -> Model:
    """How each phone sounds in this voice."""
    rows = load_rows("chantwright.voice", ["acoustics.toml"])["sound"]
    return {
        str(row["symbol"]): (np.array(row["mean"], float), np.array(row["deviation"], float))
        for row in rows.values()
    }


def align(spoken: Spoken, model: Model | None = None) -> list[tuple[float, float]]:
    """Find the phones.

    Parameters
    ----------
    spoken : Spoken
        What was said.
    model : Model, optional
        How phones sound; our own measurements by default. An empty one follows the plan.

    Returns
    -------
    list of (start, end)
        Seconds, one for each phone in order, silences and marks left out.
    """
    names, bounds = states_of(spoken)
    cuts = bounds if model == {} else _path(spoken, names, bounds, model or sounds_of_phones())
    return [(a * FRAME, b * FRAME) for a, b in pairwise(cuts[1:-1])]


def _path(spoken: Spoken, names: Sequence[str], bounds: Array, model: Model) -> Array:
    heard = features(spoken)
    frames, count = len(heard), len(names)
    cost = np.empty((frames, count))
    seen: dict[str, Array] = {}
    for k, name in enumerate(names):
        if name not in seen:
            mean, deviation = model[name]
            off = (heard - mean) / deviation
            # Heavy tails: one odd band must not outweigh the others.
            near = np.log1p(off**2 / 4) * 2 + 2 * np.log(deviation)
            seen[name] = near.sum(axis=1) * 0.5
            if name in VOWELS:
                seen[name] = seen[name] + _UNVOICED_VOWEL * (1 - spoken.voiced)
        cost[:, k] = seen[name]
    # enter[t, k]: price of beginning state k at frame t, by its distance from the plan.
    times = np.arange(frames)[:, None]
    off = np.abs(times - bounds[None, :count])
    enter = _PRIOR * (off / _LOOSE) ** 2
    enter[off > _REACH] = np.inf
    total = np.full(count, np.inf)
    total[0] = cost[0, 0]
    came = np.zeros((frames, count), np.int32)  # frame in which the state was begun
    begun = np.zeros(count, np.int32)
    shortest = np.array([_SHORTEST if n in VOWELS else 1 for n in names])
    for t in range(1, frames):
        ready = np.where(t - begun >= shortest, total, np.inf)
        moved = np.concatenate(([np.inf], ready[:-1])) + enter[t]
        step = moved < total
        begun = np.where(step, t, begun)
        total = np.where(step, moved, total) + cost[t]
        came[t] = begun
    if not np.isfinite(total[-1]):
        return bounds
    out = np.empty(count + 1)
    out[-1] = frames
    at = frames - 1
    for k in range(count - 1, -1, -1):
        out[k] = came[at, k]
        at = int(came[at, k]) - 1
    return out
