"""The voice that sings words: what the engine would say, at the pitch and in the time of the score.

Strengths of harmonics and of breath come from `chantwright.voice.speech`; pulses are placed by the
exact pitch, as everywhere, and a filter that changes from frame to frame gives each its vowel. The
filter is of least phase, and phases follow from strengths in a linear way, so that both may be
mixed between frames.

Conventions
-----------
48 000 samples a second; frames of singing every 5 ms. An ordinary vowel has an effective value of
about 1, whatever its pitch.

References
----------
A. V. Oppenheim and R. W. Schafer, "Discrete-Time Signal Processing" (1989), chapter 12: least
phase by the cepstrum. J. B. Allen and L. R. Rabiner, Proc. IEEE 65 (1977) 1558-1564: filtering by
overlapping frames, exact where a frame and its response fit the transform.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import fft

from chantwright.voice.contour import Contour, PhraseEvent
from chantwright.voice.joints import Array
from chantwright.voice.onset import on_the_beat
from chantwright.voice.phones import Phones
from chantwright.voice.saying import Said, say
from chantwright.voice.singer import Samples, pulses
from chantwright.voice.speech import FRAME, STEP, Spoken
from chantwright.voice.tract import EDGE, RATE
from chantwright.voice.warp import RELEASE, Warp, warp

__all__ = ["Colour", "render", "sing_words"]

_HOP = 240
_SIZE = 2048
_BINS = 512  # of 23.4 Hz: up to 12 kHz, all that the engine knows
_EVEN = 0.75  # share of the natural difference in loudness between vowels that is taken away
_MOST = 12.0  # decibels of evening at most
_REFERENCE = 220.0
_STRESS = {0: 0.0, 1: 1.2, 2: 0.6}  # decibels
_BATCH = 512
_USUAL = -22.0  # decibels of an ordinary vowel as the engine says it, counted as here
_RISE = 0.02  # seconds in which a phrase begins
_SILENT = 1e-6
_EDGE = 0.03  # seconds in which the breath of a consonant passes into a vowel's
_LATE, _LATE_FROM = 0.003, 3000.0  # seconds by which partials from this many Hz come later


@dataclass(frozen=True, slots=True)
class Colour:
    """How the engine's voice is turned into another.

    Attributes
    ----------
    scale : float
        Factor on formants: below 1 a larger mouth.
    tilt : float
        Decibels an octave added above 500 Hz.
    breath : float
        Decibels added to the breath in vowels.
    """

    scale: float = 1.0
    tilt: float = 0.0
    breath: float = 0.0


def _scaled(spectra: npt.NDArray[np.float32], colour: Colour) -> npt.NDArray[np.float32]:
    """Spectra on our own frequencies, formants moved, shape (frames, _BINS)."""
    frequencies = np.arange(_BINS) * (RATE / _SIZE)
    place = np.minimum(frequencies / colour.scale / STEP, spectra.shape[1] - 1.001)
    left = place.astype(np.intp)
    share = (place - left).astype(np.float32)
    out = spectra[:, left] * (1 - share) + spectra[:, left + 1] * share
    slope = colour.tilt * np.log2(np.maximum(frequencies, 500.0) / 500.0)
    # Above what the engine knows nothing may be made up: fade out over the last kilohertz.
    slope -= 60.0 * np.clip((frequencies / colour.scale - 11_000) / 1_000, 0, 1)
    return np.asarray(out + slope * np.log(10) / 20, np.float32)


def _least_phase(strength: npt.NDArray[np.float32]) -> npt.NDArray[np.complex64]:
    """Log strength and phase of a filter of least phase, from log strength alone."""
    whole = np.empty((len(strength), _SIZE // 2 + 1), np.float32)
    whole[:, :_BINS] = strength
    # Down to nothing above the band, gently enough for a short response.
    fall = np.linspace(0, -5, _SIZE // 2 + 1 - _BINS, dtype=np.float32)
    whole[:, _BINS:] = strength[:, -1:] + fall
    cepstrum = fft.irfft(whole, _SIZE, axis=1)
    cepstrum[:, 1 : _SIZE // 2] *= 2
    cepstrum[:, _SIZE // 2 + 1 :] = 0
    cepstrum[:, : _SIZE // 2] *= _window()
    out: npt.NDArray[np.complex64] = fft.rfft(cepstrum, _SIZE, axis=1)[:, :_BINS]
    return out


def _window() -> npt.NDArray[np.float32]:
    """Keep what a mouth can do: the cepstrum beyond 8 ms is ripple."""
    quefrency = np.arange(_SIZE // 2) / RATE
    out = 0.5 + 0.5 * np.cos(np.pi * np.clip((quefrency - 0.004) / 0.004, 0, 1))
    return out.astype(np.float32)


def _loudness_of(spoken: Spoken, start: float, end: float) -> float:
    """Decibels of a vowel, from its harmonics up to 5 kHz as if all pitches were one."""
    first, last = int(start / FRAME), max(int(end / FRAME), int(start / FRAME) + 1)
    piece = spoken.tones[first:last, : int(5000 / STEP)]
    if not len(piece):
        return 0.0
    power = np.exp(2.0 * piece) * spoken.voiced[first:last, None]
    return float(10 * np.log10(np.mean(power) * (5000 / _REFERENCE) / 2 + 1e-9))


def _gains(said: Said, phrase: PhraseEvent, line: Warp) -> tuple[Array, Array]:
    """Give moments and levels (factors) that even the vowels out, and lift the stressed ones."""
    times: list[float] = []
    levels: list[float] = []
    for event, place, (start, end) in zip(phrase.syllables, said.places, line.vowels, strict=True):
        # Three quarters of the way to an effective value of 1, counted from the usual level.
        off = _loudness_of(said.spoken, place.start, place.end) - _USUAL
        lift = -_USUAL - float(np.clip(_EVEN * off, -_MOST, _MOST))
        level = 10 ** ((lift + _STRESS.get(event.syllable.stress, 0.0)) / 20)
        times += [start, max(end, start + 1e-3)]
        levels += [level, level]
    return np.array(times), np.array(levels)


def render(
    said: Said, phrase: PhraseEvent, line: Warp, pitch: Contour, colour: Colour, seed: int
) -> Iterator[tuple[int, Samples]]:
    """Sing one phrase.

    Parameters
    ----------
    said : Said
        What the engine would say.
    phrase : PhraseEvent
        The notes.
    line : Warp
        From singing to speech.
    pitch : Contour
        Pitch in Hz at any time.
    colour : Colour
        Whose voice.
    seed : int
        For the breath.

    Yields
    ------
    first : int
        Sample that the piece begins on; pieces overlap and are to be added up.
    samples : Samples
        The piece, with its last echo.
    """
    spoken = said.spoken
    start, end = float(line.sung[0]), float(line.sung[-1])
    first = int(start * RATE) - _HOP
    frames = int(np.ceil((end * RATE - first) / _HOP)) + 2
    times = (first + _HOP * np.arange(frames)) / RATE
    source = np.clip(line.at(times) / FRAME, 0, len(spoken.tones) - 1.001)
    moments, steps = _gains(said, phrase, line)
    level = np.interp(times, moments, steps)
    # A weak vowel is lifted, but not the consonants beside it.
    hissing = np.minimum(level, np.median(steps))
    fade = np.clip((times - start) / _RISE, 0, 1) * np.clip((end - times) / RELEASE, 0, 1)
    fade = 0.5 - 0.5 * np.cos(np.pi * fade)
    level, hissing = level * fade, hissing * fade
    voiced = np.interp(source, np.arange(len(spoken.voiced)), spoken.voiced)
    inside = _inside(times, line.vowels) * voiced
    moments, hz = pulses(pitch.hz, max(0.0, start), end + 0.02)
    sizes = 0.5 * RATE / np.sqrt(hz * _REFERENCE) * np.interp(moments, times, voiced)
    heard = sizes > _SILENT
    moments, sizes = moments[heard] * RATE - first, sizes[heard]
    noise = np.random.default_rng(seed)
    breath = np.zeros(_HOP, np.float32)
    for at in range(0, frames, _BATCH):
        rows = slice(at, min(at + _BATCH, frames))
        # Every frame hears the samples around it: one hop before and one after.
        begin, stop = (rows.start - 1) * _HOP, rows.stop * _HOP
        tone = _excite(moments, sizes, begin, stop)
        fresh = noise.standard_normal(stop - begin - len(breath), dtype=np.float32)
        breath = np.concatenate((breath, fresh))
        low, high = int(source[rows].min()), int(source[rows].max()) + 2
        sheet = _shaped(tone, spoken.tones[low:high], source[rows] - low, level[rows], colour)
        sheet[:, :_BINS] *= _spread()
        hiss = _shaped(breath, spoken.breath[low:high], source[rows] - low, hissing[rows], colour)
        hiss[:, :_BINS] *= 1 - inside[rows, None].astype(np.float32) * (1 - _clear(colour.breath))
        sheet += hiss
        breath = breath[-_HOP:]
        waves = fft.irfft(sheet, _SIZE, axis=1)
        out = np.zeros((len(waves) - 1) * _HOP + _SIZE, np.float32)
        for row, wave in enumerate(waves):
            out[row * _HOP : row * _HOP + _SIZE] += wave
        yield first + begin, out


def _shaped(
    sound: Samples,
    strength: npt.NDArray[np.float32],
    source: Array,
    level: Array,
    colour: Colour,
) -> npt.NDArray[np.complex64]:
    """Spectra of frames that overlap by half and add up to one, each through its own filter."""
    filters = _least_phase(_scaled(strength, colour))
    window = (0.5 - 0.5 * np.cos(np.pi * np.arange(2 * _HOP) / _HOP)).astype(np.float32)
    pieces = np.lib.stride_tricks.sliding_window_view(sound, 2 * _HOP)[::_HOP]
    spectrum = fft.rfft(pieces * window, _SIZE, axis=1)
    left = source.astype(np.intp)
    share = (source - left).astype(np.float32)[:, None]
    right = np.minimum(left + 1, len(filters) - 1)
    mixed = filters[left] + share * (filters[right] - filters[left])
    # Strength and phase apart: ten times as fast as the exponential of a complex number.
    strong = np.exp(mixed.real)
    strong *= level[:, None].astype(np.float32)
    shape = np.empty(mixed.shape, np.complex64)
    np.multiply(strong, np.cos(mixed.imag), out=shape.real)
    np.multiply(strong, np.sin(mixed.imag), out=shape.imag)
    spectrum[:, :_BINS] *= shape
    spectrum[:, _BINS:] = 0
    return np.asarray(spectrum, np.complex64)


def _inside(times: Array, vowels: Sequence[tuple[float, float]]) -> Array:
    """Whether a moment lies within a vowel, softened at its ends."""
    edges = np.array([t for start, end in vowels for t in (start, start + _EDGE, end - _EDGE, end)])
    out: Array = np.interp(times, np.maximum.accumulate(edges), [0.0, 1.0, 1.0, 0.0] * len(vowels))
    return out


@lru_cache(maxsize=8)
def _clear(breath: float) -> npt.NDArray[np.float32]:
    """What is left of the breath within a vowel: a singer's is heard above the partials only."""
    frequencies = np.arange(_BINS) * (RATE / _SIZE)
    below = -24.0 * np.clip((3000.0 - frequencies) / 2000.0, 0, 1)
    return np.asarray(10 ** ((breath + below) / 20), np.float32)


