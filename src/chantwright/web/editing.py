"""Edits from the hymn page: each writes the hymn file whole, and can be taken back.

The first edit of words that have no melody writes the melody that is shown into their file. What
stood before is kept (`chantwright.parish.trail`), so that a change can be taken back after the
server was started anew, and by another server of the same parish.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from chantwright.errors import ChantError
from chantwright.parish import Knowledge, trail
from chantwright.score import Hymn, edit, hymnfile
from chantwright.setting import set_phrase

__all__ = ["CHANGES", "change", "other_ways", "phrase_alone", "save", "take_way"]

CHANGES = ("up", "down", "longer", "shorter")
WAYS = 5
_LONGEST, _SHORTEST = Fraction(8), Fraction(1, 4)


def save(path: Path, hymn: Hymn) -> None:
    """Write a hymn and keep what its file held.

    Raises
    ------
    ChantError
        If the file cannot be written; it is then unchanged.
    """
    trail.keep(path, hymnfile.dumps(hymn))


def change(hymn: Hymn, note_id: str, what: str) -> Hymn:
    """Move a note by a step, or make it twice or half as long.

    Raises
    ------
    ChantError
        If there is no such note or change, or the note would leave every voice.
    """
    i, j, k = edit.find_note(hymn, note_id)
    note = hymn.phrases[i].syllables[j].notes[k]
    if what in ("up", "down"):
        step = 1 if what == "up" else -1
        return edit.change_note(hymn, note_id, degree=note.degree + step, bend=Fraction(0))
    if what in ("longer", "shorter"):
        beats = note.beats * (2 if what == "longer" else Fraction(1, 2))
        if not _SHORTEST <= beats <= _LONGEST:
            raise ChantError(
                f"a note of {beats} beats is not made here.",
                remedy="Write it in the hymn file if you mean it.",
            )
        return edit.change_note(hymn, note_id, beats=beats)
    raise ChantError(f"“{what}” is no change.", remedy=f"Use one of: {', '.join(CHANGES)}.")


def phrase_alone(hymn: Hymn, phrase: str) -> Hymn:
    """Return a hymn of one phrase, in the scale that holds there.

    Raises
    ------
    ChantError
        If there is no such phrase.
    """
    scale = None
    for one in hymn.phrases:
        scale = one.scale or scale
        if one.id == phrase:
            return replace(hymn, phrases=(replace(one, scale=scale),))
    raise ChantError("there is no such phrase.", remedy="Choose one shown.")


def other_ways(hymn: Hymn, phrase: str, knowledge: Knowledge, ison: str) -> tuple[Hymn, ...]:
    """Return other ways to sing one phrase, best first; the others stay as they are.

    Raises
    ------
    ChantError
        If there is no such phrase, or no formula book for the branch.
    """
    found = set_phrase(hymn, phrase, knowledge.tones, knowledge.books, count=WAYS + 1, ison=ison)
    now = next(p for p in hymn.phrases if p.id == phrase)
    sung = [[n for s in now.syllables for n in s.notes]]
    out = []
    for one in found:
        new = next(p for p in one.hymn.phrases if p.id == phrase)
        notes = [n for s in new.syllables for n in s.notes]
        if notes not in sung:
            sung.append(notes)
            out.append(replace(one.hymn, base=hymn.base, melody_source=hymn.melody_source))
    return tuple(out[:WAYS])


def take_way(hymn: Hymn, phrase: str, number: int, knowledge: Knowledge, ison: str) -> Hymn:
    """Return the hymn with another way for one phrase.

    Raises
    ------
    ChantError
        If there is no such way.
    """
    ways = other_ways(hymn, phrase, knowledge, ison)
    if not 1 <= number <= len(ways):
        raise ChantError("there is no such way to sing the phrase.", remedy="Choose one shown.")
    return ways[number - 1]
