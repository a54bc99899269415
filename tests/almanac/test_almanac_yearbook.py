"""A yearbook held against the almanac."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from chantwright.almanac import as_rows, compare, service_day
from chantwright.errors import ChantError


def test_differences_are_told_and_taken_only_when_asked(tmp_path: Path) -> None:
    # Worked by hand: 29 November 2026 is tone 1, eothinon 4; 25 December has no tone of the week.
    book = tmp_path / "yearbook.csv"
    book.write_text(
        "date,tone,eothinon\n2026-11-29,1,5\n2026-12-06,2,\n2026-12-25,none,\n2026-12-13,7,\n",
        encoding="utf-8",
    )
    found = compare(book)
    assert [(d.line, d.about, d.computed, d.printed) for d in found] == [
        (2, "eothinon", 4, 5),
        (5, "tone", 3, 7),
    ]
    assert "eothinon 5" in str(found[0])
    own = tmp_path / "own.toml"
    own.write_text(as_rows(found, "yearbook 2026"), encoding="utf-8")
    taken = service_day(date(2026, 11, 29), "orthros", overrides=[own])
    assert taken.eothinon == 5
    assert any(r.layer == "parish" and "gives 4" in r.sentence for r in taken.reasons)
    assert compare(book, overrides=[own]) == ()


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("day;tone\n", 1),
        ("date,saint,rank\n2026-11-24,Saint Clement,Z\n", 2),
        ("date,tone\n2026-02-31,1\n", 2),
        ("date,tone\n2026-11-29,9\n", 2),
    ],
)
def test_bad_tables_name_the_line(tmp_path: Path, text: str, line: int) -> None:
    book = tmp_path / "yearbook.csv"
    book.write_text(text, encoding="utf-8")
    with pytest.raises(ChantError) as caught:
        compare(book)
    assert caught.value.where.line == line


def test_saints_of_a_yearbook(tmp_path: Path) -> None:
    # 6 December is Saint Nicholas in every calendar of saints; the almanac has no saint for the
    # 24th of November in Greek use.
    book = tmp_path / "saints.csv"
    book.write_text(
        "date,saint,rank\n2026-12-06,saint nicholas,\n2026-12-06,Saint Nicholas,D\n"
        '2026-11-24,"Saint Clement, ""of Rome""",six\n2026-11-27,none,\n',
        encoding="utf-8",
    )
    found = compare(book)
    assert [(d.line, d.about) for d in found] == [(3, "saint"), (4, "saint")]
    assert "Saint Nicholas (rank P)" in str(found[0]) and "almanac none" in str(found[1])
    own = tmp_path / "own.toml"
    own.write_text(as_rows(found, "yearbook 2026"), encoding="utf-8")
    day = service_day(date(2026, 11, 24), "orthros", overrides=[own])
    assert day.layer("saint") == "parish"
    assert (day.feasts[0].title, day.feasts[0].rank) == ('Saint Clement, "of Rome"', "six")
    assert compare(book, overrides=[own]) == ()
