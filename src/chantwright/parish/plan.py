"""A service plan: which hymn file is sung at which place of a service.

The file is plain text: lines ``key: value``. ``service`` and ``date`` first, then one line for
each item, in the order of singing: the item's name, a colon, the hymn file (looked for in the
parish's ``hymns`` folder), and where the teacher wants it another tone than the computed one in
brackets. An item without a file is work to do. ``liturgical date`` names the day that the service
belongs to (change it where it is sung by anticipation); ``hour`` when it begins on this day. What
the priest decided for this one service stands in lines that begin with ``priest``
(`chantwright.almanac.decide`): ``priest tone: 3``, ``priest item stichera number: 6``, ``priest
answer saint: ...``, ``priest confirmed: yes``.

A plan that was read keeps its text: written again, only the lines change that were changed, and
the teacher's own remarks, blank lines and spacing stay as they are.

::

    # Great Vespers, Saturday 28 November 2026
    service: great-vespers
    date: 2026-11-28

    lord-i-cry: psalm-141.txt
    entrance-hymn:
    prokeimenon: saturday-prokeimenon.txt (tone 6)
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path

from chantwright import safefile
from chantwright.almanac import (
    Served,
    ServiceDay,
    decide,
    long_date,
    parse_date,
    service_day,
)
from chantwright.errors import ChantError, Where
from chantwright.parish.plantext import HEAD, Entry, entries, rewritten

__all__ = [
    "LESSON",
    "Plan",
    "PlanLine",
    "decided",
    "plan_json",
    "plan_name",
    "plan_text",
    "planned_in",
    "propose",
    "read_plan",
    "write_plan",
]

LESSON = "lesson"
"""A plan that is not of a service: hymns for the class to learn."""

_TONE = re.compile(r"\(\s*tone\s+(?P<tone>\d+)\s*\)\s*$", re.IGNORECASE)
_HOUR = re.compile(r"(\d\d?)[:.](\d\d)")


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One item of a plan.

    Attributes
    ----------
    item : str
        Name of the item, such as ``lord-i-cry``; free text in a lesson.
    file : str
        Hymn file, relative to the parish's hymns; empty when the words are still missing.
    tone : int or None
        The teacher's own tone for it; None takes the computed one.
    line : int
        Line in the plan file, counted from 1.
    """

    item: str
    file: str = ""
    tone: int | None = None
    line: int = 0

    @property
    def value(self) -> str:
        """What stands after the colon."""
        return " ".join(p for p in (self.file, f"(tone {self.tone})" if self.tone else "") if p)


@dataclass(frozen=True, slots=True)
class Plan:
    """A service, its civil date and its items in order.

    Attributes
    ----------
    service : str
    civil_date : date
    lines : tuple of PlanLine
    title : str
    remarks : tuple of str
        Lines that begin with ``#``, without the sign.
    file : str
        Where it was read from.
    decisions : tuple of (str, str, int)
        What the priest decided: about what, the value, the line in the file.
    liturgical_date : date or None
        The day it belongs to, where it is sung by anticipation.
    hour : time or None
        When it begins on this day, where it is not the usual hour.
    text : str
        The file as it was read; empty for a plan that was made here.
    """

    service: str
    civil_date: date
    lines: tuple[PlanLine, ...] = ()
    title: str = ""
    remarks: tuple[str, ...] = ()
    file: str = ""
    decisions: tuple[tuple[str, str, int], ...] = ()
    liturgical_date: date | None = None
    hour: time | None = None
    text: str = ""


