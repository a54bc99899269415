"""The best ways to sing one phrase: a shortest path over syllables and formulas.

A phrase is an opening (or none), feet of filler, and a cadence. The path goes from syllable to
syllable; a step is a formula laid on the syllables that follow, in any way its slots allow; a state
is the place reached and the note just sung. The few best paths into each state are kept, so the
result is a list of lines, best first, of more than one cadence and opening.

Formulas for bridges may stand after the mark of a phrase and before a formula, never at the end of
a phrase (published composition lessons).
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from chantwright.errors import ChantError
from chantwright.setting.book import CADENCE_ROLES, After, Book, Formula, fits_after
from chantwright.setting.line import (
    FLAT_RUN,
    Line,
    Piece,
    Prices,
    Sung,
    centre_terms,
    join_terms,
    lay,
)
from chantwright.setting.slots import layings, shortest

__all__ = ["Frame", "codes_of", "lines"]

Codes = tuple[int, ...]
_KEPT = 5
"""Paths kept in each state."""
_PER_CADENCE = 4
"""Lines kept for each cadence formula."""
_LINES = 32
"""Lines kept for each kind of cadence."""
_VERSE = {"open": "vopen", "bridge": "vfoot", "medial": "vmed", "full": "vfin", "final": "vfin"}


@dataclass(frozen=True, slots=True)
class Frame:
    """What surrounds a phrase.

    Attributes
    ----------
    entry : int
        Degree of the note sung before the phrase (the base when it is the first).
    first : bool
        Whether it begins the hymn.
    starts : tuple of int
        Degrees on which a hymn may begin.
    usual : (int, int)
        Usual compass of the branch.
    verses : bool
        Whether it is a psalm verse.
    """

    entry: int
    first: bool
    starts: tuple[int, ...]
    usual: tuple[int, int]
    verses: bool = False


class _Path(NamedTuple):
    cost: float
    before: Sung | None
    last: Sung
    run: int
    pieces: tuple[Piece, ...]
    figures: tuple[str, ...]


def codes_of(
    stress: Sequence[int], words: Sequence[str] = (), light: Iterable[str] = ()
) -> tuple[int, ...]:
    """Turn stresses into codes.

    Parameters
    ----------
    stress : sequence of int
        0, 1 or 2 for each syllable.
    words : sequence of str
        Text of each syllable; a whole word that is light is never raised to a stress.
    light : iterable of str
        The light words.

    Returns
    -------
    tuple of int
        0 weak, 1 primary, 2 secondary, 3 weak but free to be raised. A phrase without any stress
        gets one, on its last syllable or on the last but two.
    """
    codes = list(stress)
    if not any(codes):
        codes[-1 if len(codes) < 3 else -3] = 1
    small = set(light)
    count = len(codes)
    bare = [w.strip(".,;:!?()'’\"“”").lower() for w in words] or [""] * count
    run = 0
    for place in range(1, count - 1):
        near = codes[place - 1 : place + 2]
        run = 0 if any(c in (1, 2) for c in near) else run + 1
        # in a very long run only every third may be raised: more choice would help nobody
        if run and (run <= 4 or run % 3 == 0) and bare[place] not in small:
            codes[place] = 3
    return tuple(codes)


def _fits(formula: Formula, laying: Sequence[int], codes: Sequence[int]) -> bool:
    """Whether every stress falls into a stressed slot and no plain weak syllable does."""
    kinds = (formula.slots[index].kind for index in laying)
    return not any(
        (kind == "S" and code == 0) or (kind == "w" and code == 1)
        for kind, code in zip(kinds, codes, strict=True)
    )


def _layings(book: Book, formula: Formula, count: int) -> tuple[tuple[int, ...], ...]:
    key = ("layings", formula.id, count)
    found: tuple[tuple[int, ...], ...] | None = book.memory.get(key)
    if found is None:
        found = book.memory[key] = layings(formula.slots, count)
    return found


_Step = tuple[Formula, tuple[int, ...]]


def _steps(book: Book, role: str, codes: Codes, *, to_end: bool, strict: bool) -> tuple[_Step, ...]:
    """Every formula of a role, in every laying, that can stand at the head of some syllables."""
    key = ("steps", role, codes, to_end, strict)
    kept: tuple[_Step, ...] | None = book.memory.get(key)
    if kept is not None:
        return kept
    found: list[_Step] = []
    left = len(codes)
    for formula in book.role(role):
        least = shortest(formula.slots)
        for count in [left] if to_end else range(max(1, least), left):
            if count < least:
                continue
            part = codes[:count]
            found += [
                (formula, laying)
                for laying in _layings(book, formula, count)
                if not strict or _fits(formula, laying, part)
            ]
    steps = book.memory[key] = tuple(found)
    return steps


def _may_follow(path: _Path | None, piece: Piece) -> bool:
    """Whether the formula before allows this piece after it."""
    if path is None or path.pieces[-1].formula.after is None:
        return True
    head = piece.sung[0]
    return fits_after(path.pieces[-1].formula, head.first, head.beats, strong=head.strong)


def _piece(
    book: Book,
    formula: Formula,
    laying: tuple[int, ...],
    codes: tuple[int, ...],
    held: int,
    roof: int,
    frame: Frame,
    prices: Prices,
) -> Piece:
    key = (formula.id, laying, codes, held, roof, frame.usual, frame.verses)
    piece: Piece | None = book.memory.get(key)
    if piece is None:
        piece = lay(formula, laying, codes, held=held, roof=roof, usual=frame.usual, prices=prices)
        book.memory[key] = piece
    return piece


def _entry_terms(piece: Piece, frame: Frame) -> list[str]:
    """Prices of the beginning of a phrase."""
    first = piece.sung[0].first
    terms = ["entry"] * max(0, abs(first - frame.entry) - 2)
    if piece.formula.role in ("bridge", "vfoot"):
        terms.append("no-opening")
    if frame.first:
        if first not in frame.starts:
            terms.append("first-note")
        elif first != frame.starts[0]:
            terms.append("first-off-base")
        terms += ["early-figure" for s in piece.sung[:2] if s.notes > 1]
    return terms


def _border(path: _Path | None, piece: Piece, place: int, frame: Frame) -> tuple[list[str], int]:
    """Prices where a piece meets what stands before it, and the flat run at its end."""
    sung = piece.sung
    second = sung[1] if len(sung) > 1 else None
    if path is None:
        terms = _entry_terms(piece, frame)
        if second is not None:
            terms += centre_terms(None, sung[0], second)
        run = piece.lead
    else:
        terms = list(join_terms(path.last.last, sung[0].first))
        terms += centre_terms(path.before, path.last, sung[0])
        if second is not None:
            terms += centre_terms(path.last, sung[0], second)
        if frame.first and place == 1 and sung[0].notes > 1:
            terms.append("early-figure")
        goes_on = piece.lead and path.run and path.last.last == sung[0].first
        run = piece.lead + (path.run if goes_on else 0)
    whole = piece.lead == len(sung)
    over = max(0, run - FLAT_RUN)
    if path is not None and run > piece.lead:
        over -= max(0, path.run - FLAT_RUN)
    terms += ["flat"] * (over + piece.flat)
    if not whole:
        terms += ["flat"] * max(0, piece.tail - FLAT_RUN)
    return terms, run if whole else piece.tail


def _whole_terms(pieces: Sequence[Piece], prices: Prices) -> list[tuple[str, float]]:
    """Prices of the phrase as a whole."""
    sung = [s for p in pieces for s in p.sung]
    terms = []
    stresses = [s for s in sung if s.strong][:-1]
    if len(stresses) >= 2:
        share = sum(s.notes > 1 for s in stresses) / len(stresses)
        terms.append(("figured", prices["figured"] * abs(share - 0.3)))
    if len(sung) >= 5 and len({n.degree for p in pieces for part in p.notes for n in part}) < 3:
        terms.append(("narrow", prices["narrow"]))
    return terms


def _closing(path: _Path) -> list[str]:
    return list(centre_terms(path.before, path.last, None))


def _grown(path: _Path | None, piece: Piece, at: int, frame: Frame, prices: Prices) -> _Path:
    """A path with one more piece."""
    terms, run = _border(path, piece, at, frame)
    cost = piece.cost
    for term in terms:
        cost += prices[term]
    sung = piece.sung
    names = piece.formula.names
    if path is None:
        before = sung[-2] if len(sung) > 1 else None
        return _Path(cost, before, sung[-1], run, (piece,), names)
    cost += prices["twice"] * sum(name in path.figures for name in names)
    before = sung[-2] if len(sung) > 1 else path.last
    return _Path(
        path.cost + cost, before, sung[-1], run, (*path.pieces, piece), (*path.figures, *names)
    )


def _line(path: _Path, role: str, frame: Frame, prices: Prices) -> Line:
    """Add up every price of a finished path by name."""
    sums: dict[str, float] = {}

    def pay(name: str, price: float) -> None:
        if price:
            sums[name] = sums.get(name, 0.0) + price

    grown: _Path | None = None
    place = 0
    heard: tuple[str, ...] = ()
    for piece in path.pieces:
        pay("weight", piece.formula.weight)
        border, run = _border(grown, piece, place, frame)
        for term in (*piece.terms, *border):
            pay(term, prices[term])
        pay("twice", prices["twice"] * sum(name in heard for name in piece.formula.names))
        heard = (*heard, *piece.formula.names)
        if len(piece.sung) > 1:
            before: Sung | None = piece.sung[-2]
        else:
            before = None if grown is None else grown.last
        grown = _Path(0.0, before, piece.sung[-1], run, (), ())
        place += len(piece.sung)
    for term in _closing(path):
        pay(term, prices[term])
    for name, price in _whole_terms(path.pieces, prices):
        pay(name, price)
    return Line(role, path.pieces, tuple(sorted(sums.items())), sum(sums.values()))


_Place = tuple[int, After | None]
"""The note just sung, and what the formula that sang it waits for: paths that differ in it do not
compete, for one may be barred where the other is free to go."""


class _Best:
    """The few cheapest paths into one place."""

    def __init__(self, kept: int) -> None:
        self.kept = kept
        self.paths: list[tuple[float, int, _Path]] = []
        self.number = 0

    @property
    def limit(self) -> float:
        """A path that costs this or more need not be tried."""
        return self.paths[-1][0] if len(self.paths) == self.kept else float("inf")

    def add(self, cost: float, path: _Path) -> None:
        """Take a path in if it is cheap enough; of equals the earlier stays."""
        if cost < self.limit:
            self.number += 1
            insort(self.paths, (cost, self.number, path))
            del self.paths[self.kept :]


def _chosen(
    found: Iterable[tuple[float, _Path]], role: str, frame: Frame, prices: Prices
) -> tuple[Line, ...]:
    """Keep the best lines, a few for each cadence, no two with the same formulas."""
    ranked = sorted(
        ((cost, tuple(p.formula.id for p in path.pieces), path) for cost, path in found),
        key=lambda f: f[:2],
    )
    per: dict[str, int] = {}
    heads: set[tuple[str, ...]] = set()
    kept = []
    for _, ids, path in ranked:
        head = (ids[-1], *ids[:2])
        if per.get(ids[-1], 0) >= _PER_CADENCE or head in heads:
            continue
        per[ids[-1]] = per.get(ids[-1], 0) + 1
        heads.add(head)
        kept.append(_line(path, role, frame, prices))
        if len(kept) == _LINES:
            break
    return tuple(kept)


class _Search:
    """The shortest paths through one phrase."""

    def __init__(
        self,
        book: Book,
        codes: tuple[int, ...],
        frame: Frame,
        prices: Prices,
        *,
        strict: bool,
    ) -> None:
        self.book, self.codes, self.frame, self.prices = book, codes, frame, prices
        self.strict = strict
        self.names = _VERSE if frame.verses else {}
        self.pictures = bool(book.role("picture")) and not frame.verses

    def _laid(
        self, path: _Path | None, formula: Formula, laying: tuple[int, ...], at: int
    ) -> Piece:
        held = self.frame.entry if path is None else path.last.last
        roof = held if path is None else path.last.roof
        if path is None and formula.start is not None:
            roof = max(held, formula.start)  # weak syllables before any stress have no roof yet
        part = self.codes[at : at + len(laying)]
        return _piece(self.book, formula, laying, part, held, roof, self.frame, self.prices)

    def _steps(self, role: str, at: int, *, to_end: bool) -> tuple[_Step, ...]:
        name = self.names.get(role, role)
        return _steps(self.book, name, self.codes[at:], to_end=to_end, strict=self.strict)

    def _spread(
        self, states: list[dict[_Place, _Best]], paths: Sequence[_Path | None], at: int
    ) -> None:
        """Lay openings and bridges on from a place."""
        inner = "picture" if self.pictures else "bridge"
        middle = self._steps(inner, at, to_end=False)
        if at == 0:
            head = ("open", "bridge") if self.pictures else ("open",)
            middle = (*(s for r in head for s in self._steps(r, at, to_end=False)), *middle)
        for formula, laying in middle:
            after = states[at + len(laying)]
            for path in paths:
                piece = self._laid(path, formula, laying, at)
                best = after.setdefault((piece.sung[-1].last, formula.after), _Best(_KEPT))
                if not _may_follow(path, piece):
                    continue
                if (path.cost if path is not None else 0.0) + piece.cost < best.limit:
                    grown = _grown(path, piece, at, self.frame, self.prices)
                    best.add(grown.cost, grown)

    def _close(
        self, role: str, paths: Sequence[_Path | None], at: int
    ) -> list[tuple[float, _Path]]:
        """Lay cadences on to the end of the phrase."""
        ends: dict[str, _Best] = {}
        for formula, laying in self._steps(role, at, to_end=True):
            best = ends.setdefault(formula.id, _Best(2 * _PER_CADENCE))
            for path in paths:
                piece = self._laid(path, formula, laying, at)
                cost = path.cost if path is not None else 0.0
                if cost + piece.cost >= best.limit or not _may_follow(path, piece):
                    continue
                grown = _grown(path, piece, at, self.frame, self.prices)
                cost = grown.cost + sum(self.prices[t] for t in _closing(grown))
                cost += sum(p for _, p in _whole_terms(grown.pieces, self.prices))
                best.add(cost, grown)
        return [(cost, path) for best in ends.values() for cost, _, path in best.paths]

    def run(self, roles: Sequence[str]) -> dict[str, tuple[Line, ...]]:
        """Return the best lines for each kind of cadence."""
        states: list[dict[_Place, _Best]] = [{} for _ in self.codes]
        found: dict[str, list[tuple[float, _Path]]] = {role: [] for role in roles}
        for at in range(len(self.codes)):
            paths: list[_Path | None] = (
                [None] if at == 0 else [p for b in states[at].values() for _, _, p in b.paths]
            )
            if paths:
                self._spread(states, paths, at)
                for role in roles:
                    found[role] += self._close(role, paths, at)
        return {role: _chosen(found[role], role, self.frame, self.prices) for role in roles}


def lines(
    book: Book, codes: tuple[int, ...], roles: Sequence[str], frame: Frame, prices: Prices
) -> Mapping[str, tuple[Line, ...]]:
    """Return the best ways to sing a phrase.

    Parameters
    ----------
    book : Book
        Formulas of the branch.
    codes : tuple of int
        What the words ask of each syllable (`codes_of`).
    roles : sequence of str
        Kinds of cadence that are wanted.
    frame : Frame
        What surrounds the phrase.
    prices : mapping
        Price by name.

    Returns
    -------
    mapping of str to tuple of Line
        For each kind of cadence, best first. Results are remembered in the book.

    Raises
    ------
    ChantError
        If the book has no cadence that can close these syllables.
    """
    key = ("lines", codes, tuple(roles), frame)
    kept: Mapping[str, tuple[Line, ...]] | None = book.memory.get(key)
    if kept is not None:
        return kept
    found = _Search(book, codes, frame, prices, strict=True).run(roles)
    if not all(found.values()):
        loose = _Search(book, codes, frame, prices, strict=False).run(roles)
        found = {role: found[role] or loose[role] for role in roles}
    for role in roles:
        if role in CADENCE_ROLES and not found[role]:
            pattern = "".join("/" if c in (1, 2) else "-" for c in codes)
            raise ChantError(
                f"the book {book.id} has no {role} cadence for a phrase of {len(codes)} syllables"
                f" ({pattern}).",
                remedy="Add a formula row that fits, or write this phrase's melody yourself.",
            )
    book.memory[key] = found
    return found
