"""The speech engine, and what it says before it becomes sound.

The engine (hibari-tts, one American English voice inside its package) is a network that predicts,
for every frame of speech, how strong each harmonic and how strong the breath noise is at every
frequency. We take these directly, together with its lengths of phones, and make the sound
ourselves: so the pitch and the time are ours alone, and nothing needs to be estimated from a
waveform. It never touches a network connection: only the voice inside the package is opened.

Conventions
-----------
Frames every 12.5 ms; frequencies from 0 to 12 kHz in steps of 20 Hz; strengths are natural
logarithms of amplitudes. Times in seconds from the beginning of what is said.

References
----------
The engine's own description of its outputs (hibari-tts 0.2.1, "ONNX interface"). Protocol Buffers
encoding specification: two messages set end to end are one message with the fields of both, which
is how the lengths of phones, otherwise internal, are asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from chantwright.errors import ChantError
from chantwright.voice.joints import Array
from chantwright.voice.singer import Samples
from chantwright.voice.tract import RATE

__all__ = ["FRAME", "STEP", "Speaker", "Spoken", "speaker"]

FRAME = 0.0125
"""Seconds between frames."""

STEP = 20.0
"""Hz between the points of a spectrum."""

_ENGINE = "hibari-tts 0.2.1"
_LENGTHS = "/Cast_32_output_0"  # lengths of phones in units of two frames
_LAG = 0.075  # the engine's lengths run this much behind its sound; see `Spoken`
_ENGINE_RATE = 24_000
_SPEED = 0.8  # a little slower than speech: consonants come out whole
_HEARD = 40.0  # Hz of pitch above which the engine sounds harmonics
_LOG_WINDOW = float(np.log(300.0))  # a harmonic of amplitude 1 peaks at 300 in the engine's frames
# Noise of deviation 1 has a power of 450 in each of them, and frames of free phases that overlap by
# three quarters cancel to a quarter of their power (measured: -6.0 and -6.2 dB).
_LOG_NOISE = 0.5 * float(np.log(450.0 * 4.0))
_FLOOR = -16.0


@dataclass(frozen=True, slots=True, eq=False)
class Spoken:
    """What the engine would say, frame by frame.

    Attributes
    ----------
    tones : float32 array, shape (frames, points)
        Log amplitude of a harmonic at each frequency, filled in between harmonics and through
        frames without pitch.
    breath : float32 array, shape (frames, points)
        Log deviation of white noise (48 000 samples a second) shaped at each frequency.
    voiced : Array, shape (frames,)
        0 where there is no pitch, 1 where there is.
    symbols : tuple of str
        What was read: phones, marks and spaces.
    starts : Array, shape (symbols + 1,)
        Where each begins, in seconds, as the network planned it: right to about a frame or two.
    """

    tones: npt.NDArray[np.float32]
    breath: npt.NDArray[np.float32]
    voiced: Array
    symbols: tuple[str, ...]
    starts: Array


class Speaker:
    """The engine, loaded once.

    Raises
    ------
    ChantError
        If the engine is not installed or is not the version we know.
    """

    def __init__(self) -> None:
        try:
            # Half a second to open; only who sings words needs it.
            import hibari  # noqa: PLC0415
            import onnxruntime  # noqa: PLC0415

            self._engine: Any = hibari.Hibari(voice="heart")
            options = onnxruntime.SessionOptions()
            options.intra_op_num_threads = options.inter_op_num_threads = 1
            options.log_severity_level = 3
            model = _with_output(Path(self._engine.model_path).read_bytes(), _LENGTHS)
            self._session = onnxruntime.InferenceSession(
                model, options, providers=["CPUExecutionProvider"]
            )
        except Exception as exc:
            raise ChantError(
                f"the voice that speaks words cannot be opened ({type(exc).__name__}).",
                remedy=f"Install {_ENGINE}, or ask for the plain voice.",
            ) from None

    def pronounce(self, words: Sequence[str]) -> list[str]:
        """Phones of each word of a phrase, read in the company of the others.

        Parameters
        ----------
        words : sequence of str
            Whole words; marks around them are left out.

        Returns
        -------
        list of str
            Empty for what cannot be read.
        """
        bare = ["".join(c for c in w if c.isalpha() or c in "'’-").strip("-'’") for w in words]
        text = " ".join(w for w in bare if w)
        tokens = self._engine.g2p.phonemize_tokens(self._engine.g2p.tokenize(text))
        out = ["" for _ in bare]
        ends = np.cumsum([len(w) + 1 for w in bare if w])
        places = [i for i, w in enumerate(bare) if w]
        at = 0
        for token in tokens:
            word = int(np.searchsorted(ends, at, side="right"))
            if word < len(places):
                out[places[word]] += token.phonemes or ""
            at += len(token.text) + len(token.whitespace)
        return out

    def say(self, phones: str) -> Spoken:
        """Say phones, words parted by spaces."""
        ids = self._engine.ids(phones)
        tones, _, noise, rest, _, pitch, lengths = self._session.run(
            None,
            {"ids": np.array([ids], np.int64), "speed": np.array([_SPEED], np.float32)},
        )
        names = {number: symbol for symbol, number in self._engine.vocab.items()}
        symbols = tuple(names.get(i, "") for i in ids)
        starts = np.concatenate(([0.0], np.cumsum(lengths.reshape(-1)) * 2 * FRAME))
        return _spoken(tones[0].T, noise[0].T, rest[0].T, pitch[0], symbols, starts)

    def speak(self, text: str) -> Samples:
        """Speak a text as speech, 48 000 samples a second, at the engine's own level."""
        from scipy import signal  # noqa: PLC0415 (half a second to open, for titles alone)

        sound = self._engine(text, speed=0.9, seed=1)
        out: Samples = signal.resample_poly(sound, RATE // _ENGINE_RATE, 1).astype(np.float32)
        return out


@lru_cache(maxsize=1)
def speaker() -> Speaker:
    """Open the engine, once."""
    return Speaker()


def _varint(number: int) -> bytes:
    out = b""
    while True:
        number, low = number >> 7, number & 127
        out += bytes([low | (128 if number else 0)])
        if not number:
            return out


def _with_output(model: bytes, name: str) -> bytes:
    """Ask a model for one more of its values: field 7 is its graph, 12 an output, 1 a name."""
    field = name.encode()
    for number in (1, 12, 7):
        field = _varint(number << 3 | 2) + _varint(len(field)) + field
    return model + field


def _spoken(
    tones: npt.NDArray[np.float32],
    noise: npt.NDArray[np.float32],
    rest: npt.NDArray[np.float32],
    pitch: npt.NDArray[np.float32],
    symbols: tuple[str, ...],
    starts: Array,
) -> Spoken:
    voiced = (pitch > _HEARD).astype(np.float64)
    grid = np.arange(tones.shape[1])
    filled = np.full(tones.shape, _FLOOR, np.float32)
    heard = np.flatnonzero(voiced)
    smooth = ndimage.uniform_filter1d(tones, 3, axis=1)
    for frame in heard:
        # Between the harmonics of what was said the network's value means nothing.
        places = np.arange(1, int(11_000 / pitch[frame])) * (pitch[frame] / STEP)
        values = np.interp(places, grid, smooth[frame])
        filled[frame] = np.interp(grid, places, values) - _LOG_WINDOW
    if len(heard):
        nearest = heard[np.argmin(np.abs(np.arange(len(tones))[:, None] - heard[None, :]), axis=1)]
        filled = filled[nearest]
    power = np.exp(2 * np.minimum(noise, 7)) + np.exp(2 * np.minimum(rest, 7))
    power = ndimage.gaussian_filter1d(power, 4, axis=1)
    breath = (0.5 * np.log(power + 1e-12) - _LOG_NOISE + 0.5 * np.log(2)).astype(np.float32)
    return Spoken(filled, breath, voiced, symbols, np.maximum(starts - _LAG, 0.0))
