"""How the tests listen: hymns to sing, and two trackers of pitch that know nothing of each other.

WORLD's DIO finds zero crossings of band-passed sound and StoneMask refines them by instantaneous
frequency (Morise 2009, 2016). The other is plain autocorrelation: the lag at which a stretch of
sound is most like itself, taken over several turns and between samples.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import numpy.typing as npt
import pyworld
from scipy import signal

from chantwright.score import UNISON, Base, Hymn, Note, Phrase, Syllable
from chantwright.tones import Tones, bends
from chantwright.voice import Track

RATE = 48_000
Floats = npt.NDArray[np.float64]


def ladder(
    tones: Tones, branch_id: str, base_hz: float | None, text: Sequence[str] = ("la",)
) -> Hymn:
    """Up and down the usual compass of a branch, every written attraction included."""
    branch = tones.branch(branch_id)
    low, high = branch.usual
    line = [branch.base, *range(low, high + 1), *range(high - 1, low - 1, -1), branch.base]
    bent = bends(tones, branch, line, level="all")
    syllables = tuple(
        Syllable(text[i % len(text)], notes=(Note(d, Fraction(1), b),), ison=branch.ison_base)
        for i, (d, b) in enumerate(zip(line, bent, strict=True))
    )
    middle = len(syllables) // 2
    return Hymn(
        "Ladder",
        tone=branch.tone,
        branch=branch.id,
        style=branch.style,
        language="la",
        tempo=80,
        base=None if base_hz is None else Base(branch.base, base_hz),
        phrases=(Phrase(syllables[:middle]), Phrase(syllables[middle:], rest=Fraction(1))),
    )


def psalm(tones: Tones, tone: int = 1, verses: int = 1) -> Hymn:
    """A line of Psalm 141 (King James) on a plain melody of our own, with a moving ison."""
    branch = tones.default_branch(tone)
    words = ["Lord,", "I", "have", "cried", "un-", "to", "thee:"]
    words += ["make", "haste", "un-", "to", "me;"]
    steps = [0, 0, 1, 2, 3, 2, 1, 3, 2, 1, 0, 0]
    syllables = []
    for i, (word, step) in enumerate(zip(words, steps, strict=True)):
        note = Note(branch.base + step, Fraction(2 if i in (6, 11) else 1))
        ison = UNISON if i > 9 else branch.base + (2 if i in (4, 5, 6) else 0)
        syllables.append(Syllable(word, stress=i in (0, 3, 7), notes=(note,), ison=ison))
    return Hymn(
        "Evening Psalm",
        tone=tone,
        branch=branch.id,
        style=branch.style,
        base=Base(branch.base, 150.0),
        phrases=(Phrase(tuple(syllables)),) * verses,
    )


def by_world(
    samples: npt.NDArray[np.float32], times: Floats, low: float = 50.0, high: float = 900.0
) -> Floats:
    """Pitch at given times by DIO and StoneMask, in the range of the voice; 0 where none."""
    sound = samples.astype(np.float64)
    hz, at = pyworld.dio(sound, RATE, f0_floor=low, f0_ceil=high, frame_period=5.0)
    hz = pyworld.stonemask(sound, hz, at, RATE)
    out: Floats = hz[np.clip(np.rint(times / 0.005).astype(int), 0, len(hz) - 1)]
    return out


def by_autocorrelation(
    samples: npt.NDArray[np.float32], times: Floats, low: float = 60.0, high: float = 900.0
) -> Floats:
    """Pitch at given times from 100 ms around each."""
    half = int(0.05 * RATE)
    out = np.zeros(len(times))
    window = np.hanning(2 * half)
    size = 1 << 14
    # What the window alone does to the lags is divided out.
    shape = np.fft.irfft(np.abs(np.fft.rfft(window, size)) ** 2)
    for i, time in enumerate(times):
        centre = round(time * RATE)
        piece = samples[centre - half : centre + half].astype(np.float64)
        if len(piece) < 2 * half or not piece.any():
            continue
        like = np.fft.irfft(np.abs(np.fft.rfft(piece * window, size)) ** 2)
        like = like[: half + 3] / shape[: half + 3]
        first, last = int(RATE / high), min(int(RATE / low), half)
        lag = first + int(np.argmax(like[first:last] >= 0.99 * np.max(like[first:last])))
        while lag + 1 < last and like[lag + 1] > like[lag]:
            lag += 1
        period = _top(like, lag)
        for turns in range(2, 6):
            if lag <= turns * period < half - 4:
                near = round(turns * period)
                spot = near - 2 + int(np.argmax(like[near - 2 : near + 3]))
                period = _top(like, spot) / turns
        out[i] = RATE / period
    return out


def _top(like: Floats, lag: int) -> float:
    """Place of a peak between samples, by a parabola."""
    a, b, c = like[lag - 1 : lag + 2]
    return lag + 0.5 * float(a - c) / float(a - 2 * b + c)


def inside(
    track: Track, margin: float = 0.05, *, consonants: bool = False
) -> list[tuple[int, Floats]]:
    """Times well inside each note: index of the note, and its times every 10 ms.

    Glides last 90 ms, 45 of them inside; with consonants the last part of a note belongs to them.
    """
    out = []
    for index, note in enumerate(track.timing.notes):
        length = note.stop - note.start
        late = min(0.32, 0.5 * length) + 0.06 if consonants else margin
        out.append((index, np.arange(note.start + margin, note.stop - late, 0.01)))
    return out


def errors(track: Track, hz: Floats, spans: list[tuple[int, Floats]]) -> Floats:
    """Cents off the asked pitch, of every time that was heard."""
    asked = np.concatenate([np.full(len(t), track.timing.notes[i].hz) for i, t in spans])
    heard = hz > 0
    out: Floats = 1200 * np.log2(hz[heard] / asked[heard])
    return out


def voicing(sound: np.ndarray) -> np.ndarray:
    """Level of the first partials over time, seen through a window of 12.5 ms."""
    band = signal.sosfiltfilt(
        signal.butter(4, (110, 900), "band", fs=RATE, output="sos"), sound.astype(np.float64)
    )
    return np.asarray(
        np.sqrt(signal.fftconvolve(band**2, np.hanning(RATE // 80) / (RATE // 160), "same").clip(0))
    )


def onset(level: np.ndarray, start: float, end: float, around: float = 0.08) -> float:
    """Seconds after `start` at which a note's voice first has half the level that it will keep."""
    here = slice(round((start - around) * RATE), round((start + around) * RATE))
    # The second half of a short note may be the consonants of the next.
    kept = slice(round((start + 0.1) * RATE), round(min(start + 0.3, (start + end) / 2) * RATE))
    return float(np.argmax(level[here] > 0.5 * np.median(level[kept])) / RATE - around)
