"""The whole hymn: which of the good lines of each phrase go well together.

A beam goes from phrase to phrase. It follows the words' own cadences (comma: a medial close;
semicolon, colon or end of sense: a full one; the end: the final), keeps three phrases from closing
alike, prepares the last close, touches the base, and makes a phrase differ from those before it.
Equal words get equal music. Alternatives are found by going again with a price on what was used.

The cadence plan is common practice; that like cola get like music is in Arvanitis, on heirmoi and
stichera.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from chantwright.setting.book import Book
from chantwright.setting.line import Line, Prices
from chantwright.setting.phrase import Frame, lines

__all__ = ["Choice", "Fixed", "Planned", "Task", "best_plans"]

_BEAM = 32
"""Settings kept from phrase to phrase."""
_SPREAD = 4.0
"""Lines dearer than the best by more than this are not considered."""
_OTHER_CADENCE = {"medial": "full", "full": "medial"}


@dataclass(frozen=True, slots=True)
class Fixed:
    """A phrase whose melody the teacher has fixed: where it begins and ends, what it sings."""

    start: int
    close: int
    degrees: frozenset[int]


@dataclass(frozen=True, slots=True)
class Task:
    """A phrase to set.

    Attributes
    ----------
    codes : tuple of int
        What the words ask of each syllable.
    role : str
        Cadence the words ask for.
    words : str
        The words, stripped, to find equal phrases.
    bound : bool
        Whether the kind of cadence may not be changed.
    fixed : Fixed or None
        The teacher's own melody.
    """

    codes: tuple[int, ...]
    role: str
    words: str
    bound: bool
    fixed: Fixed | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One way to sing a phrase, seen from the hymn: a line, or the teacher's fixed melody.

    Attributes
    ----------
    line : Line or None
        None when fixed.
    start, close : int
        First and last degree.
    degrees : frozenset of int
        All it sings.
    ids : tuple of str
        Its formulas.
    figures : frozenset of str
        Outlines of the formulas between opening and cadence.
    """

    line: Line | None
    start: int
    close: int
    degrees: frozenset[int]
    ids: tuple[str, ...] = ()
    figures: frozenset[str] = frozenset()

    @property
    def opening(self) -> str:
        """Id of its first formula."""
        return self.ids[0] if self.ids else ""

    @property
    def cadence(self) -> str:
        """Id of its last formula."""
        return self.ids[-1] if self.ids else ""

    @property
    def cost(self) -> float:
        """What the phrase costs by itself."""
        return self.line.cost if self.line is not None else 0.0


@dataclass(frozen=True, slots=True)
class Planned:
    """A choice in its place, with what it costs there: (name, price)."""

    choice: Choice
    terms: tuple[tuple[str, float], ...]


class _State(NamedTuple):
    cost: float
    ranked: float
    choices: tuple[Choice, ...]


_PairPrices = dict[tuple[int, int, int], float]


def _choices(found: Sequence[Line], book: Book) -> list[Choice]:
    key = ("choices", id(found))
    kept: tuple[Sequence[Line], list[Choice]] | None = book.memory.get(key)
    if kept is not None:
        return kept[1]
    made = [
        Choice(
            line,
            line.start,
            line.close,
            frozenset(n.degree for part in line.notes for n in part),
            line.ids,
            frozenset(p.formula.figure for p in line.pieces[1:-1]),
        )
        for line in found
    ]
    book.memory[key] = (found, made)
    return made


def _repeats(back: int, other: Choice, new: Choice, prices: Prices) -> Iterator[tuple[str, float]]:
    """Prices for what was heard so many phrases back."""
    if not other.ids or not new.ids:
        return
    if other.cadence == new.cadence:
        name = f"same-cadence-{min(back, 3)}"
        yield name, prices[name]
    if back <= 3:
        if len(new.ids) > 1 and other.opening == new.opening:
            yield "same-opening", prices["same-opening"]
        shared = len(other.figures & new.figures)
        if shared:
            yield "same-bridge", prices["same-bridge"] * shared


