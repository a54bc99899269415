"""How a take was sung beside its pitches: tempo, breath, and how the phrases close.

Conventions
-----------
Seconds and beats a minute; moria for a closing note that sinks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from chantwright.ear.alignment import Heard
from chantwright.ear.contour import Contour
from chantwright.ear.expected import to_moria

__all__ = ["Breath", "Closing", "breaths", "closings", "tempi"]

_HELD = 0.35  # seconds that a closing note must last before it can be said to sink


@dataclass(frozen=True, slots=True)
class Breath:
    """A silence within a phrase: index of the note that follows it, and its length in seconds."""

    before: int
    seconds: float
    within_word: bool


@dataclass(frozen=True, slots=True)
class Closing:
    """How a phrase closes: its last note, how far it sinks, and how much of its length it lasts."""

    index: int
    sinks: float
    part: float


def _beat(heard: Sequence[Heard]) -> float:
    """Seconds a beat, phrase ends left out."""
    lengths = [(h.end - h.start) / h.asked.beats for h in heard if not h.asked.last]
    return float(np.median(lengths)) if lengths else float("nan")


def tempi(heard: Sequence[Heard]) -> tuple[float, float, float]:
    """Beats a minute of the whole, of its first half and of its second half."""
    half = len(heard) // 2
    with np.errstate(invalid="ignore"):
        whole, first, second = (_beat(h) for h in (heard, heard[:half], heard[half:]))
    return 60.0 / whole, 60.0 / first, 60.0 / second


def breaths(
    heard: Sequence[Heard], within: Sequence[bool], contour: Contour, least: float
) -> tuple[Breath, ...]:
    """Silences of at least `least` seconds between two notes of one phrase.

    Parameters
    ----------
    heard : sequence of Heard
        In order of time.
    within : sequence of bool
        For every note of the hymn, whether it begins a syllable that goes on with a word.
    contour : Contour
        Of the take.
    least : float
        Seconds.
    """
    out = []
    for left, right in pairwise(heard):
        if (
            left.asked.phrase != right.asked.phrase
            or left.asked.last
            or right.index != left.index + 1
        ):
            continue
        first = round((left.start + 0.5 * (left.end - left.start) - contour.start) / contour.hop)
        last = round((right.start + 0.1 - contour.start) / contour.hop)
        silent = ~contour.voiced[first : last + 1]
        longest = _longest(silent) * contour.hop
        if longest >= least:
            out.append(Breath(right.index, longest, within[right.index]))
    return tuple(out)


def _longest(flags: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
    best = run = 0
    for flag in flags.tolist():
        run = run + 1 if flag else 0
        best = max(best, run)
    return best


def closings(heard: Sequence[Heard], contour: Contour) -> tuple[Closing, ...]:
    """How each phrase closes, against the tempo of its own notes."""
    beat = _beat(heard)
    moria = to_moria(contour.f0)
    out = []
    for one in heard:
        if not one.asked.last:
            continue
        first = round((one.start - contour.start) / contour.hop)
        last = round((one.end - contour.start) / contour.hop)
        piece = moria[first:last]
        piece = piece[np.isfinite(piece)]
        sinks = 0.0
        if len(piece) * contour.hop >= _HELD:
            third = len(piece) // 3
            # The very end of a voice is often a fall of the breath, not of the note.
            close = piece[-third : max(-1, -third // 4) or None]
            sinks = float(np.median(piece[third : 2 * third]) - np.median(close))
        sounding = len(piece) * contour.hop
        part = sounding / (beat * one.asked.beats) if np.isfinite(beat) and beat > 0 else 1.0
        out.append(Closing(one.index, sinks, part))
    return tuple(out)