def decided(day: ServiceDay, plan: Plan, overrides: Iterable[Path] = ()) -> ServiceDay:
    """Lay a plan's liturgical date and the priest's decisions in it over its service.

    Raises
    ------
    ChantError
        Names the file and the line of a decision that cannot be.
    """
    paths = tuple(overrides)
    if plan.civil_date != day.civil_date:
        raise ChantError(
            f"this plan is of {long_date(plan.civil_date)}, but its name is that of a plan of "
            f"{long_date(day.civil_date)}.",
            where=_where(plan, "date"),
            remedy="Mend its date, or give the file another name.",
        )
    own = plan.liturgical_date
    if own is not None and own != day.liturgical_date:
        try:
            day = service_day(
                day.civil_date,
                day.service,
                calendar=day.calendar,
                practice=day.practice,
                liturgical=own,
                overrides=paths,
            )
        except ChantError as exc:
            where = exc.where if exc.where.file else _where(plan, "liturgical date")
            raise ChantError(exc.what, where=where, remedy=exc.remedy) from None
    for about, value, line in plan.decisions:
        day = decide(day, about, value, where=Where(plan.file, line), overrides=paths)
    return day


def _where(plan: Plan, key: str) -> Where:
    """Return the place of a head line."""
    numbers = (e.number for e in entries(plan.text) if e.kind == "head" and e.key == key)
    return Where(plan.file, next(numbers, 0))


def planned_in(folder: Path, overrides: Iterable[Path] = ()) -> Callable[[ServiceDay], Served]:
    """Return what lays a service's plan, where the folder has one, over the service.

    Parameters
    ----------
    folder : Path
        Folder of the plans.
    overrides : iterable of Path
        Parish files.
    """
    paths = tuple(overrides)

    def planned(day: ServiceDay) -> Served:
        path = folder / plan_name(day.service, day.civil_date)
        if not path.is_file():
            return Served(day)
        plan = read_plan(path)
        moved = plan.liturgical_date not in (None, day.liturgical_date)
        words = len(plan.decisions) + (plan.hour is not None) + moved
        return Served(decided(day, plan, paths), plan.hour, words)

    return planned


def plan_name(service: str, civil_date: date) -> str:
    """File name of a plan, such as ``2026-11-28-great-vespers.txt``."""
    return f"{civil_date.isoformat()}-{service}.txt"


def propose(day: ServiceDay, items: tuple[tuple[str, str], ...]) -> Plan:
    """Make a plan that names every sung item and no hymn file yet.

    Parameters
    ----------
    day : ServiceDay
        The computed service.
    items : tuple of (id, title)
        Its sung items in order.
    """
    remarks = (
        f"{day.title}, {day.civil_date:%A} {day.civil_date.day} {day.civil_date:%B %Y}",
        "A proposal: what is sung is for the priest and the typikon of the place to decide.",
        "Write the name of a hymn file after the colon; delete what is not sung.",
        *(f"{item}: {title}" for item, title in items),
    )
    return Plan(
        day.service,
        day.civil_date,
        tuple(PlanLine(item) for item, _ in items),
        remarks=remarks,
        liturgical_date=day.liturgical_date,
    )


def read_plan(path: Path) -> Plan:
    """Read a plan file.

    Raises
    ------
    ChantError
        Names the file, the line and what to do.
    """
    try:
        text = path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(f"the plan cannot be read ({exc}).", where=Where(str(path))) from None
    return _parsed(text, str(path))


def _parsed(text: str, file: str) -> Plan:
    head: dict[str, Entry] = {}
    lines: list[PlanLine] = []
    decisions: list[tuple[str, str, int]] = []
    remarks: list[str] = []
    for entry in entries(text):
        where = Where(file, entry.number)
        if entry.kind == "broken":
            raise ChantError(
                f"“{entry.value}” has no colon.",
                where=where,
                remedy="Write the item, a colon and the hymn file: lord-i-cry: psalm-141.txt",
            )
        if entry.kind == "remark":
            remarks.append(entry.value)
        elif entry.kind == "head":
            head[entry.key] = entry
        elif entry.kind == "priest":
            decisions.append((entry.key, entry.value, entry.number))
        elif entry.kind == "item":
            lines.append(_plan_line(entry.key, entry.value, where))
    for key, example in (("service", "great-vespers"), ("date", "2026-11-28")):
        if key not in head or not head[key].value:
            raise ChantError(
                f"the plan does not say its {key}.",
                where=Where(file, head[key].number if key in head else 0),
                remedy=f"Add a line: {key}: {example}",
            )
    own = head.get("liturgical date")
    return Plan(
        head["service"].value,
        _day(head["date"], file),
        tuple(lines),
        head["title"].value if "title" in head else "",
        tuple(remarks),
        file,
        tuple(decisions),
        _day(own, file) if own is not None and own.value else None,
        _hour(head.get("hour"), file),
        text,
    )