def _twin(tasks: Sequence[Task], place: int) -> int | None:
    """Place of the last earlier phrase with the same words."""
    words = tasks[place].words
    return next((p for p in reversed(range(place)) if words and tasks[p].words == words), None)


def _plan_terms(
    past: Sequence[Choice], new: Choice, tasks: Sequence[Task], base: int, prices: Prices
) -> Iterator[tuple[str, float]]:
    """Prices of the plan of cadences."""
    place = len(past)
    task = tasks[place]
    if new.line is not None and new.line.role != task.role:
        yield "other-cadence", prices["other-cadence"]
    if not past:
        return
    before = past[-1]
    if place >= 2 and before.close == past[-2].close == new.close:
        free = not (task.bound and (tasks[place - 1].bound or tasks[place - 1].fixed is not None))
        if free:
            yield "three-equal", prices["three-equal"]
    if place == len(tasks) - 1:
        if place >= 2 and before.close == new.close:
            yield "unprepared-close", prices["unprepared-close"]
        if place >= 3 and not any(base in c.degrees for c in past):
            yield "base-untouched", prices["base-untouched"]
    if new.line is None or any(new is c for c in past):
        steps = max(0, abs(new.start - before.close) - 2)
        if steps:
            yield "entry", prices["entry"] * steps


def _terms(
    past: Sequence[Choice], new: Choice, tasks: Sequence[Task], base: int, prices: Prices
) -> Iterator[tuple[str, float]]:
    """Every price of a phrase in its hymn."""
    yield from _plan_terms(past, new, tasks, base, prices)
    twin = _twin(tasks, len(past))
    if twin is not None and new.ids and past[twin].ids:
        if past[twin].ids == new.ids:
            return  # equal words, equal music: nothing is a repeat
        yield "other-music", prices["other-music"]
    for back, other in enumerate(reversed(past[-4:]), start=1):
        yield from _repeats(back, other, new, prices)


def _options(book: Book, task: Task, frame: Frame, prices: Prices) -> list[Choice]:
    if task.fixed is not None:
        return [Choice(None, task.fixed.start, task.fixed.close, task.fixed.degrees)]
    roles = [task.role]
    if not task.bound and not frame.verses and task.role in _OTHER_CADENCE:
        roles.append(_OTHER_CADENCE[task.role])
    found = lines(book, task.codes, roles, frame, prices)
    return [choice for role in roles for choice in _choices(found[role], book)]


def _avoided(place: int, new: Choice, others: Sequence[Sequence[Choice]], price: float) -> float:
    """Price for doing as an earlier alternative did."""
    total = 0.0
    for other in others:
        if new.ids:
            total += price * (other[place].cadence == new.cadence)
            total += price * (other[place].opening == new.opening)
    return total


