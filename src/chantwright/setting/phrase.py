"""The best ways to sing one phrase: a shortest path over syllables and formulas.

A phrase is an opening (or none), feet of filler, and a cadence. The path goes from syllable to
syllable; a step is a formula laid on the syllables that follow, in any way its slots allow; a state
is the place reached and the note just sung. The few best paths into each state are kept, so the
result is a list of lines, best first, of more than one cadence and opening.

So that many words are set quickly, what is laid on the same stresses is laid once and kept: the
formulas that fit a group of syllables (by role and stresses), and the price of every join of two
formulas (by the two syllables on either side of it). Nothing is kept between two sets of prices.

Formulas for bridges may stand after the mark of a phrase and before a formula, never at the end of
a phrase (published composition lessons).
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from chantwright.errors import ChantError
from chantwright.setting.account import entry_terms, figured_share, is_narrow
from chantwright.setting.book import CADENCE_ROLES, Book, Formula
from chantwright.setting.line import (
    FLAT_RUN,
    ROOFLESS,
    Frame,
    Line,
    Piece,
    Prices,
    Sung,
    centre_terms,
    join_terms,
    lay,
)
from chantwright.setting.slots import layings, shortest

__all__ = ["Frame", "codes_of", "lines", "lines_of", "priced_memory"]

Codes = tuple[int, ...]
_KEPT = 5
"""Paths kept in each state."""
_PER_CADENCE = 4
"""Lines kept for each cadence formula."""
_LINES = 32
"""Lines kept for each kind of cadence."""
SPREAD = 4.0
"""Lines dearer than the best by more than this are not considered."""
_VERSE = {"open": "vopen", "bridge": "vfoot", "medial": "vmed", "full": "vfin", "final": "vfin"}


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


def _steps(book: Book, role: str, part: Codes, *, strict: bool) -> tuple[_Step, ...]:
    """Every formula of a role, in every laying, that covers just these syllables."""
    key = ("steps", role, part, strict)
    kept: tuple[_Step, ...] | None = book.memory.get(key)
    if kept is None:
        count = len(part)
        kept = book.memory[key] = tuple(
            (formula, laying)
            for formula in book.role(role)
            if shortest(formula.slots) <= count
            for laying in _layings(book, formula, count)
            if not strict or _fits(formula, laying, part)
        )
    return kept


class _Entry(NamedTuple):
    """A piece as the search sees it.

    `cost` holds all that does not depend on what stands before; `head` and `tail` number its first
    and its last two syllables (`tail` is -1 where it has only one).
    """

    cost: float
    order: tuple[str, tuple[int, ...]]
    piece: Piece
    head: int
    tail: int


_Group = tuple[int, int, tuple[_Entry, ...]]
"""Syllables covered, last degree, entries from cheap to dear."""


class _Next(NamedTuple):
    """Pieces that may stand at a place: free of what stands before, and bound to it."""

    free: list[_Group]
    bound: list[_Step]
    known: dict[tuple[int, int], list[_Group]]


class _Path(NamedTuple):
    cost: float
    before: Sung | None
    last: Sung
    tail: int
    run: int
    pieces: tuple[Piece, ...]
    figures: tuple[str, ...]
    strong: int
    figured: int
    ends_figured: bool
    mask: int


class _Joins:
    """Prices of joins, each reckoned once."""

    def __init__(self, prices: Prices) -> None:
        self.prices = prices
        self.heads: dict[tuple[Sung, Sung | None], int] = {}
        self.head_of: list[tuple[Sung, Sung | None]] = []
        self.tails: dict[tuple[Sung | None, Sung], int] = {}
        self.tail_of: list[tuple[Sung | None, Sung]] = []
        self.rows: list[dict[int, float]] = []
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
            found = self.tails[key] = len(self.tail_of)
            self.tail_of.append(key)
            self.rows.append({})
            self.closing.append(sum(self.prices[t] for t in centre_terms(before, last, None)))
        return found

    def price(self, tail: int, head: int) -> float:
        """Reckon a join."""
        before, last = self.tail_of[tail]
        first, second = self.head_of[head]
        total = sum(self.prices[t] for t in join_terms(last.last, first.first))
        total += sum(self.prices[t] for t in centre_terms(before, last, first))
        if second is not None:
            total += sum(self.prices[t] for t in centre_terms(last, first, second))
        self.rows[tail][head] = total
        return total


def _may_follow(formula: Formula, head: Sung) -> bool:
    """Whether a formula allows a syllable after it (what a row asks of it under needs_after)."""
    after = getattr(formula, "after", None)
    return after is None or (
        after.strong in (None, head.strong)
        and (head.beats >= 2 or not after.held)
        and (not after.degrees or head.first in after.degrees)
    )


class _Best:
    """The few cheapest paths into one place."""

    __slots__ = ("kept", "limit", "number", "paths")

    def __init__(self, kept: int) -> None:
        self.kept = kept
        self.paths: list[tuple[float, int, _Path]] = []
        self.number = 0
        self.limit = float("inf")
        """A path that costs this or more need not be tried."""

    def add(self, cost: float, path: _Path) -> float:
        """Take a path in; of equals the earlier stays. Gives the new limit."""
        self.number += 1
        insort(self.paths, (cost, self.number, path))
        del self.paths[self.kept :]
        if len(self.paths) == self.kept:
            self.limit = self.paths[-1][0]
        return self.limit


def _chosen(
    found: Iterable[tuple[float, int, _Path]], role: str, frame: Frame
) -> tuple[Line, ...]:
    """Keep the best lines, a few for each cadence, no two with the same formulas."""
    ranked = sorted(
        ((cost, tuple(p.formula.id for p in path.pieces), path) for cost, _, path in found),
        key=lambda f: f[:2],
    )
    per: dict[str, int] = {}
    heads: set[tuple[str, ...]] = set()
    kept = []
    for cost, ids, path in ranked:
        head = (ids[-1], *ids[:2])
        if per.get(ids[-1], 0) >= _PER_CADENCE or head in heads:
            continue
        per[ids[-1]] = per.get(ids[-1], 0) + 1
        heads.add(head)
        kept.append(Line(role, path.pieces, cost, frame))
        if len(kept) == _LINES:
            break
    return tuple(kept)


class _Search:
    """The shortest paths through one phrase."""

    def __init__(
        self,
        book: Book,
        memory: dict[Any, Any],
        codes: Codes,
        frame: Frame,
        prices: Prices,
        *,
        strict: bool,
        only: frozenset[str] = frozenset(),
    ) -> None:
        self.only = only  # ids of the formulas that may be used; empty for all
        self.book, self.memory, self.codes, self.frame = book, memory, codes, frame
        self.prices, self.strict = prices, strict
        self.names = _VERSE if frame.verses else {}
        self.pictures = bool(book.role("picture")) and not frame.verses
        self.flat, self.twice = prices["flat"], prices["twice"]
        if "joins" not in memory:
            memory["joins"] = _Joins(prices)
        self.joins: _Joins = memory["joins"]
        self.early = 0.0  # price of two notes on the second syllable of the hymn

    # ------------------------------------------------------------------ pieces

    def _entry(self, step: _Step, at: int, held: int, roof: int) -> _Entry:
        formula, laying = step
        part = self.codes[at : at + len(laying)]
        key = (formula.id, laying, part, held, roof, self.frame.usual)
        entry: _Entry | None = self.memory.get(key)
        if entry is None:
            usual = self.frame.usual
            piece = lay(
                formula, laying, part, held=held, roof=roof, usual=usual, prices=self.prices
            )
            sung = piece.sung
            cost = piece.cost + self.flat * piece.flat
            if not piece.whole:
                cost += self.flat * max(0, piece.tail - FLAT_RUN)
            tail = self.joins.tail(sung[-2], sung[-1]) if len(sung) > 1 else -1
            entry = _Entry(cost, (formula.id, laying), piece, self.joins.head(sung), tail)
            self.memory[key] = entry
        peak = None if self.frame.peak is None else self.frame.peak - at
        if peak is not None and 0 <= peak < len(laying):
            low = max(0, self.frame.usual[1] - entry.piece.sung[peak].top)
            entry = entry._replace(cost=entry.cost + low * self.prices["peak-low"])
        return entry

    def _split(
        self, roles: tuple[str, ...], at: int, *, to_end: bool
    ) -> tuple[list[_Step], list[_Step]]:
        """Steps from a place: those that heed what stands before them, and those that do not."""
        rest = self.codes[at:]
        key = ("split", roles, rest, to_end, self.strict, self.only)
        kept: tuple[list[_Step], list[_Step]] | None = self.book.memory.get(key)
        if kept is None:
            bound: list[_Step] = []
            free: list[_Step] = []
            sizes = [len(rest)] if to_end else range(1, len(rest))
            for size in sizes:
                for role in roles:
                    for step in _steps(self.book, role, rest[:size], strict=self.strict):
                        if self.only and step[0].id not in self.only:
                            continue
                        slot = step[0].slots[step[1][0]]
                        heedless = slot.kind == "S" and slot.notes[0].degree is not None
                        (free if heedless else bound).append(step)
            kept = self.book.memory[key] = (bound, free)
        return kept

    def _grouped(self, entries: Iterable[_Entry]) -> list[_Group]:
        groups: dict[tuple[int, int], list[_Entry]] = {}
        for entry in entries:
            sung = entry.piece.sung
            groups.setdefault((len(sung), sung[-1].last), []).append(entry)
        return [(size, last, tuple(sorted(g))) for (size, last), g in groups.items()]

    def _next(self, roles: tuple[str, ...], at: int, *, to_end: bool) -> _Next:
        """Pieces that may stand at a place."""
        frame = self.frame
        peak = None if frame.peak is None or frame.peak < at else frame.peak - at
        key = (roles, self.codes[at:], to_end, self.strict, frame.usual, peak, self.only)
        found: _Next | None = self.memory.get(key)
        if found is None:
            bound, free = self._split(roles, at, to_end=to_end)
            groups = self._grouped(self._entry(s, at, 0, 0) for s in free)
            found = self.memory[key] = _Next(groups, bound, {})
        return found

    def _groups(self, following: _Next, at: int, held: int, roof: int) -> list[_Group]:
        """Pieces that may follow a note under a roof, grouped by where they end."""
        kept = following.known.get((held, roof))
        if kept is None:
            bound = self._grouped(self._entry(s, at, held, roof) for s in following.bound)
            kept = following.known[held, roof] = bound + following.free
        return kept

    # ------------------------------------------------------------------ paths

    def _begin(self, entry: _Entry) -> _Path:
        """A path of one piece."""
        piece, prices = entry.piece, self.prices
        sung = piece.sung
        cost = entry.cost + sum(prices[t] for _, t in entry_terms(piece, self.frame))
        if len(sung) > 1:
            cost += sum(prices[t] for t in centre_terms(None, sung[0], sung[1]))
        cost += self.flat * max(0, piece.lead - FLAT_RUN)
        before = sung[-2] if len(sung) > 1 else None
        return _Path(
            cost,
            before,
            sung[-1],
            entry.tail if entry.tail >= 0 else self.joins.tail(None, sung[0]),
            piece.lead if piece.whole else piece.tail,
            (piece,),
            (piece.formula.figure,),
            piece.strong,
            piece.figured,
            bool(piece.ends_figured),
            piece.mask,
        )

    def _joined(self, path: _Path, entry: _Entry) -> float:
        """What a path costs with one more piece."""
        row = self.joins.rows[path.tail]
        join = row.get(entry.head)
        if join is None:
            join = self.joins.price(path.tail, entry.head)
        piece = entry.piece
        cost = path.cost + entry.cost + join
        run = piece.lead
        if run:
            over = run - FLAT_RUN if run > FLAT_RUN else 0
            if path.run and path.last.last == piece.sung[0].first:
                over = max(0, run + path.run - FLAT_RUN) - max(0, path.run - FLAT_RUN)
            if over:
                cost += self.flat * over
        if piece.formula.figure in path.figures:
            cost += self.twice
        if self.early and piece.sung[0].notes > 1:
            cost += self.early
        return cost

    def _grown(self, path: _Path, entry: _Entry, cost: float) -> _Path:
        piece = entry.piece
        sung = piece.sung
        run = piece.tail
        if piece.whole:
            run = piece.lead
            if path.run and run and path.last.last == sung[0].first:
                run += path.run
        ends = path.ends_figured if piece.ends_figured is None else piece.ends_figured
        return _Path(
            cost,
            sung[-2] if len(sung) > 1 else path.last,
            sung[-1],
            entry.tail if entry.tail >= 0 else self.joins.tail(path.last, sung[0]),
            run,
            (*path.pieces, piece),
            (*path.figures, piece.formula.figure),
            path.strong + piece.strong,
            path.figured + piece.figured,
            ends,
            path.mask | piece.mask,
        )

    def _whole(self, strong: int, figured: int, mask: int, *, ends_figured: bool) -> float:
        """Prices of the phrase as a whole; the last stress does not count as figured."""
        cost = self.prices["figured"] * figured_share(strong - 1, figured - ends_figured)
        if is_narrow(len(self.codes), mask):
            cost += self.prices["narrow"]
        return cost

    def _finished(self, path: _Path, entry: _Entry, cost: float) -> float:
        """What a path costs that this piece closes."""
        piece = entry.piece
        tail = entry.tail if entry.tail >= 0 else self.joins.tail(path.last, piece.sung[0])
        ends = path.ends_figured if piece.ends_figured is None else piece.ends_figured
        strong, figured = path.strong + piece.strong, path.figured + piece.figured
        whole = self._whole(strong, figured, path.mask | piece.mask, ends_figured=ends)
        return cost + self.joins.closing[tail] + whole

    def _roles(self, at: int) -> tuple[str, ...]:
        """Roles that may stand at a place inside the phrase."""
        if self.pictures:
            return ("open", "bridge", "picture") if at == 0 else ("picture",)
        names = ("open", "bridge") if at == 0 else ("bridge",)
        return tuple(self.names.get(n, n) for n in names)

    def _open(self, states: list[dict[int, _Best]]) -> None:
        """Lay the first pieces."""
        following = self._next(self._roles(0), 0, to_end=False)
        for size, last, entries in self._groups(following, 0, self.frame.entry, ROOFLESS):
            best = states[size].setdefault(last, _Best(_KEPT))
            for entry in entries:
                if entry.cost >= best.limit:
                    break
                path = self._begin(entry)
                if path.cost < best.limit:
                    best.add(path.cost, path)

    def _spread(
        self, states: list[dict[int, _Best]], paths: Sequence[_Path], at: int
    ) -> None:
        """Lay bridges on from a place."""
        following = self._next(self._roles(at), at, to_end=False)
        for path in paths:
            asks = self._asks(path)
            for size, last, entries in self._groups(
                following, at, path.last.last, path.last.roof
            ):
                after = states[at + size]
                best = after.get(last)
                if best is None:
                    best = after[last] = _Best(_KEPT)
                limit = best.limit
                for entry in entries:
                    if path.cost + entry.cost >= limit:
                        break
                    cost = self._joined(path, entry)
                    if cost < limit and (asks is None or _may_follow(asks, entry.piece.sung[0])):
                        limit = best.add(cost, self._grown(path, entry, cost))

    @staticmethod
    def _asks(path: _Path) -> Formula | None:
        """The last formula, where it asks something of what follows it."""
        formula = path.pieces[-1].formula
        return formula if getattr(formula, "after", None) is not None else None

    def _close(
        self, role: str, paths: Sequence[_Path], at: int, ends: dict[str, _Best]
    ) -> None:
        """Lay cadences on to the end of the phrase."""
        following = self._next((self.names.get(role, role),), at, to_end=True)
        roof = min((b.paths[0][0] for b in ends.values() if b.paths), default=9e9) + SPREAD
        for path in paths:
            if path.cost >= roof:
                break
            asks = self._asks(path)
            for _, _, entries in self._groups(following, at, path.last.last, path.last.roof):
                for entry in entries:
                    best = ends.get(entry.piece.formula.id)
                    if best is None:
                        best = ends[entry.piece.formula.id] = _Best(_PER_CADENCE + 2)
                    if path.cost + entry.cost >= min(best.limit, roof):
                        continue
                    cost = self._joined(path, entry)
                    if cost >= best.limit:
                        continue
                    if asks is not None and not _may_follow(asks, entry.piece.sung[0]):
                        continue
                    total = self._finished(path, entry, cost)
                    if total < best.limit:
                        best.add(total, self._grown(path, entry, cost))
                        roof = min(roof, total + SPREAD)

    def _close_whole(self, role: str, ends: dict[str, _Best]) -> None:
        """Lay cadences on the whole phrase."""
        following = self._next((self.names.get(role, role),), 0, to_end=True)
        for _, _, entries in self._groups(following, 0, self.frame.entry, ROOFLESS):
            for entry in entries:
                best = ends.setdefault(entry.piece.formula.id, _Best(_PER_CADENCE + 2))
                path = self._begin(entry)
                ends_figured = path.ends_figured
                total = path.cost + self.joins.closing[path.tail]
                total += self._whole(
                    path.strong, path.figured, path.mask, ends_figured=ends_figured
                )
                if total < best.limit:
                    best.add(total, path)

    def run(self, roles: Sequence[str]) -> dict[str, tuple[Line, ...]]:
        """Return the best lines for each kind of cadence."""
        states: list[dict[int, _Best]] = [{} for _ in self.codes]
        ends: dict[str, dict[str, _Best]] = {role: {} for role in roles}
        self._open(states)
        for role in roles:
            self._close_whole(role, ends[role])
        for at in range(1, len(self.codes)):
            ranked = sorted((c, k, n, p) for k, b in states[at].items() for c, n, p in b.paths)
            paths = [p for _, _, _, p in ranked]
            self.early = self.prices["early-figure"] if at == 1 and self.frame.first else 0.0
            if paths:
                self._spread(states, paths, at)
                for role in roles:
                    self._close(role, paths, at, ends[role])
        return {
            role: _chosen((p for b in ends[role].values() for p in b.paths), role, self.frame)
            for role in roles
        }


def priced_memory(book: Book, prices: Prices) -> dict[Any, Any]:
    """What is remembered of a book under these prices."""
    key = ("priced", tuple(sorted(prices.items())))
    memory: dict[Any, Any] = book.memory.setdefault(key, {})
    return memory


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
    memory = priced_memory(book, prices)
    key = ("lines", codes, tuple(roles), frame)
    kept: Mapping[str, tuple[Line, ...]] | None = memory.get(key)
    if kept is not None:
        return kept
    found = _Search(book, memory, codes, frame, prices, strict=True).run(roles)
    if not all(found.values()):
        loose = _Search(book, memory, codes, frame, prices, strict=False).run(roles)
        found = {role: found[role] or loose[role] for role in roles}
    for role in roles:
        if role in CADENCE_ROLES and not found[role]:
            pattern = "".join("/" if c in (1, 2) else "-" for c in codes)
            raise ChantError(
                f"the book {book.id} has no {role} cadence for a phrase of {len(codes)} syllables"
                f" ({pattern}).",
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
        search = _Search(book, memory, codes, frame, prices, strict=True, only=only)
        found = tuple(
            line
            for line in search.run([role])[role]
            if line.ids[0] == ids[0] and line.ids[-1] == ids[-1]
        )
        if found:
            break
    memory[key] = found
    return found
