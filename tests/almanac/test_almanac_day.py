"""Tone, eothinon, names and reasons of a service."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import pairwise

import pytest
from convertdate import julian
from dateutil.easter import EASTER_ORTHODOX, EASTER_WESTERN, easter
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.almanac import (
    eothinon,
    liturgical_date,
    load_almanac,
    nominal_tone,
    pascha,
    service_day,
    week,
)
from chantwright.errors import ChantError

DAY = timedelta(1)
DATES = st.dates(date(1900, 1, 1), date(2099, 12, 31))
CALENDARS = st.sampled_from(["new", "old", "gregorian"])
PRACTICES = st.sampled_from(["greek", "slavic", "romanian"])


def test_the_four_forms_of_the_end_of_the_year() -> None:
    # Common practice: the year's length in weeks decides the last Sundays of the count.
    # (tone, eothinon) of the Publican and of the 5th Sunday of Lent, and how often 1900-2099.
    table = {
        50: ((8, 11), (8, 8), 50),
        51: ((1, 1), (1, 9), 76),
        54: ((4, 4), (4, 1), 9),
        55: ((5, 5), (5, 2), 64),
    }
    seen: Counter[int] = Counter()
    for year in range(1900, 2099):
        coming = easter(year + 1, EASTER_ORTHODOX)
        weeks = (coming - easter(year, EASTER_ORTHODOX)).days // 7
        seen[weeks] += 1
        for before, expected in zip((70, 14), table[weeks][:2], strict=True):
            sunday = coming - timedelta(before)
            assert (nominal_tone(sunday), eothinon(sunday)) == expected
    assert dict(seen) == {weeks: row[2] for weeks, row in table.items()}


@pytest.mark.parametrize("calendar", ["new", "old", "gregorian"])
def test_every_day_of_two_centuries(calendar: str) -> None:
    # Common practice: the tone changes only with Sunday, except in Bright Week; no day is left out.
    western = calendar == "gregorian"
    feasts = {
        easter(y, EASTER_WESTERN) if western else easter(y, EASTER_ORTHODOX)
        for y in range(1899, 2102)
    }
    bright = {p + timedelta(i) for p in feasts for i in range(1, 7)}
    silent = {p - timedelta(i) for p in feasts for i in range(1, 9)}
    first, last = date(1900, 1, 1), date(2099, 12, 31)
    days = [first + timedelta(i) for i in range((last - first).days + 1)]
    tones = [nominal_tone(day, calendar=calendar) for day in days]
    for (a, b), (left, right) in zip(pairwise(days), pairwise(tones), strict=True):
        assert (right is None) == (b in silent)
        if left is None or right is None:
            continue
        if b in bright:
            assert right == left + (2 if left == 6 else 1)
        elif b.weekday() == 6:
            assert right == left % 8 + 1, (a, b)
        else:
            assert right == left, (a, b)


@given(DATES)
@settings(deadline=None)
def test_old_and_new_calendar_have_the_same_counts(day: date) -> None:
    assert nominal_tone(day, calendar="old") == nominal_tone(day, calendar="new")
    assert eothinon(day, calendar="old") == eothinon(day, calendar="new")


@given(DATES, CALENDARS, PRACTICES)
@settings(deadline=None, max_examples=150)
def test_a_week_holds_together(day: date, calendar: str, practice: str) -> None:
    vespers, orthros, liturgy = week(day, calendar=calendar, practice=practice)
    sunday = orthros.civil_date
    assert [d.service for d in (vespers, orthros, liturgy)] == [
        "great-vespers",
        "orthros",
        "liturgy",
    ]
    assert sunday.weekday() == 6
    assert timedelta(0) <= sunday - day < timedelta(7)
    assert vespers.civil_date == sunday - DAY
    # Saturday evening has Sunday's tone (encyclopedia, art. Octoechos; common practice).
    assert {d.liturgical_date for d in (vespers, orthros, liturgy)} == {sunday}
    assert len({(d.tone, d.nominal_tone, d.eothinon, d.day_name) for d in week(day)}) == 1
    for d in (vespers, orthros, liturgy):
        assert not d.confirmed
        assert d.reasons
        assert all(r.sentence.endswith(".") and r.layer == "computed" for r in d.reasons)
        assert d.tone in (None, d.nominal_tone)
        assert d.eothinon in (None, d.nominal_eothinon)
        if d.since and d.until:
            assert d.since <= d.liturgical_date <= d.until
            assert d.since.weekday() == 6


@pytest.mark.parametrize("year", [1983, 2010, 2025, 2026, 2078])
def test_bright_week_by_evening(year: int) -> None:
    # Encyclopedia texts on the Octoechos: a tone a day, the Grave tone passed over.
    sunday = pascha(year)
    evenings = [service_day(sunday + timedelta(i), "vespers") for i in range(7)]
    assert [d.tone for d in evenings] == [2, 3, 4, 5, 6, 8, 1]
    mornings = [service_day(sunday + timedelta(i), "orthros") for i in range(8)]
    assert [d.tone for d in mornings] == [1, 2, 3, 4, 5, 6, 8, 1]
    assert mornings[1].day_name == "Bright Monday"
    assert mornings[7].day_name == "Thomas Sunday"


def test_the_silence_before_pascha() -> None:
    # Service notes: Lazarus Saturday, Palm Sunday and Holy Week have no tone of the week.
    sunday = pascha(2026)
    friday = service_day(sunday - timedelta(9), "orthros")
    assert friday.tone == nominal_tone(sunday - timedelta(14))
    assert friday.until == friday.liturgical_date
    # Friday evening already opens Lazarus Saturday.
    assert service_day(sunday - timedelta(9), "vespers").tone is None
    for back in range(8, 0, -1):
        day = service_day(sunday - timedelta(back), "orthros")
        assert (day.tone, day.nominal_tone, day.eothinon) == (None, None, None)
        assert day.reasons
    assert day.day_name == "Holy Saturday"


def test_pentecost_hides_the_tone_but_keeps_its_place() -> None:
    # Encyclopedia, art. Octoechos: tone 7 falls on Pentecost and is not sung; All Saints has 8.
    sunday = pascha(2026) + timedelta(49)
    day = service_day(sunday, "orthros")
    assert (day.tone, day.nominal_tone, day.eothinon) == (None, 7, None)
    after = service_day(sunday + timedelta(7), "orthros")
    assert (after.tone, after.eothinon) == (8, 1)
    assert after.day_name == "Sunday of All Saints (1st Sunday after Pentecost)"


# Every great feast on a fixed date that falls on a Sunday, 2024 to 2035, with its date in the
# parish's own calendar; the days of the week and Julian dates from convertdate.
LORD = {"nativity": (12, 25), "theophany": (1, 6), "transfiguration": (8, 6), "exaltation": (9, 14)}
JOINED = {
    "nativity-of-the-theotokos": (9, 8), "entry-of-the-theotokos": (11, 21), "meeting": (2, 2),
    "annunciation": (3, 25), "dormition": (8, 15),
}  # fmt: skip
ON_SUNDAY = {
    ("new", "exaltation"): ["2025-09-14", "2031-09-14"],
    ("new", "transfiguration"): ["2028-08-06", "2034-08-06"],
    ("new", "theophany"): ["2030-01-06"],
    ("new", "nativity"): ["2033-12-25"],
    ("new", "nativity-of-the-theotokos"): ["2024-09-08", "2030-09-08"],
    ("new", "meeting"): ["2025-02-02", "2031-02-02"],
    ("new", "dormition"): ["2027-08-15", "2032-08-15"],
    ("new", "entry-of-the-theotokos"): ["2027-11-21", "2032-11-21"],
    ("new", "annunciation"): ["2029-03-25", "2035-03-25"],
    ("old", "nativity"): ["2024-01-07", "2029-01-07", "2035-01-07"],
    ("old", "theophany"): ["2025-01-19", "2031-01-19"],
    ("old", "exaltation"): ["2026-09-27"],
    ("old", "transfiguration"): ["2029-08-19", "2035-08-19"],
    ("old", "annunciation"): ["2024-04-07", "2030-04-07"],
    ("old", "nativity-of-the-theotokos"): ["2025-09-21", "2031-09-21"],
    ("old", "meeting"): ["2026-02-15", "2032-02-15"],
    ("old", "dormition"): ["2033-08-28"],
    ("old", "entry-of-the-theotokos"): ["2033-12-04"],
}


def _on_sundays(calendar: str) -> dict[date, str]:
    return {
        date.fromisoformat(day): feast
        for (kept, feast), days in ON_SUNDAY.items()
        for day in days
        if kept == calendar
    }


@pytest.mark.parametrize("calendar", ["new", "old"])
def test_the_list_of_great_feasts_on_sundays_is_whole(calendar: str) -> None:
    found = {}
    for year in range(2023, 2036):
        for feast, (month, day) in (LORD | JOINED).items():
            civil = date(year, month, day)
            if calendar == "old":
                civil = date(*julian.to_gregorian(year, month, day))
            if civil.weekday() == 6 and 2024 <= civil.year <= 2035:
                found[civil] = feast
    assert found == _on_sundays(calendar)


@pytest.mark.parametrize("calendar", ["new", "old"])
def test_great_feasts_on_sundays_hide_or_join(calendar: str) -> None:
    # A parish typikon table: on a feast of the Lord nothing of the Octoechos; an old-calendar
    # rubric: Dormition on a Sunday keeps the tone, with the feast's gospel (Luke 1).
    kept = _on_sundays(calendar)
    sunday = date(2024, 1, 7)
    while sunday.year < 2036:
        ours = service_day(sunday, "orthros", calendar=calendar)
        assert ours.nominal_tone == nominal_tone(sunday)
        assert ours.nominal_eothinon == eothinon(sunday)
        feast = kept.get(sunday, "")
        on_day = [x.id for x in ours.feasts if x.relation == "day"]
        assert (feast in on_day) is bool(feast)
        if feast in LORD:
            assert (ours.tone, ours.eothinon, ours.hymns) == (None, None, "feast")
            # The count goes on beneath: next Sunday is one further.
            after = service_day(sunday + timedelta(7), "orthros", calendar=calendar)
            assert ours.nominal_tone is not None
            assert after.nominal_tone == ours.nominal_tone % 8 + 1
        elif feast:
            assert ours.hymns == "mixed"
            assert ours.tone == ours.nominal_tone is not None
            assert not ours.eothinon_gospel
            assert any("on Sunday" in q for q in ours.open_questions)
        elif ours.nominal_tone is not None and "pentecost-sunday" not in ours.marks:
            assert ours.tone == ours.nominal_tone, sunday
        sunday += timedelta(7)


def test_an_afternoon_of_2100_and_the_century_between() -> None:
    # The almanac stops in 2099, but a service on its last evening belongs to 2100. Old calendar:
    # 31 December 2099 is 18 December, 13 days behind (convertdate).
    last = service_day(date(2099, 12, 31), "vespers", calendar="old")
    assert last.liturgical_date == date(2100, 1, 1)
    assert last.style_date == "2099-12-19"
    assert tuple(julian.from_gregorian(2100, 1, 1)) == (2099, 12, 19)


@pytest.mark.parametrize(
    ("after", "greek", "slavic"),
    [(0, None, None), (7, 1, 1), (14, 4, 3), (21, 5, 4), (28, 7, 7), (35, 8, 8), (42, 10, 10),
     (49, None, None), (56, 1, 1), (63, 2, 2), (133, 1, 1)],
)  # fmt: skip
def test_eothina_after_pascha(after: int, greek: int | None, slavic: int | None) -> None:
    # Church of Greece typikon 2011, Great Church 2021, Slavic calendars 2011-2026; 7 and 10 in
    # Greek use from memory.
    sunday = pascha(2026) + timedelta(after)
    assert eothinon(sunday, practice="greek") == greek
    assert eothinon(sunday, practice="slavic") == slavic
    assert eothinon(sunday, practice="romanian") == greek
    assert eothinon(sunday + DAY) is None


@pytest.mark.parametrize(
    ("service", "opens"),
    [("great-vespers", True), ("vespers", True), ("vigil", True), ("compline", True),
     ("vesperal-liturgy", False), ("presanctified", False), ("orthros", False), ("Matins", False),
     ("Divine Liturgy", False),
     ("liturgy", False), ("ninth hour", False)],
)  # fmt: skip
def test_liturgical_date(service: str, opens: bool) -> None:
    # Rubrics guide; encyclopedia, art. Vespers: the day begins in the evening before. A Liturgy
    # with Vespers is named in printed calendars after the day on which it is served.
    civil = date(2026, 11, 28)
    assert liturgical_date(civil, service) == (civil + DAY if opens else civil)


def test_anticipated_service_keeps_its_given_day() -> None:
    day = service_day(date(2026, 4, 5), "orthros", liturgical=date(2026, 4, 6))
    assert (day.day_name, day.civil_date) == ("Holy Monday", date(2026, 4, 5))
    with pytest.raises(ChantError, match="cannot belong"):
        service_day(date(2026, 4, 5), "orthros", liturgical=date(2026, 5, 6))


@pytest.mark.parametrize(
    ("day", "calendar", "name"),
    [
        ("2026-11-29", "new", "26th Sunday after Pentecost"),
        ("2026-02-01", "new", "Sunday of the Publican and Pharisee"),
        ("2026-03-01", "new", "Sunday of Orthodoxy (1st Sunday of Great Lent)"),
        ("2026-12-13", "new", "28th Sunday after Pentecost; Sunday of the Forefathers"),
        ("2025-09-14", "new", "Exaltation of the Cross; 14th Sunday after Pentecost"),
        ("2013-12-01", "old", "23rd Sunday after Pentecost"),
        ("2022-10-09", "new", "17th Sunday after Pentecost"),
        ("2026-12-01", "new", "Tuesday of the 27th week after Pentecost"),
        ("2024-04-02", "new", "Tuesday of the 3rd week of Great Lent"),
        ("2026-04-28", "new", "Tuesday after the Sunday of the Myrrh-bearers"),
        ("2026-02-23", "new", "Clean Monday"),
    ],
)
def test_names(day: str, calendar: str, name: str) -> None:
    # Names and numbers as printed calendars of those years have them (three rows of the published
    # set give the number); weekdays by common practice.
    assert service_day(date.fromisoformat(day), "liturgy", calendar=calendar).day_name == name


def test_zacchaeus_is_named_in_slavic_use_only() -> None:
    day = pascha(2026) - timedelta(77)
    assert "Zacchaeus" in service_day(day, "liturgy", practice="slavic").day_name
    assert "Zacchaeus" not in service_day(day, "liturgy", practice="greek").day_name


def test_afterfeast_and_forefeast() -> None:
    # Common practice: leave-taking of the Transfiguration 13 August, forefeast of
    # Theophany 2 to 5 January.
    def relations(day: date) -> list[str]:
        return [f"{x.relation} {x.id}" for x in service_day(day, "orthros").feasts]

    assert relations(date(2021, 8, 8)) == ["afterfeast transfiguration"]
    assert relations(date(2021, 8, 13)) == ["leave-taking transfiguration"]
    assert relations(date(2021, 8, 14)) == ["forefeast dormition"]
    assert "forefeast theophany" in relations(date(2022, 1, 2))
    assert "forefeast theophany" not in relations(date(2022, 1, 1))
    ascension = pascha(2026) + timedelta(39)
    assert "leave-taking ascension" in relations(ascension + timedelta(8))
    assert "leave-taking pentecost-sunday" in relations(ascension + timedelta(16))


@pytest.mark.parametrize("year", [1991, 2075, 2086])
def test_pascha_and_annunciation_on_one_day(year: int) -> None:
    # Known years of the Kyriopascha, old calendar: 1991, 2075, 2086.
    day = service_day(pascha(year), "orthros", calendar="old")
    assert day.style_date == f"{year}-03-25"
    assert [x.id for x in day.feasts] == ["pascha", "annunciation"]
    assert (day.tone, day.hymns, day.eothinon) == (1, "feast", None)
    around = service_day(pascha(year) + DAY, "orthros", calendar="old")
    assert around.feasts == ()  # no leave-taking in Bright Week


def test_great_feast_on_a_weekday() -> None:
    # A parish typikon table (nothing of the tone on a feast of the Lord); 14 January 2013 was
    # printed with tone 7 although it is the Circumcision.
    nativity = service_day(date(2026, 12, 25), "orthros")
    assert (nativity.tone, nativity.nominal_tone, nativity.eothinon) == (None, 4, None)
    assert service_day(date(2013, 1, 14), "orthros", calendar="old").tone == 7
    ascension = service_day(pascha(2026) + timedelta(39), "orthros")
    assert (ascension.tone, ascension.nominal_tone) == (None, 5)
    # 21 May 2026 is also the day of Saints Constantine and Helen (common calendar of the Menaion).
    assert ascension.day_name == "Ascension; Saints Constantine and Helen"


def test_reasons_speak_to_a_chanter() -> None:
    vespers, orthros, _ = week(date(2026, 11, 25))
    told = " ".join(r.sentence for r in vespers.reasons)
    assert "Great Vespers on Saturday already belongs to Sunday 29 November 2026" in told
    assert "Pascha was on 12 April 2026 and this is the 33rd Sunday after it" in told
    assert "Tone 1, First" in told
    assert "All Saints (7 June 2026)" in told
    assert {r.value for r in orthros.reasons} == {"tone", "eothinon", "served"}
    myrrh = service_day(pascha(2026) + timedelta(14), "orthros", practice="romanian")
    assert any("Slavic use has 3" in r.sentence for r in myrrh.reasons)
    assert any("We are not sure" in q for q in myrrh.open_questions)


@pytest.mark.parametrize("day", [date(1899, 12, 31), date(2100, 1, 1), date(1500, 1, 1)])
def test_guard_of_the_years(day: date) -> None:
    with pytest.raises(ChantError, match="1900 to 2099"):
        week(day)
    with pytest.raises(ChantError, match="1900 to 2099"):
        service_day(day, "orthros")


def test_the_last_week_runs_over_the_edge() -> None:
    assert [d.civil_date for d in week(date(2099, 12, 31))][-1] == date(2100, 1, 3)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"calendar": "julian"}, "new, old, gregorian"),
        ({"practice": "german"}, "greek, slavic, romanian"),
    ],
)
def test_unknown_words_are_answered_with_the_known(options: dict[str, str], told: str) -> None:
    with pytest.raises(ChantError) as error:
        week(date(2026, 11, 28), **options)  # type: ignore[arg-type]
    assert told in str(error.value)
    with pytest.raises(ChantError, match="no service called"):
        service_day(date(2026, 11, 28), "evensong")


@settings(deadline=None, max_examples=300)
@given(
    st.dates(date(1900, 1, 20), date(2099, 12, 1)),
    st.sampled_from(["new", "old"]),
)
def test_a_fixed_feast_stands_on_its_own_date(day: date, calendar: str) -> None:
    # Fact of the trade: the Dormition is kept on 15 August of the parish's own calendar (29
    # February or not), and no other day has it as its feast.
    record = service_day(day, "orthros", calendar=calendar)
    own = record.style_date[5:]
    kept = {x.id for x in record.feasts if x.relation == "day"}
    dates = {
        x.id: x.date
        for x in load_almanac().feasts
        if not x.practices or record.practice in x.practices
    }
    assert {i for i, at in dates.items() if at == own} <= kept
    assert all(dates[i] == own for i in kept if i in dates)
