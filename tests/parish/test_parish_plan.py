"""Plans and parish folders: what a teacher writes, and what he is told when it is wrong."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.parish import Plan, PlanLine, found_folder, open_folder, read_plan, write_plan
from chantwright.parish.singers import read_singers

names = st.from_regex(r"[a-z][a-z0-9-]{0,20}", fullmatch=True).filter(
    lambda s: s not in ("service", "date", "title")
)
files = st.one_of(st.just(""), st.from_regex(r"[a-z0-9-]{1,20}\.txt", fullmatch=True))


@settings(deadline=None)
@given(
    st.lists(st.tuples(names, files, st.one_of(st.none(), st.integers(1, 8))), max_size=12),
    st.dates(date(1900, 1, 1), date(2099, 12, 31)),
)
def test_a_plan_comes_back_as_written(
    tmp_path_factory: pytest.TempPathFactory,
    lines: list[tuple[str, str, int | None]],
    day: date,
) -> None:
    path = tmp_path_factory.mktemp("plan") / "plan.txt"
    plan = Plan(
        "great-vespers", day, tuple(PlanLine(i, f, t) for i, f, t in lines), "Title", ("r",)
    )
    write_plan(path, plan)
    back = read_plan(path)
    assert (back.service, back.civil_date, back.title, back.remarks) == (
        plan.service,
        plan.civil_date,
        plan.title,
        plan.remarks,
    )
    assert [(x.item, x.file, x.tone) for x in back.lines] == [
        (x.item, x.file, x.tone) for x in plan.lines
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("date: 2026-11-28\n", "does not say its service"),
        ("service: liturgy\n", "does not say its date"),
        ("service: liturgy\ndate: 2026-02-31\n", "plan.txt"),
        ("service: liturgy\ndate: 2026-11-28\nlord i cry\n", "line 3"),
        ("service: liturgy\ndate: 2026-11-28\na: b.txt (tone 9)\n", "no tone 9"),
    ],
)
def test_a_wrong_plan_is_told_where(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "plan.txt"
    path.write_text(text)
    with pytest.raises(ChantError) as caught:
        read_plan(path)
    assert says in str(caught.value)
    assert "plan.txt" in str(caught.value)


def test_a_new_parish_folder_opens(tmp_path: Path) -> None:
    found_folder(tmp_path / "p", 'The "Old" Harbour \\ Parish')
    folder = open_folder(tmp_path / "p")
    assert folder.name == 'The "Old" Harbour \\ Parish'
    assert (folder.calendar, folder.practice) == ("new", "greek")
    with pytest.raises(ChantError, match="already"):
        found_folder(tmp_path / "p")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('calender = "new"\n', "Did you mean “calendar”"),
        ('calendar = "julian"\n', "new, old, gregorian"),
        ("name = 3\n", "must be text"),
        ("name = \n", "cannot be read"),
    ],
)
def test_wrong_settings_are_sentences(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "parish.toml").write_text(text)
    with pytest.raises(ChantError) as caught:
        open_folder(tmp_path)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "names no singer"),
        ('[[singer]]\nname = "A"\nvoice = "tenor"\nlowest = "A2"\nhighest = "D4"\n', "tenor"),
        ('[[singer]]\nname = "A"\nvoice = "man"\nlowest = "D4"\nhighest = "A2"\n', "range"),
        ('[[singer]]\nname = "A"\nvoice = "man"\nlowest = "low"\nhighest = "A3"\n', "not a note"),
        ('[[singer]]\nname = "A"\nlowest = "A2"\nhighest = "A3"\n', "voice"),
        ('[[singer]]\nname = "A"\n[[singer]]\nname = "A"\n', "twice"),
    ],
)
def test_wrong_singers_are_sentences(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "singers.toml"
    path.write_text(text)
    with pytest.raises(ChantError) as caught:
        read_singers(path)
    assert says in str(caught.value)
    assert "singers.toml" in str(caught.value)
