"""The singing voice: glottal pulses placed by the exact pitch, shaped by the tract.

Conventions
-----------
The phase of the voice is the integral of its pitch; a pulse stands wherever the phase passes a
whole number, between samples as exactly as within them. So the pitch is right by construction,
and nothing ever jumps: a change of sound, level or note is a change in the pulses to come.

References
----------
Fant, "Acoustic Theory of Speech Production" (1960), for source and filter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import fft

from chantwright.rows import Row
from chantwright.voice.articulation import Articulation, Hiss
from chantwright.voice.joints import Array
from chantwright.voice.tract import RATE, Tract

__all__ = ["Samples", "pulses", "sing_line"]

Samples = npt.NDArray[np.float32]
"""Sound at 48 000 samples a second."""

_GRID = 0.001  # seconds between the points at which the pitch is followed
_STRETCH = 60_000  # of these points at a time
_REFERENCE = 220.0  # Hz at which a pulse has size 1
_LOOP = RATE  # samples of noise kept for each consonant


def pulses(pitch: Callable[[Array], Array], start: float, end: float) -> tuple[Array, Array]:
    """Place glottal pulses.

    Parameters
    ----------
    pitch : callable
        Seconds -> Hz.
    start, end : float
        Seconds.

    Returns
    -------
    times : Array, shape (n,)
        Seconds, one for each turn of the phase.
    hz : Array, shape (n,)
        Pitch at those times.
    """
    count = max(2, int(np.ceil((end - start) / _GRID)) + 1)
    phase = 0.0
    found, pitches = [], []
    for first in range(0, count - 1, _STRETCH):
        grid: Array = start + _GRID * np.arange(
            first, min(first + _STRETCH + 1, count), dtype=np.float64
        )
        hz = pitch(grid)
        turned = phase + np.concatenate(([0.0], np.cumsum(0.5 * (hz[1:] + hz[:-1]) * _GRID)))
        turns = np.arange(int(turned[0]) + 1, int(turned[-1]) + 1)
        times = np.interp(turns, turned, grid)
        found.append(times)
        pitches.append(np.interp(times, grid, hz))
        phase = float(turned[-1])
    moments, at = np.concatenate(found), np.concatenate(pitches)
    return moments[moments < end], at[moments < end]


def sing_line(
    pitch: Callable[[Array], Array], line: Articulation, tract: Tract, length: int
) -> Iterator[Samples]:
    """Sing a line.

    Parameters
    ----------
    pitch : callable
        Seconds -> Hz.
    line : Articulation
        What is sung when.
    tract : Tract
        The voice.
    length : int
        Samples to make; time 0 is the first.

    Yields
    ------
    Samples
        Piece after piece. An ordinary vowel has an effective value of about 1.
    """
    if not len(line.joints.at):
        yield np.zeros(length, np.float32)
        return
    times, hz = pulses(pitch, max(0.0, float(line.joints.at[0]) - 0.1), length / RATE)
    here, other, share = line.joints.mix(times)
    size = np.sqrt(_REFERENCE / hz)
    keys = sorted({k for k in line.keys if k is not None})
    row = np.array([keys.index(k) if k is not None else 0 for k in line.keys], dtype=np.intp)
    # Each pulse sounds in the piece that holds it and, near a joint, in the neighbour as well.
    moments = np.concatenate((times, times))
    levels = np.concatenate(
        (size * line.levels[here] * (1 - share), size * line.levels[other] * share)
    )
    which = np.concatenate((row[here], row[other]))
    heard = np.flatnonzero(levels > 0)
    heard = heard[np.argsort(moments[heard], kind="stable")]
    start = 0
    waiting = list(enumerate(line.hisses))
    for piece in tract.lay(moments[heard] * RATE, levels[heard], keys, which[heard], length):
        while waiting and waiting[0][1].end * RATE < start:
            waiting.pop(0)
        for index, hiss in waiting:
            if hiss.start * RATE > start + len(piece):
                break
            _add_hiss(piece, start, hiss, tract.consonant(hiss.sound), index)
        start += len(piece)
        yield piece


@lru_cache(maxsize=64)
def _noise(centre: float, width: float) -> Samples:
    """One second of noise in a band, effective value 1, the same every time."""
    white = np.random.default_rng(1).standard_normal(_LOOP)
    frequencies = fft.rfftfreq(_LOOP, 1 / RATE)
    shape = 1 / (1 + ((frequencies - centre) / (0.5 * width)) ** 4)
    band = fft.irfft(fft.rfft(white) * shape, _LOOP)
    out: Samples = (band / np.sqrt(np.mean(band**2))).astype(np.float32)
    return out


def _add_hiss(out: Samples, start: int, hiss: Hiss, row: Row, index: int) -> None:
    """Add the part of a hiss that falls on a piece beginning at sample `start`."""
    first, last = round(hiss.start * RATE), round(hiss.end * RATE)
    low, high = max(first, start), min(last, start + len(out))
    if last - first < 16 or high <= low:
        return
    # Each consonant hears another stretch of the same noise, so that repeats do not buzz.
    skip = (index * 7919) % (_LOOP // 2)
    noise = _noise(float(row["centre"]), float(row["width"]))[skip : skip + last - first]
    window = np.sin(np.pi * (np.arange(last - first) + 0.5) / (last - first))
    whole = 10 ** (float(row["noise"]) / 20) * noise * window.astype(np.float32)
    out[low - start : high - start] += whole[low - first : high - first]