@lru_cache(maxsize=1)
def _spread() -> npt.NDArray[np.complex64]:
    """Delay the upper partials a little, as a throat does, so that a pulse is no sharp peak."""
    frequencies = np.arange(_BINS) * (RATE / _SIZE)
    delay = _LATE * np.minimum(frequencies / _LATE_FROM, 1.0)
    turn = np.cumsum(delay) * (RATE / _SIZE)
    return np.asarray(np.exp(-2j * np.pi * turn), np.complex64)


def _excite(moments: Array, sizes: Array, begin: int, stop: int) -> Samples:
    """Band-limited pulses between the samples, from one sample to another."""
    out = np.zeros(stop - begin + 2 * EDGE, np.float32)
    low, high = np.searchsorted(moments, (begin - EDGE, stop + EDGE))
    times = moments[low:high] - begin + EDGE
    taps = np.arange(-EDGE + 1, EDGE + 1)
    whole = np.floor(times).astype(np.intp)
    offset = taps[None, :] - (times - whole)[:, None]
    window = np.cos(0.5 * np.pi * offset / EDGE) ** 2
    shape = 0.92 * np.sinc(0.92 * offset) * window * sizes[low:high, None]
    column = whole[:, None] + taps[None, :]
    good = (column >= 0) & (column < len(out))
    np.add.at(out, column[good], shape[good].astype(np.float32))
    return out[EDGE : EDGE + stop - begin]


