"""One phrase as it would be sung, and what is awkward in it.

A formula laid on syllables gives a `Piece`; pieces in a row give a line. The prices of a line are
local: each looks at a syllable and its two neighbours, or at the join of two pieces, so that a
shortest path can add them up as it goes.

Conventions
-----------
Codes
    What the words ask of a syllable: 0 weak, 1 primary stress, 2 secondary stress, 3 weak but
    standing far enough from any stress to be raised to one.
Strong
    Sung in an ``S`` slot (or in an ``a`` slot by a stressed syllable).
Roof
    Highest note of the stress to which a weak syllable belongs; `ROOFLESS` before the first stress.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from chantwright.score import Note
from chantwright.setting.book import Formula
from chantwright.setting.slots import Slot

__all__ = [
    "FLAT_RUN",
    "LONG",
    "ROOFLESS",
    "Frame",
    "Line",
    "Piece",
    "Prices",
    "Sung",
    "centre_terms",
    "join_terms",
    "lay",
]

FLAT_RUN = 4
"""Syllables on one note that nobody minds (comfortable recitation, common practice)."""

ROOFLESS = 99
"""Roof of weak syllables that no stress has gone before."""

_LIGHT_LEAP = 3
"""Steps up to a light or weak syllable that are too many: a fourth."""

_LIGHT = (2, 3)  # codes of light stresses: secondary, or raised
LONG = 3  # beats from which a stress of the middle style is long

Prices = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """What surrounds a phrase.

    Attributes
    ----------
    entry : int or None
        Degree of the note sung before the phrase, for lines that begin on it (``@``); None for
        lines that begin on a note of their own, whatever went before.
    first : bool
        Whether it begins the hymn.
    starts : tuple of int
        Degrees on which a hymn may begin.
    usual : (int, int)
        Usual compass of the branch, or the narrower one that was asked for.
    verses : bool
        Whether it is a psalm verse.
    peak : int or None
        Syllable that is to stand highest.
    """

    entry: int | None
    first: bool
    starts: tuple[int, ...]
    usual: tuple[int, int]
    verses: bool = False
    peak: int | None = None


class Sung(NamedTuple):
    """A syllable as sung: what its neighbours need to know of it."""

    first: int
    last: int
    top: int
    beats: float
    notes: int
    strong: bool
    code: int
    roof: int


class Part(NamedTuple):
    """One syllable of a formula as sung, with what it pays by itself.

    `number` is its own; parts that are alike are one object, so that little is made and much kept.
    """

    number: int
    sung: Sung
    notes: tuple[Note, ...]
    terms: tuple[str, ...]
    mask: int


Kept = dict[Any, Any]
"""What is remembered of one book under one set of prices."""


class Piece(NamedTuple):
    """A formula laid on consecutive syllables.

    Attributes
    ----------
    formula : Formula
        The formula.
    slots : tuple of int
        For each syllable the slot it falls into.
    sung : tuple of Sung
        The syllables.
    notes : tuple of tuple of Note
        What each sings.
    terms : tuple of (int, str)
        Prices of stress and of the joins and neighbours wholly inside: syllable, counted from the
        piece's first, and name.
    cost : float
        Those prices with the formula's own weight, and what the teacher's liking makes of it.
    lead, tail : int
        Syllables at the beginning and at the end that stay on one note.
    flat : int
        Syllables beyond `FLAT_RUN` on one note in the middle.
    strong, figured : int
        Syllables sung as stresses, and how many of those have two notes or more.
    ends_figured : bool or None
        Whether the last stress has two notes; None when there is no stress.
    mask : int
        Degrees sung, one bit each (ni_ of the lowest octave is bit 0, ni is bit 14).
    top : int
        Highest degree.
    peaks : tuple of int
        Highest degree of each syllable sung as a stress.
    """

    formula: Formula
    slots: tuple[int, ...]
    sung: tuple[Sung, ...]
    notes: tuple[tuple[Note, ...], ...]
    terms: tuple[tuple[int, str], ...]
    cost: float
    lead: int
    tail: int
    flat: int
    strong: int
    figured: int
    ends_figured: bool | None
    mask: int
    top: int
    peaks: tuple[int, ...]

    @property
    def whole(self) -> bool:
        """Whether all of it stays on one note."""
        return self.lead == len(self.sung)


@dataclass(frozen=True, slots=True)
class Line:
    """A phrase fully laid out.

    Attributes
    ----------
    role : str
        Cadence kind: medial, full, final or long.
    pieces : tuple of Piece
        In order; they cover every syllable.
    cost : float
        All it costs by itself.
    frame : Frame
        What it was made for.
    ids : tuple of str
        Ids of its formulas.
    """

    role: str
    pieces: tuple[Piece, ...]
    cost: float
    frame: Frame
    ids: tuple[str, ...]

    @property
    def cadence(self) -> Formula:
        """The formula that closes it."""
        return self.pieces[-1].formula

    @property
    def close(self) -> int:
        """Degree of the last note."""
        return self.pieces[-1].sung[-1].last

    @property
    def start(self) -> int:
        """Degree of the first note."""
        return self.pieces[0].sung[0].first

    @property
    def sung(self) -> tuple[Sung, ...]:
        """All syllables."""
        return tuple(s for p in self.pieces for s in p.sung)

    @property
    def notes(self) -> tuple[tuple[Note, ...], ...]:
        """The notes of all syllables."""
        return tuple(n for p in self.pieces for n in p.notes)


def _met(here: Sung, after: Sung | None) -> bool:
    """Whether a stress as high or higher follows a weak syllable."""
    return after is not None and after.strong and after.first >= here.last


def _leads_up(before: Sung | None, here: Sung, after: Sung | None) -> bool:
    """Whether a weak syllable above its stress leads on by step to another weak one.

    That one answers for the climb: it pays itself unless a stress takes it up. The third weak
    syllable of a climb is one too many, and the second pays for it (Wellesz has one or two weak
    syllables lead up by step to an accent).
    """
    if after is None or after.strong or after.first != here.last + 1:
        return False
    if before is None or before.strong or before.top <= before.roof:
        return True
    return here.first != before.last + 1


def _skips(before: Sung, here: Sung, after: Sung | None) -> Iterator[str]:
    """Name the leaps to and from a syllable that are amiss."""
    to = here.first - before.last
    if to >= _LIGHT_LEAP and here.code != 1:
        yield "light-leap"
    on = after.first - here.last if after is not None else 0
    if abs(to) >= 2 and abs(on) >= 2 and (to > 0) == (on > 0):
        yield "double-skip"


def centre_terms(before: Sung | None, here: Sung, after: Sung | None) -> Iterator[str]:
    """Name what is awkward at a syllable between its neighbours.

    Parameters
    ----------
    before, after : Sung or None
        None at the edge of the phrase.
    here : Sung
        The syllable.

    Yields
    ------
    str
        Names of prices.
    """
    left = before.top if before is not None else None
    right = after.top if after is not None else None
    if here.code == 1:
        lower_left = left is not None and here.top < left
        lower_right = right is not None and here.top < right
        if lower_left and lower_right:
            yield "valley"
        elif (lower_left and before is not None and before.code != 1) or (
            lower_right and after is not None and after.code != 1
        ):
            yield "under"
        elif lower_left or lower_right:
            yield "under-stress"
        if after is not None and after.code == 1 and here.beats < 2 and here.notes < 2:
            yield "side-by-side"
        marked = here.notes > 1 or here.beats >= 2 or before is None or here.top > before.last
        if not marked and not (right is not None and here.top > right):
            yield "bare"
    if before is not None:
        yield from _skips(before, here, after)
    if not here.strong:
        if left is not None and right is not None and here.top > left and here.top > right:
            yield "crest"
        if here.top > here.roof and not _met(here, after):
            yield "weak-rise" if _leads_up(before, here, after) else "above"
        if here.beats >= 2 and after is not None:
            yield "held-weak"


_JOINS = {2: "third", 3: "fourth", 4: "fifth"}


def join_terms(before: int, after: int) -> Iterator[str]:
    """Name the leap between two notes that no formula joins."""
    leap = abs(after - before)
    if leap in _JOINS:
        yield _JOINS[leap]
    elif leap > 4:
        yield "wide-leap"


def stress_terms(kind: str, code: int, *, held: bool = False) -> Iterator[str]:
    """Name what is wrong when a syllable falls into a slot of a kind.

    A secondary stress in the held last slot of a cadence is not lost: its length marks it.
    """
    if kind == "S":
        if code == 0:
            yield "false-stress"
        elif code == 2:
            yield "secondary-strong"
        elif code == 3:
            yield "promoted"
    elif kind == "w":
        if code == 1:
            yield "lost-stress"
        elif code == 2 and not held:
            yield "lost-secondary"


def _runs(sung: Sequence[Sung]) -> tuple[int, int, int]:
    """Lead, tail and inner surplus of syllables that stay on one note."""
    runs: list[int] = []
    last: int | None = None
    for syllable in sung:
        if syllable.notes > 1:
            runs.append(0)
            last = None
        elif syllable.first == last:
            runs[-1] += 1
        else:
            runs.append(1)
            last = syllable.first
    inner = sum(max(0, r - FLAT_RUN) for r in runs[1:-1])
    return runs[0], runs[-1], inner


def _resolved(slot: Slot, held: int) -> tuple[Note, ...]:
    """Notes of a slot with the note just sung put in for ``@``."""
    notes = []
    for note in slot.notes:
        held = held if note.degree is None else note.degree
        notes.append(Note(held, note.beats))
    return tuple(notes)


def _goes_on(formula: Formula, index: int) -> bool:
    """Whether a stress is to come: the last one of a close is long, whatever its word."""
    return not formula.shape or any(s.kind == "S" for s in formula.slots[index + 1 :])


def _part(
    formula: Formula,
    index: int,
    code: int,
    joins: int | None,
    notes: tuple[Note, ...],
    roof: int,
    usual: tuple[int, int],
    number: int,
) -> Part:
    """A syllable in a slot; `joins` is the note before where no formula joins it on."""
    slot = formula.slots[index]
    first, last = notes[0].degree, notes[-1].degree
    terms = [] if joins is None else list(join_terms(joins, first))
    low, high = usual
    top, mask = first, 0
    for note in notes:
        top = max(top, note.degree)
        mask |= 1 << (note.degree + 14)
        if not low <= note.degree <= high:
            terms.append("compass")
    ends = index == len(formula.slots) - 1 and bool(formula.shape)
    terms.extend(stress_terms(slot.kind, code, held=ends))
    strong = slot.kind == "S" or (slot.kind == "a" and code == 1)
    if code in _LIGHT and strong and formula.lengths[index] >= LONG and _goes_on(formula, index):
        terms.append("long-light")
    roof = top if strong else roof
    sung = Sung(first, last, top, formula.lengths[index], len(notes), strong, code, roof)
    return Part(number, sung, notes, tuple(terms), mask)


def _parts(
    formula: Formula,
    laying: Sequence[int],
    codes: Sequence[int],
    held: int,
    roof: int,
    usual: tuple[int, int],
    kept: Kept,
) -> list[Part]:
    """The syllables of a formula as laid, each distinct one made once."""
    table = kept.get((formula.id, usual))
    if table is None:
        table = kept[formula.id, usual] = {}
    parts = []
    free = False  # whether the note just sung came from an @ and so joins what follows by chance
    for index, code in zip(laying, codes, strict=True):
        notes = formula.written[index]
        slot = formula.slots[index]
        joins = held if free and slot.notes[0].degree is not None else None
        key = (index, code, roof, joins, held if notes is None else None)
        part = table.get(key)
        if part is None:
            number = kept["parts"] = kept.get("parts", 0) + 1
            notes = _resolved(slot, held) if notes is None else notes
            part = table[key] = _part(formula, index, code, joins, notes, roof, usual, number)
        parts.append(part)
        free = slot.notes[-1].degree is None
        held, roof = part.sung.last, part.sung.roof
    return parts


def _centred(parts: Sequence[Part], kept: Kept) -> Iterator[tuple[int, str]]:
    """Name what is awkward at the syllables between others."""
    for place in range(1, len(parts) - 1):
        before, here, after = parts[place - 1], parts[place], parts[place + 1]
        key = (before.number, here.number, after.number)
        terms = kept.get(key)
        if terms is None:
            terms = kept[key] = tuple(centre_terms(before.sung, here.sung, after.sung))
        for term in terms:
            yield place, term


def lay(
    formula: Formula,
    laying: Sequence[int],
    codes: Sequence[int],
    *,
    held: int,
    roof: int,
    usual: tuple[int, int],
    prices: Prices,
    kept: Kept,
) -> Piece:
    """Lay a formula on syllables.

    Parameters
    ----------
    formula : Formula
        The formula.
    laying : sequence of int
        For each syllable the slot it falls into.
    codes : sequence of int
        What the words ask of each.
    held : int
        Degree of the note just sung, for ``@``.
    roof : int
        Highest note of the stress before.
    usual : (int, int)
        Usual compass.
    prices : mapping
        Price by name.
    kept : dict
        Where syllables that were made before are found again; of these prices alone.

    Returns
    -------
    Piece
    """
    parts = _parts(formula, laying, codes, held, roof, usual, kept)
    sung = tuple([p.sung for p in parts])
    terms = [(place, term) for place, part in enumerate(parts) for term in part.terms]
    if len(parts) > 2:
        terms.extend(_centred(parts, kept))
    cost = formula.weight + formula.liking
    for _, term in terms:
        cost += prices[term]
    mask = figured = 0
    peaks = tuple([p.sung.top for p in parts if p.sung.strong])
    ends_figured: bool | None = None
    for part in parts:
        mask |= part.mask
        if part.sung.strong:
            ends_figured = part.sung.notes > 1
            figured += ends_figured
    lead, tail, flat = _runs(sung)
    return Piece(
        formula,
        tuple(laying),
        sung,
        tuple([p.notes for p in parts]),
        tuple(terms),
        cost,
        lead,
        tail,
        flat,
        len(peaks),
        figured,
        ends_figured,
        mask,
        max([s.top for s in sung]),
        peaks,
    )
