"""Whether a service is served on a day, by the rule; and what the parish itself serves.

Conventions: the rows ``[[serve]]`` say what the rule gives, the first that holds deciding (the
parish's before ours); where none holds, a service may be served. The rows ``[[habit]]`` say what
the parish serves of it, the last that holds deciding; where none holds, it does not.
"""

from __future__ import annotations

from datetime import date, time

from chantwright.almanac.conditions import Standing
from chantwright.almanac.knowledge import Almanac
from chantwright.almanac.records import Habit, Serve, Service

__all__ = ["by_rule", "habit_of", "hours", "joined"]


def by_rule(almanac: Almanac, service: str, day: Standing) -> Serve | None:
    """Return the row that says whether a service is served on a day; None where none speaks."""
    for row in almanac.serves.get(service, ()):
        if not row.joined_to and row.when.holds(day):
            return row
    return None


def joined(almanac: Almanac, service: str, day: Standing) -> Serve | None:
    """Return the row by which another service of the civil day may take this one up."""
    for row in almanac.serves.get(service, ()):
        if row.joined_to and row.when.holds(day):
            return row
    return None


def habit_of(almanac: Almanac, service: str, civil: date, day: Standing) -> Habit | None:
    """Return the parish's habit for a service on a day; None where it has none."""
    found: Habit | None = None
    for row in almanac.habits:
        on = not row.weekdays or civil.weekday() in row.weekdays
        if row.service == service and on and row.when.holds(day):
            found = row
    return found


def hours(service: Service, habit: Habit | None) -> tuple[time, int]:
    """Return when a service begins and how many minutes it lasts."""
    begins = habit.hour if habit and habit.hour else service.hour
    return begins, (habit.minutes if habit and habit.minutes else service.minutes)
