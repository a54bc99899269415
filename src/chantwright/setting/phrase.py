"""The best ways to sing one phrase: a shortest path over syllables and formulas.

A phrase is an opening (or none), feet of filler, and a cadence. The path goes from syllable to
syllable; a step is a formula laid on the syllables that follow, in any way its slots allow; a state
is the place reached and the note just sung. The few best paths into each state are kept, so the
result is a list of lines, best first, of more than one cadence and opening.

Formulas for bridges may stand after the mark of a phrase and before a formula, never at the end of
a phrase (published composition lessons).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from chantwright.errors import ChantError
from chantwright.setting.book import Book
from chantwright.setting.laying import priced_memory
from chantwright.setting.line import Frame, Line, Prices
from chantwright.setting.search import SPREAD, Search

__all__ = ["SPREAD", "lines", "lines_of"]


def lines(
    book: Book, codes: tuple[int, ...], roles: Sequence[str], frame: Frame, prices: Prices
) -> Mapping[str, tuple[Line, ...]]:
    """Return the best ways to sing a phrase.

    Parameters
    ----------
    book : Book
        Formulas of the branch.
    codes : tuple of int
        What the words ask of each syllable (`chantwright.setting.codes.codes_of`).
    roles : sequence of str
        Kinds of cadence that are wanted.
    frame : Frame
        What surrounds the phrase.
    prices : mapping
        Price by name.

    Returns
    -------
    mapping of str to tuple of Line
        For each kind of cadence, best first; empty for a kind that would have to sing a stress
        falsely where another need not. Results are remembered in the book.

    Raises
    ------
    ChantError
        If the book has no cadence of these kinds that can close these syllables.
    """
    memory = priced_memory(book, prices)
    key = ("lines", codes, tuple(roles), frame)
    kept: Mapping[str, tuple[Line, ...]] | None = memory.get(key)
    if kept is not None:
        return kept
    found = Search(book, memory, codes, frame, prices, strict=True).run(roles)
    if not any(found.values()):
        found = Search(book, memory, codes, frame, prices, strict=False).run(roles)
    if not any(found.values()):
        pattern = "".join("/" if c in (1, 2) else "-" for c in codes)
        raise ChantError(
            f"the book {book.id} has no {' or '.join(roles)} cadence for a phrase of "
            f"{len(codes)} syllables ({pattern}).",
            remedy="Add a formula row that fits, or write this phrase's melody yourself.",
        )
    memory[key] = found
    return found


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
        search = Search(book, memory, codes, frame, prices, strict=True, only=only)
        found = tuple(
            line
            for line in search.run([role])[role]
            if line.ids[0] == ids[0] and line.ids[-1] == ids[-1]
        )
        if found:
            break
    memory[key] = found
    return found
