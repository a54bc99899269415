"""A line seen from its hymn: what its neighbours need to know, as numbers and as prices.

`terms_of` names every price of a phrase in its hymn one by one, for the report; the beam
(`chantwright.setting.plan`) reckons the same prices for whole tables at once from `Options`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from chantwright.setting.book import Book
from chantwright.setting.laying import priced_memory
from chantwright.setting.line import Line, Prices

__all__ = [
    "Choice",
    "Fixed",
    "Options",
    "Planned",
    "Task",
    "are_different",
    "choices_of",
    "fixed_choice",
    "options_of",
    "terms_of",
]

Kind = Literal["", "equal", "parallel", "marked"]


@dataclass(frozen=True, slots=True)
class Fixed:
    """A phrase whose melody the teacher has fixed.

    Attributes
    ----------
    start, close : int
        First and last degree.
    degrees : frozenset of int
        All it sings.
    top : int
        The highest.
    peak_top : int
        Highest degree of the marked syllable, where this phrase has it; else `top`.
    """

    start: int
    close: int
    degrees: frozenset[int]
    top: int
    peak_top: int


@dataclass(frozen=True, slots=True)
class Task:
    """A phrase to set.

    Attributes
    ----------
    codes : tuple of int
        What the words ask of each syllable.
    role : str
        Cadence the words ask for.
    bound : bool
        Whether the kind of cadence may not be changed.
    fixed : Fixed or None
        The teacher's own melody.
    like : int or None
        Place of the earlier phrase that this one answers.
    kind : str
        Why: ``equal`` words, ``parallel`` words, or ``marked`` by the teacher.
    peak : int or None
        Syllable that is to be the highest of the hymn.
    """

    codes: tuple[int, ...]
    role: str
    bound: bool
    fixed: Fixed | None = None
    like: int | None = None
    kind: Kind = ""
    peak: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One way to sing a phrase, seen from the hymn: a line, or the teacher's fixed melody.

    Attributes
    ----------
    line : Line or None
        None when fixed.
    start, close : int
        First and last degree.
    top, peak_top : int
        Highest degree, and that of the marked syllable (`top` where there is none).
    mask : int
        Degrees, a bit each, as in `Piece`.
    ids : tuple of str
        Its formulas.
    number, opening_number, cadence_number : int
        Numbers of all its formulas, the first, the last; -1 when fixed.
    figure_numbers : tuple of int
        Numbers of the outlines between opening and cadence, each once.
    """

    line: Line | None
    start: int
    close: int
    top: int
    peak_top: int
    mask: int
    ids: tuple[str, ...] = ()
    number: int = -1
    opening_number: int = -1
    cadence_number: int = -1
    figure_numbers: tuple[int, ...] = ()

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

    @property
    def sings(self) -> tuple[Any, ...]:
        """Its notes, to tell two apart."""
        return self.line.notes if self.line is not None else ()

    def touches(self, degree: int) -> bool:
        """Whether it sings a degree."""
        return bool(self.mask >> (degree + 14) & 1)


@dataclass(frozen=True, slots=True)
class Planned:
    """A choice in its place: by name what it costs there, and how many times each is paid."""

    choice: Choice
    terms: tuple[tuple[str, float], ...]
    amounts: tuple[tuple[str, float], ...] = ()


_Vector = np.ndarray[tuple[int], np.dtype[Any]]


@dataclass(frozen=True, slots=True)
class Options:
    """Choices for one place as vectors, one entry a choice; `figures` has a column an outline."""

    choices: tuple[Choice, ...]
    cost: _Vector
    start: _Vector
    close: _Vector
    top: _Vector
    peak: _Vector
    number: _Vector
    opening: _Vector
    cadence: _Vector
    several: _Vector
    figures: np.ndarray[tuple[int, int], np.dtype[np.float64]]


def _numbers(book: Book) -> dict[Any, int]:
    numbers: dict[Any, int] = book.memory.setdefault("numbers", {})
    return numbers


def _outlines(book: Book) -> dict[str, int]:
    """Numbers of all outlines that can stand between opening and cadence."""
    kept: dict[str, int] | None = book.memory.get("outlines")
    if kept is None:
        roles = ("bridge", "vfoot", "picture")
        names = dict.fromkeys(f.figure for r in roles for f in book.role(r))
        kept = book.memory["outlines"] = {name: i for i, name in enumerate(names)}
    return kept


def choices_of(found: Sequence[Line], book: Book, prices: Prices) -> list[Choice]:
    """Lines as choices; the same lines give the same choices again."""
    memory = priced_memory(book, prices)
    key = ("choices", id(found))
    kept: tuple[Sequence[Line], list[Choice]] | None = memory.get(key)
    if kept is not None:
        return kept[1]
    numbers, outlines = _numbers(book), _outlines(book)
    made = []
    for line in found:
        ids = line.ids
        mask = 0
        top = -99
        for piece in line.pieces:
            mask |= piece.mask
            top = max(top, piece.top)
        peak = line.frame.peak
        inner = dict.fromkeys(outlines[p.formula.figure] for p in line.pieces[1:-1])
        made.append(
            Choice(
                line,
                line.start,
                line.close,
                top,
                top if peak is None else line.sung[peak].top,
                mask,
                ids,
                numbers.setdefault(ids, len(numbers)),
                numbers.setdefault(ids[0], len(numbers)),
                numbers.setdefault(ids[-1], len(numbers)),
                tuple(inner),
            )
        )
    memory[key] = (found, made)  # keeps `found`, so that its id stays its own
    return made


