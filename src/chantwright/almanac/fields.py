"""Fields of a data row, read with a check, so that a slip in a parish file is told by its line."""

from __future__ import annotations

import re
from difflib import get_close_matches

from chantwright.rows import PARISH, Row

__all__ = ["check_known", "choice", "flag", "month_day", "names", "number", "text", "tone"]

_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def number(row: Row, key: str, low: int, high: int, default: int | None = None) -> int:
    """Return a whole number between `low` and `high`."""
    value = row[key] if default is None else row.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise row.error(
            f"“{key}” is {value!r}.", f"It must be a whole number from {low} to {high}."
        )
    return value


def tone(row: Row, key: str = "tone") -> int | None:
    """Return a tone, 1 to 8, or None where the row has none."""
    return None if row.get(key) in (None, "none") else number(row, key, 1, 8)


def text(row: Row, key: str, default: str | None = None) -> str:
    """Return a line of text."""
    value = row[key] if default is None else row.get(key, default)
    if not isinstance(value, str):
        raise row.error(f"“{key}” is {value!r}.", "Put it between quotes.")
    return value


def flag(row: Row, key: str, default: bool = False) -> bool:
    """Return true or false."""
    value = row.get(key, default)
    if not isinstance(value, bool):
        raise row.error(f"“{key}” is {value!r}.", "Write true or false, without quotes.")
    return value


def names(row: Row, key: str) -> tuple[str, ...]:
    """Return a list of names."""
    value = row.get(key, [])
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise row.error(f"“{key}” is {value!r}.", 'Write a list like ["one", "two"].')
    return tuple(value)


def choice(row: Row, key: str, allowed: tuple[str, ...], default: str | None = None) -> str:
    """Return one of the allowed words."""
    value = text(row, key, default)
    if value not in allowed:
        raise row.error(f"“{key}” is “{value}”.", "Write one of: " + ", ".join(allowed) + ".")
    return value


def month_day(row: Row, key: str) -> str:
    """Return a month and day such as ``09-14``."""
    value = text(row, key)
    found = re.fullmatch(r"(\d\d)-(\d\d)", value)
    if found is None or not 1 <= int(found[1]) <= 12:
        raise row.error(f"“{key}” is “{value}”.", 'Write month and day like "09-14".')
    if not 1 <= int(found[2]) <= _DAYS[int(found[1]) - 1]:
        raise row.error(f"“{key}” is “{value}”.", "That month has no such day.")
    return value


def check_known(row: Row, known: frozenset[str]) -> None:
    """Refuse a parish field that nobody reads: most likely a slip of the pen."""
    if row.origin != PARISH:
        return
    for key in row.own_fields:
        if key not in known:
            near = get_close_matches(key, known, 1)
            hint = f"Did you mean “{near[0]}”?" if near else "Take the line out."
            raise row.error(f"nothing here is called “{key}”.", hint)
