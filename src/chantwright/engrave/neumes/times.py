"""Beats and their signs: from lengths to added beats and shared beats, and back.

Every note has one beat of its own; signs of time add whole beats. A sign of a shared beat
(gorgon and its kin) puts its note, and for some signs the next ones, into the last beat of the note
before, which becomes so much shorter. So a length is never written as such: it follows from where
the next note begins.

References
----------
Gorgon, digorgon, trigorgon and the dotted signs: common practice of the reformed notation.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from chantwright.engrave.neumes.tables import Tables
from chantwright.errors import ChantError, Where

__all__ = ["LONGEST", "Timed", "lengths", "timed"]

LONGEST = 32
"""No note is held for more beats."""


@dataclass(frozen=True, slots=True)
class Timed:
    """How one note is written in time.

    Attributes
    ----------
    added : int
        Whole beats beyond its own one (or beyond the shared one it begins in).
    part : str
        Sign of a shared beat that stands on it, or empty.
    shared : bool
        It begins inside a beat.
    """

    added: int
    part: str
    shared: bool


def timed(
    beats: Sequence[Fraction], tables: Tables, words: Sequence[str] = ()
) -> tuple[list[Timed], Fraction]:
    """Find the signs of time of notes and rests that follow each other.

    Parameters
    ----------
    beats : sequence of Fraction
        Lengths, each above 0; the first begins on a beat.
    tables : Tables
        The ways to share a beat.
    words : sequence of str
        What an error names, for each note.

    Returns
    -------
    notes : list of Timed
    pad : Fraction
        Beats missing at the end to fill the last beat.

    Raises
    ------
    ChantError
        If no sign shares a beat that way, or a note is too long.
    """
    if all(b.denominator == 1 for b in beats):  # the common case, and quick
        out = [Timed(b.numerator - 1, "", False) for b in beats]
        for index, note in enumerate(out):
            _check_length(note.added, words, index)
        return out, Fraction(0)
    starts = [Fraction(0)]
    for length in beats:
        starts.append(starts[-1] + length)
    out = []
    index, count = 0, len(beats)
    while index < count:
        start = starts[index]
        beat = start.numerator // start.denominator
        if start == beat:
            group = 1
            names = [""]
        else:
            group = 0
            while index + group < count and starts[index + group] < beat + 1:
                group += 1
            inside = tuple(s - beat for s in starts[index : index + group])
            found = tables.by_starts.get(inside)
            if found is None:
                raise ChantError(
                    "the notes that share this beat cannot be written in neumes.",
                    where=Where(word=words[index] if words else ""),
                    remedy="Share a beat by halves, thirds or quarters, with no more than four "
                    "notes in it.",
                )
            names = [found.id] + [""] * (group - 1)
        for k, name in enumerate(names):
            end = starts[index + k + 1]
            last = -(-end.numerator // end.denominator) - 1  # the beat in which it ends
            out.append(Timed(last - beat, name, start != beat))
            _check_length(last - beat, words, index + k)
        index += group
    return out, -starts[-1] % 1


def _check_length(added: int, words: Sequence[str], index: int) -> None:
    if added >= LONGEST:
        raise ChantError(
            f"a note of more than {LONGEST} beats cannot be written in neumes.",
            where=Where(word=words[index] if words else ""),
            remedy="Shorten it, or write it as two notes.",
        )


def lengths(notes: Sequence[tuple[int, str]], tables: Tables) -> list[Fraction]:
    """Find lengths again from added beats and signs of shared beats.

    Parameters
    ----------
    notes : sequence of (int, str)
        Added beats and sign of each note in order.

    Raises
    ------
    ChantError
        If a sign of a shared beat stands where there is no beat to share.
    """
    starts: list[Fraction] = []
    beat, waiting = -1, list[Fraction]()
    for added, name in notes:
        if name:
            part = tables.parts[name]
            if beat < 0 or waiting:
                raise ChantError(
                    f"a {name} has no beat before it to share.",
                    remedy="Write it on a note that follows a full beat.",
                )
            starts.append(beat + part.starts[0])
            waiting = list(part.starts[1:])
        elif waiting:
            starts.append(beat + waiting.pop(0))
        else:
            beat += 1
            starts.append(Fraction(beat))
        beat += added
        if waiting and added:
            raise ChantError(
                "a note that shares a beat with the next one is held longer than that beat.",
                remedy="Take away its signs of time.",
            )
    starts.append(Fraction(beat + 1))
    return [b - a for a, b in itertools.pairwise(starts)]
