"""Which services a day has: against canons, common practice and a year counted by hand."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from pathlib import Path

import pytest
from convertdate import julian
from dateutil.easter import EASTER_ORTHODOX, EASTER_WESTERN, easter
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.almanac import (
    items,
    load_almanac,
    parish_services,
    pascha,
    service_day,
    service_days,
    text,
)

DAY = timedelta(1)
NAMES = ("great-vespers", "vespers", "orthros", "liturgy", "presanctified", "vesperal-liturgy")
DAYS = st.dates(date(1900, 1, 1), date(2099, 12, 31))


def _names(day: date, **options: str) -> list[str]:
    return [d.service for d in service_days(day, **options)]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("day", "calendar", "names"),
    [
        # Common practice; days of the week from a perpetual calendar, Pascha 12 April 2026.
        ("2026-11-28", "new", ["orthros", "liturgy", "great-vespers"]),
        # In the evening Great Vespers of Saint Andrew.
        ("2026-11-29", "new", ["orthros", "liturgy", "great-vespers"]),
        ("2026-11-24", "new", ["orthros", "liturgy", "vespers"]),  # a plain Tuesday
        ("2026-12-24", "new", ["orthros", "vesperal-liturgy"]),
        ("2026-12-25", "new", ["orthros", "liturgy", "vespers"]),
        ("2027-01-07", "old", ["orthros", "liturgy", "vespers"]),
        ("2026-02-23", "new", ["orthros", "vespers"]),  # Clean Monday
        ("2026-02-25", "new", ["orthros", "presanctified"]),  # the first Wednesday
        ("2026-02-26", "new", ["orthros", "vespers"]),
        ("2026-03-25", "new", ["orthros", "liturgy", "vespers"]),  # Annunciation, a Wednesday
        ("2026-03-26", "new", ["orthros", "presanctified"]),  # Thursday of the Great Canon
        ("2026-02-18", "new", ["orthros", "vespers"]),  # Wednesday of Cheesefare
        ("2026-04-11", "new", ["orthros", "vesperal-liturgy"]),  # Holy Saturday
    ],
)  # fmt: skip
def test_services_of_a_civil_day(day: str, calendar: str, names: list[str]) -> None:
    assert sorted(_names(date.fromisoformat(day), calendar=calendar)) == sorted(names)


@pytest.mark.parametrize("calendar", ["new", "old", "gregorian"])
def test_canon_52_of_trullo(calendar: str) -> None:
    # Council in Trullo, canon 52: in Lent no full Liturgy but on Saturday, Sunday and the
    # Annunciation. Pascha by python-dateutil, Julian dates by convertdate.
    western = calendar == "gregorian"
    for year in range(1900, 2100, 3):
        sunday = easter(year, EASTER_WESTERN) if western else easter(year, EASTER_ORTHODOX)
        start = sunday - timedelta(48)
        for step in range(40):
            day = start + step * DAY
            own = (day.month, day.day)
            if calendar == "old":
                own = tuple(julian.from_gregorian(day.year, day.month, day.day)[1:])
            full = day.weekday() >= 5 or own == (3, 25)
            record = service_day(day, "liturgy", calendar=calendar)
            assert record.served is full, (day, record.why_served)
            assert bool(items(record)) is full
            if full:
                assert not service_day(day, "presanctified", calendar=calendar).served
            elif day.weekday() in (2, 4):
                assert service_day(day, "presanctified", calendar=calendar).served


@pytest.mark.parametrize("year", [1915, 1945, 1983, 2010, 2024, 2026, 2078])
def test_holy_week_day_by_day(year: int) -> None:
    # Common practice of Holy Week: Presanctified on the first three days, Saint Basil with Vespers
    # on Thursday and Saturday, no Liturgy on Friday.
    sunday = easter(year, EASTER_ORTHODOX)
    kinds = ["presanctified"] * 3 + ["vesperal-liturgy", "", "vesperal-liturgy"]
    for step, expected in zip(range(-6, 0), kinds, strict=True):
        day = sunday + step * DAY
        for name in ("presanctified", "vesperal-liturgy", "liturgy"):
            record = service_day(day, name)
            assert record.served is (name == expected), (day, name)
            assert record.why_served
            assert record.liturgical_date == day
        assert service_day(day - DAY, "bridegroom").served
    saturday = service_day(sunday - DAY, "vesperal-liturgy")
    assert saturday.day_name == "Holy Saturday"
    found = {i.id.removeprefix("vesperal-liturgy."): i for i in items(saturday)}
    # “Arise, O God” from Psalm 81 (82) in place of Alleluia, and the baptismal hymn.
    assert found["saturday.arise"].psalm_kjv == "82:8"
    assert "saturday.baptized" in found and "alleluia" not in found and "trisagion" not in found
    evening = service_day(sunday - DAY, "great-vespers")
    assert not evening.served and "Vesperal Liturgy" in evening.why_served


@pytest.mark.parametrize(
    ("year", "weekday"), [(2021, 4), (2022, 5), (2023, 6), (2024, 1), (2025, 2)]
)
def test_the_eve_of_the_nativity(year: int, weekday: int) -> None:
    # From memory: Saint Basil with Vespers on a weekday eve; on a Saturday or Sunday the Royal
    # Hours move to Friday, which then has no Liturgy.
    eve = date(year, 12, 24)
    assert eve.weekday() == weekday
    on_weekday = weekday < 5
    assert service_day(eve, "vesperal-liturgy").served is on_weekday
    assert service_day(eve, "liturgy").served is not on_weekday
    assert service_day(eve, "great-vespers").served is not on_weekday
    friday = eve - timedelta((weekday - 4) % 7)
    if not on_weekday:
        assert not service_day(friday, "liturgy").served
        assert "Royal Hours" in service_day(friday, "liturgy").why_served


def test_annunciation_in_both_uses() -> None:
    # Slavic typikon, from memory: on a weekday of Lent its Liturgy is joined to Vespers.
    day = date(2026, 3, 25)
    assert service_day(day, "liturgy", practice="greek").served
    slavic = service_day(day, "liturgy", practice="slavic")
    assert not slavic.served
    assert service_day(day, "vesperal-liturgy", practice="slavic").served
    friday = date(2045, 4, 7)  # old calendar: 25 March is Holy Friday (Pascha 9 April)
    assert easter(2045, EASTER_ORTHODOX) == date(2045, 4, 9)
    assert service_day(friday, "liturgy", calendar="old").served


@settings(deadline=None, max_examples=200)
@given(
    DAYS,
    st.sampled_from(sorted(load_almanac().services)),
    st.sampled_from(["new", "old", "gregorian"]),
    st.sampled_from(["greek", "slavic", "romanian"]),
)
def test_any_service_on_any_day_has_a_record_or_a_sentence(
    day: date, service: str, calendar: str, practice: str
) -> None:
    record = service_day(day, service, calendar=calendar, practice=practice)
    if service in NAMES or not record.served:
        assert record.why_served.endswith(".")
    if not record.served:
        assert items(record) == ()
        assert "NOT SERVED" in text([record])
    elif service in NAMES:
        assert items(record)


@settings(deadline=None, max_examples=150)
@given(DAYS, st.sampled_from(["new", "old", "gregorian"]))
def test_one_vespers_and_at_most_one_liturgy(day: date, calendar: str) -> None:
    # Common practice: every evening has one Vespers (alone or joined to a Liturgy), no altar two
    # Liturgies on a day.
    names = _names(day, calendar=calendar)
    assert len({"liturgy", "presanctified", "vesperal-liturgy"} & set(names)) <= 1
    vespers = {"vespers", "great-vespers", "presanctified", "vesperal-liturgy"} & set(names)
    assert len(vespers) == 1
    assert "orthros" in names


def test_a_year_of_the_parish_counted_by_hand() -> None:
    # 2026, new calendar, Pascha 12 April, counted on a paper calendar: 52 Sundays, 13 fixed feasts
    # of the ranks L, T, S (all on weekdays), Ascension; Presanctified on 12 Wednesdays and Fridays
    # less the Annunciation, Thursday of the fifth week, the Forty Martyrs, three days of Holy Week.
    count: Counter[str] = Counter()
    for step in range(365):
        count.update(d.service for d, _ in parish_services(date(2026, 1, 1) + step * DAY))
    assert count["liturgy"] == count["orthros"] == 52 + 13 + 1
    assert count["presanctified"] == 12 - 1 + 1 + 1 + 3
    assert count["vesperal-liturgy"] == 4  # 5 January, Holy Thursday and Saturday, 24 December
    assert count["bridegroom"] == 6
    # 51 Saturdays (not that of Pascha), and the eves of the feasts but for 31 December 2025 and the
    # two vesperal Liturgies; 31 December 2026 comes to it.
    assert count["great-vespers"] == 51 + 14 - 3 + 1


def test_the_parish_says_what_it_serves_and_when(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[habit]]\nid = "wednesday"\nservice = "vespers"\nweekdays = ["wednesday"]\n'
        'hour = "17:15"\n\n[[habit]]\nid = "orthros"\nkept = false\n\n'
        '[[serve]]\nid = "ours"\nservice = "liturgy"\non = ["lent"]\nserved = true\n'
        'why = "The bishop gave leave."\n',
        encoding="utf-8",
    )
    (service, habit), *rest = parish_services(date(2026, 11, 25), overrides=[own])
    assert (service.service, habit.hour and habit.hour.isoformat()) == ("vespers", "17:15:00")
    assert not rest
    assert [d.service for d, _ in parish_services(date(2026, 11, 29), overrides=[own])] == [
        "liturgy"
    ]
    allowed = service_day(date(2026, 3, 2), "liturgy", overrides=[own])
    assert allowed.served and allowed.layer("served") == "parish"
    assert not service_day(date(2026, 3, 2), "liturgy").served


def test_bright_week_has_its_own_vespers() -> None:
    start = pascha(2026)
    for step in range(6):
        assert "vespers" in _names(start + step * DAY)
    assert "great-vespers" in _names(start + 6 * DAY)  # Thomas Sunday


# Evening prokeimena as the book of hours has them (from memory; Psalms by the King James Bible).
EVENINGS = {
    6: (8, "134:1"), 0: (4, "4:3"), 1: (1, "23:6"), 2: (5, "54:1"), 3: (6, "121:2"),
    4: (7, "59:9-10"),
}  # fmt: skip


@pytest.mark.parametrize("civil", [date(2026, 10, 11) + timedelta(i) for i in range(14)])
def test_the_prokeimenon_of_the_evening(civil: date) -> None:
    name = "great-vespers" if service_day(civil, "great-vespers").served else "vespers"
    record = service_day(civil, name)
    found = {i.id: i for i in items(record)}
    ids = [i for i in found if i.endswith("prokeimenon")]
    assert len(ids) == 1
    prokeimenon = found[ids[0]]
    if civil.weekday() == 5:
        assert (prokeimenon.tone, prokeimenon.psalm_kjv[:4]) == (6, "93:1")
    else:
        assert (prokeimenon.tone, prokeimenon.psalm_kjv) == EVENINGS[civil.weekday()]


def test_the_great_prokeimena_of_lent_alternate() -> None:
    # From memory: “Hide not thy face” and “Thou hast given” in turn, tone 8, from Cheesefare on.
    sunday = pascha(2026) - timedelta(49)
    told = []
    for week in range(6):
        found = {i.id: i for i in items(service_day(sunday + timedelta(7 * week), "vespers"))}
        assert found["vespers.prokeimenon"].tone == 8
        told.append(found["vespers.prokeimenon"].psalm_kjv)
    assert told == ["69:17", "61:5"] * 3
