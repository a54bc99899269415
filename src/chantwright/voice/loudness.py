"""How loud a recording is, and how high its peaks are.

Conventions
-----------
Sound at 48 000 samples a second, shape (n,) or (n, channels). Loudness in LUFS, peaks in dB
against full scale. Long recordings are measured piece by piece.

References
----------
ITU-R BS.1770-4 (2015): K-weighting at 48 kHz, gating (annex 1), true peak by four times
oversampling (annex 2).
"""

from __future__ import annotations

import numpy as np
from scipy import signal

from chantwright.voice.singer import Samples
from chantwright.voice.tract import RATE

__all__ = ["level", "loudness", "true_peak"]

# BS.1770-4, annex 1, tables 1 and 2.
_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285),
          (1.0, -1.69065929318241, 0.73248077421585))  # fmt: skip
_HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
_WEIGHTING = signal.tf2sos(np.convolve(_SHELF[0], _HIGH_PASS[0]),
                           np.convolve(_SHELF[1], _HIGH_PASS[1]))  # fmt: skip
_STEP = RATE // 10  # gating blocks of 400 ms move by 100 ms
_PIECE = 300 * _STEP
_ABSOLUTE, _RELATIVE = -70.0, -10.0
_OVER = 4


def _energies(samples: Samples) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """K-weighted mean square of every 100 ms, the channels added up."""
    sheet = samples.reshape(len(samples), -1)
    out = np.zeros(len(sheet) // _STEP)
    for channel in range(sheet.shape[1]):
        state = np.zeros((len(_WEIGHTING), 2))
        for start in range(0, len(sheet), _PIECE):
            piece = sheet[start : start + _PIECE, channel].astype(np.float64)
            weighted, state = signal.sosfilt(_WEIGHTING, piece, zi=state)
            steps = len(weighted) // _STEP
            first = start // _STEP
            blocks = weighted[: steps * _STEP].reshape(steps, _STEP)
            out[first : first + steps] += np.mean(blocks**2, axis=1)
    return out


def loudness(samples: Samples) -> float:
    """Integrated loudness in LUFS.

    A sound shorter than one gating block is measured as if it went on; silence is minus infinity.
    """
    if len(samples) < 4 * _STEP:
        if not len(samples):
            return -np.inf
        times = 4 * _STEP // len(samples) + 1
        samples = np.concatenate([samples] * times)
    steps = _energies(samples)
    blocks = np.convolve(steps, np.full(4, 0.25), mode="valid")
    with np.errstate(divide="ignore"):
        heard = blocks[-0.691 + 10 * np.log10(blocks) > _ABSOLUTE]
        if not len(heard):
            return -np.inf
        gate = 10 * np.log10(np.mean(heard)) + _RELATIVE
        kept = heard[10 * np.log10(heard) > gate]
        return float(-0.691 + 10 * np.log10(np.mean(kept)))


def true_peak(samples: Samples) -> float:
    """Highest peak between the samples, in dB against full scale; silence is minus infinity."""
    sheet = samples.reshape(len(samples), -1)
    plain = float(max(np.max(sheet, initial=0.0), -np.min(sheet, initial=0.0)))
    if plain == 0:
        return -np.inf
    highest, margin = plain, 64
    for channel in range(sheet.shape[1]):
        for start in range(0, len(sheet), RATE):
            piece = sheet[max(0, start - margin) : start + RATE + margin, channel]
            # A true peak is rarely 3 dB above the samples; quieter stretches cannot win.
            if np.max(np.abs(piece)) > 0.7 * plain:
                over = signal.resample_poly(piece.astype(np.float64), _OVER, 1)
                highest = max(highest, float(np.max(np.abs(over))))
    return float(20 * np.log10(highest))


def level(samples: Samples, target: float, ceiling: float = -1.0) -> Samples:
    """Bring a recording to a loudness by gain alone.

    Parameters
    ----------
    samples : Samples
        As rendered, at any level.
    target : float
        LUFS.
    ceiling : float
        Highest true peak allowed, in dB against full scale. Where it would be passed, the whole
        recording stays quieter: nothing is clipped or squeezed.
    """
    now = loudness(samples)
    if not np.isfinite(now):
        return samples
    gain = min(target - now, ceiling - true_peak(samples))
    out: Samples = samples * np.float32(10 ** (gain / 20))
    return out
