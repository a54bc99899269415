"""Which hymn is sung where: a plan changed by hand, line by line.

Nothing is written here; `chantwright.parish.plan.write_plan` writes a plan with every other line
of its file as it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from chantwright.almanac import ServiceDay, items
from chantwright.errors import ChantError, Where
from chantwright.parish.plan import Plan, PlanLine

__all__ = ["changed", "left_over", "with_hymn"]


def left_over(plan: Plan, day: ServiceDay, overrides: Iterable[Path] = ()) -> dict[str, str]:
    """Return the computed items that a plan does not name: name in the plan, and title."""
    named = {line.item for line in plan.lines}
    computed = {
        item.id.removeprefix(f"{day.service}."): item.title
        for item in items(day, overrides=tuple(overrides))
    }
    return {name: title for name, title in computed.items() if name not in named}


def changed(plan: Plan, lines: Mapping[str, PlanLine | None]) -> Plan:
    """Lay changed lines over a plan.

    Parameters
    ----------
    plan : Plan
    lines : mapping of str to PlanLine or None
        By item; None takes the item out, an item that is not there is added at the end.

    Returns
    -------
    Plan
    """
    kept = []
    for line in plan.lines:
        new = lines.get(line.item, line)
        if new is not None:
            kept.append(replace(new, line=line.line))
    there = {line.item for line in plan.lines}
    kept += [line for item, line in lines.items() if line is not None and item not in there]
    return replace(plan, lines=tuple(kept))


def with_hymn(plan: Plan, item: str, file: str) -> Plan:
    """Return the plan with a hymn file at an item, whose own tone stays as it is.

    Raises
    ------
    ChantError
        If the plan has no such item.
    """
    for line in plan.lines:
        if line.item == item:
            return changed(plan, {item: replace(line, file=file)})
    raise ChantError(
        f"this plan has no item “{item}”.",
        where=Where(plan.file),
        remedy="Look at the plan; the item may have been taken out.",
    )
