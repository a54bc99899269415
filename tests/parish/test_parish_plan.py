"""Plans and parish folders: what a teacher writes, and what he is told when it is wrong."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.parish import Plan, PlanLine, found_folder, open_folder, read_plan, write_plan
from chantwright.parish.plan import plan_text
from chantwright.parish.singers import read_singers

names = st.from_regex(r"[a-z][a-z0-9-]{0,20}", fullmatch=True).filter(
    lambda s: s not in ("service", "date", "title", "hour")
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


spaces = st.sampled_from(["", " ", "  ", "\t"])
ends = st.sampled_from(["\n", "\r\n"])


@st.composite
def written_plans(draw: st.DrawFn) -> str:
    """A plan as a teacher's hands leave it: remarks, blank lines, odd spacing, any line ends."""
    end = draw(ends)
    body = st.one_of(
        st.builds(lambda s: f"# {s}", st.from_regex(r"[a-zäγ ,.]{0,20}", fullmatch=True)),
        st.just(""),
        st.builds(
            lambda a, n, b, f, t: f"{a}{n}{b}:{b}{f}{t}",
            spaces,
            names,
            spaces,
            files,
            st.sampled_from(["", " (tone 3)", "  ( tone  5 )"]),
        ),
        st.sampled_from(["priest tone: 3", "  priest   item   glory tone :2", "priest note: a: b"]),
    )
    lines = draw(st.lists(body, max_size=10))
    heads = ["service :  orthros", "date: 29 November 2026"]
    if draw(st.booleans()):
        heads.append("liturgical date: 2026-11-30")
    for head in heads:
        lines.insert(draw(st.integers(0, len(lines))), head)
    text = end.join(lines) + draw(st.sampled_from(["", end, end + end]))
    return draw(st.sampled_from(["", "\ufeff"])) + text


@settings(deadline=None)
@given(written_plans())
def test_an_unchanged_plan_is_written_byte_by_byte(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = tmp_path_factory.mktemp("plan") / "plan.txt"
    path.write_bytes(text.encode())
    write_plan(path, read_plan(path))
    assert path.read_bytes() == text.encode()


@settings(deadline=None)
@given(written_plans(), st.data())
def test_only_what_changed_is_written_anew(
    tmp_path_factory: pytest.TempPathFactory, text: str, data: st.DataObject
) -> None:
    path = tmp_path_factory.mktemp("plan") / "plan.txt"
    path.write_bytes(text.encode())
    plan = read_plan(path)
    if not plan.lines:
        return
    at = data.draw(st.integers(0, len(plan.lines) - 1))
    changed = replace(plan.lines[at], file="quite-another.txt", tone=7)
    new = replace(plan, lines=(*plan.lines[:at], changed, *plan.lines[at + 1 :]))
    write_plan(path, new)
    old_lines = text.encode().splitlines(keepends=True)
    new_lines = path.read_bytes().splitlines(keepends=True)
    assert len(old_lines) == len(new_lines)
    differs = [i for i, (a, b) in enumerate(zip(old_lines, new_lines, strict=True), 1) if a != b]
    assert differs == [changed.line]
    assert read_plan(path).lines == new.lines


@settings(deadline=None)
@given(written_plans(), st.data())
def test_any_change_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, text: str, data: st.DataObject
) -> None:
    path = tmp_path_factory.mktemp("plan") / "plan.txt"
    path.write_bytes(text.encode())
    plan = read_plan(path)
    lines = [x for x in plan.lines if data.draw(st.booleans())]
    for name in data.draw(st.lists(names, max_size=3)):
        lines.insert(data.draw(st.integers(0, len(lines))), PlanLine(name, "new.txt"))
    new = replace(
        plan,
        lines=tuple(lines),
        title=data.draw(st.sampled_from(["", "A title"])),
        hour=data.draw(st.sampled_from([None, time(18, 30)])),
        liturgical_date=data.draw(st.sampled_from([None, date(2026, 11, 30)])),
        decisions=(*plan.decisions[1:], ("confirmed", "yes", 0)),
        remarks=(*plan.remarks[:1], "one remark more"),
    )
    write_plan(path, new)
    back = read_plan(path)
    assert [(x.item, x.file, x.tone) for x in back.lines] == [
        (x.item, x.file, x.tone) for x in new.lines
    ]
    assert (back.title, back.hour, back.liturgical_date) == (
        new.title,
        new.hour,
        new.liturgical_date,
    )
    assert [d[:2] for d in back.decisions] == [d[:2] for d in new.decisions]
    assert back.remarks == new.remarks
    assert plan_text(back) == path.read_bytes().decode()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("date: 2026-11-28\n", "does not say its service"),
        ("service: liturgy\n", "does not say its date"),
        ("service: liturgy\ndate: 2026-02-31\n", "plan.txt"),
        ("service: liturgy\ndate: 2026-11-28\nlord i cry\n", "line 3"),
        ("service: liturgy\ndate: 2026-11-28\na: b.txt (tone 9)\n", "no tone 9"),
        ("service: liturgy\ndate: 2026-11-28\nhour: noon\n", "line 3"),
        ("service: liturgy\ndate: 2026-11-28\n\nliturgical date: 31 February 2026\n", "line 4"),
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
        ('name = "x"\nzone = "Nowhere/Land"\n', "parish.toml, line 2"),
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
