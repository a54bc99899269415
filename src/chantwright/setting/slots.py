"""The little language of slots: what a formula asks of each syllable.

A formula is a row of slots, written with spaces between them::

    w*=@ S=vou+ni w=pa:2

reads: any number of weak syllables on the note before (``@``), then a stressed one with two notes,
vou and ni, then a weak one on pa held two beats.

Conventions
-----------
Kind
    ``S`` a stressed syllable, ``w`` a weak one, ``a`` either.
Count
    Nothing: one syllable. ``?`` none or one, ``*`` any number, ``+`` one or more. A slot that
    stretches holds a single note of one beat, so that added syllables never pile up figures.
Notes of a slot
    Joined with ``+``; each a note name, or ``@`` for *the note that was just sung*. A length in
    beats follows a colon (``:2``, ``:.5``, ``:1/3``); one beat when it is left out.

The idea of keying a formula to a pattern of accented and unaccented syllables is common practice;
Wellesz, *A History of Byzantine Music and Hymnography*, shows syllables added on the repeated note
before a cadence.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final, Literal

from chantwright.errors import ChantError, Where
from chantwright.tuning import degree_name, parse_degree

__all__ = ["HELD", "Slot", "SlotNote", "format_slots", "layings", "parse_slots", "shortest"]

HELD: Final = "@"
"""Written in a slot for the note that was just sung."""

Kind = Literal["S", "w", "a"]
_COUNTS: dict[str, tuple[int, int | None]] = {
    "": (1, 1),
    "?": (0, 1),
    "*": (0, None),
    "+": (1, None),
}
_MARKS = {bounds: mark for mark, bounds in _COUNTS.items()}
_SLOT = re.compile(r"^([Swa])([?*+]?)=(.+)$")


@dataclass(frozen=True, slots=True)
class SlotNote:
    """A note of a slot: a degree, or None for the note just sung; and its beats."""

    degree: int | None
    beats: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True)
class Slot:
    """What one syllable, or a stretch of them, is sung to.

    Attributes
    ----------
    kind : str
        ``S`` stressed, ``w`` weak, ``a`` either.
    least : int
        Fewest syllables.
    most : int or None
        Most syllables; None for any number.
    notes : tuple of SlotNote
        What each of those syllables sings.
    """

    kind: Kind
    notes: tuple[SlotNote, ...]
    least: int = 1
    most: int | None = 1

    @property
    def stretches(self) -> bool:
        """Whether it may take more than one syllable."""
        return self.most is None

    @property
    def beats(self) -> Fraction:
        """Length of one syllable in it."""
        return sum((n.beats for n in self.notes), Fraction(0))


def _beats(text: str, slot: str) -> Fraction:
    try:
        value = Fraction("0" + text if text.startswith(".") else text)
    except (ValueError, ZeroDivisionError):
        value = Fraction(0)
    if value <= 0:
        raise ChantError(
            f"“{text}” is not a length in the slot “{slot}”.",
            remedy="Write beats as 2, .5 or 1/3.",
        )
    return value


def _note(text: str, slot: str) -> SlotNote:
    name, colon, length = text.partition(":")
    beats = _beats(length, slot) if colon else Fraction(1)
    if name == HELD:
        return SlotNote(None, beats)
    try:
        return SlotNote(parse_degree(name), beats)
    except ChantError as exc:
        raise ChantError(
            f"“{name}” is not a note in the slot “{slot}”.",
            remedy=exc.remedy or "Write a note name such as pa, zo_ or ni', or @.",
        ) from None


@lru_cache(maxsize=4096)
def _slot(word: str) -> Slot:
    """Read one slot; books use the same few thousand again and again."""
    found = _SLOT.match(word)
    if found is None:
        raise ChantError(
            f"“{word}” is not a slot.",
            remedy="Write S, w or a, a count sign if any (?*+), = and notes: w*=di or S=ke:2.",
        )
    kind, mark, notes = found.groups()
    least, most = _COUNTS[mark]
    sung = tuple(_note(part, word) for part in notes.split("+"))
    if most is None and (len(sung) > 1 or sung[0].beats != 1):
        raise ChantError(
            f"the slot “{word}” stretches but is more than one note of one beat.",
            remedy="Give a slot with * or + a single note and no length.",
        )
    return Slot(kind, sung, least, most)  # type: ignore[arg-type]


def parse_slots(text: str | Sequence[str], where: Where | None = None) -> tuple[Slot, ...]:
    """Read the slots of a formula.

    Parameters
    ----------
    text : str or sequence of str
        Slots with spaces between them, or one string for each.
    where : Where, optional
        Place named in errors.

    Returns
    -------
    tuple of Slot

    Raises
    ------
    ChantError
        If a slot cannot be read; names the slot.
    """
    place = where or Where()
    if not isinstance(text, str | list | tuple) or not all(isinstance(w, str) for w in text):
        raise ChantError(
            "the slots of a formula are not words.", where=place, remedy="Write them in quotes."
        )
    words = text.split() if isinstance(text, str) else [w.strip() for w in text]
    if not words:
        raise ChantError("a formula has no slots.", where=place, remedy="Write at least one slot.")
    slots = []
    for word in words:
        try:
            slots.append(_slot(word))
        except ChantError as exc:
            raise ChantError(exc.what, where=place, remedy=exc.remedy) from None
    return tuple(slots)


def _length(beats: Fraction) -> str:
    if beats == 1:
        return ""
    if beats == Fraction(1, 2):
        return ":.5"
    return f":{beats}"


def format_slots(slots: Sequence[Slot]) -> str:
    """Write slots so that `parse_slots` gives them back exactly."""
    words = []
    for slot in slots:
        notes = "+".join(
            (HELD if n.degree is None else degree_name(n.degree)) + _length(n.beats)
            for n in slot.notes
        )
        words.append(f"{slot.kind}{_MARKS[(slot.least, slot.most)]}={notes}")
    return " ".join(words)


def shortest(slots: Sequence[Slot]) -> int:
    """Fewest syllables the slots can cover."""
    return sum(s.least for s in slots)


def layings(slots: tuple[Slot, ...], count: int) -> tuple[tuple[int, ...], ...]:
    """Every way to lay the slots on so many syllables.

    Parameters
    ----------
    slots : tuple of Slot
        The formula.
    count : int
        Number of consecutive syllables.

    Returns
    -------
    tuple of tuple of int
        Each has `count` numbers: the slot that each syllable falls into. Empty when the slots
        cannot cover that many.
    """

    def walk(index: int, left: int) -> Iterator[tuple[int, ...]]:
        if index == len(slots):
            if left == 0:
                yield ()
            return
        slot = slots[index]
        most = left if slot.most is None else min(slot.most, left)
        for used in range(slot.least, most + 1):
            for rest in walk(index + 1, left - used):
                yield (index,) * used + rest

    return tuple(walk(0, count))
