"""A held note beside the singer: found, and taken out as far as it stays itself.

A drone shows as a row of partials that never leave: at almost every moment of the recording, also
when the singer breathes. Each partial is brought down to rest, followed slowly, and subtracted, but
never by more than the drone's own usual strength there; so a singer who crosses or joins the drone
loses next to nothing. An instrument's drone is followed over long stretches, a human one, whose
pitch wobbles, over short ones.

A singer who holds one pitch all through is not a drone: he falls silent at the ends or at a breath,
or he is nearly all that sounds and he wavers, as no machine does.

Conventions
-----------
Pitch in Hz, wobble in cents (median size), strengths as amplitudes of the samples.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import median_filter
from scipy.signal import stft

from chantwright.ear.recording import Samples

__all__ = ["DroneFound", "find_drone", "follow_drone", "suspect_drone", "without_drone"]

Floats = npt.NDArray[np.float64]
Complexes = npt.NDArray[np.complex128]

LOWEST, HIGHEST = 40.0, 600.0
PARTIALS = 20
TOP = 4000.0
MACHINE = 1.0
"""Cents of wobble up to which a drone is an instrument's."""

_STEP = 0.02
_LOOK = (0.1, 0.25, 40.0)  # window in which partials are judged: least, most, cycles of the drone
_STEADY = 0.9  # seconds of window in which an instrument's drone is taken out
_BLOCK = 20.0
_JUDGED = 120.0  # seconds of a recording from which a drone is judged
_PRESENT = 6.0  # dB above its surroundings
_ALONE = 0.7  # share of the energy above which a wavering drone is the singer
_SHORTEST = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class DroneFound:
    """A drone: pitch in Hz, wobble in cents, strength of each of its first partials."""

    hz: float
    wobble: float
    strengths: Floats

    @property
    def steady(self) -> bool:
        """Whether it is an instrument's."""
        return self.wobble <= MACHINE

    @property
    def level(self) -> float:
        """Level of its first partials together, dBFS."""
        return float(10 * np.log10(np.sum(self.strengths**2) / 2 + 1e-12))


def find_drone(samples: Samples, rate: int) -> DroneFound | None:
    """Find a drone that sounds all through a recording, or None."""
    best = _lasting(samples, rate)
    return None if best is None else follow_drone(samples, rate, best, trust=False)


def suspect_drone(samples: Samples, rate: int) -> DroneFound | None:
    """Find what may be a drone, though it may be the singer's own favourite note.

    A drone that starts and ends with the singing and stands on the base of the tune cannot be told
    from a singer who always comes back to his base. Whoever asks must see for himself what makes
    more sense, with the drone or without.
    """
    best = _lasting(samples, rate)
    return None if best is None else follow_drone(samples, rate, best)


