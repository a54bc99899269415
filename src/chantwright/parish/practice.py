"""When a hymn should be practised again, and whether a singer is ready to lead it.

Every result is graded by rows of ``data/practice.toml``; a kept scheduling algorithm (FSRS) makes
of the grades the day on which the hymn is best sung again. Readiness is no number: it is a list of
criteria, each with what was asked and what was found.

References
----------
The free spaced repetition scheduler (FSRS), version 6, in its reference package from the registry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from fsrs import Card, Rating, Scheduler
from sqlalchemy import select
from sqlalchemy.orm import Session

from chantwright.parish.records.assignments import Assignment, assignments
from chantwright.parish.records.results import Result, add_result, results_of
from chantwright.parish.records.tables import CardRow, now
from chantwright.rows import Row, load_rows
from chantwright.tuning import fields

__all__ = [
    "Criterion",
    "Due",
    "Rules",
    "Turn",
    "due",
    "grade",
    "load_rules",
    "practice_order",
    "readiness",
    "record",
]

_LAST = 2


@dataclass(frozen=True, slots=True)
class Rules:
    """Grades, best first, and criteria of readiness."""

    grades: Mapping[str, Row]
    readiness: Mapping[str, Row]


@dataclass(frozen=True, slots=True)
class Due:
    """A hymn to practise: when it is due, and how many days it is late (below 0: not yet)."""

    hymn: str
    when: datetime
    late_days: float


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing asked of a leader.

    Attributes
    ----------
    id, what : str
        Its row, and the words for it.
    asked : float
        The limit.
    found : float or None
        What the results say; None when they say nothing.
    met : bool
        Whether it is met; never on no evidence.
    """

    id: str
    what: str
    asked: float
    found: float | None
    met: bool


def load_rules(overrides: Iterable[Path] = ()) -> Rules:
    """Read the rules, a parish's own rows first."""
    tables = load_rows(
        "chantwright.parish", ["practice.toml"], overrides=tuple(overrides),
        tables=["grade", "readiness"],
    )  # fmt: skip
    return Rules(tables["grade"], tables["readiness"])


def _wrong_part(result: Result) -> float:
    return (result.wrong + result.skipped) / result.notes


def grade(result: Result, rules: Rules) -> Row:
    """Return the grade of a result: the first row whose limits all hold.

    A result in which nothing could be measured takes the last row.
    """
    rows = list(rules.grades.values())
    if result.off_moria is None:
        return rows[-1]
    drift = abs(result.drift_moria or 0.0)
    for row in rows:
        within = (
            result.off_moria <= float(fields.number(row, "off_moria"))
            and _wrong_part(result) <= float(fields.number(row, "wrong_part"))
            and drift <= float(fields.number(row, "drift_moria"))
        )
        if within:
            return row
    return rows[-1]


def _scheduler() -> Scheduler:
    # No chance in it: the same results give the same day.
    return Scheduler(enable_fuzzing=False)


def record(session: Session, person_id: str, result: Result, rules: Rules) -> Due:
    """Keep a result and set the day on which the hymn is due again.

    One that was sung before the last that counted, and comes late, is kept and leaves that day as
    it is.

    Parameters
    ----------
    session : Session
        For writing.
    person_id : str
        Who sang.
    result : Result
        What it came to.
    rules : Rules
        For the grade.
    """
    moment = result.sung or now()
    add_result(session, person_id, result)
    row = session.get(CardRow, (person_id, result.hymn))
    card = Card(card_id=1, due=moment) if row is None else _card(row.state)
    if card.last_review is None or moment >= card.last_review:
        rating = Rating(int(grade(result, rules)["rating"]))
        card, _ = _scheduler().review_card(card, rating, review_datetime=moment)
    state: dict[str, Any] = dict(card.to_dict())
    if row is None:
        session.add(CardRow(singer_id=person_id, hymn=result.hymn, due=card.due, state=state))
    else:
        row.due, row.state = card.due, state
    session.flush()
    return Due(result.hymn, card.due, (now() - card.due) / timedelta(days=1))


def _card(state: Mapping[str, Any]) -> Card:
    return Card.from_dict(dict(state))  # type: ignore[arg-type]


