"""What a singer hands in: the short text that the practice pack writes, read back into a result.

The text is made in the singer's browser and travels by whatever way they like: a file, a message,
a printed slip. It is forgiving about what mail programs do to it (quote marks, blank lines, other
line ends), but not about a changed number: its last line is a check sum of the others.

Reference
---------
CRC-32 as in ISO 3309 and PNG.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from chantwright.errors import ChantError
from chantwright.parish.records import Result

__all__ = ["read_handin", "read_handins", "write_handin"]

_FIRST = "chantwright result 1"
_QUOTED = re.compile(r"^[>\s\ufeff]+")
_LONGEST = 200_000
_REMEDY = "Ask the singer to hand it in again, whole."


def _line_pairs(text: str) -> list[str]:
    plain = text.replace("\u00a0", " ")
    lines = (_QUOTED.sub("", line).rstrip() for line in plain.splitlines())
    return [line for line in lines if line]


def read_handin(text: str) -> Result:
    """Read one handed-in result.

    Parameters
    ----------
    text : str
        As the pack wrote it.

    Returns
    -------
    Result
        With source ``pack``; ``detail`` holds ``singer`` (a nickname or empty), ``title``,
        ``degrees`` (name -> moria off) and ``shift`` (moria from the recording's pitch).

    Raises
    ------
    ChantError
        If it is something else, damaged, or its numbers do not fit.
    """
    found = read_handins(text)
    if len(found) != 1:
        raise ChantError(
            f"there are {len(found)} results in this text, not one.",
            remedy="Read them with the whole list.",
        )
    return found[0]


def read_handins(text: str) -> tuple[Result, ...]:
    """Read every result in a text, such as a message that holds several.

    Errors are those of `read_handin`.
    """
    if len(text) > _LONGEST:
        raise ChantError("this is too long to be a handed-in result.", remedy=_REMEDY)
    groups: list[list[str]] = []
    closed = True
    for line in _line_pairs(text):
        if line == _FIRST:
            groups.append([line])
            closed = False
        elif not closed:
            groups[-1].append(line)
            closed = line.startswith("check: ")
    if not groups:
        raise ChantError(
            "there is no result of a practice pack in this text.",
            remedy=f"It begins with the line “{_FIRST}”.",
        )
    return tuple(_result(group) for group in groups)


def _result(lines: list[str]) -> Result:
    *body, last = lines
    wanted = f"check: {_check(body)}"
    if last != wanted:
        raise ChantError("this result was cut short or changed on its way.", remedy=_REMEDY)
    fields = dict(_field(line) for line in body[1:])
    try:
        return Result(
            hymn=fields["hymn"],
            notes=_count(fields["notes"]),
            wrong=_count(fields["wrong"]),
            skipped=_count(fields["skipped"]),
            off_moria=_number(fields["off"]),
            drift_moria=_number(fields["drift"]),
            sung=datetime.fromisoformat(fields["sung"]).astimezone(UTC),
            source="pack",
            detail=MappingProxyType(_detail(fields)),
        )
    except (KeyError, ValueError, OverflowError):
        raise ChantError("this result lacks something or cannot be read.", remedy=_REMEDY) from None


def _detail(fields: Mapping[str, str]) -> dict[str, Any]:
    degrees = {}
    for part in filter(None, fields.get("degrees", "").split(", ")):
        name, _, value = part.partition(" ")
        degrees[name] = _number(value)
    return {
        "singer": fields.get("singer", "")[:80],
        "title": fields.get("title", "")[:200],
        "shift": _number(fields.get("shift", "-")),
        "degrees": degrees,
    }


def _field(line: str) -> tuple[str, str]:
    name, _, value = line.partition(":")
    return name, value.strip()


def _count(text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,5}", text):
        raise ValueError(text)
    return int(text)


def _number(text: str) -> float | None:
    if text == "-":
        return None
    if not re.fullmatch(r"-?[0-9]{1,4}(\.[0-9]{1,3})?", text):
        raise ValueError(text)
    return float(text)


def _check(lines: list[str]) -> str:
    return f"{zlib.crc32(chr(10).join(lines).encode(errors='replace')):08x}"


def write_handin(result: Result) -> str:
    """Write a result as the pack does; `read_handin` reads it back."""

    def said(value: float | None) -> str:
        return "-" if value is None else f"{value:.2f}"

    detail = result.detail
    sung = (result.sung or datetime.now(UTC)).astimezone(UTC)
    degrees = detail.get("degrees", {})
    off = ", ".join(f"{name} {said(value)}" for name, value in degrees.items())
    lines = [
        _FIRST,
        f"singer: {_one_line(detail.get('singer', ''))}".rstrip(),
        f"hymn: {_one_line(result.hymn)}",
        f"title: {_one_line(detail.get('title', ''))}".rstrip(),
        f"sung: {sung.isoformat(timespec='seconds').replace('+00:00', 'Z')}",
        f"notes: {result.notes}",
        f"wrong: {result.wrong}",
        f"skipped: {result.skipped}",
        f"off: {said(result.off_moria)}",
        f"drift: {said(result.drift_moria)}",
        f"shift: {said(detail.get('shift'))}",
        f"degrees: {off}".rstrip(),
    ]
    return "\n".join([*lines, f"check: {_check(lines)}"]) + "\n"


def _one_line(value: object) -> str:
    return " ".join(str(value).split())
