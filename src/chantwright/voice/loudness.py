"""How loud a recording is, and how high its peaks are.

Conventions
-----------
Sound at 48 000 samples a second, shape (n,) or (n, channels). Loudness in LUFS, peaks in dB
against full scale. A `Meter` is fed piece by piece and keeps ten numbers a second, so that a
recording of any length can be measured while it is made.

References
----------
ITU-R BS.1770-4 (2015): K-weighting at 48 kHz, gating (annex 1), true peak by four times
oversampling (annex 2).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from chantwright.voice.singer import Samples
from chantwright.voice.tract import RATE

__all__ = ["Meter", "gain_for", "level", "loudness", "true_peak"]

# BS.1770-4, annex 1, tables 1 and 2.
_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285),
          (1.0, -1.69065929318241, 0.73248077421585))  # fmt: skip
_HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
_WEIGHTING = np.array([[*_SHELF[0], *_SHELF[1]], [*_HIGH_PASS[0], *_HIGH_PASS[1]]])
_STEP = RATE // 10  # gating blocks of 400 ms move by 100 ms
_PIECE = 300 * _STEP
_MARGIN = 64
_ABSOLUTE, _RELATIVE = -70.0, -10.0
_OVER = 4


class Meter:
    """Loudness and true peak of a recording that comes in pieces.

    Parameters
    ----------
    peaks : bool
        Whether peaks are looked for as well.
    """

    def __init__(self, *, peaks: bool = True) -> None:
        self._peaks = peaks
        self._energies: list[float] = []
        self._rest = np.zeros((0, 1))
        self._states: list[np.ndarray[tuple[int, int], np.dtype[np.float64]]] = []
        self._before = np.zeros((0, 1), np.float32)
        self._plain = self._over = 0.0

    def add(self, piece: Samples) -> None:
        """Take the next piece, shape (n,) or (n, channels)."""
        for start in range(0, len(piece), _PIECE):
            sheet = piece[start : start + _PIECE].reshape(-1, piece[:1].size or 1)
            self._weigh(sheet)
            if self._peaks:
                self._look(sheet)

    def _weigh(self, sheet: Samples) -> None:
        from scipy import signal  # noqa: PLC0415 (half a second; only who makes sound needs it)

        channels = sheet.shape[1]
        if not self._states:
            self._states = [np.zeros((len(_WEIGHTING), 2)) for _ in range(channels)]
            self._rest = np.zeros((0, channels))
        weighted = np.empty(sheet.shape)
        for channel in range(channels):
            weighted[:, channel], self._states[channel] = signal.sosfilt(
                _WEIGHTING, sheet[:, channel].astype(np.float64), zi=self._states[channel]
            )
        whole = np.concatenate((self._rest, weighted))
        steps = len(whole) // _STEP
        blocks = whole[: steps * _STEP].reshape(steps, _STEP, channels)
        self._energies += np.mean(blocks**2, axis=1).sum(axis=1).tolist()
        self._rest = whole[steps * _STEP :]

    def _look(self, sheet: Samples) -> None:
        if len(self._before) == 0:
            self._before = np.zeros((_MARGIN, sheet.shape[1]), np.float32)
        joined = np.concatenate((self._before, sheet))
        self._before = joined[-2 * _MARGIN :]
        top = float(np.max(np.abs(joined), initial=0.0))
        self._plain = max(self._plain, top)
        # A true peak is rarely 3 dB above the samples; quieter stretches cannot win.
        if top and top > 0.7 * self._plain:
            from scipy import signal  # noqa: PLC0415 (as above)

            for start in range(0, len(joined), RATE):
                part = joined[max(0, start - _MARGIN) : start + RATE + _MARGIN]
                if np.max(np.abs(part), initial=0.0) > 0.7 * self._plain:
                    over = signal.resample_poly(part.astype(np.float64), _OVER, 1, axis=0)
                    self._over = max(self._over, float(np.max(np.abs(over))))

    @property
    def loudness(self) -> float:
        """Integrated loudness so far in LUFS; silence is minus infinity."""
        steps = np.array(self._energies)
        if len(steps) < 4:
            return -np.inf
        blocks = np.convolve(steps, np.full(4, 0.25), mode="valid")
        with np.errstate(divide="ignore"):
            heard = blocks[-0.691 + 10 * np.log10(blocks) > _ABSOLUTE]
            if not len(heard):
                return -np.inf
            gate = 10 * np.log10(np.mean(heard)) + _RELATIVE
            kept = heard[10 * np.log10(heard) > gate]
            return float(-0.691 + 10 * np.log10(np.mean(kept)))

    @property
    def true_peak(self) -> float:
        """Highest peak so far, between the samples too, in dB against full scale."""
        highest = max(self._plain, self._over)
        return float(20 * np.log10(highest)) if highest else -np.inf


def _measured(samples: Samples | Iterable[Samples]) -> Meter:
    meter = Meter()
    for piece in (samples,) if isinstance(samples, np.ndarray) else samples:
        meter.add(piece)
    return meter


def loudness(samples: Samples) -> float:
    """Integrated loudness in LUFS.

    A sound shorter than one gating block is measured as if it went on; silence is minus infinity.
    """
    if len(samples) < 4 * _STEP:
        if not len(samples):
            return -np.inf
        samples = np.concatenate([samples] * (4 * _STEP // len(samples) + 1))
    return _measured(samples).loudness


def true_peak(samples: Samples) -> float:
    """Highest peak between the samples, in dB against full scale; silence is minus infinity."""
    return _measured(samples).true_peak


def gain_for(meter: Meter, target: float, ceiling: float = -1.1) -> float:
    """Factor that brings a measured recording to a loudness.

    Parameters
    ----------
    meter : Meter
        Fed with the whole recording.
    target : float
        LUFS.
    ceiling : float
        Highest true peak allowed, in dB against full scale. Where it would be passed, the whole
        recording stays quieter: nothing is clipped or squeezed.
    """
    now = meter.loudness
    if not np.isfinite(now):
        return 1.0
    return float(10 ** (min(target - now, ceiling - meter.true_peak) / 20))


def level(samples: Samples, target: float, ceiling: float = -1.1) -> Samples:
    """Bring a recording in memory to a loudness by gain alone; see `gain_for`."""
    if not len(samples):
        return samples
    out: Samples = samples * np.float32(gain_for(_measured(samples), target, ceiling))
    return out
