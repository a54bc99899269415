"""Dates as a chanter writes and reads them.

Conventions: dates are civil. Words that depend on the day of asking ("tomorrow", "saturday") are
reckoned from `today`, which a caller may give. A plain weekday is the first one from today on,
today included; "next saturday" is the first one after today. Dates made of numbers alone are read
only in the order year-month-day, because 3/4 is March in one parish and April in another.
"""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date, timedelta

from chantwright.errors import ChantError, Where

__all__ = ["FIRST", "LAST", "check_range", "long_date", "ordinal", "parse_date", "short_date"]

FIRST = date(1900, 1, 1)
LAST = date(2099, 12, 31)

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

_HELP = "Write it like 2026-11-28, 28 November 2026, saturday or tomorrow."
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\s+(?:of\s+)?([a-z]+)\.?,?(?:\s+(\d{1,4}))?")
_MONTH_FIRST = re.compile(r"([a-z]+)\.?\s+(\d{1,2})(?:st|nd|rd|th)?(?:,?\s+(\d{1,4}))?")


def ordinal(number: int) -> str:
    """Return 1st, 2nd, 3rd, 11th, 24th ..."""
    if 10 <= number % 100 <= 20:
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def short_date(day: date) -> str:
    """Return a date like ``28 November 2026``."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def long_date(day: date) -> str:
    """Return a date like ``Saturday 28 November 2026``."""
    return f"{WEEKDAYS[day.weekday()]} {short_date(day)}"


def check_range(day: date) -> date:
    """Return `day`, or raise a `ChantError` outside 1900 to 2099."""
    if not FIRST <= day <= LAST:
        raise ChantError(
            f"the almanac is checked for the years 1900 to 2099; {short_date(day)} lies outside.",
            remedy="Ask for a date between these years.",
        )
    return day


def _make(text: str, year: int, month: int, day: int) -> date:
    where = Where(word=text)
    if not FIRST.year <= year <= LAST.year:
        raise ChantError(
            f"the almanac is checked for the years 1900 to 2099, not for {year}.",
            where=where,
            remedy="Ask for a date between these years, with the year in four figures.",
        )
    if not 1 <= month <= 12:
        raise ChantError(f"there is no month {month}.", where=where, remedy=_HELP)
    days = monthrange(year, month)[1]
    if not 1 <= day <= days:
        raise ChantError(
            f"there is no {day} {MONTHS[month - 1]} {year}; that month has {days} days.",
            where=where,
            remedy=_HELP,
        )
    return date(year, month, day)


def _named(word: str, names: tuple[str, ...]) -> int | None:
    """Find a name by its first three letters or more; None when it is no such name."""
    if len(word) < 3:
        return None
    found = [i for i, name in enumerate(names) if name.lower().startswith(word)]
    return found[0] if len(found) == 1 else None


def _coming(text: str, month: int, day: int, today: date) -> date:
    """Return the first such day from today on (29 February waits for its year)."""
    for year in range(today.year, today.year + 9):
        if 1 <= day <= monthrange(year, month)[1] and date(year, month, day) >= today:
            return check_range(date(year, month, day))
    return _make(text, today.year, month, day)  # no year has it: say so


def parse_date(text: str, *, today: date | None = None) -> date:
    """Read a date as a chanter writes it.

    Parameters
    ----------
    text : str
        ``2026-11-28``, ``28 November 2026``, ``Nov 28, 2026``, ``28 November`` (the coming one),
        ``today``, ``tomorrow``, ``yesterday``, ``saturday``, ``next saturday``.
    today : date, optional
        Day of asking; the machine's own date when not given.

    Returns
    -------
    date
        Civil date, 1900 to 2099.

    Raises
    ------
    ChantError
        If it is no date, no day of the calendar (31 February), or outside 1900 to 2099.
    """
    now = today or date.today()
    word = " ".join(text.strip().lower().split())
    relative = {"today": 0, "tomorrow": 1, "yesterday": -1}
    if word in relative:
        return check_range(now + timedelta(relative[word]))
    rest = word.removeprefix("this ").removeprefix("next ").removeprefix("on ")
    if (weekday := _named(rest, WEEKDAYS)) is not None:
        start = now + timedelta(1) if word.startswith("next ") else now
        return check_range(start + timedelta((weekday - start.weekday()) % 7))
    # A weekday written before a full date is a courtesy to the reader; the date decides.
    head, _, tail = word.partition(" ")
    if tail and _named(head.rstrip(","), WEEKDAYS) is not None:
        word = tail
    if iso := _ISO.fullmatch(word):
        return _make(text, int(iso[1]), int(iso[2]), int(iso[3]))
    day_first, month_first = _DAY_FIRST.fullmatch(word), _MONTH_FIRST.fullmatch(word)
    if day_first:
        day, name, year = day_first.groups()
    elif month_first:
        name, day, year = month_first.groups()
    else:
        raise ChantError("this is not a date I can read.", where=Where(word=text), remedy=_HELP)
    month = _named(name, MONTHS)
    if month is None:
        raise ChantError(f"there is no month “{name}”.", where=Where(word=text), remedy=_HELP)
    if year is None:
        return _coming(text, month + 1, int(day), now)
    return _make(text, int(year), month + 1, int(day))
