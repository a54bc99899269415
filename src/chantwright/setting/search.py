"""The search itself: the shortest paths through one phrase, a few into each state."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from chantwright.setting.account import entry_terms, figured_share, scarce
from chantwright.setting.book import Book, Formula
from chantwright.setting.height import LEVEL_RUN, heading, levelled
from chantwright.setting.laying import (
    Codes,
    Entry,
    Group,
    Joins,
    Next,
    Place,
    Step,
    may_follow,
    steps,
)
from chantwright.setting.line import (
    FLAT_RUN,
    ROOFLESS,
    Frame,
    Kept,
    Line,
    Prices,
    centre_terms,
    lay,
)
from chantwright.setting.paths import PER_CADENCE, Best, Path, chosen

__all__ = ["SPREAD", "Search"]

_KEPT = 8
"""Paths kept in each state."""
SPREAD = 3.5
"""Lines dearer than the best by more than this are not considered."""
_VERSE = {"open": "vopen", "bridge": "vfoot", "medial": "vmed", "full": "vfin", "final": "vfin"}


def _head(step: Step) -> int | None:
    """First degree that is written; None where a piece begins on the note just sung."""
    return step[0].slots[step[1][0]].notes[0].degree


class Search:
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
        self.level = prices["one-height"]
        if "joins" not in memory:
            memory["joins"] = Joins(prices)
        self.joins: Joins = memory["joins"]
        self.parts: Kept = memory.setdefault("made", {})
        self.shares: dict[tuple[int, int], float] = {}
        self.scarcity = [prices[n] if (n := scarce(len(codes), d)) else 0.0 for d in range(8)]
        self.early = 0.0  # price of two notes on the second syllable of the hymn

    # ------------------------------------------------------------------ pieces

    def _entry(self, step: Step, at: int, held: int, roof: int) -> Entry:
        formula, laying = step
        part = self.codes[at : at + len(laying)]
        key = (formula.id, laying, part, held, roof, self.frame.usual)
        entry: Entry | None = self.memory.get(key)
        if entry is None:
            usual = self.frame.usual
            piece = lay(
                formula,
                laying,
                part,
                held=held,
                roof=roof,
                usual=usual,
                prices=self.prices,
                kept=self.parts,
            )
            sung = piece.sung
            cost = piece.cost + self.flat * piece.flat
            if not piece.whole:
                cost += self.flat * max(0, piece.tail - FLAT_RUN)
            tail = self.joins.tail(sung[-2], sung[-1]) if len(sung) > 1 else -1
            if tail >= 0 and formula.shape:
                cost += self.joins.closing[tail]
            head = self.joins.head(sung)
            order = (formula.id, laying)
            cost += self.level * levelled(piece.peaks)[2]
            lead, names = piece.lead, formula.names
            entry = Entry(cost, order, piece, head, tail, lead, names, *heading(piece.peaks))
            self.memory[key] = entry
        peak = None if self.frame.peak is None else self.frame.peak - at
        if peak is not None and 0 <= peak < len(laying):
            low = max(0, self.frame.usual[1] - entry.piece.sung[peak].top)
            entry = entry._replace(cost=entry.cost + low * self.prices["peak-low"])
        return entry

    def _split(
        self, roles: tuple[str, ...], at: int, *, to_end: bool
    ) -> tuple[list[Step], list[Step]]:
        """Steps from a place: those that heed what stands before them, and those that do not."""
        rest = self.codes[at:]
        key = ("split", roles, rest, to_end, self.strict, self.only)
        kept: tuple[list[Step], list[Step]] | None = self.book.memory.get(key)
        if kept is None:
            bound: list[Step] = []
            free: list[Step] = []
            sizes = [len(rest)] if to_end else range(1, len(rest))
            for size in sizes:
                for role in roles:
                    for step in steps(self.book, role, rest[:size], strict=self.strict):
                        if self.only and step[0].id not in self.only:
                            continue
                        slot = step[0].slots[step[1][0]]
                        heedless = slot.kind == "S" and _head(step) is not None
                        (free if heedless else bound).append(step)
            kept = self.book.memory[key] = (bound, free)
        return kept

    def _grouped(self, entries: Iterable[Entry]) -> list[Group]:
        groups: dict[tuple[int, Place], list[Entry]] = {}
        for entry in entries:
            sung, after = entry.piece.sung, entry.piece.formula.after
            place = (sung[-1].last, "" if after is None else repr(after))
            groups.setdefault((len(sung), place), []).append(entry)
        return [(size, place, tuple(sorted(g))) for (size, place), g in groups.items()]

    def _next(self, roles: tuple[str, ...], at: int, *, to_end: bool) -> Next:
        """Pieces that may stand at a place."""
        frame = self.frame
        peak = None if frame.peak is None or frame.peak < at else frame.peak - at
        key = (roles, self.codes[at:], to_end, self.strict, frame.usual, peak, self.only)
        found: Next | None = self.memory.get(key)
        if found is None:
            bound, free = self._split(roles, at, to_end=to_end)
            groups = self._grouped(self._entry(s, at, 0, 0) for s in free)
            found = self.memory[key] = Next(groups, bound, {})
        return found

    def _beginnings(self, following: Next) -> list[Group]:
        """Pieces that may begin the phrase: on a written note, or else on the note before it."""
        entry = self.frame.entry
        key = (entry, ROOFLESS, "begins")
        kept = following.known.get(key)
        if kept is None:
            begins = [s for s in following.bound if (_head(s) is None) == (entry is not None)]
            kept = self._grouped(self._entry(s, 0, entry or 0, ROOFLESS) for s in begins)
            if entry is None:
                kept += following.free
            following.known[key] = kept
        return kept

    def _groups(self, following: Next, at: int, held: int, roof: int) -> list[Group]:
        """Pieces that may follow a note under a roof, grouped by where they end."""
        kept = following.known.get((held, roof))
        if kept is None:
            bound = self._grouped(self._entry(s, at, held, roof) for s in following.bound)
            kept = following.known[held, roof] = bound + following.free
        return kept

    # ------------------------------------------------------------------ paths

    def _begin(self, entry: Entry) -> Path:
        """A path of one piece."""
        piece, prices = entry.piece, self.prices
        sung = piece.sung
        cost = entry.cost + sum(prices[t] for _, t in entry_terms(piece, self.frame))
        if len(sung) > 1:
            cost += sum(prices[t] for t in centre_terms(None, sung[0], sung[1]))
        cost += self.flat * max(0, piece.lead - FLAT_RUN)
        before = sung[-2] if len(sung) > 1 else None
        return Path(
            cost,
            before,
            sung[-1],
            entry.tail if entry.tail >= 0 else self.joins.tail(None, sung[0]),
            piece.lead if piece.whole else piece.tail,
            (piece,),
            frozenset(piece.formula.names),
            piece.strong,
            piece.figured,
            bool(piece.ends_figured),
            piece.mask,
            *levelled(piece.peaks)[:2],
        )

    def _again(self, path: Path, entry: Entry) -> float:
        """What is paid for a run on one note over a join, an outline come back, an early figure."""
        piece = entry.piece
        cost = 0.0
        run = piece.lead
        if run:
            over = run - FLAT_RUN if run > FLAT_RUN else 0
            if path.run and path.last.last == piece.sung[0].first:
                over = max(0, run + path.run - FLAT_RUN) - max(0, path.run - FLAT_RUN)
            cost += self.flat * over
        for name in entry.names:
            if name in path.figures:
                cost += self.twice
        if self.early and piece.sung[0].notes > 1:
            cost += self.early
        if entry.height == path.height and entry.level + path.level > LEVEL_RUN:
            over = levelled(piece.peaks, path.height, path.level)[2] - levelled(piece.peaks)[2]
            cost += self.level * over
        return cost

    def _grown(self, path: Path, entry: Entry, cost: float) -> Path:
        piece = entry.piece
        sung = piece.sung
        run = piece.tail
        if piece.whole:
            run = piece.lead
            if path.run and run and path.last.last == sung[0].first:
                run += path.run
        ends = path.ends_figured if piece.ends_figured is None else piece.ends_figured
        return Path(
            cost,
            sung[-2] if len(sung) > 1 else path.last,
            sung[-1],
            entry.tail if entry.tail >= 0 else self.joins.tail(path.last, sung[0]),
            run,
            (*path.pieces, piece),
            path.figures.union(entry.names),
            path.strong + piece.strong,
            path.figured + piece.figured,
            ends,
            path.mask | piece.mask,
            *levelled(piece.peaks, path.height, path.level)[:2],
        )

    def _whole(self, strong: int, figured: int, mask: int) -> float:
        """Prices of the phrase as a whole; `figured` is without the last stress."""
        key = (strong, figured)
        cost = self.shares.get(key)
        if cost is None:
            cost = self.prices["figured"] * figured_share(strong - 1, figured)
            self.shares[key] = cost
        degrees = mask.bit_count()
        return cost + self.scarcity[degrees] if degrees < len(self.scarcity) else cost

    def _finished(self, path: Path, entry: Entry, cost: float) -> float:
        """What a path costs that this piece closes."""
        piece = entry.piece
        if entry.tail < 0:
            cost += self.joins.closing[self.joins.tail(path.last, piece.sung[0])]
        ends = path.ends_figured if piece.ends_figured is None else piece.ends_figured
        whole = self._whole(
            path.strong + piece.strong,
            path.figured + piece.figured - ends,
            path.mask | piece.mask,
        )
        return cost + whole

    def _roles(self, at: int) -> tuple[str, ...]:
        """Roles that may stand at a place inside the phrase."""
        if self.pictures:
            return ("open", "bridge", "picture") if at == 0 else ("picture",)
        names = ("open", "bridge") if at == 0 else ("bridge",)
        return tuple(self.names.get(n, n) for n in names)

    def _open(self, states: list[dict[Place, Best]]) -> None:
        """Lay the first pieces."""
        following = self._next(self._roles(0), 0, to_end=False)
        for size, last, entries in self._beginnings(following):
            best = states[size].setdefault(last, Best(_KEPT))
            for entry in entries:
                if entry.cost >= best.limit:
                    break
                path = self._begin(entry)
                if path.cost < best.limit:
                    best.add(path.cost, None, entry)

    def _spread(self, states: list[dict[Place, Best]], paths: Sequence[Path], at: int) -> None:
        """Lay bridges on from a place."""
        if not paths:
            return
        following = self._next(self._roles(at), at, to_end=False)
        for path in paths:
            asks = self._asks(path)
            last_sung, so_far, run = path.last, path.cost, path.run
            figures, early, row = path.figures, self.early, self.joins.rows[path.tail]
            height, level = path.height, LEVEL_RUN - path.level
            groups = following.known.get((last_sung.last, last_sung.roof))
            if groups is None:
                groups = self._groups(following, at, last_sung.last, last_sung.roof)
            for size, last, entries in groups:
                after = states[at + size]
                best = after.get(last)
                if best is None:
                    best = after[last] = Best(_KEPT)
                limit = best.limit
                for entry in entries:
                    cost = so_far + entry.cost
                    if cost >= limit:
                        break
                    cost += row[entry.head]
                    if (
                        entry.lead + run > FLAT_RUN
                        or (entry.level > level and entry.height == height)
                        or early
                        or not figures.isdisjoint(entry.names)
                    ):
                        cost += self._again(path, entry)
                    if cost < limit and (asks is None or may_follow(asks, entry.piece.sung[0])):
                        limit = best.add(cost, path, entry)

    @staticmethod
    def _asks(path: Path) -> Formula | None:
        """The last formula, where it asks something of what follows it."""
        formula = path.pieces[-1].formula
        return formula if formula.after is not None else None

    def _close(
        self, role: str, paths: Sequence[Path], at: int, ends: dict[str, Best], roof: float
    ) -> float:
        """Lay cadences on to the end of the phrase; give what a line may cost at most."""
        if not paths:
            return roof
        following = self._next((self.names.get(role, role),), at, to_end=True)
        for path in paths:
            here = path.cost
            if here >= roof:
                break
            asks = self._asks(path)
            run, figures, early = path.run, path.figures, self.early
            row = self.joins.rows[path.tail]
            height, level = path.height, LEVEL_RUN - path.level
            for _, _, entries in self._groups(following, at, path.last.last, path.last.roof):
                for entry in entries:
                    cost = here + entry.cost
                    if cost >= roof:
                        break
                    best = ends.get(entry.order[0])
                    if best is None:
                        best = ends[entry.order[0]] = Best(PER_CADENCE + 2)
                    if cost >= best.limit:
                        continue
                    cost += row[entry.head]
                    if (
                        entry.lead + run > FLAT_RUN
                        or (entry.level > level and entry.height == height)
                        or early
                        or not figures.isdisjoint(entry.names)
                    ):
                        cost += self._again(path, entry)
                    if cost >= best.limit or cost >= roof:
                        continue
                    if asks is not None and not may_follow(asks, entry.piece.sung[0]):
                        continue
                    total = self._finished(path, entry, cost)
                    if total < best.limit and total < roof:
                        best.add(total, path, entry)
                        roof = min(roof, total + SPREAD)
        return roof

    def _close_whole(self, role: str, ends: dict[str, Best], roof: float) -> None:
        """Lay cadences on the whole phrase."""
        following = self._next((self.names.get(role, role),), 0, to_end=True)
        for _, _, entries in self._beginnings(following):
            for entry in entries:
                if entry.cost >= roof:
                    break
                best = ends.setdefault(entry.piece.formula.id, Best(PER_CADENCE + 2))
                path = self._begin(entry)
                whole = self._whole(path.strong, path.figured - path.ends_figured, path.mask)
                close = 0.0 if entry.tail >= 0 else self.joins.closing[path.tail]
                total = path.cost + close + whole
                if total < best.limit and total < roof:
                    best.add(total, None, entry)
                    roof = min(roof, total + SPREAD)

    def run(self, roles: Sequence[str]) -> dict[str, tuple[Line, ...]]:
        """Return the best lines for each kind of cadence."""
        states: list[dict[Place, Best]] = [{} for _ in self.codes]
        self._open(states)
        reached: list[list[Path]] = [[]]
        for at in range(1, len(self.codes)):
            ranked = sorted(
                (c, k, n, p, e) for k, b in states[at].items() for c, n, p, e in b.paths
            )
            reached.append(
                [
                    self._begin(e) if p is None else self._grown(p, e, c)
                    for c, _, _, p, e in ranked
                    if c <= ranked[0][0] + SPREAD
                ]
            )
            self._heed(at)
            self._spread(states, reached[at], at)
        found = {}
        for role in roles:
            ends: dict[str, Best] = {}
            roof = float("inf")
            # Short cadences first: the best line is soon known, what is dearer need not be tried.
            for at in range(len(self.codes) - 1, 0, -1):
                self._heed(at)
                roof = self._close(role, reached[at], at, ends, roof)
            self._close_whole(role, ends, roof)
            paths = (p for b in ends.values() for p in b.paths)
            found[role] = chosen(paths, role, self.frame, self.prices)
        return found

    def _heed(self, at: int) -> None:
        """Whether a figure on the next syllable would come too early in the hymn."""
        self.early = self.prices["early-figure"] if at == 1 and self.frame.first else 0.0
