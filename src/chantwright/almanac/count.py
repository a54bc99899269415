"""The two counts: tone of the week and eothinon, for a liturgical day.

Conventions: dates are civil dates of *liturgical* days (Saturday Great Vespers already belongs to
Sunday; see `liturgical_date`). ``n`` is the number of whole weeks since the last Pascha. Both
counts run on beneath a feast that hides them; what is sung is decided in `chantwright.almanac.day`.

* tone: Bright Week a tone a day; from Thomas Sunday (n = 1) ``(n - 1) mod 8 + 1``, until the
  Friday before Lazarus Saturday; then none until Pascha;
* eothinon, Sundays only: a list for n = 1 to 6; none on Pascha, Pentecost and Palm Sunday;
  ``(n - 8) mod 11 + 1`` from All Saints (n = 8) to the fifth Sunday of Lent.

References: *Encyclopedia of Eastern Orthodox Christianity*, art. Eothina; yearly typika and
calendars (docs/almanac.md).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.pascha import pascha
from chantwright.almanac.records import Season
from chantwright.errors import ChantError

__all__ = ["SATURDAY", "SUNDAY", "Place", "eothinon", "liturgical_date", "nominal_tone", "place"]

SATURDAY, SUNDAY = 5, 6


@dataclass(frozen=True, slots=True)
class Place:
    """Where a liturgical day stands in the movable year.

    Attributes
    ----------
    day : date
        Civil date of the liturgical day.
    pascha, next_pascha : date
        The Pascha on or before it, and the next one.
    offset, until : int
        Days since the last Pascha (0 or more) and to the next (below 0).
    """

    day: date
    pascha: date
    next_pascha: date
    offset: int
    until: int

    @property
    def week(self) -> int:
        """Whole weeks since Pascha."""
        return self.offset // 7

    @property
    def sunday(self) -> bool:
        """Whether it is a Sunday."""
        return self.offset % 7 == 0

    def within(self, start: int, end: int) -> bool:
        """Say whether the day lies from `start` to `end` (offsets, both included)."""
        at = self.until if end < 0 else self.offset
        return start <= at <= end


@lru_cache(maxsize=1024)
def _paschas(year: int, calendar: str) -> tuple[date, date, date, int, int, int]:
    """Return Pascha of the year before, of the year and of the next, and their day numbers."""
    a, b, c = (pascha(year + step, calendar) for step in (-1, 0, 1))
    return a, b, c, a.toordinal(), b.toordinal(), c.toordinal()


def place(day: date, calendar: str = "new") -> Place:
    """Return where a liturgical day stands in the movable year of a calendar."""
    before, this, after, n_before, n_this, n_after = _paschas(day.year, calendar)
    number = day.toordinal()
    if number >= n_this:
        return Place(day, this, after, number - n_this, number - n_after)
    return Place(day, before, this, number - n_before, number - n_this)


def season_of(at: Place, almanac: Almanac) -> Season:
    """Return the season of a day; those that lead to the coming Pascha go first."""
    return season_at(almanac, at.offset, at.until)


@lru_cache(maxsize=8192)
def season_at(almanac: Almanac, offset: int, until: int) -> Season:
    """Return the season by the distances from the last and to the coming Pascha."""
    for before in (True, False):
        for season in almanac.seasons:
            day = until if season.end < 0 else offset
            if (season.start < 0) is before and season.start <= day <= season.end:
                return season
    raise ChantError(
        f"no season holds {offset} days after Pascha, {-until} before the next.",
        remedy="Check start and end of the season rows.",
    )


def count_tone(offset: int, season: Season) -> int | None:
    """Return the tone of the count on a day of a season, or None where the count rests."""
    if season.tone == "daily":
        return season.tones[offset % 7]
    if season.tone == "count" or season.counts:
        return (offset // 7 - 1) % 8 + 1
    return None


def count_eothinon(at: Place, season: Season, almanac: Almanac, practice: str) -> int | None:
    """Return the eothinon of the count on a day of a season; None on weekdays and where none is."""
    if not at.sunday or season.eothinon == "none":
        return None
    if season.eothinon == "cycle":
        return (at.week - 8) % 11 + 1
    # A use without a row of its own for this Sunday follows the list it names.
    for listed in (practice, almanac.practice(practice).eothina):
        if row := almanac.between.get((listed, at.offset)):
            return int(row["eothinon"])
    return None


def liturgical_date(civil: date, service: str, *, overrides: Iterable[Path] = ()) -> date:
    """Return the civil date of the liturgical day that a service belongs to.

    The day begins at Vespers: a service that opens the day (Vespers, vigil, compline, vesperal
    Liturgy) belongs to the next one. It goes by the service, not by sunset.

    Parameters
    ----------
    civil : date
        Civil date on which it is sung.
    service : str
        Name of the service, such as ``great-vespers``.
    overrides : iterable of Path
        Parish files.

    Raises
    ------
    ChantError
        If there is no such service.
    """
    opens = load_almanac(overrides).service(service).opens_day
    return civil + timedelta(1) if opens else civil


def nominal_tone(day: date, *, calendar: str = "new", overrides: Iterable[Path] = ()) -> int | None:
    """Return the tone of the count for a liturgical day, hidden by a feast or not.

    None from Lazarus Saturday until Pascha, where the count rests.
    """
    at = place(day, calendar)
    return count_tone(at.offset, season_of(at, load_almanac(overrides)))


def eothinon(
    day: date,
    *,
    calendar: str = "new",
    practice: str = "greek",
    overrides: Iterable[Path] = (),
) -> int | None:
    """Return the eothinon of the count for a liturgical day, hidden by a feast or not.

    None on weekdays, on Pascha, Pentecost and Palm Sunday.
    """
    almanac = load_almanac(overrides)
    at = place(day, calendar)
    almanac.practice(practice)
    return count_eothinon(at, season_of(at, almanac), almanac, practice)
