"""From speech time to singing time: vowels are stretched to their notes, consonants stay short.

Conventions
-----------
Seconds. The vowel of a syllable begins exactly on its beat. The consonants between two vowels keep
their own length and are taken from the end of the note before, unless that note is too short for
them. A diphthong is held on its first part and closes late; any other vowel is held in its middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chantwright.voice.contour import PhraseEvent
from chantwright.voice.joints import Array

__all__ = ["RELEASE", "Place", "Warp", "warp"]

RELEASE = 0.06
"""Seconds in which a voice leaves the last sound of a phrase."""

_CLUSTER = 0.32  # longest group of consonants between two vowels
_CLUSTER_PART = 0.5  # and its largest part of the note it is taken from
_AHEAD = 0.45  # longest group before the first vowel of a phrase
_ROOM_PART = 0.65  # of the silence before a phrase: the rest stays a breath
_EDGE = 0.05  # of a vowel, at its own pace at either end
_PASSAGE = 0.03  # from a vowel or coda into a vowel that begins a syllable
_BARE, _STRIKE = 0.005, 0.05  # a syllable without consonants before; length of the blow
_CLOSE = 0.16  # the closing part of a diphthong
_CLOSE_PART = 0.4
_MARGIN = 0.02


@dataclass(frozen=True, slots=True)
class Place:
    """Where one syllable's vowel lies in what was said, and whether it is a diphthong.

    Attributes
    ----------
    start, end : float
        Of the vowel.
    first, last : float
        Of the syllable, its consonants included.
    glide : bool
        A diphthong.
    """

    start: float
    end: float
    first: float
    last: float
    glide: bool

    bare: bool = False
    """No consonant before the vowel."""

    @property
    def length(self) -> float:
        """Of the vowel."""
        return self.end - self.start


@dataclass(frozen=True, slots=True, eq=False)
class Warp:
    """A line from singing time to speech time.

    Attributes
    ----------
    sung, said : Array, shape (n,)
        Matching moments, both ascending.
    vowels : tuple of (start, end)
        Each vowel as sung.
    """

    sung: Array
    said: Array
    vowels: tuple[tuple[float, float], ...]

    def at(self, times: Array) -> Array:
        """Moment in speech of moments in singing."""
        out: Array = np.interp(times, self.sung, self.said)
        return out


def warp(phrase: PhraseEvent, places: Sequence[Place], room: float) -> Warp:
    """Lay what was said on the notes of a phrase.

    Parameters
    ----------
    phrase : PhraseEvent
        Its syllables in time.
    places : sequence of Place
        One for each syllable.
    room : float
        Seconds of silence before the phrase, which its first consonants may use.
    """
    sung: list[float] = []
    said: list[float] = []
    vowels = []

    def pin(time: float, source: float) -> None:
        sung.append(max(time, sung[-1] + 1e-4) if sung else time)
        said.append(max(source, said[-1]) if said else source)

    places = [_softened(p) for p in places]
    places[-1] = _ended(places[-1])
    first = places[0]
    lead = first.start - first.first
    ahead = min(lead, _AHEAD, max(_ROOM_PART * room - _MARGIN, 0.0))
    pin(phrase.start - ahead - _MARGIN, first.first - _MARGIN)
    if ahead > 0:
        pin(phrase.start - ahead, first.first)
    stop = phrase.notes[-1].stop
    for index, (event, place) in enumerate(zip(phrase.syllables, places, strict=True)):
        start = event.start
        last = index == len(places) - 1
        end = stop - RELEASE if last else event.end
        following = place.last if last else places[index + 1].start
        cluster = max(following - place.end, 0.0)
        if not last and places[index + 1].bare:
            cluster = min(cluster, max(place.last - place.end, 0.0) + _PASSAGE)
        note = end - event.notes[-1].start
        close = end - min(cluster, _CLUSTER, _CLUSTER_PART * note)
        pin(start, place.start)
        _hold(pin, start, close, place, close - event.notes[-1].start)
        vowels.append((start, close))
        if last:
            pin(end, following)
            pin(stop, following)
    return Warp(np.array(sung), np.array(said), tuple(vowels))


def _ended(place: Place) -> Place:
    """Keep the last vowel of a phrase clear of the breath that is said after it."""
    if place.last - place.end > _BARE:
        return place
    end = place.end - min(_STRIKE, 0.3 * place.length)
    return replace(place, end=end, last=end)


def _softened(place: Place) -> Place:
    """Leave out the blow with which speech strikes a vowel that begins a word."""
    if place.start - place.first >= _BARE:
        return place
    start = place.start + min(_STRIKE, 0.3 * place.length)
    return replace(place, start=start, first=start, bare=True)


def _hold(pin, start: float, end: float, place: Place, last: float) -> None:  # type: ignore[no-untyped-def]
    """Stretch a vowel: its ends at their own pace, what lies between as long as need be."""
    length, source = end - start, place.end - place.start
    if length <= source or source <= 0:
        pin(end, place.end)
        return
    if place.glide:
        edge = min(_EDGE, 0.2 * source)
        closing = min(0.6 * source, _CLOSE_PART * last if last > 0 else 0.0, _CLOSE)
        pin(start + edge, place.start + edge)
        pin(end - closing, place.start + 0.4 * source)
    else:
        edge = min(_EDGE, 0.3 * source)
        pin(start + edge, place.start + edge)
        pin(end - edge, place.end - edge)
    pin(end, place.end)
