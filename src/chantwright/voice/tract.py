"""The vocal tract: what a glottal pulse becomes in the mouth.

Each sound is an impulse response: glottal pulse, formants in cascade, radiation from the lips.
The pulses themselves, and so the pitch, are placed by `chantwright.voice.singer`.

Conventions
-----------
Frequencies in Hz, 48 000 samples a second, levels in decibels against an ordinary vowel. The
pitch of a note is handed over in classes of a quarter of a semitone. Each response is made for
its note: a vowel whose first formant lies below the note is opened until the formant meets it, as
singers do, and a note is not louder because one of its harmonics happens to meet a formant.

References
----------
Fant, "Acoustic Theory of Speech Production" (1960): source and filter. Klatt, J. Acoust. Soc.
Am. 67 (1980) 971-995: the digital resonator and the cascade. Sundberg, "The Science of the
Singing Voice" (1987): opening of high vowels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import fft

from chantwright.errors import ChantError
from chantwright.rows import Row
from chantwright.voice.joints import Array
from chantwright.voice.sounds import Spelling, load_sounds

__all__ = ["BLOCK", "EDGE", "RATE", "SIZE", "TAPS", "Tract", "pitch_class", "tract"]

RATE = 48_000
"""Samples a second of everything we render."""

TAPS = 4096
"""Length of an impulse response in samples (85 ms)."""

SIZE = 12_288
"""Length of the Fourier transforms that lay responses on pulses."""

EDGE = 12
"""A band-limited pulse reaches this many samples to either side of its moment."""

BLOCK = SIZE - TAPS - 2 * EDGE
"""Samples rendered at a time."""

_EVEN = 0.75  # share of the natural difference in loudness between vowels that is taken away
_REFERENCE = 220.0  # pulses are weighted so that loudness does not depend on pitch

Spectrum = npt.NDArray[np.complex64]


def pitch_class(hz: float) -> int:
    """Quarter of a semitone that a pitch falls in, for choosing a response."""
    return int(np.rint(48 * np.log2(hz / _REFERENCE)))


def _class_hz(pitch: int) -> float:
    return float(_REFERENCE * 2 ** (pitch / 48))


class Tract:
    """One colour of voice and its impulse responses, made when first asked for.

    Parameters
    ----------
    colour : str
        A row of the colours: ``low``, ``high``, ``child`` or ``drone``.
    spelling : Spelling
        The tables of sounds.

    Raises
    ------
    ChantError
        If there is no such colour.
    """

    def __init__(self, colour: str, spelling: Spelling) -> None:
        rows = spelling.rows["colour"]
        if colour not in rows:
            raise ChantError(
                f"there is no voice “{colour}”.", remedy=f"Choose one of: {', '.join(rows)}."
            )
        self.colour: Row = rows[colour]
        if len(self.colour["bandwidths"]) != 3 + len(self.colour["upper"]):
            raise self.colour.error(
                "it needs one bandwidth for each formant, the first three included.",
                "Add or remove bandwidths.",
            )
        self.spelling = spelling
        self._spectra: dict[tuple[str, int], Spectrum] = {}
        self._sizes: dict[float, Tract] = {}
        self._size = 1.0

    def of_size(self, size: float) -> Tract:
        """Give the same voice with a larger or smaller mouth: all formants divided by `size`."""
        if size not in self._sizes:
            other = Tract(str(self.colour.id), self.spelling)
            other._size = size
            self._sizes[size] = other
        return self._sizes[size]

    @property
    def group(self) -> str:
        """Group of singers whose usual ni this voice takes when a hymn has no base pitch."""
        return str(self.colour["group"])

    def consonant(self, sound: str) -> Row:
        """Row of a consonant."""
        return self.spelling.rows["consonant"][sound]

    def formants(self, sound: str, pitch: int) -> list[float]:
        """Formants of a sound on a note, lowest first, in Hz."""
        upper = [float(f) for f in self.colour["upper"]]
        if (row := self.spelling.rows["vowel"].get(sound)) is not None:
            lower = [float(f) for f in row[self.colour["vowels"]]]
            lower[0] = max(lower[0], min(_class_hz(pitch), 0.8 * lower[1]))
        else:
            scale = float(self.colour["scale"])
            lower = [scale * float(f) for f in self.consonant(sound)["tract"]]
        # Neighbouring formants never meet: two in one place would ring.
        for i in (1, 2):
            lower[i] = max(lower[i], lower[i - 1] + 150)
        upper[0] = max(upper[0], lower[2] + 250)
        return [f / self._size for f in lower + upper]

    def envelope(self, sound: str, pitch: int, frequencies: Array) -> npt.NDArray[np.complex128]:
        """Transfer of pulse, formants and lips at some frequencies, before evening."""
        z = np.exp(-2j * np.pi * frequencies / RATE)
        # The lips are a differentiator; the glottal pulse two poles and, for its softness, one.
        out = np.asarray(1 - z, dtype=np.complex128)
        for corner, times in ((self.colour["pulse"], 2), (self.colour["tilt"], 1)):
            a = np.exp(-2 * np.pi * float(corner) / RATE)
            out *= ((1 - a) / (1 - a * z)) ** times
        widths = [float(b) for b in self.colour["bandwidths"]]
        for formant, width in zip(self.formants(sound, pitch), widths, strict=True):
            c = -np.exp(-2 * np.pi * width / RATE)
            b = 2 * np.exp(-np.pi * width / RATE) * np.cos(2 * np.pi * formant / RATE)
            out *= (1 - b - c) / (1 - b * z - c * z * z)
        return out

    def _strength(self, sound: str, pitch: int) -> float:
        """Effective value of a sound on a note, from its harmonics below 10 kHz."""
        hz = _class_hz(pitch)
        harmonics: Array = np.arange(1, int(10_000 / hz) + 1) * np.float64(hz)
        power = float(np.sum(np.abs(self.envelope(sound, pitch, harmonics)) ** 2))
        return float(np.sqrt(2 * power * hz * _REFERENCE) / RATE)

    def response(self, sound: str, pitch: int) -> Array:
        """Impulse response of a sound, shape (TAPS,).

        Scaled so that an ``ah`` sung on unit pulses has an effective value of 1, and that every
        other sound comes three quarters of the way to it in decibels.
        """
        n = 2 * TAPS
        spectrum = self.envelope(sound, pitch, fft.rfftfreq(n, 1 / RATE))
        open_vowel = self._strength("ah", pitch)
        gain = (open_vowel / self._strength(sound, pitch)) ** _EVEN / open_vowel
        impulse: Array = fft.irfft(spectrum * gain, n)[:TAPS]
        fade = TAPS // 4
        impulse[-fade:] *= 0.5 + 0.5 * np.cos(np.pi * np.arange(fade) / fade)
        return impulse

    def spectrum(self, sound: str, pitch: int) -> Spectrum:
        """Transform of the response, shape (SIZE // 2 + 1,)."""
        key = (sound, pitch)
        if key not in self._spectra:
            response = self.response(sound, pitch).astype(np.float32)
            self._spectra[key] = fft.rfft(response, SIZE)
        return self._spectra[key]

    def lay(
        self,
        times: Array,
        levels: Array,
        keys: Sequence[tuple[str, int]],
        which: npt.NDArray[np.intp],
        length: int,
    ) -> Iterator[npt.NDArray[np.float32]]:
        """Lay the responses of sounds on pulses.

        Parameters
        ----------
        times : Array, shape (n,)
            Moments of the pulses in samples, any fraction, ascending.
        levels : Array, shape (n,)
            Their sizes.
        keys : sequence of (sound, pitch class)
            The sounds used.
        which : int array, shape (n,)
            Index into `keys` of each pulse.
        length : int
            Samples to make.

        Yields
        ------
        float32 array, shape (BLOCK,)
            One block after another; the last may be shorter.
        """
        taps = np.arange(-EDGE + 1, EDGE + 1)
        whole = np.floor(times).astype(np.intp)
        bounds = np.searchsorted(whole, np.arange(0, length + EDGE + BLOCK, BLOCK))
        held = np.zeros(SIZE, np.float32)
        for index in range(len(bounds) - 1):
            first, last = bounds[index], bounds[index + 1]
            start = index * BLOCK
            if first < last:
                used, rows = np.unique(which[first:last], return_inverse=True)
                # A moment between samples is a windowed sinc, so nothing folds back into the band.
                offset = taps[None, :] - (times[first:last] - whole[first:last])[:, None]
                window = np.cos(0.5 * np.pi * offset / EDGE) ** 2
                shape = 0.92 * np.sinc(0.92 * offset) * window * levels[first:last, None]
                sheet = np.zeros((len(used), SIZE), np.float32)
                column = (whole[first:last] - start + EDGE)[:, None] + taps[None, :]
                np.add.at(sheet, (rows[:, None], column), shape.astype(np.float32))
                spectrum = fft.rfft(sheet, axis=1, overwrite_x=True)
                total = np.zeros(SIZE // 2 + 1, np.complex64)
                for row, key in enumerate(used):
                    total += spectrum[row] * self.spectrum(*keys[key])
                held += fft.irfft(total, SIZE)
            done, held[:-BLOCK], held[-BLOCK:] = held[:BLOCK].copy(), held[BLOCK:].copy(), 0.0
            # The edge before the first moment is cut off, and so is what lies beyond the length.
            low = EDGE if index == 0 else 0
            high = min(BLOCK, length + EDGE - start)
            if high > low:
                yield done[low:high]


@lru_cache(maxsize=8)
def tract(colour: str) -> Tract:
    """Give the tract of one of our own colours, kept for the next hymn."""
    return Tract(colour, load_sounds())