def _day(entry: Entry, file: str) -> date:
    try:
        return parse_date(entry.value)
    except ChantError as exc:
        where = Where(file, entry.number, word=entry.value)
        raise ChantError(exc.what, where=where, remedy=exc.remedy) from None


def _hour(entry: Entry | None, file: str) -> time | None:
    if entry is None or not entry.value:
        return None
    found = _HOUR.fullmatch(entry.value)
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise ChantError(
            f"“{entry.value}” is no hour.",
            where=Where(file, entry.number, word=entry.value),
            remedy="Write it like 18:30.",
        )
    return time(int(found[1]), int(found[2]))


def _plan_line(item: str, rest: str, where: Where) -> PlanLine:
    tone: int | None = None
    if found := _TONE.search(rest):
        tone = int(found["tone"])
        if not 1 <= tone <= 8:
            raise ChantError(f"there is no tone {tone}.", where=where, remedy="Tones are 1 to 8.")
        rest = rest[: found.start()].strip()
    return PlanLine(item, rest, tone, where.line)


def _heads(plan: Plan) -> dict[str, str]:
    """Return the head lines of a plan and their values, in their order."""
    return {
        "service": plan.service,
        "date": plan.civil_date.isoformat(),
        "liturgical date": plan.liturgical_date.isoformat() if plan.liturgical_date else "",
        "hour": f"{plan.hour:%H:%M}" if plan.hour else "",
        "title": plan.title,
    }


def plan_text(plan: Plan) -> str:
    """Return a plan as the text of its file; of a plan that was read, only what changed differs."""
    heads = _heads(plan)
    if not plan.text:
        out = [f"# {remark}".rstrip() for remark in plan.remarks]
        out += [f"{key}: {heads[key]}" for key in HEAD if heads[key]]
        out += [f"priest {about}: {value}" for about, value, _ in plan.decisions]
        out.append("")
        out += [f"{line.item}: {line.value}".rstrip() for line in plan.lines]
        return "\n".join(out) + "\n"
    before = _parsed(plan.text, plan.file)
    was = _heads(before)
    same = {line.line: line for line in before.lines}
    return rewritten(
        plan.text,
        heads={key: value for key, value in heads.items() if value != was[key]},
        remarks=plan.remarks,
        priest=[Entry(number, "priest", about, value) for about, value, number in plan.decisions],
        items=[Entry(line.line, "item", line.item, line.value) for line in plan.lines],
        kept=frozenset(line.line for line in plan.lines if same.get(line.line) == line),
    )


def write_plan(path: Path, plan: Plan) -> None:
    """Write a plan file, keeping the previous version beside it."""
    safefile.write_text(path, plan_text(plan), keep=True)


def plan_json(plan: Plan, read: Iterable[str] = ()) -> dict[str, object]:
    """Return a plan as a JSON document.

    Parameters
    ----------
    plan : Plan
    read : iterable of str
        Items that are read, and so need no hymn file.
    """
    only_read = frozenset(read)

    def state(line: PlanLine) -> str:
        if line.file:
            return "file"
        return "read" if line.item in only_read else "words still to be found"

    return {
        "file": plan.file,
        "service": plan.service,
        "civil_date": plan.civil_date.isoformat(),
        "liturgical_date": plan.liturgical_date.isoformat() if plan.liturgical_date else None,
        "hour": f"{plan.hour:%H:%M}" if plan.hour else None,
        "title": plan.title,
        "priest": [{"about": about, "value": value} for about, value, _ in plan.decisions],
        "items": [
            {"item": x.item, "file": x.file, "tone": x.tone, "state": state(x)} for x in plan.lines
        ],
    }
