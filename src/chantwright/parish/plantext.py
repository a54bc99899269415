r"""The text of a plan, line by line, and how it is written again with nothing else disturbed.

Conventions: a line is counted from 1 and keeps its own end (``\n``, ``\r\n`` or none). A line is
a *head* (service, date ...), a *priest*'s decision, an *item*, a *remark* (it begins with ``#``),
*blank*, or *broken* (it has no colon).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher

__all__ = ["HEAD", "Entry", "entries", "rewritten"]

HEAD = ("service", "date", "liturgical date", "hour", "title")
"""Names of the head lines, in their order."""

_MARK = "\ufeff"  # some editors put it before the first letter of a file


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a plan: its number, kind, key and value."""

    number: int
    kind: str
    key: str
    value: str


def entries(text: str) -> list[Entry]:
    """Divide the text of a plan into its lines."""
    found: list[Entry] = []
    seen: set[str] = set()
    for number, raw in enumerate(text.removeprefix(_MARK).splitlines(), start=1):
        line = raw.strip()
        key, colon, value = (part.strip() for part in line.partition(":"))
        if not line:
            found.append(Entry(number, "blank", "", ""))
        elif line.startswith("#"):
            found.append(Entry(number, "remark", "", line.lstrip("#").strip()))
        elif not colon or not key:
            found.append(Entry(number, "broken", "", line))
        elif key in HEAD and key not in seen:
            seen.add(key)
            found.append(Entry(number, "head", key, value))
        elif key.startswith("priest "):
            found.append(Entry(number, "priest", " ".join(key.split()[1:]), value))
        else:
            found.append(Entry(number, "item", key, value))
    return found


@dataclass(slots=True)
class _Text:
    """The lines of a file that is being changed: none, one or more lines for each old one."""

    old: list[str]
    new: list[list[str]]
    end: str
    top: list[str] = field(default_factory=list)

    def set(self, number: int, key: str, value: str) -> None:
        """Put another value after a line's colon, keeping what stands before the key."""
        raw = self.old[number - 1]
        start = raw[: len(raw) - len(raw.lstrip())]
        tail = raw[len(raw.rstrip("\r\n")) :] or self.end
        self.new[number - 1][0] = f"{start}{key}: {value}".rstrip() + tail

    def remove(self, number: int) -> None:
        """Take a line out."""
        self.new[number - 1][0] = ""

    def add(self, after: int, line: str) -> None:
        """Put a line after another (0: before the first)."""
        (self.new[after - 1] if after else self.top).append(line.rstrip() + self.end)

    def joined(self) -> str:
        """Return the whole text; a line that is no longer the last gets its end."""
        lines = [line for many in (self.top, *self.new) for line in many if line]
        ended = [x + self.end if x == x.splitlines()[0] else x for x in lines[:-1]]
        return "".join([*ended, *lines[-1:]])


def _put(
    text: _Text, old: Sequence[Entry], new: Sequence[Entry], kept: frozenset[int], first: int
) -> None:
    """Lay new lines of one kind over the old ones; `first` is the line they begin after."""
    by_number = {entry.number: entry for entry in old}
    last = 0
    stays: dict[int, Entry] = {}
    added: list[tuple[int, Entry]] = []
    for entry in new:
        if entry.number in by_number and entry.number > last:
            last = entry.number
            stays[last] = entry
        else:  # new, or moved to another place
            added.append((last or first, entry))
    for number, was in by_number.items():
        if number not in stays:
            text.remove(number)
        elif number not in kept and (stays[number].key, stays[number].value) != (
            was.key,
            was.value,
        ):
            prefix = "priest " if was.kind == "priest" else ""
            text.set(number, prefix + stays[number].key, stays[number].value)
    for after, entry in added:
        prefix = "priest " if entry.kind == "priest" else ""
        text.add(after, f"{prefix}{entry.key}: {entry.value}")


def _put_remarks(text: _Text, old: Sequence[Entry], new: Sequence[str]) -> None:
    """Lay new remarks over the old ones; those that stay keep their lines."""
    for tag, a, b, c, d in SequenceMatcher(
        None, [entry.value for entry in old], list(new), autojunk=False
    ).get_opcodes():
        if tag == "equal":
            continue
        for entry in old[a:b]:
            text.remove(entry.number)
        after = old[b - 1].number if b else 0
        for remark in new[c:d]:
            text.add(after, f"# {remark}")


def rewritten(
    text: str,
    *,
    heads: Mapping[str, str],
    remarks: Sequence[str],
    priest: Sequence[Entry],
    items: Sequence[Entry],
    kept: frozenset[int],
) -> str:
    """Write a plan's text again with what changed, and nothing else.

    Parameters
    ----------
    text : str
        The text as it was read.
    heads : mapping
        Head lines that changed; an empty value takes the line out.
    remarks : sequence of str
    priest, items : sequence of Entry
        All lines of these kinds as they shall stand; their number says which old line they were.
    kept : frozenset of int
        Numbers of the item lines that did not change.
    """
    bare = text.removeprefix(_MARK)
    old = entries(text)
    raw = bare.splitlines(keepends=True)
    end = "\r\n" if raw and raw[0].endswith("\r\n") else "\n"
    page = _Text(raw, [[line] for line in raw], end)
    present = {entry.key: entry.number for entry in old if entry.kind == "head"}
    last_head = max(present.values(), default=0)
    _put_remarks(page, [e for e in old if e.kind == "remark"], remarks)
    before_items = [e.number for e in old if e.kind in ("head", "priest")]
    for key, value in heads.items():
        if key not in present:
            page.add(last_head, f"{key}: {value}")
        elif value:
            page.set(present[key], key, value)
        else:
            page.remove(present[key])
    spoken = [e for e in old if e.kind == "priest"]
    _put(page, spoken, priest, frozenset(), spoken[-1].number if spoken else last_head)
    listed = [e for e in old if e.kind == "item"]
    first = listed[0].number - 1 if listed else max(before_items, default=len(raw))
    _put(page, listed, items, kept, first)
    mark = _MARK if text.startswith(_MARK) else ""
    return mark + page.joined()
