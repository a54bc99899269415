"""What the priest decided for one service, as lines of its plan."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from chantwright.almanac import items, points, week
from chantwright.errors import ChantError
from chantwright.parish.plan import decided, read_plan, write_plan

HEAD = "service: orthros\ndate: 2026-11-29\n"


def test_the_priest_has_the_last_word(tmp_path: Path) -> None:
    path = tmp_path / "plan.txt"
    path.write_text(HEAD + "priest tone: 3\npriest confirmed: 2026-11-20\n", encoding="utf-8")
    plan = read_plan(path)
    before = week(date(2026, 11, 29))[1]
    after = decided(before, plan)
    # Worked by hand: what goes with the week turns from tone 1 to tone 3; the evlogetaria stay 5.
    tones = {i.id: i.tone for i in items(after)}
    assert (before.tone, after.tone, after.nominal_tone, after.confirmed) == (1, 3, 1, True)
    assert (tones["orthros.hypakoe"], tones["orthros.evlogetaria"]) == (3, 5)
    known = {k.name: k for p in points(after) for k in p.known}
    assert known["tone"].layer == "priest" and known["tone"].confirmed
    write_plan(path, plan)
    assert decided(before, read_plan(path)).tone == 3


@pytest.mark.parametrize(
    "line",
    [
        "priest tone: 9",
        "priest eothinon: twelve",
        "priest colour: red",
        "priest tone:",
        "priest confirmed: perhaps",
    ],
)
def test_what_cannot_be_decided_names_file_and_line(tmp_path: Path, line: str) -> None:
    path = tmp_path / "plan.txt"
    path.write_text(HEAD + line + "\n", encoding="utf-8")
    with pytest.raises(ChantError) as caught:
        decided(week(date(2026, 11, 29))[1], read_plan(path))
    assert "plan.txt" in str(caught.value) and caught.value.where.line == 3


def test_a_service_by_anticipation_belongs_to_the_day_of_its_plan(tmp_path: Path) -> None:
    # Common practice: Orthros of Holy Monday is sung on the evening of Palm Sunday, 5 April 2026.
    path = tmp_path / "plan.txt"
    path.write_text(
        "service: orthros\ndate: 2026-04-05\nliturgical date: 2026-04-06\npriest tone: none\n"
        "priest item canon tone: 2\npriest answer special: none\n",
        encoding="utf-8",
    )
    sunday = week(date(2026, 4, 5))[1]
    monday = decided(sunday, read_plan(path))
    assert (sunday.day_name, monday.day_name) == ("Palm Sunday", "Holy Monday")
    assert monday.civil_date == date(2026, 4, 5)
    assert "special" not in [q.key for q in monday.questions if not q.answer]


@pytest.mark.parametrize(
    ("line", "at"),
    [
        ("liturgical date: 2026-12-09", 3),
        ("priest item nowhere tone: 3", 3),
        ("priest answer nothing: yes", 3),
    ],
)
def test_what_a_plan_cannot_say_names_file_and_line(tmp_path: Path, line: str, at: int) -> None:
    path = tmp_path / "plan.txt"
    path.write_text(HEAD + line + "\n", encoding="utf-8")
    with pytest.raises(ChantError) as caught:
        decided(week(date(2026, 11, 29))[1], read_plan(path))
    assert "plan.txt" in str(caught.value) and caught.value.where.line == at


def test_a_plan_under_the_wrong_name_is_told(tmp_path: Path) -> None:
    path = tmp_path / "plan.txt"
    path.write_text(HEAD, encoding="utf-8")
    with pytest.raises(ChantError) as caught:
        decided(week(date(2026, 12, 6))[1], read_plan(path))
    assert "another name" in str(caught.value) and caught.value.where.line == 2
