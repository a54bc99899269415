"""Formulas laid on syllables, kept: the pieces a search puts together, and the price of each join.

What depends only on the stresses covered is reckoned once for all words with those stresses: which
formulas fit (`steps`), what a piece costs (`Entry`), what it costs to join two pieces (`Joins`, by
the two syllables on either side). Nothing is kept from one set of prices to another.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from chantwright.setting.book import Book, Formula, fits_after
from chantwright.setting.line import Piece, Prices, Sung, centre_terms, join_terms
from chantwright.setting.slots import layings, shortest

__all__ = [
    "Codes",
    "Entry",
    "Group",
    "Joins",
    "Next",
    "Place",
    "Step",
    "may_follow",
    "priced_memory",
    "steps",
]

Codes = tuple[int, ...]


Step = tuple[Formula, tuple[int, ...]]

_Laid = tuple[Step, int, int]
"""A formula in a laying, and its stressed and its weak syllables as bits."""


def _laid(book: Book, role: str, count: int) -> tuple[_Laid, ...]:
    """Every formula of a role in every way to lay it on so many syllables."""
    key = ("laid", role, count)
    found: tuple[_Laid, ...] | None = book.memory.get(key)
    if found is None:
        found = book.memory[key] = tuple(
            (
                (formula, laying),
                sum([1 << at for at, index in enumerate(laying) if kinds[index] == "S"]),
                sum([1 << at for at, index in enumerate(laying) if kinds[index] == "w"]),
            )
            for formula in book.role(role)
            if shortest(formula.slots) <= count
            for kinds in [[slot.kind for slot in formula.slots]]
            for laying in layings(formula.slots, count)
        )
    return found


def steps(book: Book, role: str, part: Codes, *, strict: bool) -> tuple[Step, ...]:
    """Every formula of a role, in every laying, that covers just these syllables.

    When `strict`, every stress falls into a stressed slot and no plain weak syllable does.
    """
    key = ("steps", role, part, strict)
    kept: tuple[Step, ...] | None = book.memory.get(key)
    if kept is None:
        plain = sum([1 << at for at, code in enumerate(part) if code == 0]) if strict else 0
        stressed = sum([1 << at for at, code in enumerate(part) if code == 1]) if strict else 0
        kept = book.memory[key] = tuple(
            [
                step
                for step, strong, weak in _laid(book, role, len(part))
                if not (strong & plain or weak & stressed)
            ]
        )
    return kept


class Entry(NamedTuple):
    """A piece as the search sees it.

    `cost` holds all that does not depend on what stands before, for a cadence also the price of its
    close; `head` and `tail` number its first and its last two syllables (`tail` is -1 where it has
    only one, and then the close is not in the cost). `lead` and `names` are those of the piece and
    of its formula; `height` is that of its first stress (`NO_HEIGHT` without one), `level` counts
    the stresses from there on that have it.
    """

    cost: float
    order: tuple[str, tuple[int, ...]]
    piece: Piece
    head: int
    tail: int
    lead: int
    names: tuple[str, ...]
    height: int
    level: int


Place = tuple[int, str]
"""The note just sung, and what the formula that sang it waits for: paths that differ in it do not
compete, for one may be barred where the other is free to go."""

Group = tuple[int, Place, tuple[Entry, ...]]
"""Syllables covered, where they end, entries from cheap to dear."""


class Next(NamedTuple):
    """Pieces that may stand at a place: free of what stands before, and bound to it."""

    free: list[Group]
    bound: list[Step]
    known: dict[tuple[Any, ...], list[Group]]


_Head = tuple[Sung, Sung | None]
_Tail = tuple[Sung | None, Sung]


class _Row(dict[int, float]):
    """Prices of all heads after one tail, each reckoned when it is first asked for."""

    def __init__(self, tail: _Tail, heads: list[_Head], prices: Prices) -> None:
        super().__init__()
        self.tail, self.heads, self.prices = tail, heads, prices

    def __missing__(self, head: int) -> float:
        before, last = self.tail
        first, second = self.heads[head]
        names = [*join_terms(last.last, first.first), *centre_terms(before, last, first)]
        if second is not None:
            names += centre_terms(last, first, second)
        price = self[head] = float(sum([self.prices[n] for n in names]))
        return price


class Joins:
    """Prices of joins, each reckoned once."""

    def __init__(self, prices: Prices) -> None:
        self.prices = prices
        self.heads: dict[_Head, int] = {}
        self.head_of: list[_Head] = []
        self.tails: dict[_Tail, int] = {}
        self.rows: list[_Row] = []
        self.closing: list[float] = []

    def head(self, sung: Sequence[Sung]) -> int:
        """Number of the first two syllables of a piece."""
        key = (sung[0], sung[1] if len(sung) > 1 else None)
        found = self.heads.get(key)
        if found is None:
            found = self.heads[key] = len(self.head_of)
            self.head_of.append(key)
        return found

    def tail(self, before: Sung | None, last: Sung) -> int:
        """Number of the last two syllables sung."""
        key = (before, last)
        found = self.tails.get(key)
        if found is None:
            found = self.tails[key] = len(self.rows)
            self.rows.append(_Row(key, self.head_of, self.prices))
            self.closing.append(sum(self.prices[t] for t in centre_terms(before, last, None)))
        return found


def may_follow(formula: Formula, head: Sung) -> bool:
    """Whether a formula allows a syllable after it (what a row asks of it under needs_after)."""
    return fits_after(formula, head.first, head.beats, strong=head.strong)


def priced_memory(book: Book, prices: Prices) -> dict[Any, Any]:
    """What is remembered of a book under these prices."""
    key = ("priced", tuple(sorted(prices.items())))
    memory: dict[Any, Any] = book.memory.setdefault(key, {})
    return memory
