"""Blemishes of a whole line, which no syllable shows to its neighbours.

The search adds up prices syllable by syllable and join by join; these are seen only when a line is
finished. They are put on the best lines of a phrase, which are then ranked anew: a better line that
was dropped before is not found again, and that is accepted.

light-peak
    The highest note falls to a light or weak syllable and no main stress reaches it.
rocking
    Six notes in a row go to and fro between two.
same-turn
    Two figured stresses, one after the other, sing the same notes (the last stress apart).
busy
    Four stresses in a row have two notes or more each.
even
    Three stresses in a row are long and last alike (the last stress apart).
long-row
    Four stresses in a row are long, whatever their lengths (the last stress apart).

All are common practice, from memory of how settings are corrected; what each costs is in
``data/weights.toml``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from operator import eq

from chantwright.score import Note
from chantwright.setting.line import LONG, Sung

__all__ = ["blemishes"]

_BUSY = bytes((1, 1, 1, 1))
"""Stresses in a row, each with more than one note, that are one too many."""
_TO_AND_FRO = bytes((1, 1, 1, 1))
"""Notes in a row, each the same as the last but one, that make six notes between two."""
_PRIMARY = 1
_LONG_ROW = bytes((1, 1, 1, 1))
"""Long stresses in a row that are one too many."""


def _rocks(notes: Sequence[tuple[Note, ...]]) -> bool:
    """Whether six notes in a row go to and fro; a note sung again is one note."""
    degrees = [n.degree for syllable in notes for n in syllable]
    moves = [degree for degree, _ in groupby(degrees)]
    return _TO_AND_FRO in bytes(map(eq, moves, moves[2:]))


def blemishes(sung: Sequence[Sung], notes: Sequence[tuple[Note, ...]]) -> Iterator[str]:
    """Name what is amiss with a line as a whole, each once.

    Parameters
    ----------
    sung : sequence of Sung
        Its syllables.
    notes : sequence of tuple of Note
        What each sings.

    Yields
    ------
    str
        Names of prices.
    """
    main = [s.top for s in sung if s.code == _PRIMARY]
    if main and max([s.top for s in sung]) > max(main):
        yield "light-peak"
    if _rocks(notes):
        yield "rocking"
    stressed = [n for s, n in zip(sung, notes, strict=True) if s.code in (_PRIMARY, 2)]
    turns = [tuple([n.degree for n in part]) for part in stressed[:-1] if len(part) > 1]
    if any(a == b for a, b in pairwise(turns)):
        yield "same-turn"
    beats = [s.beats for s in sung if s.strong][:-1]
    if any(a == b == c >= LONG for a, b, c in zip(beats, beats[1:], beats[2:], strict=False)):
        yield "even"
    if _LONG_ROW in bytes([b >= LONG for b in beats]):
        yield "long-row"
    if _BUSY in bytes([len(part) > 1 for part in stressed]):
        yield "busy"
