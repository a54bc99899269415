"""A service plan: which hymn file is sung at which place of a service.

The file is plain text: lines ``key: value``. ``service`` and ``date`` first, then one line for
each item, in the order of singing: the item's name, a colon, the hymn file (looked for in the
parish's ``hymns`` folder), and where the teacher wants it another tone than the computed one in
brackets. An item without a file is work to do. What the priest decided for this one service
stands in lines that begin with ``priest``: ``priest tone: 3``, ``priest eothinon: none``,
``priest day: ...``, ``priest note: ...``, ``priest confirmed: yes``.

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
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from chantwright import safefile
from chantwright.almanac import ServiceDay, decide, parse_date
from chantwright.errors import ChantError, Where

__all__ = [
    "LESSON",
    "Plan",
    "PlanLine",
    "decided",
    "plan_name",
    "propose",
    "read_plan",
    "write_plan",
]

LESSON = "lesson"
"""A plan that is not of a service: hymns for the class to learn."""

_LINE = re.compile(r"^(?P<item>[^:]+):(?P<rest>.*)$")
_TONE = re.compile(r"\(\s*tone\s+(?P<tone>\d+)\s*\)\s*$", re.IGNORECASE)


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


@dataclass(frozen=True, slots=True)
class Plan:
    """A service, its civil date and its items in order."""

    service: str
    civil_date: date
    lines: tuple[PlanLine, ...] = ()
    title: str = ""
    remarks: tuple[str, ...] = ()
    file: str = ""
    decisions: tuple[tuple[str, str, int], ...] = ()
    """What the priest decided: about what, the value, the line in the file."""


def decided(day: ServiceDay, plan: Plan) -> ServiceDay:
    """Lay the priest's decisions of a plan over its service.

    Raises
    ------
    ChantError
        Names the file and the line of a decision that cannot be.
    """
    for about, value, line in plan.decisions:
        day = decide(day, about, value, where=Where(plan.file, line))
    return day


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
        day.service, day.civil_date, tuple(PlanLine(item) for item, _ in items), remarks=remarks
    )


def read_plan(path: Path) -> Plan:
    """Read a plan file.

    Raises
    ------
    ChantError
        Names the file, the line and what to do.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(f"the plan cannot be read ({exc}).", where=Where(str(path))) from None
    head: dict[str, str] = {}
    lines: list[PlanLine] = []
    decisions: list[tuple[str, str, int]] = []
    remarks: list[str] = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.strip()
        where = Where(str(path), number)
        if not line:
            continue
        if line.startswith("#"):
            remarks.append(line.lstrip("#").strip())
            continue
        found = _LINE.match(line)
        if not found:
            raise ChantError(
                f"“{line}” has no colon.",
                where=where,
                remedy="Write the item, a colon and the hymn file: lord-i-cry: psalm-141.txt",
            )
        item, rest = found["item"].strip(), found["rest"].strip()
        if item in ("service", "date", "title") and item not in head:
            head[item] = rest
            continue
        if item.startswith("priest "):
            decisions.append((" ".join(item.split()[1:]), rest, number))
            continue
        lines.append(_plan_line(item, rest, where))
    for key, example in (("service", "great-vespers"), ("date", "2026-11-28")):
        if not head.get(key):
            raise ChantError(
                f"the plan does not say its {key}.",
                where=Where(str(path)),
                remedy=f"Add a line: {key}: {example}",
            )
    try:
        civil = parse_date(head["date"])
    except ChantError as exc:
        raise ChantError(exc.what, where=Where(str(path)), remedy=exc.remedy) from None
    return Plan(
        head["service"],
        civil,
        tuple(lines),
        head.get("title", ""),
        tuple(remarks),
        str(path),
        tuple(decisions),
    )


def _plan_line(item: str, rest: str, where: Where) -> PlanLine:
    tone: int | None = None
    if found := _TONE.search(rest):
        tone = int(found["tone"])
        if not 1 <= tone <= 8:
            raise ChantError(f"there is no tone {tone}.", where=where, remedy="Tones are 1 to 8.")
        rest = rest[: found.start()].strip()
    return PlanLine(item, rest, tone, where.line)


def write_plan(path: Path, plan: Plan) -> None:
    """Write a plan file, keeping the previous version beside it."""
    out = [f"# {remark}" for remark in plan.remarks]
    out += [f"service: {plan.service}", f"date: {plan.civil_date.isoformat()}"]
    if plan.title:
        out.append(f"title: {plan.title}")
    out += [f"priest {about}: {value}" for about, value, _ in plan.decisions]
    out.append("")
    for line in plan.lines:
        value = " ".join(
            part for part in (line.file, f"(tone {line.tone})" if line.tone else "") if part
        )
        out.append(f"{line.item}: {value}".rstrip())
    safefile.write_text(path, "\n".join(out) + "\n", keep=True)
