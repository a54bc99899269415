"""Tone and eothinon against printed calendars, and a test of that test.

The rows of data/published.json are facts read from published calendars, typika and bulletins of
2002 to 2026; each names its kind of source. One row is a known misprint and must stay different.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Literal, NamedTuple

import pytest
from dateutil.easter import EASTER_ORTHODOX, EASTER_WESTERN, easter

from chantwright.almanac import service_day


class Printed(NamedTuple):
    day: date
    calendar: str
    practice: str
    tone: int | None
    eothinon: int | None
    known_bad: bool


def _read() -> list[Printed]:
    raw = json.loads((Path(__file__).parent / "data" / "published.json").read_text("utf-8"))
    return [
        Printed(
            date.fromisoformat(r["date"]),
            r["calendar"],
            r["practice"],
            r["tone"],
            r["eothinon"],
            r["known_bad"],
        )
        for r in raw
    ]


ROWS = _read()
GOOD = [row for row in ROWS if not row.known_bad]


def _agrees(row: Printed, tone: int | None, eothinon: int | None) -> bool:
    return (row.tone is None or row.tone == tone) and (
        row.eothinon is None or row.eothinon == eothinon
    )


def _ours(row: Printed) -> tuple[int | None, int | None]:
    day = service_day(row.day, "liturgy", calendar=row.calendar, practice=row.practice)
    return day.tone, day.eothinon


def test_there_is_enough_to_check() -> None:
    assert len(GOOD) >= 47
    assert {row.calendar for row in GOOD} == {"new", "old"}
    assert {row.practice for row in GOOD} == {"greek", "slavic", "romanian"}
    assert {row.tone for row in GOOD} >= set(range(1, 9))
    assert sum(row.day.weekday() != 6 for row in GOOD) >= 5


@pytest.mark.parametrize("row", GOOD, ids=lambda row: f"{row.day}-{row.calendar}-{row.practice}")
def test_printed_day(row: Printed) -> None:
    assert _agrees(row, *_ours(row))


@pytest.mark.parametrize("row", GOOD, ids=lambda row: f"{row.day}-{row.calendar}-{row.practice}")
def test_neither_count_depends_on_the_fixed_calendar(row: Printed) -> None:
    # Common practice: old and new calendar keep one Pascha, so the counts are the same.
    other = "old" if row.calendar == "new" else "new"
    day = service_day(row.day, "liturgy", calendar=other, practice=row.practice)
    assert row.tone in (None, day.nominal_tone)
    assert row.eothinon in (None, day.nominal_eothinon)


def test_the_known_misprint_is_still_one() -> None:
    bad = [row for row in ROWS if row.known_bad]
    assert [row.day for row in bad] == [date(2009, 8, 16)]
    assert not _agrees(bad[0], *_ours(bad[0]))
    # The 10th Sunday after Pentecost is always tone 1, eothinon 10 (an old-calendar rubric page).
    assert _ours(bad[0]) == (1, 10)


# --- wrong rules, written out by themselves; each must break printed rows ------------------------

GREEK = {1: 1, 2: 4, 3: 5, 4: 7, 5: 8, 6: 10}
SLAVIC = {1: 1, 2: 3, 3: 4, 4: 7, 5: 8, 6: 10}
Rule = Callable[[Printed], tuple[int | None, int | None]]


def _weeks(row: Printed, method: Literal[1, 2, 3] = EASTER_ORTHODOX) -> int:
    last = easter(row.day.year, method)
    if last > row.day:
        last = easter(row.day.year - 1, method)
    return (row.day - last).days // 7


def _tone(n: int) -> int:
    return (n - 1) % 8 + 1


def _eothinon(n: int, practice: str) -> int | None:
    table = SLAVIC if practice == "slavic" else GREEK
    return (n - 8) % 11 + 1 if n >= 8 else table.get(n)


def _right(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row)
    return _tone(n), _eothinon(n, row.practice)


def _from_all_saints(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row)
    return _tone(n - 7 if n >= 8 else n), _eothinon(n, row.practice)


def _western(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row, EASTER_WESTERN)
    return _tone(n), _eothinon(n, row.practice)


def _no_place_for_pentecost(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row)
    return _tone(n - 1 if n >= 8 else n), _eothinon(n, row.practice)


def _eothinon_from_thomas(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row)
    return _tone(n), (n - 1) % 11 + 1


def _back_from_the_coming_pascha(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row)
    coming = easter(row.day.year, EASTER_ORTHODOX)
    if row.day >= coming:
        return _tone(n), _eothinon(n, row.practice)
    return _tone(-((coming - row.day).days // 7)), _eothinon(n, row.practice)


def _practices_swapped(row: Printed) -> tuple[int | None, int | None]:
    n = _weeks(row)
    return _tone(n), _eothinon(n, "greek" if row.practice == "slavic" else "slavic")


def _broken(rule: Rule) -> int:
    return sum(not _agrees(row, *rule(row)) for row in GOOD)


def test_the_right_rule_breaks_none() -> None:
    assert _broken(_right) == 0


@pytest.mark.parametrize(
    ("rule", "at_least"),
    [
        (_from_all_saints, 15),
        (_western, 20),
        (_no_place_for_pentecost, 20),
        (_eothinon_from_thomas, 10),
        (_back_from_the_coming_pascha, 10),
        (_practices_swapped, 7),
    ],
    ids=lambda value: getattr(value, "__name__", str(value)).strip("_"),
)
def test_wrong_rules_break_printed_rows(rule: Rule, at_least: int) -> None:
    assert _broken(rule) >= at_least


def test_our_own_reckoning_with_wrong_rows_breaks_printed_rows(tmp_path: Path) -> None:
    # The same test of the test through our own code: the lists of the two uses swapped by a parish
    # file, and Bright Week's tones given to the weeks after it.
    swapped = tmp_path / "swapped.toml"
    rows = {"greek.myrrh-bearers": 3, "greek.paralytic": 4}
    rows |= {"slavic.myrrh-bearers": 4, "slavic.paralytic": 5}
    swapped.write_text(
        "\n".join(f'[[pentecostarion]]\nid = "{k}"\neothinon = {v}\n' for k, v in rows.items()),
        encoding="utf-8",
    )
    daily = tmp_path / "daily.toml"
    daily.write_text('[[season]]\nid = "bright-week"\nend = 48\n', encoding="utf-8")
    for file, at_least in ((swapped, 7), (daily, 2)):
        broken = 0
        for row in GOOD:
            day = service_day(
                row.day,
                "liturgy",
                calendar=row.calendar,
                practice=row.practice,
                overrides=[file],
            )
            broken += not _agrees(row, day.tone, day.eothinon)
        assert broken >= at_least, file.name
