"""The head of the hymn file: its ``key: value`` lines, one for each field of the hymn.

A pasted text has no head, and its first line may well hold a colon. So a block of lines at the top
counts as the head only if its first line has a known key; or if all its lines look like
``key: value`` and one of them has a known key; or if all of them are known keys or slips of the
pen for one, and words follow after a blank line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Any, cast

from chantwright.errors import ChantError
from chantwright.score.model import (
    ENDINGS,
    MELODY_SOURCES,
    Base,
    Ending,
    Hymn,
    MelodySource,
)
from chantwright.score.tokens import (
    HEADER_KEYS,
    Line,
    guard,
    is_near,
    key_of,
    nearest,
    read_degree,
    unguard,
)
from chantwright.score.validate import MAX_HZ, MAX_TEMPO, MIN_HZ
from chantwright.tuning import degree_name

__all__ = ["is_header", "is_remark", "read_header", "remark_text", "write_header"]

_BASE = re.compile(r"(?P<degree>[^\s=:]+)\s*(?:=|:|\s)\s*(?P<hz>[0-9]{1,5}(?:[.,][0-9]{1,20})?)\s*")
_WHOLE = re.compile(r"[0-9]{1,5}")


def is_remark(line: Line) -> bool:
    """Whether a line is the teacher's own remark."""
    return line.text.lstrip().startswith("#")


def remark_text(line: Line) -> str:
    """Text of a remark: what stands after the sign and one blank."""
    return line.text.lstrip()[1:].removeprefix(" ")


def is_header(block: Sequence[Line], *, more: bool) -> bool:
    """Whether the first block of lines is the head of the file.

    Parameters
    ----------
    block : sequence of Line
        The lines up to the first blank one.
    more : bool
        Whether anything follows after the blank line.
    """
    found = [key_of(line.text) for line in block if not is_remark(line)]
    if not found:
        return bool(block)
    keys = [key[0] if key else "" for key in found]
    known = [key in HEADER_KEYS for key in keys]
    if known[0]:
        return True
    if any(known):
        return all(keys)
    return (more or len(keys) > 1) and all(is_near(key, HEADER_KEYS) for key in keys)


# --- reading --------------------------------------------------------------------------------


def _name(line: Line, key: str) -> str:
    text = unguard(line.text)
    if text.split() != [text]:
        raise line.error(
            f"the {key} must be one word.", "Write it without blanks.", at=0, word=line.text
        )
    return text


def _whole(line: Line, low: int, high: int, what: str, remedy: str) -> int:
    if not _WHOLE.fullmatch(line.text) or not low <= int(line.text) <= high:
        raise line.error(
            f"“{line.text[:20]}” is not a {what} from {low} to {high}.",
            remedy,
            at=0,
            word=line.text,
        )
    return int(line.text)


def _tone(line: Line) -> int:
    return _whole(
        line,
        1,
        8,
        "tone",
        "Write its number: the plagal tones of the first, second and fourth are 5, 6 and 8, and "
        "the grave tone is 7.",
    )


def _tempo(line: Line) -> int:
    return _whole(line, 1, MAX_TEMPO, "tempo", "Write beats a minute, such as 132.")


def _choice(line: Line, key: str, choices: Sequence[str]) -> str:
    text = line.text.lower()
    if text not in choices:
        raise line.error(
            f"“{line.text[:20]}” is not a known {key}.",
            f"Write one of: {', '.join(choices)}.",
            at=0,
            word=line.text,
        )
    return text


def _base(line: Line) -> Base:
    found = _BASE.match(line.text)
    if not found or line.text[found.end() :].strip().lower() not in ("", "hz"):
        raise line.error(
            "the base is not clear.",
            "Write the degree and its pitch: pa = 146.83 Hz.",
            at=0,
            word=line.text,
        )
    hz = float(found["hz"].replace(",", "."))
    if not MIN_HZ <= hz <= MAX_HZ:
        raise line.error(
            f"nobody sings at {found['hz']} Hz.",
            "Write a pitch such as pa = 146.83 Hz.",
            at=found.start("hz"),
            word=found["hz"],
        )
    return Base(read_degree(line, found["degree"], 0), hz)


