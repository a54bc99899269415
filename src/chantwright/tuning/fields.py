"""Fields of a knowledge row, read with their kind: a wrong kind is a sentence, never a traceback.

Numbers become exact `Fraction`: ``8``, ``3.5`` and ``"21/2"`` are all read.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from chantwright.errors import ChantError
from chantwright.rows import Row
from chantwright.tuning.names import parse_degree

__all__ = [
    "as_degree",
    "as_number",
    "degree",
    "degrees",
    "items",
    "number",
    "numbers",
    "pair",
    "text",
    "texts",
    "whole",
]


def text(row: Row, key: str, default: str | None = None) -> str:
    """Return a field that must be words in quotes."""
    value = row[key] if default is None else row.get(key, default)
    if not isinstance(value, str) or (default is None and not value):
        raise row.error(f"“{key}” must be words in quotes.", f'Write it as: {key} = "..."')
    return value


def items(row: Row, key: str) -> list[Any]:
    """Return a field that must be a list."""
    value = row[key]
    if not isinstance(value, list):
        raise row.error(f"“{key}” must be a list.", f"Write it in square brackets: {key} = [...]")
    return value


def texts(row: Row, key: str) -> tuple[str, ...]:
    """Return a field that must be a list of words in quotes."""
    found = items(row, key)
    if not all(isinstance(v, str) for v in found):
        raise row.error(
            f"“{key}” must be a list of words in quotes.", f'Write it as: {key} = ["...", "..."]'
        )
    return tuple(found)


def as_number(row: Row, key: str, value: object) -> Fraction:
    """Read one number, such as ``8``, ``3.5`` or ``"21/2"``."""
    if isinstance(value, int | float | str) and not isinstance(value, bool):
        try:
            return Fraction(str(value))
        except (ValueError, ZeroDivisionError):
            pass
    raise row.error(f"“{key}”: “{value}” is no number.", "Write a number such as 8 or 3.5.")


def number(row: Row, key: str) -> Fraction:
    """Return a field that must be a number."""
    return as_number(row, key, row[key])


def numbers(row: Row, key: str) -> tuple[Fraction, ...]:
    """Return a field that must be a list of numbers."""
    return tuple(as_number(row, key, v) for v in items(row, key))


def whole(row: Row, key: str) -> int:
    """Return a field that must be a whole number."""
    value = number(row, key)
    if value.denominator != 1:
        raise row.error(f"“{key}” must be a whole number.", f"Write it as: {key} = 8")
    return int(value)


def as_degree(row: Row, key: str, value: object) -> int:
    """Read one note name."""
    try:
        return parse_degree(value if isinstance(value, str) else repr(value))
    except ChantError as exc:
        raise row.error(f"“{key}”: {exc.what}", exc.remedy) from None


def degree(row: Row, key: str) -> int:
    """Return a field that must be a note."""
    return as_degree(row, key, row[key])


def degrees(row: Row, key: str) -> tuple[int, ...]:
    """Return a field that must be a list of notes."""
    return tuple(as_degree(row, key, v) for v in items(row, key))


def pair(row: Row, key: str) -> tuple[int, int]:
    """Return a field that must be a lowest and a highest note."""
    found = degrees(row, key)
    if len(found) != 2 or found[0] > found[1]:
        raise row.error(
            f"“{key}” must be the lowest and the highest note, in this order.",
            f'Write it as: {key} = ["ni", "ke"]',
        )
    return found[0], found[1]
