"""The whole hymn: which of the good lines of each phrase go well together.

A beam goes from phrase to phrase. It follows the words' own cadences (comma: a medial close;
semicolon, colon or end of sense: a full one; the end: the final), keeps three phrases from closing
alike, prepares the last close, touches the base, rises to a marked word, and makes a phrase differ
from those before it. A phrase that answers an earlier one (`chantwright.setting.parallel`) begins
and ends like it. Alternatives are found by going again with a price on what was used.

All phrases that may come next are priced at once, as a table of settings so far by lines.

The cadence plan is common practice; that like cola get like music is in Arvanitis, on heirmoi and
stichera.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from chantwright.setting.book import Book
from chantwright.setting.choice import (
    Choice,
    Options,
    Planned,
    Task,
    are_different,
    choices_of,
    fixed_choice,
    options_of,
    terms_of,
)
from chantwright.setting.keeping import keeping
from chantwright.setting.line import Frame, Prices
from chantwright.setting.phrase import SPREAD, lines, lines_of, no_cadence

__all__ = ["best_plans", "phrase_options"]

_BEAM = 32
"""Settings kept from phrase to phrase."""
_OTHER_CADENCE = {"medial": "full", "full": "medial"}
_BACK = 4
"""Phrases back that are still remembered by the ear."""


class _State(NamedTuple):
    cost: float
    ranked: float
    choices: tuple[Choice, ...]


_Table = np.ndarray[tuple[int, int], np.dtype[np.float64]]


class _Sheet(NamedTuple):
    """Settings so far (rows) by lines that may come next (columns)."""

    states: Sequence[_State]
    options: Options
    added: _Table
    ranked: _Table


class _Run:
    """One beam over the phrases of a hymn."""

    def __init__(
        self, book: Book, tasks: Sequence[Task], frame: Frame, base: int, prices: Prices
    ) -> None:
        self.book, self.tasks, self.frame = book, tasks, frame
        self.base, self.prices = base, prices
        self.found: dict[tuple[int, int | None], Options | None] = {}
        self.peak = next((i for i, t in enumerate(tasks) if t.peak is not None), None)

    # ------------------------------------------------------------------ what may come next

    def frame_at(self, place: int, entry: int | None) -> Frame:
        """What surrounds a phrase."""
        frame = self.frame
        first = frame.first and place == 0
        peak = self.tasks[place].peak
        return Frame(entry, first, frame.starts, frame.usual, frame.verses, peak)

    def options(self, place: int, entry: int | None) -> Options | None:
        """Lines for a phrase: those that begin on the note before because it was sung, or others.

        The others are those asked for with None. Gives None where there are none of the sort.
        """
        key = (place, entry)
        if key not in self.found:
            task = self.tasks[place]
            if task.fixed is not None:
                choices = [fixed_choice(task.fixed)] if entry is None else []
            else:
                roles = [task.role]
                if not task.bound and not self.frame.verses and task.role in _OTHER_CADENCE:
                    roles.append(_OTHER_CADENCE[task.role])
                frame = self.frame_at(place, entry)
                found = lines(self.book, task.codes, roles, frame, self.prices)
                choices = [c for r in roles for c in choices_of(found[r], self.book, self.prices)]
                limit = min((c.cost for c in choices), default=0.0) + SPREAD
                choices = [c for c in choices if c.cost <= limit]
            made = options_of(self.book, choices, task, self.prices) if choices else None
            self.found[key] = made
        return self.found[key]

    def answers(self, past: Sequence[Choice], place: int) -> list[Choice]:
        """Lines that take up the music of the phrase this one answers."""
        task = self.tasks[place]
        if task.like is None or task.fixed is not None:
            return []
        before = past[task.like]
        if before.line is None:
            return []
        ends = ("final", "long")
        role = before.line.role
        if role != task.role and (role in ends or task.role in ends):
            return []
        if task.codes == self.tasks[task.like].codes and task.peak is None:
            return [before]  # the very same music
        frame = self.frame_at(place, past[-1].close)
        found = lines_of(self.book, task.codes, role, frame, self.prices, before.ids)
        return choices_of(found, self.book, self.prices)[:2]

    # ------------------------------------------------------------------ prices, all at once

    def _added(self, states: Sequence[_State], options: Options, place: int) -> _Table:
        """What each line adds to each setting so far: settings x lines."""
        task, prices = self.tasks[place], self.prices
        pasts = [s.choices for s in states]
        total = np.zeros((len(states), len(options.choices))) + options.cost
        close = np.array([p[-1].close if p else self.base for p in pasts])[:, None]
        total += prices["entry"] * np.maximum(0, np.abs(options.start - close) - 2)
        if not place:
            return self._peaked(total, pasts, options, place)
        total += self._heard(pasts, options, task, place)
        if place >= 2:
            equal = np.array([p[-1].close == p[-2].close for p in pasts])[:, None]
            before = self.tasks[place - 1]
            if not (task.bound and (before.bound or before.fixed is not None)):
                total += prices["three-equal"] * (equal & (close == options.close))
            if place == len(self.tasks) - 1:
                total += prices["unprepared-close"] * (close == options.close)
        if place == len(self.tasks) - 1 and place >= 3:
            bare = [not any(c.touches(self.base) for c in p) for p in pasts]
            total += prices["base-untouched"] * np.array(bare)[:, None]
        return self._peaked(total, pasts, options, place)

    def _heard(
        self, pasts: Sequence[Sequence[Choice]], options: Options, task: Task, place: int
    ) -> _Table:
        """Prices of what was heard before."""
        prices = self.prices
        total = np.zeros((len(pasts), len(options.choices)))
        figures = np.zeros((len(pasts), options.figures.shape[1]))
        for back in range(1, min(_BACK, place) + 1):
            if task.like == place - back:
                continue
            others = [p[-back] for p in pasts]
            cadence = np.array([o.cadence_number for o in others])[:, None]
            opening = np.array([o.opening_number for o in others])[:, None]
            same = (cadence == options.cadence) & (cadence >= 0)
            total += prices[f"same-cadence-{min(back, 3)}"] * same
            if back <= 3:
                alike = (opening == options.opening) & options.several & (opening >= 0)
                total += prices["same-opening"] * alike
                for row, other in enumerate(others):
                    for number in other.figure_numbers:
                        figures[row, number] += 1
        total += prices["same-bridge"] * (figures @ options.figures.T)
        if task.like is not None:
            others = [p[task.like] for p in pasts]
            known = np.array([bool(o.ids) for o in others])[:, None] & (options.cadence >= 0)
            cadence = np.array([o.cadence_number for o in others])[:, None]
            opening = np.array([o.opening_number for o in others])[:, None]
            unlike = (cadence != options.cadence) * 1.0 + (opening != options.opening)
            if task.kind == "equal":
                keys = np.array([o.number for o in others])[:, None]
                total += prices["other-music"] * (known & (keys != options.number))
            else:
                name = "not-the-same" if task.kind == "marked" else "unlike-parallel"
                total += prices[name] * known * unlike
        return total

    def _peaked(
        self, total: _Table, pasts: Sequence[Sequence[Choice]], options: Options, place: int
    ) -> _Table:
        """Prices of other words that stand higher than the marked one."""
        peak = self.peak
        if peak is None or place < peak:
            return total
        price = self.prices["peak-passed"]
        if place == peak:
            above = np.array([max((c.top for c in p), default=-99) for p in pasts])[:, None]
            total += price * np.maximum(0, np.maximum(above, options.top) - options.peak)
            return total
        high = np.array([max(p[peak].peak_top, *(c.top for c in p)) for p in pasts])[:, None]
        total += price * np.maximum(0, options.top - high)
        return total

    # ------------------------------------------------------------------ the beam

    def beam(self, others: Sequence[Sequence[Choice]] = (), price: float = 0.0) -> list[_State]:
        """Return the best settings of the whole, shunning what earlier ones used."""
        states = [_State(0.0, 0.0, ())]
        for place in range(len(self.tasks)):
            groups: dict[int, list[_State]] = {}
            for state in states:
                entry = state.choices[-1].close if place else self.base
                groups.setdefault(entry, []).append(state)
            sorts = [(states, self.options(place, None))]
            sorts += [(group, self.options(place, entry)) for entry, group in groups.items()]
            for state in states:
                again = self.answers(state.choices, place)
                if again:
                    own = options_of(self.book, again, self.tasks[place], self.prices)
                    sorts.append(([state], own))
            sheets = [self._sheet(g, o, place, others, price) for g, o in sorts if o is not None]
            if not sheets:
                task = self.tasks[place]
                raise no_cadence(self.book, task.codes, [task.role])
            states = _spread(sheets)
        return states

    def _sheet(
        self,
        states: Sequence[_State],
        options: Options,
        place: int,
        others: Sequence[Sequence[Choice]],
        price: float,
    ) -> _Sheet:
        """Settings so far by lines that may come next, with what each comes to."""
        added = self._added(states, options, place)
        ranked = added + np.array([s.ranked for s in states])[:, None]
        for other in others:
            mine = other[place]
            if mine.ids:
                used = (options.cadence == mine.cadence_number) * 1.0
                ranked += price * (used + (options.opening == mine.opening_number))
        return _Sheet(states, options, added, ranked)

    def planned(self, choices: Sequence[Choice]) -> tuple[Planned, ...]:
        """Write out the prices of a finished setting."""
        once = dict.fromkeys(self.prices, 1.0)
        return tuple(
            Planned(
                c,
                tuple(terms_of(choices, place, self.tasks, self.base, self.prices)),
                tuple(terms_of(choices, place, self.tasks, self.base, once)),
            )
            for place, c in enumerate(choices)
        )


def _spread(sheets: Sequence[_Sheet]) -> list[_State]:
    """Keep the best settings, not too many with the same closes, so that a plan stays open."""
    ranked = np.concatenate([s.ranked.ravel() for s in sheets])
    starts = list(accumulate((s.ranked.size for s in sheets), initial=0))
    cadences = np.concatenate([np.tile(s.options.cadence, len(s.states)) for s in sheets])
    closes = np.concatenate(
        [
            (np.array([_closes(t.choices) for t in s.states])[:, None] + s.options.close).ravel()
            for s in sheets
        ]
    )
    order = np.argsort(ranked, kind="stable")
    kept: list[_State] = []
    by_cadence: Counter[int] = Counter()
    by_closes: Counter[int] = Counter()
    rows = zip(order.tolist(), cadences[order].tolist(), closes[order].tolist(), strict=True)
    for flat, cadence, close in rows:
        if by_cadence[cadence] >= _BEAM // 4 or by_closes[close] >= _BEAM // 3:
            continue
        by_cadence[cadence] += 1
        by_closes[close] += 1
        which = bisect_right(starts, flat) - 1
        sheet = sheets[which]
        row, column = divmod(flat - starts[which], len(sheet.options.choices))
        state, choice = sheet.states[row], sheet.options.choices[column]
        added = float(sheet.added[row, column])
        kept.append(_State(state.cost + added, float(ranked[flat]), (*state.choices, choice)))
        if len(kept) == _BEAM:
            break
    return kept


def _closes(past: Sequence[Choice]) -> int:
    """The last two closes as one number, to which a third can be added."""
    number = 0
    for choice in past[-2:]:
        number = number * 1000 + (choice.close + 100) * 1000
    return number


def differs(a: Sequence[Choice], b: Sequence[Choice]) -> bool:
    """Whether two settings differ in a third of the free phrases.

    A phrase differs when its opening or its cadence does, and its notes.
    """
    free = [(x, y) for x, y in zip(a, b, strict=True) if x.line is not None and y.line is not None]
    other = sum(
        (x.cadence != y.cadence or x.opening != y.opening) and x.sings != y.sings for x, y in free
    )
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
    with keeping():
        return _best_plans(_Run(book, tasks, frame, base, prices), count)


def _best_plans(run: _Run, count: int) -> list[tuple[Planned, ...]]:
    found: list[tuple[float, tuple[Choice, ...]]] = []
    for _ in range(count):
        price = 0.5
        for _again in range(6 if found else 1):
            states = run.beam([choices for _, choices in found], price)
            fresh = [s for s in states if all(differs(s.choices, f) for _, f in found)]
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


def phrase_options(
    book: Book,
    tasks: Sequence[Task],
    frame: Frame,
    base: int,
    prices: Prices,
    place: int,
    count: int,
) -> list[tuple[Planned, ...]]:
    """Return different ways to sing one phrase between its fixed neighbours, the best first.

    Parameters
    ----------
    book, tasks, frame, base, prices
        As in `best_plans`; every phrase but the one at `place` is fixed.
    place : int
        The phrase.
    count : int
        How many are wanted. Each differs from the others in its opening or its cadence; where
        there are not enough of those, in any two of its syllables.
    """
    run = _Run(book, tasks, frame, base, prices)
    fixed = [fixed_choice(t.fixed) if t.fixed is not None else None for t in tasks]
    before = fixed[place - 1] if place else None
    entry = before.close if before is not None else base
    past = tuple(c for c in fixed[:place] if c is not None)
    after = tuple(c for c in fixed[place + 1 :] if c is not None)
    priced = []
    with keeping():
        sorts = (run.options(place, None), run.options(place, entry))
        found = [c for options in sorts if options is not None for c in options.choices]
        found += run.answers(past, place)
    if not found:
        raise no_cadence(book, tasks[place].codes, [tasks[place].role])
    for choice in found:
        whole = (*past, choice, *after)
        cost = choice.cost
        for at in range(place, min(len(tasks), place + 3)):
            cost += sum(p for _, p in terms_of(whole, at, tasks, base, prices))
        priced.append((cost, choice.ids, choice))
    ranked = [c for _, _, c in sorted(priced, key=lambda p: p[:2])]
    kept: list[Choice] = []
    for strict in (True, False):
        for choice in ranked:
            if len(kept) < count and all(are_different(choice, k, strict=strict) for k in kept):
                kept.append(choice)
    order = {id(c): i for i, c in enumerate(ranked)}
    kept.sort(key=lambda c: order[id(c)])
    return [run.planned((*past, c, *after)) for c in kept]
