"""A text that remembers where each of its letters stood, and every change made to it."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from chantwright.words.text import Change

__all__ = ["Tracked"]

_FOLD = 3
Replace = str | Callable[[re.Match[str]], str | None]


class Tracked:
    """A text under repair.

    Parameters
    ----------
    raw : str
        The text as given, with plain line ends.
    """

    def __init__(self, raw: str) -> None:
        self.text = raw
        self._at = list(range(len(raw)))
        self._starts = [0, *(i + 1 for i, c in enumerate(raw) if c == "\n")]
        self._found: list[tuple[int, int, Change]] = []

    def place(self, index: int) -> tuple[int, int]:
        """Line and column in the raw text of a letter of the present text."""
        if not self._at:
            return (1, 1)
        offset = self._at[min(index, len(self._at) - 1)]
        line = bisect_right(self._starts, offset)
        return line, offset - self._starts[line - 1] + 1

    def note(self, kind: str, index: int, before: str, after: str = "", note: str = "") -> None:
        """Write a change down without making one."""
        line, column = self.place(index)
        change = Change(kind, before, after, line, column, note)
        self._found.append((line, column, change))

    def sub(
        self,
        pattern: str,
        replace: Replace,
        kind: str = "",
        note: str = "",
        *,
        flags: int = 0,
        rubrics: bool = False,
    ) -> None:
        """Replace each match and write it down.

        Parameters
        ----------
        pattern : str
            Regular expression. Rubrics in braces are stepped over unless `rubrics`.
        replace : str or callable
            New text (taken literally), or a function that returns it, or None to leave the match.
        kind, note : str
            For the list of changes; without a kind the change is not listed.
        """
        if not rubrics:
            pattern = "(?:" + pattern + r")|(?P<rubric_>\{[^{}]*\})"
        out: list[str] = []
        at: list[int] = []
        last = 0
        for found in re.finditer(pattern, self.text, flags):
            if not rubrics and found["rubric_"] is not None:
                continue
            new = replace if isinstance(replace, str) else replace(found)
            old = found[0]
            if new is None or new == old:
                continue
            if kind:
                self.note(kind, found.start(), old.strip("\n") or old, new.strip("\n"), note)
            out.append(self.text[last : found.start()])
            at += self._at[last : found.start()]
            out.append(new)
            at += self._spread(found.start(), old, new)
            last = found.end()
        if last:
            self.text = "".join(out) + self.text[last:]
            self._at = at + self._at[last:]

    def _spread(self, start: int, old: str, new: str) -> list[int]:
        """Offsets for the letters of a replacement."""
        if not new:
            return []
        if (inside := old.find(new)) >= 0:
            return self._at[start + inside : start + inside + len(new)]
        own = self._at[start : start + len(old)] or [self._at[start - 1] if start else 0]
        return [own[min(k, len(own) - 1)] for k in range(len(new))]

    @property
    def changes(self) -> tuple[Change, ...]:
        """Every change, in the order of the text; many equal ones are told once, with a count."""
        found = [c for _, _, c in sorted(self._found, key=lambda f: (f[0], f[1]))]
        count = Counter((c.kind, c.before, c.after) for c in found)
        first: dict[tuple[str, str, str], Change] = {}
        out = []
        for change in found:
            same = (change.kind, change.before, change.after)
            more = count[same] - 1
            if more < _FOLD:
                out.append(change)
            elif same not in first:
                note = f"{change.note}; {more} more".removeprefix("; ")
                first[same] = replace(change, note=note)
                out.append(first[same])
        return tuple(out)
