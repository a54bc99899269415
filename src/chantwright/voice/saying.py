"""What the engine would say for a phrase, and where each syllable lies in it.

A phrase is said in one breath, as far as the engine can: longer ones are said in parts at ends of
words, and the parts are set one after the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from chantwright.voice.aligning import align
from chantwright.voice.diction import TAIL
from chantwright.voice.phones import GLIDES, Phones
from chantwright.voice.speech import FRAME, Spoken, speaker
from chantwright.voice.warp import Place

__all__ = ["Said", "say"]

_MOST = 40  # syllables said at a time
_AROUND = 4  # frames kept before the first phone and after the last


@dataclass(frozen=True, slots=True, eq=False)
class Said:
    """Frames of a phrase and the places of its syllables.

    Attributes
    ----------
    spoken : Spoken
        What is said.
    places : tuple of Place
        One for each syllable.
    """

    spoken: Spoken
    places: tuple[Place, ...]


def say(groups: Sequence[Phones], begins: Sequence[bool]) -> Said:
    """Say the syllables of a phrase.

    Parameters
    ----------
    groups : sequence of Phones
        One for each syllable.
    begins : sequence of bool
        Whether a word begins with it.
    """
    parts: list[list[int]] = [[]]
    for index, begin in enumerate(begins):
        if begin and len(parts[-1]) >= _MOST:
            parts.append([])
        parts[-1].append(index)
    said = [_say(tuple(groups[i] for i in part), tuple(begins[i] for i in part)) for part in parts]
    if len(said) == 1:
        return said[0]
    places: list[Place] = []
    shift = 0.0
    for piece in said:
        places += [
            Place(p.start + shift, p.end + shift, p.first + shift, p.last + shift, p.glide)
            for p in piece.places
        ]
        shift += len(piece.spoken.tones) * FRAME
    whole = Spoken(
        np.concatenate([s.spoken.tones for s in said]),
        np.concatenate([s.spoken.breath for s in said]),
        np.concatenate([s.spoken.voiced for s in said]),
        (),
        np.zeros(1),
    )
    return Said(whole, tuple(places))


@lru_cache(maxsize=16)
def _say(groups: tuple[Phones, ...], begins: tuple[bool, ...]) -> Said:
    text = "".join(
        (" " if begin and i else "") + group.said
        for i, (group, begin) in enumerate(zip(groups, begins, strict=True))
    )
    spoken = speaker().say(f"{text} {TAIL}")
    spans = align(spoken)
    count = sum(len(g.onset) + 1 + len(g.coda) for g in groups)
    first = max(int(spans[0][0] / FRAME) - _AROUND, 0)
    last = min(int(spans[count - 1][1] / FRAME) + _AROUND, len(spoken.tones))
    shift = first * FRAME
    places = []
    at = 0
    for group in groups:
        size = len(group.onset) + 1 + len(group.coda)
        start, end = spans[at + len(group.onset)]
        places.append(
            Place(
                start - shift,
                end - shift,
                spans[at][0] - shift,
                spans[at + size - 1][1] - shift,
                group.nucleus in GLIDES,
            )
        )
        at += size
    cut = Spoken(
        spoken.tones[first:last],
        spoken.breath[first:last],
        spoken.voiced[first:last],
        (),
        np.zeros(1),
    )
    return Said(cut, tuple(places))
