"""Dates as chanters write them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.almanac import long_date, ordinal, parse_date, short_date
from chantwright.errors import ChantError

WEDNESDAY = date(2026, 11, 25)
DATES = st.dates(date(1900, 1, 1), date(2099, 12, 31))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-11-28", date(2026, 11, 28)),
        ("28 November 2026", date(2026, 11, 28)),
        ("28th of November, 2026", date(2026, 11, 28)),
        ("  28  nov 2026 ", date(2026, 11, 28)),
        ("November 28, 2026", date(2026, 11, 28)),
        ("Sat 28 Nov 2026", date(2026, 11, 28)),
        ("Saturday, 28 November 2026", date(2026, 11, 28)),
        ("today", WEDNESDAY),
        ("Tomorrow", date(2026, 11, 26)),
        ("yesterday", date(2026, 11, 24)),
        ("saturday", date(2026, 11, 28)),
        ("next Saturday", date(2026, 11, 28)),
        ("wednesday", WEDNESDAY),
        ("next wednesday", date(2026, 12, 2)),
        ("sun", date(2026, 11, 29)),
        ("25 November", WEDNESDAY),
        ("24 November", date(2027, 11, 24)),
        ("29 February", date(2028, 2, 29)),
        ("29 February 2028", date(2028, 2, 29)),
    ],
)
def test_read(text: str, expected: date) -> None:
    assert parse_date(text, today=WEDNESDAY) == expected


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("31 February", "there is no 31 February"),
        ("31 February 2026", "there is no 31 February 2026; that month has 28 days"),
        ("2026-02-31", "that month has 28 days"),
        ("29 February 2026", "that month has 28 days"),
        ("2026-13-01", "there is no month 13"),
        ("0 May", "there is no 0 May"),
        ("1500-01-01", "1900 to 2099, not for 1500"),
        ("28 November 1500", "not for 1500"),
        ("28 November 26", "year in four figures"),
        ("2100-01-01", "not for 2100"),
        ("28 Brumaire 2026", "no month “brumaire”"),
        ("3/4/2026", "not a date"),
        ("", "not a date"),
        ("the feast", "not a date"),
    ],
)
def test_refused_with_a_sentence(text: str, told: str) -> None:
    with pytest.raises(ChantError) as error:
        parse_date(text, today=WEDNESDAY)
    assert told in str(error.value)
    assert error.value.remedy


@given(DATES)
@settings(deadline=None)
def test_what_we_print_we_read(day: date) -> None:
    assert parse_date(day.isoformat()) == day
    assert parse_date(short_date(day)) == day
    assert parse_date(long_date(day)) == day


@given(st.text(max_size=30), DATES)
@settings(deadline=None, max_examples=300)
def test_no_text_breaks_it(text: str, today: date) -> None:
    try:
        assert isinstance(parse_date(text, today=today), date)
    except ChantError as error:
        assert str(error)


@given(st.sampled_from(["monday", "thu", "saturday", "sunday"]), DATES)
@settings(deadline=None)
def test_a_weekday_lies_within_a_week(name: str, today: date) -> None:
    if today > date(2099, 12, 20):
        return
    found, after = parse_date(name, today=today), parse_date(f"next {name}", today=today)
    assert found.strftime("%A").lower().startswith(name)
    assert timedelta(0) <= found - today < timedelta(7)
    assert timedelta(0) < after - today <= timedelta(7)


def test_ordinals() -> None:
    told = [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 22, 33, 111)]
    assert told == [
        "1st",
        "2nd",
        "3rd",
        "4th",
        "11th",
        "12th",
        "13th",
        "21st",
        "22nd",
        "33rd",
        "111th",
    ]
