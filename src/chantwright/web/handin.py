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
import unicodedata
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from types import MappingProxyType
from typing import Any

from chantwright.errors import ChantError, Where
from chantwright.parish.records import Result

__all__ = ["read_handin", "read_handins", "told_in", "write_handin"]

_FIRST = "chantwright result 1"
_QUOTED = re.compile(r"^[>\s\ufeff]+")
_LONGEST = 200_000
_REMEDY = "Ask the singer to hand it in again, whole."
_FIELDS = ("singer", "hymn", "title", "sung", "notes", "wrong", "skipped", "off", "drift", "shift",
           "degrees")  # fmt: skip
_DEGREE = re.compile(r"[a-z]{2,6}[_']{0,3}")
_EARLIEST = datetime(2020, 1, 1, tzinfo=UTC)
_AHEAD = timedelta(days=1)  # clocks of telephones are set by hand now and then


def told_in(data: bytes, place: str = "") -> str:
    """Read the text of a file that was handed in, whatever program kept it.

    Raises
    ------
    ChantError
        If it is no text.
    """
    if len(data) > 4 * _LONGEST:
        raise ChantError(
            "this is too long to be a handed-in result.", where=Where(place), remedy=_REMEDY
        )
    kind = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return data.decode(kind)
    except UnicodeDecodeError:
        raise ChantError(
            "this is not a text with a result in it.",
            where=Where(place),
            remedy="Take the file that the practice pack kept, or save the message as plain text.",
        ) from None


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


def read_handins(text: str, place: str = "") -> tuple[Result, ...]:
    """Read every result in a text, such as a message that holds several.

    Errors are those of `read_handin`; they name the place, where one is given.
    """
    try:
        return _results(text)
    except ChantError as exc:
        raise ChantError(exc.what, where=Where(place), remedy=exc.remedy) from None


def _results(text: str) -> tuple[Result, ...]:
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
    pairs = [_field(line) for line in body[1:]]
    fields = dict(pairs)
    if sorted(name for name, _ in pairs) != sorted(_FIELDS):
        raise ChantError("this result lacks something or has too much.", remedy=_REMEDY)
    try:
        notes, wrong, skipped = (_count(fields[name]) for name in ("notes", "wrong", "skipped"))
        off, drift = _number(fields["off"]), _number(fields["drift"])
        sung = datetime.fromisoformat(fields["sung"])
        sung = (sung if sung.tzinfo else sung.replace(tzinfo=UTC)).astimezone(UTC)
        detail = _detail(fields)
    except (ValueError, OverflowError):
        raise ChantError("this result lacks something or cannot be read.", remedy=_REMEDY) from None
    if not 0 < notes >= wrong + skipped:
        raise ChantError("the numbers of this result do not fit each other.", remedy=_REMEDY)
    if not _EARLIEST <= sung <= datetime.now(UTC) + _AHEAD:
        raise ChantError(
            f"this result says it was sung on {sung.date().isoformat()}.",
            remedy="Ask the singer to set the clock of the device, and to sing it again.",
        )
    hymn = _file(fields["hymn"])
    return Result(hymn, notes, wrong, skipped, off, drift, sung, "pack", MappingProxyType(detail))


def _file(text: str) -> str:
    """Name of a hymn file in the parish folder: never a way out of it."""
    parts = text.split("/")
    odd = not text or len(text) > 200 or "\\" in text or ":" in text or {"", ".", ".."} & {*parts}
    if odd or _plain(text) != text:
        raise ChantError("the hymn's file in this result is no name of a file.", remedy=_REMEDY)
    return text


def _plain(text: str) -> str:
    """Without characters that cannot be seen, or that turn the line about."""
    return "".join(c for c in text if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn"))


def _detail(fields: Mapping[str, str]) -> dict[str, Any]:
    degrees: dict[str, float | None] = {}
    for part in filter(None, fields["degrees"].split(", ")):
        name, _, value = part.partition(" ")
        if not _DEGREE.fullmatch(name) or len(degrees) > 40:
            raise ValueError(name)
        degrees[name] = _number(value)
    return {
        "singer": _plain(fields["singer"])[:80],
        "title": _plain(fields["title"])[:200],
        "shift": _number(fields["shift"]),
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
