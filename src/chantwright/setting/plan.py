"""The whole hymn: which of the good lines of each phrase go well together.

A beam goes from phrase to phrase. It follows the words' own cadences (comma: a medial close;
semicolon, colon or end of sense: a full one; the end: the final), keeps three phrases from closing
alike, prepares the last close, touches the base, and makes a phrase differ from those before it.
Equal words get equal music. Alternatives are found by going again with a price on what was used.

The cadence plan is common practice; that like cola get like music is in Arvanitis, on heirmoi and
stichera.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from chantwright.setting.book import Book
from chantwright.setting.line import Line, Prices
from chantwright.setting.phrase import Frame, lines

__all__ = ["Choice", "Fixed", "Task", "best_plans"]

_BEAM = 24
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


@dataclass(frozen=True, slots=True)
class Choice:
    """What was chosen for a phrase: its line (None when fixed) and the prices of the hymn."""

    line: Line | None
    start: int
    close: int
    degrees: frozenset[int]
    ids: tuple[str, ...]
    figures: frozenset[str]
    terms: tuple[tuple[str, float], ...] = ()

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
        """All it costs."""
        own = self.line.cost if self.line is not None else 0.0
        return own + sum(price for _, price in self.terms)


class _State(NamedTuple):
    cost: float
    ranked: float
    choices: tuple[Choice, ...]


def _choice(line: Line, book: Book) -> Choice:
    key = ("choice", id(line))
    kept: tuple[Line, Choice] | None = book.memory.get(key)
    if kept is not None:
        return kept[1]
    degrees = frozenset(n.degree for part in line.notes for n in part)
    figures = frozenset(p.formula.figure for p in line.pieces[1:-1])
    choice = Choice(line, line.start, line.close, degrees, line.ids, figures)
    book.memory[key] = (line, choice)
    return choice


def _repeats(past: Sequence[Choice], new: Choice, prices: Prices) -> Iterator[tuple[str, float]]:
    """Prices for what was heard not long ago."""
    for back, other in enumerate(reversed(past[-4:]), start=1):
        if not other.ids:
            continue
        if other.cadence == new.cadence:
            name = f"same-cadence-{min(back, 3)}"
            yield name, prices[name]
        if back <= 3:
            if len(new.ids) > 1 and other.opening == new.opening:
                yield "same-opening", prices["same-opening"]
            shared = len(other.figures & new.figures)
            if shared:
                yield "same-bridge", prices["same-bridge"] * shared


def _terms(
    past: Sequence[Choice], new: Choice, tasks: Sequence[Task], base: int, finals: Sequence[int],
    prices: Prices,
) -> tuple[tuple[str, float], ...]:
    """Prices of a phrase in its hymn."""
    place = len(past)
    task = tasks[place]
    terms: list[tuple[str, float]] = []
    if new.line is not None and new.line.role != task.role:
        terms.append(("other-cadence", prices["other-cadence"]))
    twin = next(
        (p for p in reversed(range(place)) if tasks[p].words == task.words and past[p].ids), None
    )
    if twin is not None and new.ids:
        if past[twin].ids != new.ids:
            terms.append(("other-music", prices["other-music"]))
            terms += _repeats(past, new, prices)
    elif new.ids:
        terms += _repeats(past, new, prices)
    if (
        place >= 2
        and past[-1].close == past[-2].close == new.close
        and not (task.bound or tasks[place - 1].bound)
    ):
        terms.append(("three-equal", prices["three-equal"]))
    if place == len(tasks) - 1 and place >= 1:
        if past[-1].close == new.close and place >= 2:
            terms.append(("unprepared-close", prices["unprepared-close"]))
        if place >= 3 and not any(base in c.degrees for c in past):
            terms.append(("base-untouched", prices["base-untouched"]))
    if new.line is None and past:
        steps = max(0, abs(new.start - past[-1].close) - 2)
        if steps:
            terms.append(("entry", prices["entry"] * steps))
    del finals
    return tuple(terms)


def _options(
    book: Book, task: Task, frame: Frame, prices: Prices
) -> list[Choice]:
    if task.fixed is not None:
        fixed = task.fixed
        return [Choice(None, fixed.start, fixed.close, fixed.degrees, (), frozenset())]
    roles = [task.role]
    if not task.bound and not frame.verses and task.role in _OTHER_CADENCE:
        roles.append(_OTHER_CADENCE[task.role])
    found = lines(book, task.codes, roles, frame, prices)
    return [_choice(line, book) for role in roles for line in found[role]]


def _avoided(place: int, new: Choice, others: Sequence[Sequence[Choice]], price: float) -> float:
    """Price for doing as an earlier alternative did."""
    total = 0.0
    for other in others:
        if new.ids:
            total += price * (other[place].cadence == new.cadence)
            total += price * (other[place].opening == new.opening)
    return total


def _run(
    book: Book, tasks: Sequence[Task], frame: Frame, base: int, prices: Prices,
    others: Sequence[Sequence[Choice]], price: float,
) -> list[_State]:
    beam = [_State(0.0, 0.0, ())]
    for place, task in enumerate(tasks):
        grown: list[_State] = []
        options: dict[int, list[Choice]] = {}
        for state in beam:
            entry = state.choices[-1].close if state.choices else frame.entry
            if entry not in options:
                here = Frame(
                    entry, frame.first and place == 0, frame.starts, frame.usual, frame.verses
                )
                options[entry] = _options(book, task, here, prices)
            for option in options[entry]:
                terms = _terms(state.choices, option, tasks, base, (), prices)
                added = option.cost + sum(p for _, p in terms)
                avoid = _avoided(place, option, others, price) if others else 0.0
                made = Choice(
                    option.line, option.start, option.close, option.degrees, option.ids,
                    option.figures, terms,
                )
                grown.append(
                    _State(state.cost + added, state.ranked + added + avoid, (*state.choices, made))
                )
        grown.sort(key=lambda s: (s.ranked, [c.ids for c in s.choices]))
        beam = _spread(grown)
    return beam


def _spread(grown: Sequence[_State]) -> list[_State]:
    """Keep the best states, not too many with one last cadence."""
    kept: list[_State] = []
    seen: dict[str, int] = {}
    for state in grown:
        last = state.choices[-1].cadence
        if seen.get(last, 0) < _BEAM // 4:
            seen[last] = seen.get(last, 0) + 1
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
) -> list[tuple[Choice, ...]]:
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
    found: list[tuple[Choice, ...]] = []
    for _ in range(count):
        price = 0.5
        for _again in range(5 if found else 1):
            beam = _run(book, tasks, frame, base, prices, found, price)
            fresh = [s for s in beam if all(_differs(s.choices, f) for f in found)]
            if fresh:
                found.append(min(fresh, key=lambda s: s.ranked).choices)
                break
            price *= 2.5
        else:
            break
    return found
