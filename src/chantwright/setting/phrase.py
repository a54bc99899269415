"""The best ways to sing one phrase: a shortest path over syllables and formulas.

A phrase is an opening (or none), feet of filler, and a cadence. The path goes from syllable to
syllable; a step is a formula laid on the syllables that follow, in any way its slots allow; a state
is the place reached and the note just sung. The few best paths into each state are kept, so the
result is a list of lines, best first, of more than one cadence and opening.

Lines that begin on a note of their own do not ask what was sung before: they are sought once,
whatever phrase goes before. Those that begin on the note just sung (``@``) are sought for each.

Formulas for bridges may stand after the mark of a phrase and before a formula, never at the end of
a phrase (published composition lessons).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from chantwright.errors import ChantError
from chantwright.setting.book import Book
from chantwright.setting.laying import priced_memory
from chantwright.setting.line import Frame, Line, Prices
from chantwright.setting.search import SPREAD, Search

__all__ = ["SPREAD", "best_lines", "lines", "lines_of", "no_cadence"]


_Lines = Mapping[str, tuple[Line, ...]]


def _search(
    book: Book,
    codes: tuple[int, ...],
    roles: Sequence[str],
    frame: Frame,
    prices: Prices,
    *,
    strict: bool,
) -> _Lines:
    """The best lines of one sort, remembered in the book."""
    memory = priced_memory(book, prices)
    key = ("lines", codes, tuple(roles), frame, strict)
    kept: _Lines | None = memory.get(key)
    if kept is None:
        search = Search(book, memory, codes, frame, prices, strict=strict)
        kept = memory[key] = search.run(roles)
    return kept


def lines(
    book: Book, codes: tuple[int, ...], roles: Sequence[str], frame: Frame, prices: Prices
) -> _Lines:
    """Return the best ways to sing a phrase that begin on a note of their own, or all on ``@``.

    Parameters
    ----------
    book : Book
        Formulas of the branch.
    codes : tuple of int
        What the words ask of each syllable (`chantwright.setting.codes.codes_of`).
    roles : sequence of str
        Kinds of cadence that are wanted.
    frame : Frame
        What surrounds the phrase; its `entry` says which sort is wanted.
    prices : mapping
        Price by name.

    Returns
    -------
    mapping of str to tuple of Line
        For each kind of cadence, best first; empty for a kind that would have to sing a stress
        falsely where another need not, and where lines of the other sort need not.
    """
    found = _search(book, codes, roles, frame, prices, strict=True)
    if any(found.values()):
        return found
    other = replace(frame, entry=frame.starts[0] if frame.entry is None else None)
    if any(_search(book, codes, roles, other, prices, strict=True).values()):
        return found
    return _search(book, codes, roles, frame, prices, strict=False)


def best_lines(
    book: Book, codes: tuple[int, ...], roles: Sequence[str], frame: Frame, prices: Prices
) -> _Lines:
    """Return the best ways to sing a phrase after a note.

    Parameters
    ----------
    book, codes, roles, prices
        As in `lines`.
    frame : Frame
        With the note before.

    Returns
    -------
    mapping of str to tuple of Line
        Lines of both sorts, best first. What it costs to begin far from the note before belongs to
        the hymn (`chantwright.setting.choice.terms_of`) and is not in their cost.

    Raises
    ------
    ChantError
        If the book has no cadence of these kinds that can close these syllables.
    """
    free = lines(book, codes, roles, replace(frame, entry=None), prices)
    held = lines(book, codes, roles, frame, prices)
    if not any(free.values()) and not any(held.values()):
        raise no_cadence(book, codes, roles)
    return {r: tuple(sorted((*free[r], *held[r]), key=lambda f: (f.cost, f.ids))) for r in roles}


def no_cadence(book: Book, codes: tuple[int, ...], roles: Sequence[str]) -> ChantError:
    """The error that a book cannot close a phrase."""
    pattern = "".join("/" if c in (1, 2) else "-" for c in codes)
    return ChantError(
        f"the book {book.id} has no {' or '.join(roles)} cadence for a phrase of "
        f"{len(codes)} syllables ({pattern}).",
        remedy="Add a formula row that fits, or write this phrase's melody yourself.",
    )


def lines_of(
    book: Book,
    codes: tuple[int, ...],
    role: str,
    frame: Frame,
    prices: Prices,
    ids: Sequence[str],
) -> tuple[Line, ...]:
    """Return the best lines that begin and end with the same formulas as another one.

    Parameters
    ----------
    book, codes, frame, prices
        As in `lines`.
    role : str
        Kind of cadence.
    ids : sequence of str
        Formulas of the other line. Its bridges are tried first, then all bridges.

    Returns
    -------
    tuple of Line
        Best first; empty where its opening and cadence do not fit these words.
    """
    memory = priced_memory(book, prices)
    key = ("like", codes, role, frame, tuple(ids))
    kept: tuple[Line, ...] | None = memory.get(key)
    if kept is not None:
        return kept
    bridges = {f.id for r in ("bridge", "vfoot", "picture") for f in book.role(r)}
    found: tuple[Line, ...] = ()
    for only in (frozenset(ids), frozenset(ids) | bridges):
        both = (
            Search(book, memory, codes, part, prices, strict=True, only=only).run([role])[role]
            for part in (replace(frame, entry=None), frame)
        )
        alike = (f for part in both for f in part if (f.ids[0], f.ids[-1]) == (ids[0], ids[-1]))
        found = tuple(sorted(alike, key=lambda f: (f.cost, f.ids)))
        if found:
            break
    memory[key] = found
    return found
