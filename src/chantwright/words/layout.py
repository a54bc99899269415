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

__all__ = ["SHORT", "meant_line_ends", "title_of"]

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


def title_of(text: str) -> str:
    """Return the first line where it looks like a title, else nothing.

    A title stands alone before a blank line, is short, ends with no mark of a sentence, and its
    words, but for the small ones, begin with capitals.

    Parameters
    ----------
    text : str
        Words, more than one verse of them.
    """
    first, blank, rest = text.strip().partition("\n\n")
    line = _RUBRIC.sub("", first).strip()
    words = line.split()
    if "\n" in first or not blank or not rest.strip() or not 2 <= len(words) <= 8:
        return ""
    if line[-1] in ".,;:!?…|—":
        return ""
    long = [w for w in words if len(w) > 3]
    return line if long and all(w[0].isupper() for w in [words[0], *long]) else ""


def _meant(lines: list[str]) -> bool:
    bare = [" ".join(line.split()) for line in lines]
    if any(_HYPHEN.search(line) for line in bare[:-1]):
        return False
    widest = max(map(len, bare), default=0)
    had_room = any(
        len(line) + 1 + len(after.split()[0]) <= widest for line, after in pairwise(bare)
    )
    return had_room or widest <= SHORT
