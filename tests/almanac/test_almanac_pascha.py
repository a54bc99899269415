"""Pascha and the calendars, against other people's libraries and the table of full moons."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

import pytest
from convertdate import holidays, julian
from dateutil.easter import EASTER_ORTHODOX, EASTER_WESTERN, easter
from hypothesis import given, settings
from hypothesis import strategies as st
from workalendar.europe import Finland, Greece

from chantwright.almanac import last_pascha, next_pascha, pascha, style_date
from chantwright.almanac.pascha import julian_to_civil
from chantwright.errors import ChantError

YEARS = range(1900, 2100)

# Paschal full moons (month, day, Julian) for the golden numbers 1 to 19: the Dionysian table, as
# printed in the Explanatory Supplement to the Astronomical Almanac and in every paschalion.
FULL_MOONS = (
    (4, 5), (3, 25), (4, 13), (4, 2), (3, 22), (4, 10), (3, 30), (4, 18), (4, 7), (3, 27),
    (4, 15), (4, 4), (3, 24), (4, 12), (4, 1), (3, 21), (4, 9), (3, 29), (4, 17),
)  # fmt: skip


@pytest.mark.parametrize("calendar", ["new", "old"])
def test_orthodox_pascha_against_three_libraries(calendar: str) -> None:
    # Sources: python-dateutil, convertdate, workalendar.
    greece = Greece()
    for year in YEARS:
        ours = pascha(year, calendar)
        assert ours == easter(year, EASTER_ORTHODOX)
        assert ours == date(*holidays.easter(year, "orthodox"))
        assert ours == greece.get_easter_sunday(year)


def test_gregorian_pascha_against_two_libraries() -> None:
    finland = Finland()
    for year in YEARS:
        ours = pascha(year, "gregorian")
        assert ours == easter(year, EASTER_WESTERN)
        assert ours == finland.get_easter_sunday(year)


def test_both_reckonings_over_their_whole_range() -> None:
    for year in range(1583, 4100):
        assert pascha(year, "new") == easter(year, EASTER_ORTHODOX)
        assert pascha(year, "gregorian") == easter(year, EASTER_WESTERN)


def test_pascha_against_the_table_of_full_moons() -> None:
    # Independent of any formula: the Sunday after the tabulated full moon.
    for year in range(326, 2100):
        month, day = FULL_MOONS[year % 19]
        moon = julian_to_civil(year, month, day)
        sunday = moon + timedelta(7 - (moon.weekday() + 1) % 7)
        assert pascha(year) == sunday, year


def test_limits_of_pascha_in_our_time() -> None:
    # Published limits of the civil date in these two centuries: 4 April and 8 May.
    dates = [pascha(year) for year in YEARS]
    assert min((d.month, d.day) for d in dates) == (4, 4)
    assert max((d.month, d.day) for d in dates) == (5, 8)
    assert [d.year for d in dates if (d.month, d.day) == (4, 4)] == [1915, 2010]
    assert [d.year for d in dates if (d.month, d.day) == (5, 8)] == [1983, 2078]
    apart = Counter((pascha(y) - pascha(y, "gregorian")).days // 7 for y in YEARS)
    assert set(apart) == {0, 1, 4, 5}


def test_weeks_between_paschas() -> None:
    # Trade's fact: only 50, 51, 54 or 55 weeks; counts of 1900-2099 from dateutil's own dates.
    ours = Counter((pascha(y + 1) - pascha(y)).days // 7 for y in YEARS)
    theirs = Counter(
        (easter(y + 1, EASTER_ORTHODOX) - easter(y, EASTER_ORTHODOX)).days // 7 for y in YEARS
    )
    assert ours == theirs
    assert set(ours) == {50, 51, 54, 55}


@given(st.dates(date(1600, 1, 1), date(2799, 12, 31)))
@settings(deadline=None, max_examples=400)
def test_julian_dates_against_convertdate(day: date) -> None:
    own = style_date(day, "old")
    assert tuple(own) == tuple(julian.from_gregorian(day.year, day.month, day.day))
    assert julian_to_civil(*own) == day


def test_the_change_of_century_in_the_old_calendar() -> None:
    # Common knowledge: 13 days until Julian 29 February 2100, then 14. Outside: convertdate.
    assert tuple(style_date(date(2100, 3, 13), "old")) == (2100, 2, 28)
    assert tuple(style_date(date(2100, 3, 14), "old")) == (2100, 2, 29)
    assert tuple(style_date(date(2100, 3, 15), "old")) == (2100, 3, 1)
    assert tuple(julian.from_gregorian(2100, 3, 14)) == (2100, 2, 29)


def test_new_calendar_is_the_civil_one_until_2800() -> None:
    assert tuple(style_date(date(2800, 2, 28), "new")) == (2800, 2, 28)
    with pytest.raises(ChantError, match="2800"):
        style_date(date(2800, 2, 29), "new")
    assert tuple(style_date(date(2800, 2, 29), "gregorian")) == (2800, 2, 29)


@given(st.dates(date(1900, 1, 1), date(2099, 12, 31)), st.sampled_from(["new", "gregorian"]))
@settings(deadline=None)
def test_every_day_lies_between_two_paschas(day: date, calendar: str) -> None:
    last, coming = last_pascha(day, calendar), next_pascha(day, calendar)
    assert last <= day < coming
    assert last.weekday() == coming.weekday() == 6
    assert coming.year - last.year == 1


@pytest.mark.parametrize(
    ("year", "calendar", "told"),
    [
        (325, "new", "326"),
        (4100, "old", "4099"),
        (1582, "gregorian", "1583"),
        (2026, "lunar", "new"),
    ],
)
def test_what_cannot_be_reckoned_is_said(year: int, calendar: str, told: str) -> None:
    with pytest.raises(ChantError) as error:
        pascha(year, calendar)
    assert told in str(error.value)