def sing_words(
    phrases: Sequence[PhraseEvent],
    said: Sequence[Sequence[Phones]],
    pitch: Contour,
    colour: Colour,
    length: int,
) -> Iterator[Samples]:
    """Sing phrases with words.

    Parameters
    ----------
    phrases : sequence of PhraseEvent
        In order of time.
    said : sequence of sequence of Phones
        For each phrase the phones of its syllables.
    pitch : Contour
        Pitch in Hz at any time.
    colour : Colour
        Whose voice.
    length : int
        Samples to make; time 0 is the first.

    Yields
    ------
    Samples
        Piece after piece. An ordinary vowel has an effective value of about 1.
    """
    held = np.zeros(0, np.float32)
    done = 0
    quiet_since = -1.0
    for index, (phrase, groups) in enumerate(zip(phrases, said, strict=True)):
        words = say(groups, [s.syllable.place in ("single", "begin") for s in phrase.syllables])
        before = [g.onset[-1:] for g in groups]
        words = on_the_beat(words, phrase, before, colour.scale)
        line = warp(phrase, words.places, phrase.start - max(quiet_since, 0.0))
        quiet_since = phrase.notes[-1].stop
        for first, piece in render(words, phrase, line, pitch, colour, index):
            cut = -min(first, 0)
            start, sound = first + cut, piece[cut:]
            if start > done + len(held):
                held = np.concatenate((held, np.zeros(start - done - len(held), np.float32)))
            if start > done:
                yield held[: start - done]
                held, done = held[start - done :], start
            end = start + len(sound)
            if end > done + len(held):
                held = np.concatenate((held, np.zeros(end - done - len(held), np.float32)))
            held[start - done : end - done] += sound
    held = held[: length - done]
    yield np.concatenate((held, np.zeros(length - done - len(held), np.float32)))