def fixed_choice(fixed: Fixed) -> Choice:
    """The teacher's melody as a choice."""
    mask = sum(1 << (d + 14) for d in fixed.degrees)
    return Choice(None, fixed.start, fixed.close, fixed.top, fixed.peak_top, mask)


def options_of(book: Book, choices: Sequence[Choice], task: Task, prices: Prices) -> Options:
    """Choices as vectors; the cost has the price of a close of another kind in it."""
    other = prices["other-cadence"]
    figures = np.zeros((len(choices), len(_outlines(book))))
    rows = [row for row, choice in enumerate(choices) for _ in choice.figure_numbers]
    figures[rows, [n for choice in choices for n in choice.figure_numbers]] = 1.0
    cost = [
        c.cost + (other if c.line is not None and c.line.role != task.role else 0.0)
        for c in choices
    ]
    return Options(
        tuple(choices),
        np.array(cost),
        np.array([c.start for c in choices]),
        np.array([c.close for c in choices]),
        np.array([c.top for c in choices]),
        np.array([c.peak_top for c in choices]),
        np.array([c.number for c in choices]),
        np.array([c.opening_number for c in choices]),
        np.array([c.cadence_number for c in choices]),
        np.array([len(c.ids) > 1 for c in choices]),
        figures,
    )


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
        shared = len(set(other.figure_numbers) & set(new.figure_numbers))
        if shared:
            yield "same-bridge", prices["same-bridge"] * shared


def _answer(other: Choice, new: Choice, kind: Kind, prices: Prices) -> Iterator[tuple[str, float]]:
    """Prices of a phrase that does not answer as it should."""
    if not other.ids or not new.ids:
        return
    if kind == "equal":
        if other.ids != new.ids:
            yield "other-music", prices["other-music"]
        return
    unlike = (other.cadence != new.cadence) + (other.opening != new.opening)
    if unlike:
        name = "not-the-same" if kind == "marked" else "unlike-parallel"
        yield name, prices[name] * unlike


def _plan(
    past: Sequence[Choice], new: Choice, tasks: Sequence[Task], base: int, prices: Prices
) -> Iterator[tuple[str, float]]:
    """Prices of the plan of cadences."""
    place = len(past)
    task = tasks[place]
    if new.line is not None and new.line.role != task.role:
        yield "other-cadence", prices["other-cadence"]
    before = past[-1] if past else None
    steps = max(0, abs(new.start - (base if before is None else before.close)) - 2)
    if steps:
        yield "entry", prices["entry"] * steps
    if before is None:
        return
    if place >= 2 and before.close == past[-2].close == new.close:
        other = tasks[place - 1]
        if not (task.bound and (other.bound or other.fixed is not None)):
            yield "three-equal", prices["three-equal"]
    if place == len(tasks) - 1:
        if place >= 2 and before.close == new.close:
            yield "unprepared-close", prices["unprepared-close"]
        if place >= 3 and not any(c.touches(base) for c in past):
            yield "base-untouched", prices["base-untouched"]


def terms_of(
    choices: Sequence[Choice], place: int, tasks: Sequence[Task], base: int, prices: Prices
) -> Iterator[tuple[str, float]]:
    """Every price of a phrase in its hymn.

    Parameters
    ----------
    choices : sequence of Choice
        One for each phrase, at least up to this one.
    place : int
        The phrase.
    tasks : sequence of Task
        All phrases.
    base : int
        Base degree of the branch.
    prices : mapping
        Price by name.

    Yields
    ------
    (str, float)
        Name and price.
    """
    past, new, task = choices[:place], choices[place], tasks[place]
    yield from _plan(past, new, tasks, base, prices)
    if task.like is not None:
        yield from _answer(past[task.like], new, task.kind, prices)
    for back, other in enumerate(reversed(past[-4:]), start=1):
        if place - back != task.like:
            yield from _repeats(back, other, new, prices)
    peak = next((i for i, t in enumerate(tasks) if t.peak is not None), None)
    if peak is None or place < peak:
        return
    high = max((c.top for c in past), default=-99)
    if place == peak:
        over = max(high, new.top) - new.peak_top
    else:
        over = new.top - max(high, past[peak].peak_top)
    if over > 0:
        yield "peak-passed", prices["peak-passed"] * over


def are_different(a: Choice, b: Choice, *, strict: bool) -> bool:
    """Whether two lines for the same words count as different.

    Parameters
    ----------
    a, b : Choice
        The two.
    strict : bool
        Whether their opening or cadence must be another; else two syllables are enough.
    """
    other = sum(x != y for x, y in zip(a.sings, b.sings, strict=True))
    if not strict:
        return other >= 2 or (other == 1 and len(a.sings) < 3)
    return bool(other) and (a.opening != b.opening or a.cadence != b.cadence)
