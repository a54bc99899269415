"""Where a vowel after a consonant without voice is heard to begin, at the pitch it is sung at.

Phones are laid on whole frames of 12.5 ms, and the voice may rise anywhere in one; besides, a high
voice has few partials, and the first of them may be late. So the beat is put where the partials
that will sound reach half of their later strength.

Conventions
-----------
Seconds of speech time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from chantwright.voice.contour import PhraseEvent
from chantwright.voice.joints import Array
from chantwright.voice.saying import Said
from chantwright.voice.speech import FRAME, STEP, Spoken
from chantwright.voice.warp import Place

__all__ = ["on_the_beat"]

_BREATHED = frozenset("ptkfsʃθʧ")
_SEARCH = 2.5 * FRAME  # from the boundary, either way
_FINE = 0.001
_HEARD = 0.5
_LOW, _HIGH = 110.0, 900.0  # Hz: where there is voice and little noise
_LAG = 0.001  # by which the mouth's echo and the place of the pulses delay what is heard


def on_the_beat(said: Said, phrase: PhraseEvent, last_sounds: Sequence[str], scale: float) -> Said:
    """Move the beginnings of vowels to where they are heard to begin.

    Parameters
    ----------
    said : Said
        What is said.
    phrase : PhraseEvent
        What is sung; it tells the pitch.
    last_sounds : sequence of str
        For each syllable the consonant before its vowel; empty for none.
    scale : float
        Factor by which formants are moved.
    """
    places = [
        _begun(said.spoken, place, event.notes[0].hz, scale) if sound in _BREATHED else place
        for place, event, sound in zip(said.places, phrase.syllables, last_sounds, strict=True)
    ]
    return replace(said, places=tuple(places))


def _begun(spoken: Spoken, place: Place, hz: float, scale: float) -> Place:
    first = max(int((place.start - _SEARCH) / FRAME) - 1, 0)
    last = min(int(np.ceil(place.end / FRAME)) + 1, len(spoken.tones))
    partials = hz * np.arange(max(1, np.ceil(_LOW / hz)), max(_HIGH / hz, 2.0))
    points = np.minimum(np.rint(partials / scale / STEP).astype(np.intp), spoken.tones.shape[1] - 1)
    power = np.exp(2.0 * spoken.tones[first:last, points].astype(np.float64)).sum(axis=1)
    strength, frames = 0.5 * np.log(power + 1e-12), np.arange(first, last)

    def level(times: Array) -> Array:
        at = times / FRAME
        voiced = np.interp(at, frames, spoken.voiced[first:last])
        return np.asarray(voiced * np.exp(np.interp(at, frames, strength)))

    third = place.length / 3
    full = float(np.median(level(np.arange(place.start + third, place.end - third, _FINE))))
    low = max(place.start - _SEARCH, place.first + _FINE)
    times = np.arange(low, min(place.start + _SEARCH, place.end - third), _FINE)
    found = np.flatnonzero(level(times) > _HEARD * full)
    if not len(found) or not found[0]:
        return place  # the voice never stopped, or comes later than a vowel's may
    return replace(place, start=float(times[found[0]]) + _LAG)
