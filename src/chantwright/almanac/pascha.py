"""Pascha and the two reckonings of the fixed date.

Conventions: every date that goes in or out as `datetime.date` is a *civil* date (Gregorian, also
before 1582, as Python reckons). A date in the parish's own calendar is a `StyleDate`, since
29 February 2100 of the Julian calendar is no civil date. A parish keeps one of three calendars:

``new``
    fixed feasts on the Revised Julian date, which is the civil date until 28 February 2800;
    Pascha by the Julian reckoning.
``old``
    fixed feasts on the Julian date (13 days behind until civil 13 March 2100); Pascha the same.
``gregorian``
    fixed feasts on the civil date and Pascha by the Gregorian reckoning (Finland).

References: J. Meeus, *Astronomical Algorithms*, ch. 8 (both reckonings of Easter); day numbers as
in E. G. Richards, *Mapping Time* (ch. 24).
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import NamedTuple

from chantwright.errors import ChantError

__all__ = [
    "CALENDARS",
    "StyleDate",
    "check_calendar",
    "julian_to_civil",
    "last_pascha",
    "next_pascha",
    "pascha",
    "style_date",
]

CALENDARS = ("new", "old", "gregorian")
"""The calendars a parish may keep."""

FIRST_YEAR, LAST_YEAR = 326, 4099
FIRST_GREGORIAN_YEAR = 1583
LAST_NEW_STYLE = date(2800, 2, 28)

_ORDINAL_TO_DAY_NUMBER = 1721425  # Julian day number of a date minus its Python ordinal


class StyleDate(NamedTuple):
    """A date as the parish's own calendar writes it."""

    year: int
    month: int
    day: int

    def __str__(self) -> str:
        return f"{self.year:04d}-{self.month:02d}-{self.day:02d}"

    @property
    def month_day(self) -> str:
        """Month and day as the feast table writes them, such as ``"09-14"``."""
        return f"{self.month:02d}-{self.day:02d}"


def check_calendar(calendar: str) -> str:
    """Return `calendar`, or raise a `ChantError` that names the three there are."""
    if calendar not in CALENDARS:
        raise ChantError(
            f"there is no calendar called “{calendar}”.",
            remedy="Choose one of: " + ", ".join(CALENDARS) + ".",
        )
    return calendar


def julian_to_civil(year: int, month: int, day: int) -> date:
    """Turn a Julian date into the civil one, by day number."""
    shift = (14 - month) // 12
    y, m = year + 4800 - shift, month + 12 * shift - 3
    number = day + (153 * m + 2) // 5 + 365 * y + y // 4 - 32083
    return date.fromordinal(number - _ORDINAL_TO_DAY_NUMBER)


def _civil_to_julian(civil: date) -> StyleDate:
    c = civil.toordinal() + _ORDINAL_TO_DAY_NUMBER + 32082
    d = (4 * c + 3) // 1461
    e = c - 1461 * d // 4
    m = (5 * e + 2) // 153
    return StyleDate(d - 4800 + m // 10, m + 3 - 12 * (m // 10), e - (153 * m + 2) // 5 + 1)


def style_date(civil: date, calendar: str) -> StyleDate:
    """Return the date that the parish's own calendar gives to a civil day.

    Parameters
    ----------
    civil : date
        Civil date.
    calendar : str
        One of `CALENDARS`.

    Raises
    ------
    ChantError
        If the calendar is unknown, or on the new calendar after 28 February 2800, when it parts
        from the civil one.
    """
    check_calendar(calendar)
    if calendar == "old":
        return _civil_to_julian(civil)
    if calendar == "new" and civil > LAST_NEW_STYLE:
        raise ChantError(
            f"{civil} lies too late: the new calendar parts from the civil one after "
            "28 February 2800.",
            remedy="Ask for an earlier date.",
        )
    return StyleDate(civil.year, civil.month, civil.day)


def _julian_reckoning(year: int) -> date:
    d = (19 * (year % 19) + 15) % 30
    e = (2 * (year % 4) + 4 * (year % 7) - d + 34) % 7
    month, day = divmod(d + e + 114, 31)
    return julian_to_civil(year, month, day + 1)


def _gregorian_reckoning(year: int) -> date:
    a = year % 19
    b, c = divmod(year, 100)
    d, e = divmod(b, 4)
    g = (8 * b + 13) // 25
    h = (19 * a + b - d - g + 15) % 30
    i, k = divmod(c, 4)
    m = (32 + 2 * e + 2 * i - h - k) % 7
    n = (a + 11 * h + 22 * m) // 451
    month, day = divmod(h + m - 7 * n + 114, 31)
    return date(year, month, day + 1)


@lru_cache(maxsize=4096)
def pascha(year: int, calendar: str = "new") -> date:
    """Return Pascha of a year as a civil date.

    Parameters
    ----------
    year : int
        326 to 4099; from 1583 for the Gregorian reckoning.
    calendar : str
        One of `CALENDARS`; ``new`` and ``old`` keep the same Pascha.

    Raises
    ------
    ChantError
        If the year lies outside, or the calendar is unknown.
    """
    check_calendar(calendar)
    first = FIRST_GREGORIAN_YEAR if calendar == "gregorian" else FIRST_YEAR
    if not first <= year <= LAST_YEAR:
        raise ChantError(
            f"Pascha can be reckoned here for the years {first} to {LAST_YEAR}, not for {year}.",
            remedy="Ask for a year between these.",
        )
    return _gregorian_reckoning(year) if calendar == "gregorian" else _julian_reckoning(year)


def last_pascha(day: date, calendar: str = "new") -> date:
    """Return the Pascha on `day` or the last one before it (civil dates)."""
    this = pascha(day.year, calendar)
    return this if this <= day else pascha(day.year - 1, calendar)


def next_pascha(day: date, calendar: str = "new") -> date:
    """Return the first Pascha after `day` (civil dates)."""
    this = pascha(day.year, calendar)
    return this if this > day else pascha(day.year + 1, calendar)
