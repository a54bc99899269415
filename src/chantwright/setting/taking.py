"""Figures taken from a known melody, proposed as rows for the parish's formula book.

Each phrase is cut at its main stresses: what leads up to and includes the first foot is an opening,
the last stress with what follows it a cadence, each foot between a bridge. Weak syllables that stay
on one note become a slot that stretches, so that the figure can take other words. The rows say
where they were taken from, with low confidence: a chanter decides which of them are figures of the
tone and which belong to that one hymn.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from chantwright.errors import ChantError
from chantwright.score import Hymn, Phrase, Syllable
from chantwright.setting.book import Book
from chantwright.setting.slots import Slot, SlotNote, format_slots, parse_slots, shortest

__all__ = ["Taken", "rows_text", "take"]

_ENDS = ".;:!?"


@dataclass(frozen=True, slots=True)
class Taken:
    """One figure.

    Attributes
    ----------
    id, role, shape, slots : str
        As in a formula row; `shape` is empty for openings and bridges.
    book : str
        The branch.
    src : str
        Where it was taken from.
    words : str
        The words it was sung to there.
    """

    id: str
    role: str
    shape: str
    slots: str
    book: str
    src: str
    words: str


def _slug(title: str) -> str:
    return "-".join(re.findall(r"[a-z0-9]+", title.lower())[:4]) or "hymn"


def _slot(syllable: Syllable) -> Slot:
    notes = tuple(SlotNote(n.degree, n.beats) for n in syllable.notes)
    return Slot("S" if syllable.stress == 1 else "a" if syllable.stress == 2 else "w", notes)


def _stretched(slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Weak syllables in a row on one plain note become one slot that takes any number."""
    out: list[Slot] = []
    for at, slot in enumerate(slots):
        plain = slot.kind == "w" and len(slot.notes) == 1 and slot.beats == 1
        if plain and out and out[-1].kind == "w" and out[-1].notes == slot.notes:
            out[-1] = Slot("w", slot.notes, 1, None)
        elif plain and at == 0 and len(slots) > 1:
            out.append(Slot("w", slot.notes, 0, None))
        else:
            out.append(slot)
    return tuple(out)


def _shape(part: Sequence[Syllable]) -> str:
    stresses = [i for i, s in enumerate(part) if s.stress == 1]
    after = len(part) - 1 - stresses[-1]
    if after == 0 and len(stresses) > 1:
        return "11"
    return ("1", "10", "100")[min(2, after)]


def _cut(phrase: Phrase) -> list[tuple[str, Sequence[Syllable]]]:
    """A phrase as opening, feet and cadence: ``head``, ``foot``, ``close``."""
    syllables = phrase.syllables
    stresses = [i for i, s in enumerate(syllables) if s.stress == 1]
    if not stresses:
        return []
    last = stresses[-1]
    if last == len(syllables) - 1 and len(stresses) > 1 and stresses[-2] == last - 1:
        last -= 1  # two stresses side by side at the end belong together
    inner = [i for i in stresses if i < last]
    if not inner:
        return [("close", syllables)]
    edges = [*inner[1:], last]
    parts: list[tuple[str, Sequence[Syllable]]] = [("head", syllables[: edges[0]])]
    parts += [("foot", syllables[a:b]) for a, b in pairwise(edges)]
    return [*parts, ("close", syllables[last:])]


def _role(hymn: Hymn, place: int, book: Book | None) -> str:
    """Kind of close: as marked, else as punctuated; another where the tone closes otherwise."""
    role = _told_role(hymn, place)
    if book is not None and role in ("medial", "full"):
        close = hymn.phrases[place].syllables[-1].notes[-1].degree
        lists = {"medial": book.medial, "full": book.full}
        other = "full" if role == "medial" else "medial"
        if close not in lists[role] and close in lists[other]:
            return other
    return role


def _told_role(hymn: Hymn, place: int) -> str:
    phrase = hymn.phrases[place]
    if place == len(hymn.phrases) - 1:
        return "long" if "long" in (hymn.ending, phrase.cadence) else "final"
    if phrase.cadence is not None:
        return phrase.cadence
    return "full" if phrase.syllables[-1].text.rstrip("'’\"”) ")[-1:] in _ENDS else "medial"


def take(hymn: Hymn, branch: str, book: Book | None = None) -> tuple[Taken, ...]:
    """Propose the figures of a melody as formula rows.

    Parameters
    ----------
    hymn : Hymn
        With melody and stresses.
    branch : str
        The branch whose book they are for.
    book : Book, optional
        Figures that stand there already are left out, and a close on a note of its other list
        counts as that.

    Returns
    -------
    tuple of Taken
        Each figure once, in the order of the hymn. A cadence whose last syllable is shorter than
        two beats is no cadence and left out.

    Raises
    ------
    ChantError
        If the hymn has no melody or no stresses.
    """
    if not hymn.is_set:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no melody for every phrase.",
            remedy="Write its notes first.",
        )
    if not any(s.stress == 1 for p in hymn.phrases for s in p.syllables):
        raise ChantError(
            f"the stresses of “{hymn.title or 'this hymn'}” are not known.",
            remedy="Write a “stress:” line under each phrase.",
        )
    known: set[tuple[str, tuple[Slot, ...]]] = set()
    if book is not None:
        known = {(role, f.slots) for role, group in book.formulas.items() for f in group}
    name = _slug(hymn.title)
    counts: dict[str, int] = {}
    found: list[Taken] = []
    for place, phrase in enumerate(hymn.phrases):
        for kind, part in _cut(phrase):
            role = {"head": "open", "foot": "bridge"}.get(kind) or _role(hymn, place, book)
            slots = _stretched([_slot(s) for s in part])
            if (role, slots) in known or shortest(slots) == 0:
                continue
            if kind == "close" and slots[-1].beats < 2:
                continue
            known.add((role, slots))
            counts[role] = counts.get(role, 0) + 1
            found.append(
                Taken(
                    f"{name}.{role}.{counts[role]}",
                    role,
                    _shape(part) if kind == "close" else "",
                    format_slots(slots),
                    branch,
                    f"taken from {hymn.title or 'a hymn without a title'}",
                    Phrase(tuple(part)).words,
                )
            )
    return tuple(found)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'


def rows_text(rows: Sequence[Taken]) -> str:
    """The rows as a parish file; what cannot be read again is never written."""
    out = [
        "# Figures taken from a melody. Keep those that belong to the tone, delete the others; a",
        "# chanter should look at each. They win over our rows once this file is in own/.",
        "",
    ]
    for row in rows:
        parse_slots(row.slots)
        out.append(f"# {row.words}")
        out.append("[[formula]]")
        out += [f"id = {_quoted(row.id)}", f"book = {_quoted(row.book)}", f'role = "{row.role}"']
        if row.shape:
            out.append(f'shape = "{row.shape}"')
        out += [f'slots = "{row.slots}"', "weight = 0.2"]
        out += ['conf = "low"', f"src = {_quoted(row.src)}"]
        out.append("")
    return "\n".join(out)