def _lasting(samples: Samples, rate: int) -> float | None:
    if samples.size < _SHORTEST * rate:
        return None
    size = 1 << int(np.ceil(np.log2(0.5 * rate)))
    _, _, bins = stft(samples, rate, nperseg=size, noverlap=size * 3 // 4, boundary=None)
    lasting = 20 * np.log10(np.quantile(np.abs(bins), 0.2, axis=1) + 1e-9)
    above = lasting - median_filter(lasting, 31)
    return _comb(above, rate / size)


def _comb(above: Floats, width: float) -> float | None:
    """Pitch whose partials stand out most evenly, from dB above the surroundings of each bin."""
    low, high = int(LOWEST / width), int(HIGHEST / width)
    peaks = [
        i
        for i in range(max(low, 1), high)
        if above[i] > _PRESENT and above[i] >= above[i - 1] and above[i] >= above[i + 1]
    ]
    scored = []
    for i in peaks:
        left, here, right = above[i - 1], above[i], above[i + 1]
        curve = left - 2 * here + right
        at = (i + (0.5 * (left - right) / curve if curve < 0 else 0.0)) * width
        heights = []
        for k in range(1, 9):
            reach = 1 + int(0.006 * k * at / width)
            middle = round(k * at / width)
            if middle + reach >= above.size:
                break
            heights.append(min(20.0, max(0.0, above[middle - reach : middle + reach + 1].max())))
        there = np.array(heights)
        if (there[:5] > _PRESENT).mean() >= 0.6:
            scored.append((float(there.mean()), at))
    if not scored:
        return None
    most = max(score for score, _ in scored)
    return min(at for score, at in scored if score >= 0.8 * most)


def _window(hz: float) -> float:
    least, most, cycles = _LOOK
    return float(np.clip(cycles / hz, least, most))


def _at_rest(samples: Samples, rate: int, phase: Floats, count: int, window: float) -> Complexes:
    """Complex amplitudes of `count` partials, one each `_STEP` seconds, shape (count, m).

    Brought down first, then thinned out by short means, so that long windows stay cheap.
    """
    thin = int(_STEP * rate) // 4
    size = -(-samples.size // thin)
    narrow = np.hanning(max(3, int(window * rate / thin)) + 2)[1:-1]
    covered = np.convolve(np.ones(size), narrow, mode="same") / 2
    low = np.empty((count, size), complex)
    block = int(_BLOCK * rate) // thin * thin
    for a in range(0, samples.size, block):
        piece = samples[a : a + block]
        down = np.exp(-2j * np.pi * phase[a : a + block])
        turned = piece.astype(complex)
        for k in range(count):
            turned *= down
            whole = np.pad(turned, (0, -turned.size % thin)).reshape(-1, thin)
            low[k, a // thin : a // thin + len(whole)] = whole.mean(axis=1)
    return np.stack([(np.convolve(row, narrow, mode="same") / covered)[::4] for row in low])


def _phase(hz: float, drift: Floats | None, count: int, rate: int) -> Floats:
    """Phase in cycles at every sample; `drift` in cents, one each `_STEP` seconds."""
    at = np.arange(count)
    if drift is None:
        return np.asarray((hz / rate * at) % 1.0)
    now = np.interp(at, np.arange(drift.size) * int(_STEP * rate), drift)
    return np.asarray((np.cumsum(hz * 2 ** (now / 1200)) / rate) % 1.0)


def follow_drone(
    samples: Samples, rate: int, hz: float, *, trust: bool = True
) -> DroneFound | None:
    """Judge a drone near a pitch: its true pitch, how it wobbles, how strong it is.

    Parameters
    ----------
    samples, rate
        The recording.
    hz : float
        Its pitch, to within some ten cents.
    trust : bool
        It is known that a drone sounds; else whatever may be the singer himself is left alone.

    Returns
    -------
    DroneFound or None
        None where there is no such drone.
    """
    heard = samples[: int(_JUDGED * rate)]
    count = max(1, min(8, int(min(TOP, 0.45 * rate) / hz)))
    for _ in range(3):
        bands = _at_rest(heard, rate, _phase(hz, None, heard.size, rate), count, _window(hz))
        cents, weight = _readings(bands, hz)
        if weight.sum() <= 0:
            return None
        shift = _median(cents, weight)
        hz = float(hz * 2 ** (shift / 1200))
        if abs(shift) < 0.05:
            break
    wobble = _median(np.abs(cents - shift), weight)
    strengths = np.quantile(np.abs(bands), 0.2, axis=1)
    found = DroneFound(hz, wobble, strengths)
    return found if trust or _is_drone(heard, rate, found, bands) else None


def _readings(bands: Complexes, hz: float) -> tuple[Floats, Floats]:
    """Cents above `hz` that each partial reads at each step, and the weight of each reading.

    A reading counts where the partial is about as strong as usual: nobody is singing into it.
    """
    usual = np.quantile(np.abs(bands), 0.2, axis=1)[:, None]
    turns = np.angle(bands[:, 2:] * np.conj(bands[:, :-2]))
    k = np.arange(1, len(bands) + 1)[:, None]
    cents = 1731.2 * turns / (2 * np.pi * 2 * _STEP * k * hz)
    size = np.abs(bands[:, 1:-1])
    own = (size > 0.6 * usual) & (size < 1.8 * usual)
    return cents, np.where(own, k * usual, 0.0)


def _wandering(bands: Complexes, hz: float) -> Floats:
    """How a wobbling drone wanders, in cents, one value each `_STEP` seconds."""
    cents, weight = _readings(bands, hz)
    cents, weight = np.clip(cents, -40, 40), weight**2
    mean = (cents * weight).sum(axis=0) / np.maximum(weight.sum(axis=0), 1e-30)
    for _ in range(3):
        far = np.abs(cents - mean)
        close = weight / (1 + (far / 4.0) ** 2)
        mean = (cents * close).sum(axis=0) / np.maximum(close.sum(axis=0), 1e-30)
    sure = close.sum(axis=0)
    known = sure > 0.05 * np.median(sure)
    if not known.any():
        return np.zeros(bands.shape[1])
    at = np.arange(mean.size)
    return np.pad(np.interp(at, at[known], mean[known]), 1, mode="edge")


def _median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values, axis=None)
    total = np.cumsum(weights.ravel()[order])
    return float(values.ravel()[order][np.searchsorted(total, total[-1] / 2)])


def _is_drone(samples: Samples, rate: int, found: DroneFound, bands: Complexes) -> bool:
    step = int(_STEP * rate)
    power = samples[: samples.size // step * step].astype(np.float64) ** 2
    level = power.reshape(-1, step).mean(axis=1)
    row = np.sqrt((np.abs(bands) ** 2).sum(axis=0))[: level.size]
    usual = float(np.median(row))
    quiet = np.argsort(level)[2:-2][: max(4, level.size // 25)] if level.size > 8 else np.arange(0)
    if not quiet.size or float(np.median(row[quiet])) < 0.25 * usual:
        return False  # it stops where everything stops
    if found.steady:
        return True
    share = float(np.sum(found.strengths**2) / 2 / np.median(level))
    return share < _ALONE


def without_drone(samples: Samples, rate: int, found: DroneFound) -> Samples:
    """Take a drone out.

    Returns
    -------
    ndarray of float32, shape (n,)
    """
    count = max(1, min(PARTIALS, int(min(TOP, 0.45 * rate) / found.hz)))
    window, drift = _STEADY, None
    phase = _phase(found.hz, None, samples.size, rate)
    if not found.steady:
        window = _window(found.hz)
        bands = _at_rest(samples, rate, phase, min(8, count), window)
        drift = _wandering(bands, found.hz)
        phase = _phase(found.hz, drift, samples.size, rate)
    rest = _at_rest(samples, rate, phase, count, window)
    size = np.abs(rest)
    strengths = np.quantile(size, 0.2, axis=1)[:, None]
    rest *= np.minimum(1.0, 1.15 * strengths / np.maximum(size, 1e-12))
    out = samples.astype(np.float64)
    step, block = int(_STEP * rate), int(_BLOCK * rate)
    for a in range(0, samples.size, block):
        at = np.arange(a, min(a + block, samples.size))
        near = slice(max(0, a // step - 2), (a + block) // step + 3)
        grid = np.arange(size.shape[1])[near] * step
        up = np.exp(2j * np.pi * phase[at])
        turned = np.ones(at.size, complex)
        for row in rest:
            turned *= up
            out[at] -= np.interp(at, grid, row.real[near]) * turned.real
            out[at] += np.interp(at, grid, row.imag[near]) * turned.imag
    return out.astype(np.float32)