def due(session: Session, person_id: str, at: datetime | None = None) -> tuple[Due, ...]:
    """Return what a singer has in hand, the most overdue first."""
    moment = at or now()
    rows = session.scalars(
        select(CardRow).where(CardRow.singer_id == person_id).order_by(CardRow.due, CardRow.hymn)
    )
    return tuple(Due(r.hymn, r.due, (moment - r.due) / timedelta(days=1)) for r in rows)


@dataclass(frozen=True, slots=True)
class Turn:
    """A hymn in the order of practice.

    Attributes
    ----------
    hymn : str
        Its file's name.
    given : Assignment or None
        How it was given, if it was.
    late_days : float or None
        Days since it was due for practice, below 0 when it can rest; None when never sung.
    """

    hymn: str
    given: Assignment | None
    late_days: float | None

    @property
    def now(self) -> bool:
        """Whether it wants singing now."""
        return self.late_days is None or self.late_days >= 0


def practice_order(
    session: Session, person_id: str, at: datetime | None = None
) -> tuple[Turn, ...]:
    """Return what a singer has in hand in the order in which it is best practised.

    First what was given and wants singing now, the nearest day first; then what else wants singing,
    the most overdue first; then what can rest, as it comes due.
    """
    given: dict[str, Assignment] = {}
    for one in assignments(session, person_id):
        given.setdefault(one.hymn, one)
    late = {d.hymn: d.late_days for d in due(session, person_id, at)}
    turns = [Turn(h, given.get(h), late.get(h)) for h in dict.fromkeys([*given, *late])]

    def place(turn: Turn) -> tuple[int, date, float, str]:
        by = turn.given.by if turn.given is not None and turn.given.by else date.max
        if not turn.now:
            return 2, date.max, -(turn.late_days or 0.0), turn.hymn
        return (0 if turn.given is not None else 1), by, -(turn.late_days or 0.0), turn.hymn

    return tuple(sorted(turns, key=place))


def _times(results: Sequence[Result], at: datetime) -> float | None:  # noqa: ARG001
    return float(len(results))


def _days(results: Sequence[Result], at: datetime) -> float | None:  # noqa: ARG001
    return float(len({r.sung.date() for r in results if r.sung is not None}))


def _worst(values: Sequence[float | None]) -> float | None:
    """The largest of the last two; None when one of them is missing."""
    last = [v for v in values[-_LAST:] if v is not None]
    return max(last) if len(last) == _LAST else None


def _tuned(results: Sequence[Result], at: datetime) -> float | None:  # noqa: ARG001
    return _worst([r.off_moria for r in results])


def _right(results: Sequence[Result], at: datetime) -> float | None:  # noqa: ARG001
    return _worst([_wrong_part(r) for r in results])


def _steady(results: Sequence[Result], at: datetime) -> float | None:  # noqa: ARG001
    return _worst([None if r.drift_moria is None else abs(r.drift_moria) for r in results])


def _fresh(results: Sequence[Result], at: datetime) -> float | None:
    when = results[-1].sung if results else None
    return None if when is None else (at - when) / timedelta(days=1)


_MEASURES: Mapping[str, Callable[[Sequence[Result], datetime], float | None]] = {
    "often": _times,
    "days": _days,
    "tuned": _tuned,
    "right": _right,
    "steady": _steady,
    "fresh": _fresh,
}
"""What each row of the criteria measures."""


def readiness(
    session: Session, person_id: str, hymn: str, rules: Rules, at: datetime | None = None
) -> tuple[Criterion, ...]:
    """Hold a singer's results against what is asked of one who leads the hymn.

    Returns
    -------
    tuple of Criterion
        Ready means that every one is met.

    Raises
    ------
    ChantError
        If a row asks for something that is not measured; names its file and line.
    """
    results = results_of(session, person_id, hymn)
    moment = at or now()
    out = []
    for name, row in rules.readiness.items():
        if name not in _MEASURES:
            raise row.error(
                f"“{name}” is nothing we can measure.", f"Use one of: {', '.join(_MEASURES)}."
            )
        found = _MEASURES[name](results, moment)
        if "least" in row.values:
            asked = float(fields.number(row, "least"))
            met = found is not None and found >= asked
        else:
            asked = float(fields.number(row, "most"))
            met = found is not None and found <= asked
        out.append(Criterion(name, str(row["what"]), asked, found, met))
    return tuple(out)
