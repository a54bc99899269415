"""When a row holds: conditions on a liturgical day, as the data files write them.

Conventions: a *mark* is a name that holds on a day: its season, a movable day, a feast, a weekday
(``sunday`` ... ``saturday``), the rank of a feast on it (``rank:L``), its relation to a feast
(``afterfeast``), which hymns lead (``hymns:feast``), Monday to Friday of a season
(``lent:weekday``). Offsets count days from Pascha, below 0 to
the coming one; ``MM-DD`` is the date in the parish's own calendar. All conditions of a row must
hold together; a row without any holds always.

* ``on``: one of these marks holds; ``with``: one of these holds too; ``not_on``: none of these;
* ``offsets``: on one of these days; ``start`` and ``end``: from one day to another;
* ``from`` and ``to``: between two fixed dates; ``practices``: in one of these uses.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from chantwright.almanac import fields as f
from chantwright.rows import Row

__all__ = ["CONDITION_FIELDS", "Always", "Condition", "Standing", "read_condition"]

CONDITION_FIELDS = "on with not_on offsets start end from to practices"
"""Fields of a row that say when it holds."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What conditions look at: marks, distances from both Paschas, own date, use."""

    marks: Collection[str]
    offset: int
    until: int
    month_day: str
    practice: str


@dataclass(frozen=True, slots=True)
class Condition:
    """All conditions of one row."""

    on: frozenset[str] = frozenset()
    also: frozenset[str] = frozenset()
    not_on: frozenset[str] = frozenset()
    offsets: frozenset[int] = frozenset()
    start: int | None = None
    end: int = 0
    first: str = ""
    last: str = ""
    practices: frozenset[str] = frozenset()

    @property
    def bare(self) -> bool:
        """Whether nothing is asked of the day."""
        return self == Always

    def holds(self, day: Standing) -> bool:
        """Say whether all of it holds on a day."""
        marks = day.marks
        return (
            (not self.on or not self.on.isdisjoint(marks))
            and (not self.also or not self.also.isdisjoint(marks))
            and (not self.not_on or self.not_on.isdisjoint(marks))
            and (not self.practices or day.practice in self.practices)
            and (not self.offsets or day.offset in self.offsets or day.until in self.offsets)
            and (self.start is None or self._within(self.start, day))
            and (not self.first or self._dated(day.month_day))
        )

    def _within(self, start: int, day: Standing) -> bool:
        at = day.until if self.end < 0 else day.offset
        return start <= at <= self.end

    def _dated(self, own: str) -> bool:
        if self.first <= self.last:
            return self.first <= own <= self.last
        return bool(own) and (own >= self.first or own <= self.last)  # over the new year


Always = Condition()


def _offsets(row: Row) -> frozenset[int]:
    value: Any = row.get("offsets", [])
    if not isinstance(value, list) or not all(type(v) is int and -80 <= v <= 400 for v in value):
        raise row.error(f"“offsets” is {value!r}.", "Write days from Pascha, like [-48, 39].")
    return frozenset(value)


def read_condition(row: Row) -> Condition:
    """Read and check when a row holds.

    Raises
    ------
    ChantError
        If a condition cannot be right; it names the row's file and line.
    """
    start: int | None = None
    end = 0
    first = last = ""
    if row.get("start") is not None or row.get("end") is not None:
        start = f.number(row, "start", -80, 400)
        end = f.number(row, "end", start, 400)
        if start < 0 <= end:
            raise row.error(
                "“start” lies before Pascha and “end” after it.", "Write two rows, one for each."
            )
    if row.get("from") is not None or row.get("to") is not None:
        first, last = f.month_day(row, "from"), f.month_day(row, "to")
    return Condition(
        on=frozenset(f.names(row, "on")),
        also=frozenset(f.names(row, "with")),
        not_on=frozenset(f.names(row, "not_on")),
        offsets=_offsets(row),
        start=start,
        end=end,
        first=first,
        last=last,
        practices=frozenset(f.names(row, "practices")),
    )