_READERS: dict[str, tuple[str, Callable[[Line], Any]]] = {
    "title": ("title", lambda line: unguard(line.text)),
    "tone": ("tone", _tone),
    "branch": ("branch", lambda line: _name(line, "branch")),
    "style": ("style", lambda line: _name(line, "style")),
    "language": ("language", lambda line: _name(line, "language")),
    "tempo": ("tempo", _tempo),
    "base": ("base", _base),
    "ending": ("ending", lambda line: cast(Ending, _choice(line, "ending", ENDINGS))),
    "intonation": ("intonation", lambda line: _name(line, "intonation")),
    "words from": ("words_source", lambda line: unguard(line.text)),
    "melody from": ("melody_source", lambda line: unguard(line.text)),
    "melody kind": (
        "melody_kind",
        lambda line: cast(MelodySource, _choice(line, "melody kind", MELODY_SOURCES)),
    ),
}


def _unknown(line: Line, key: str) -> ChantError:
    near = nearest(key, HEADER_KEYS)
    guess = f"Did you mean “{near}:”? " if is_near(key, HEADER_KEYS) else ""
    return line.error(
        f"the header has no “{key}”.",
        f"{guess}The keys are: {', '.join(HEADER_KEYS)}. If this line is words to sing, put a "
        "blank line before it, or begin it with \\.",
        at=len(line.text) - len(line.text.lstrip()),
        word=key,
    )


def read_header(block: Sequence[Line]) -> Hymn:
    """Read the head into a hymn without phrases.

    Raises
    ------
    ChantError
        At a line that is not ``key: value``, a key that is not known or stands twice, or a value
        that cannot be read. A key without a value counts as not given.
    """
    values: dict[str, Any] = {}
    lines: dict[str, int] = {}
    remarks: list[str] = []
    for line in block:
        if is_remark(line):
            remarks.append(remark_text(line))
            continue
        if (found := key_of(line.text)) is None:
            raise line.error(
                "this line stands among the header lines but is not like “key: value”.",
                "Leave a blank line between the header and the words, or write the key, a colon "
                "and the value.",
                word=line.text.strip(),
            )
        key, after = found
        if key not in _READERS:
            raise _unknown(line, key)
        if key in lines:
            raise line.error(
                f"“{key}” stands a second time; the first is in line {lines[key]}.",
                "Keep one of the two.",
                word=key,
            )
        lines[key] = line.number
        value = line.part(after)
        if value.text:
            field, read = _READERS[key]
            values[field] = read(value)
    return Hymn(remarks=tuple(remarks), **values)


# --- writing --------------------------------------------------------------------------------


def _hz(hz: float) -> str:
    return repr(float(hz)).removesuffix(".0")  # the shortest text that reads back the same


def write_header(hymn: Hymn) -> list[str]:
    """Lines of the head: remarks, then every field that is not as it is by default."""
    base = hymn.base and f"{degree_name(hymn.base.degree)} = {_hz(hymn.base.hz)} Hz"
    values = {
        "title": guard(hymn.title),
        "tone": hymn.tone and str(hymn.tone),
        "branch": hymn.branch and guard(hymn.branch),
        "style": hymn.style and guard(hymn.style),
        "language": hymn.language != "en" and guard(hymn.language),
        "tempo": hymn.tempo and str(hymn.tempo),
        "base": base,
        "ending": hymn.ending != "ordinary" and hymn.ending,
        "intonation": hymn.intonation and guard(hymn.intonation),
        "words from": guard(hymn.words_source),
        "melody from": guard(hymn.melody_source),
        "melody kind": hymn.melody_kind,
    }
    remarks = [f"# {r}" if r else "#" for r in hymn.remarks]
    return remarks + [f"{key}: {value}" for key, value in values.items() if value]
