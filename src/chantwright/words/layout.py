"""Whether the line ends of a text are meant: lines of verse, or only where the page was full.

A text that was wrapped at the edge of a page has one mark: at no line end would the next word have
fitted into the widest line. One line that could have held its next word shows that the writer broke
it on purpose, and then all line ends of that verse are phrase ends. Where nothing shows it, short
lines are taken as meant. Own reasoning; conf medium.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

__all__ = ["SHORT", "meant_line_ends"]

SHORT = 40
"""Letters in the widest line up to which lines that might be wrapped are taken as meant."""

_BLOCK = re.compile(r"[^\n]*\S[^\n]*(?:\n[^\n]*\S[^\n]*)*")
_RUBRIC = re.compile(r"\{[^{}]*\}")
_HYPHEN = re.compile(r"[-\u00ad\u2010]\s*$")


def meant_line_ends(text: str) -> Iterator[int]:
    """Find the line ends that end a phrase.

    Parameters
    ----------
    text : str
        Cleaned text, verses parted by blank lines. A verse with a bar in it has none of its line
        ends taken: there the bars decide.

    Yields
    ------
    int
        Index of the line-end sign.
    """
    for block in _BLOCK.finditer(text):
        sung = _RUBRIC.sub("", block[0])
        if "\n" not in block[0] or "|" in sung:
            continue
        lines = block[0].split("\n")
        if not _meant([line for line in sung.split("\n") if line.strip()]):
            continue
        at = block.start()
        for line in lines[:-1]:
            at += len(line)
            if _RUBRIC.sub("", line).strip():
                yield at
            at += 1


def _meant(lines: list[str]) -> bool:
    bare = [" ".join(line.split()) for line in lines]
    if any(_HYPHEN.search(line) for line in bare[:-1]):
        return False
    widest = max(map(len, bare), default=0)
    had_room = any(
        len(line) + 1 + len(after.split()[0]) <= widest for line, after in pairwise(bare)
    )
    return had_room or widest <= SHORT