class _Run:
    """One beam over the phrases of a hymn."""

    def __init__(
        self, book: Book, tasks: Sequence[Task], frame: Frame, base: int, prices: Prices
    ) -> None:
        self.book, self.tasks, self.frame = book, tasks, frame
        self.base, self.prices = base, prices
        self.pairs: _PairPrices = book.memory.setdefault(("pairs", frame.verses), {})

    def _heard(self, past: Sequence[Choice], new: Choice) -> float:
        """Sum of `_repeats`, remembered for each pair."""
        total = 0.0
        for back, other in enumerate(reversed(past[-4:]), start=1):
            key = (id(other), id(new), back)
            price = self.pairs.get(key)
            if price is None:
                price = sum(p for _, p in _repeats(back, other, new, self.prices))
                if other.line is not None:  # fixed phrases live only as long as this call
                    self.pairs[key] = price
            total += price
        return total

    def _added(self, past: Sequence[Choice], new: Choice, twin: int | None) -> float:
        added = new.cost
        for _, price in _plan_terms(past, new, self.tasks, self.base, self.prices):
            added += price
        if twin is not None and new.ids and past[twin].ids:
            if past[twin].ids == new.ids:
                return added
            added += self.prices["other-music"]
        return added + self._heard(past, new)

    def beam(self, others: Sequence[Sequence[Choice]] = (), price: float = 0.0) -> list[_State]:
        """Return the best settings of the whole, shunning what earlier ones used."""
        states = [_State(0.0, 0.0, ())]
        for place, task in enumerate(self.tasks):
            twin = _twin(self.tasks, place)
            options: dict[int, list[tuple[Choice, float]]] = {}
            grown: list[_State] = []
            for _cost, ranked, past in states:
                entry = past[-1].close if past else self.frame.entry
                if entry not in options:
                    options[entry] = [
                        (o, _avoided(place, o, others, price))
                        for o in self._options(task, place, entry)
                    ]
                here = options[entry]
                if twin is not None and self._may_return(past[twin], task):
                    again = past[twin]  # the very music that equal words had before
                    here = [*here, (again, _avoided(place, again, others, price))]
                for option, avoid in here:
                    added = self._added(past, option, twin)
                    grown.append(_State(_cost + added, ranked + added + avoid, (*past, option)))
            grown.sort(key=lambda s: s.ranked)
            states = _spread(grown)
        return states

    @staticmethod
    def _may_return(before: Choice, task: Task) -> bool:
        """Whether a phrase may take over the music of an earlier one with its words."""
        if before.line is None or task.fixed is not None:
            return False
        ends = ("final", "long")
        role = before.line.role
        return role == task.role or (role not in ends and task.role not in ends)

    def _options(self, task: Task, place: int, entry: int) -> list[Choice]:
        frame = self.frame
        here = Frame(entry, frame.first and place == 0, frame.starts, frame.usual, frame.verses)
        found = _options(self.book, task, here, self.prices)
        limit = min(c.cost for c in found) + _SPREAD
        return [c for c in found if c.cost <= limit]

    def planned(self, choices: Sequence[Choice]) -> tuple[Planned, ...]:
        """Write out the prices of a finished setting."""
        return tuple(
            Planned(c, tuple(_terms(choices[:place], c, self.tasks, self.base, self.prices)))
            for place, c in enumerate(choices)
        )


def _spread(grown: Sequence[_State]) -> list[_State]:
    """Keep the best states, not too many with the same closes, so that a plan stays open."""
    kept: list[_State] = []
    by_cadence: Counter[str] = Counter()
    by_closes: Counter[tuple[int, ...]] = Counter()
    for state in grown:
        cadence = state.choices[-1].cadence
        closes = tuple(c.close for c in state.choices[-3:])
        if by_cadence[cadence] < _BEAM // 4 and by_closes[closes] < _BEAM // 3:
            by_cadence[cadence] += 1
            by_closes[closes] += 1
            kept.append(state)
        if len(kept) == _BEAM:
            break
    return kept


def _differs(a: Sequence[Choice], b: Sequence[Choice]) -> bool:
    """Whether two settings differ in opening or cadence in at least a third of the free phrases."""
    free = [(x, y) for x, y in zip(a, b, strict=True) if x.line is not None]
    other = sum(x.cadence != y.cadence or x.opening != y.opening for x, y in free)
    return other > 0 and 3 * other >= len(free)


def best_plans(
    book: Book, tasks: Sequence[Task], frame: Frame, base: int, prices: Prices, count: int
) -> list[tuple[Planned, ...]]:
    """Return the best settings of a hymn, the cheapest first, each unlike the others.

    Parameters
    ----------
    book : Book
        Formulas of the branch.
    tasks : sequence of Task
        The phrases.
    frame : Frame
        What stands before the first phrase.
    base : int
        Base degree of the branch.
    prices : mapping
        Price by name.
    count : int
        How many are wanted; fewer come when the words allow no more.
    """
    run = _Run(book, tasks, frame, base, prices)
    found: list[tuple[float, tuple[Choice, ...]]] = []
    for _ in range(count):
        price = 0.5
        for _again in range(5 if found else 1):
            states = run.beam([choices for _, choices in found], price)
            fresh = [s for s in states if all(_differs(s.choices, f) for _, f in found)]
            if fresh:
                best = min(fresh, key=lambda s: s.ranked)
                found.append((best.cost, best.choices))
                break
            price *= 2.5
        else:
            break
    first, *others = found
    others.sort(key=lambda f: f[0])
    return [run.planned(choices) for _, choices in (first, *others)]
