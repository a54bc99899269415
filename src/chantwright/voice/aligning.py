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

__all__ = ["SILENCE", "Model", "align", "features", "path", "sounds_of_phones", "states_of"]

Sheet = npt.NDArray[np.float64]
Model = Mapping[str, tuple[Array, Array]]
"""Phone -> mean and deviation of its features."""

SILENCE = "_"
_TONES = (0, 500, 1000, 1800, 2800, 5000)
_BREATH = (0, 1000, 3000, 6000, 11000)
_FLOOR = -60.0  # decibels
_LOOSE = 3.0  # frames by which a boundary may well differ from the plan
_PRIOR = 3.0
_REACH = 14  # frames by which it may differ at all
_UNVOICED_VOWEL = 12.0  # cost of a vowel's frame without tone
_SHORTEST = 3  # frames of a vowel


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

    A stress mark belongs to the vowel after it. A space between words is a silence that may be
    there or not: the throat stops before many a vowel.
    """
    names: list[str] = [SILENCE]
    bounds: list[float] = [0.0]
    waiting: float | None = None
    last = max(i for i, s in enumerate(spoken.symbols) if s in phone_rows())
    for symbol, start in zip(spoken.symbols[1 : last + 1], spoken.starts[1:], strict=False):
        if symbol in STRESS:
            waiting = start if waiting is None else waiting
        elif symbol in phone_rows() or symbol == " ":
            names.append(SILENCE if symbol == " " else symbol)
            bounds.append((start if waiting is None else waiting) / FRAME)
            waiting = None
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
    cuts = bounds if model == {} else path(spoken, names, bounds, model or sounds_of_phones())
    return [
        (a * FRAME, b * FRAME)
        for name, (a, b) in zip(names, pairwise(cuts), strict=True)
        if name != SILENCE
    ]


def path(spoken: Spoken, names: Sequence[str], bounds: Array, model: Model) -> Array:
    """Frames in which the states begin, and the end, shape (states + 1,), by the best path.

    A silence between words that is not there begins where the next phone does.
    """
    heard = features(spoken)
    frames, count = len(heard), len(names)
    cost = np.empty((frames, count))
    seen: dict[str, Array] = {}
    # The engine keeps a pitch through a stop of the throat, where nothing sounds.
    loudest = heard[:, : len(_TONES) - 1].max(axis=1)
    silent = 1 - spoken.voiced * np.clip((loudest + 50) / 15, 0, 1)
    for k, name in enumerate(names):
        if name not in seen:
            mean, deviation = model[name]
            off = (heard - mean) / deviation
            # Heavy tails: one odd band must not outweigh the others.
            near = np.log1p(off**2 / 4) * 2 + 2 * np.log(deviation)
            seen[name] = near.sum(axis=1) * 0.5
            if name in VOWELS:
                seen[name] = seen[name] + _UNVOICED_VOWEL * silent
        cost[:, k] = seen[name]
    # enter[t, k]: price of beginning state k at frame t, by its distance from the plan.
    times = np.arange(frames)[:, None]
    off = np.abs(times - bounds[None, :count])
    enter = _PRIOR * (off / _LOOSE) ** 2
    enter[off > _REACH] = np.inf
    total = np.full(count, np.inf)
    total[0] = cost[0, 0]
    came = np.zeros((frames, count), np.int32)  # frame in which the state was begun
    whence = np.zeros((frames, count), np.int32)  # and how many states before it that came from
    begun = np.zeros(count, np.int32)
    back = np.ones(count, np.int32)
    shortest = np.array([_SHORTEST if n in VOWELS else 1 for n in names])
    skipped = np.array([k > 1 and names[k - 1] == SILENCE for k in range(count)])
    for t in range(1, frames):
        ready = np.where(t - begun >= shortest, total, np.inf)
        one = np.concatenate(([np.inf], ready[:-1]))
        two = np.where(skipped, np.concatenate(([np.inf, np.inf], ready[:-2])), np.inf)
        moved = np.minimum(one, two) + enter[t]
        step = moved < total
        begun = np.where(step, t, begun)
        back = np.where(step, np.where(two < one, 2, 1), back)
        total = np.where(step, moved, total) + cost[t]
        came[t], whence[t] = begun, back
    if not np.isfinite(total[-1]):
        return bounds
    out = np.empty(count + 1)
    out[-1] = frames
    at, k = frames - 1, count - 1
    while k > 0:
        out[k] = came[at, k]
        if whence[at, k] == 2:
            out[k - 1] = out[k]
        at, k = int(came[at, k]) - 1, k - int(whence[at, k])
    out[0] = 0.0
    return out
