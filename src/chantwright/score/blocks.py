"""The body of the hymn file as blocks: a line of words and the lines that stand with it.

A remark belongs to the block it stands in; one that stands alone belongs to the phrase that
follows or, at the end of the file, to the last phrase. A rubric belongs to the phrase after it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from chantwright.score.header import is_remark, remark_text
from chantwright.score.tokens import (
    HEADER_KEYS,
    PHRASE_KEYS,
    Line,
    Piece,
    is_near,
    key_of,
    nearest,
    take_mark,
)

__all__ = ["WORDS_REMEDY", "Block", "Body"]

WORDS_REMEDY = "If it is words to sing, begin the line with \\."
_TOKEN = re.compile(r"\S+")


@dataclass(slots=True)
class Block:
    """A line of words and what stands with it."""

    words: Line
    rubric: str = ""
    verse_start: bool = False
    remarks: list[str] = field(default_factory=list)
    keys: dict[str, Line] = field(default_factory=dict)

    def tokens(self, key: str) -> list[Piece]:
        """Cut a line into what stands between its blanks, without a phrase mark at its end."""
        line, _ = take_mark(self.keys[key])
        return [Piece(m[0], m.start()) for m in _TOKEN.finditer(line.text)]


def _rubric(line: Line) -> tuple[str, Line]:
    """Take a rubric off the front of a line; give its text and the rest of the line."""
    text, letters, i = line.text, list[str](), 1
    kept = 0  # how far blanks are the teacher's own, said by a backslash
    while i < len(text) and text[i] != "}":
        if text[i] == "\\" and i + 1 < len(text):
            i += 1
            kept = len(letters) + 1
        elif not letters and text[i].isspace():
            i += 1
            continue
        letters.append(text[i])
        i += 1
    if i >= len(text):
        raise line.error(
            "a rubric is not closed.",
            "End it with } on the same line; begin each further line of it with { again.",
            at=0,
            word=text.split()[0],
        )
    while len(letters) > kept and letters[-1].isspace():
        letters.pop()
    return "".join(letters), line.part(i + 1)


class Body:
    """Gathers the lines after the head into blocks."""

    def __init__(self, *, verse_start: bool) -> None:
        self.blocks: list[Block] = []
        self.remarks: list[str] = []  # not yet given to a phrase
        self.rubric: list[str] = []
        self.rubric_line: Line | None = None
        self.verse_start = verse_start
        self.open = False  # whether the last block can still take lines

    def blank(self) -> None:
        """Take a blank line."""
        if self.open:
            self._give_remarks()
        self.open = False
        self.verse_start = self.verse_start or bool(self.blocks)

    def line(self, line: Line) -> None:
        """Take a line that is not blank."""
        bare = line.part(0)
        if is_remark(bare):
            self.remarks.append(remark_text(line))
        elif bare.text.startswith("{"):
            text, rest = _rubric(bare)
            self.rubric.append(text)
            self.rubric_line = bare
            self.open = False
            if rest.text:
                self._words(rest)
        elif found := key_of(bare.text):
            self._keyed(bare, *found)
        else:
            self._words(bare)

    def end(self) -> list[str]:
        """Close the body; give the remarks that no phrase can take."""
        if self.rubric_line is not None:
            raise self.rubric_line.error(
                "a rubric stands at the end, with no phrase after it.",
                "Move it before the phrase it belongs to, or make a remark of it: begin it with #.",
                at=0,
            )
        if self.blocks:
            self._give_remarks()
        return self.remarks

    def _give_remarks(self) -> None:
        self.blocks[-1].remarks += self.remarks
        self.remarks = []

    def _words(self, line: Line) -> None:
        block = Block(line, "\n".join(self.rubric), self.verse_start, self.remarks)
        self.blocks.append(block)
        self.remarks, self.rubric, self.rubric_line = [], [], None
        self.verse_start, self.open = False, True

    def _keyed(self, line: Line, key: str, after: int) -> None:
        if key in PHRASE_KEYS:
            if not self.open:
                raise line.error(
                    f"a “{key}:” line has no words above it.",
                    f"Put it directly under the words it belongs to. {WORDS_REMEDY}",
                    word=key,
                )
            block = self.blocks[-1]
            if key in block.keys:
                raise line.error(
                    f"this phrase has two “{key}:” lines.", "Keep one of the two.", word=key
                )
            block.keys[key] = line.part(after)
            self._give_remarks()
        elif key in HEADER_KEYS:
            raise line.error(
                f"the header line “{key}:” stands among the words.",
                f"Move it to the top of the file, above the first blank line. {WORDS_REMEDY}",
                word=key,
            )
        elif is_near(key, PHRASE_KEYS):
            raise line.error(
                f"“{key}:” is not known here.",
                f"Did you mean “{nearest(key, PHRASE_KEYS)}:”? {WORDS_REMEDY}",
                word=key,
            )
        else:
            self._words(line)
