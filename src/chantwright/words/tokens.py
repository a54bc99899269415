"""A clean text taken apart: words with their punctuation, bars, verse starts and rubrics."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from chantwright.words.cleaning import LITERAL, literal
from chantwright.words.tracked import Tracked

__all__ = ["Token", "tokens"]

_LETTER = r"[^\W\d_\ue000-\uf8ff]"
_MARK = r"[\u0300-\u036f]"
_WORD = re.compile(
    rf"['’‘]?{_LETTER}(?:{_LETTER}|{_MARK}|[·‿](?={_LETTER})|['’](?={_LETTER})|-(?=·?{_LETTER}))*['’]?"
)
_PIECE = re.compile(
    rf"(?P<rubric>\{{[^{{}}]*\}})|(?P<word>{_WORD.pattern})|(?P<bar>\|{{1,3}})|(?P<keep>~)"
    r"|(?P<verse>[ ]*\n[ ]*\n\s*)|(?P<line>[ ]*\n[ ]*)|(?P<space>\s+)|(?P<sign>.)",
    re.S,
)
_CLIPPED = ("th", "t", "o", "thro", "tho", "an")
_APOSTROPHES = ("'", "’", "‘")
_OPENERS = "“‘«¿¡" + chr(LITERAL + ord("(")) + chr(LITERAL + ord("["))


@dataclass(frozen=True, slots=True)
class Token:
    """A word as written (marks inside), with what stands around it."""

    marked: str
    line: int
    column: int
    before: str = ""
    after: str = ""
    bar: str = ""
    keep: bool = False
    verse_start: bool = False
    rubric: str = ""


class _Gatherer:
    """Takes the pieces of a text in order and builds its words."""

    def __init__(self, text: Tracked) -> None:
        self._text = text
        self.done: list[Token] = []
        self._before, self._rubric = "", ""
        self._verse, self._spaced = True, True

    def take(self, kind: str, piece: str, at: int) -> None:
        """Take the next piece."""
        if kind == "word":
            self._word(piece, at)
        elif kind == "rubric":
            self._rubric = _lines(self._rubric, literal(" ".join(piece[1:-1].split())))
        elif kind == "sign":
            self._sign(piece)
        elif kind != "bar":
            self._spaced = True
            self._verse = self._verse or kind == "verse"
        if self.done:
            last = self.done[-1]
            if kind == "bar":
                longest = max(last.bar, piece, key=len)
                self.done[-1] = replace(last, bar=longest, keep=False)
            elif kind == "keep" and not last.bar:
                self.done[-1] = replace(last, keep=True)

    def _word(self, piece: str, at: int) -> None:
        line, column = self._text.place(at)
        if self._before[-1:] in _APOSTROPHES and piece[0] not in "'’‘":
            self._before, piece = self._before[:-1], self._before[-1] + piece  # it clings to it
        word, tail = _closing_quote(unicodedata.normalize("NFC", piece), self._before)
        self.done.append(
            Token(
                word,
                line,
                column,
                before=literal(self._before),
                after=tail,
                verse_start=self._verse,
                rubric=self._rubric,
            )
        )
        self._before, self._rubric, self._verse, self._spaced = "", "", False, False

    def _sign(self, piece: str) -> None:
        opens = piece in _OPENERS or (piece in "\"'’" and self._spaced)
        if not self.done or opens:
            self._before += piece
            return
        dash = piece in "—–"
        mark = " " + piece if dash and self._spaced else piece
        last = self.done[-1]
        self.done[-1] = replace(last, after=last.after + literal(mark))
        self._spaced = self._spaced or dash

    def finish(self) -> tuple[Token, ...]:
        """Give what stands after the last word to that word and its verse."""
        if self.done and self._before.strip():
            last = self.done[-1]
            self.done[-1] = replace(last, after=last.after + literal(self._before))
        if self.done and self._rubric:
            at = max(i for i, w in enumerate(self.done) if w.verse_start)
            note = "printed before the verse it follows"
            end = len(self._text.text) - 1
            self._text.note("rubric", end, self._rubric, self._rubric, note)
            first = self.done[at]
            self.done[at] = replace(first, rubric=_lines(first.rubric, self._rubric))
        return tuple(self.done)


def _lines(old: str, new: str) -> str:
    return "\n".join(x for x in (old, new) if x)


def tokens(text: Tracked) -> tuple[Token, ...]:
    """Take a clean text apart.

    Returns
    -------
    tuple of Token
        One for each word. Punctuation clings to the word before it; an opening quotation mark to
        the word after it. A rubric after the last word goes to that word's verse.
    """
    gatherer = _Gatherer(text)
    for found in _PIECE.finditer(text.text):
        gatherer.take(str(found.lastgroup), found[0], found.start())
    return gatherer.finish()


def _closing_quote(piece: str, before: str) -> tuple[str, str]:
    """Tell a closing quotation mark from a final apostrophe."""
    quoted = "‘" in before or "'" in before or piece[-2:-1] != "s"
    if piece[-1] in "'’" and quoted and piece[:-1].lower() not in _CLIPPED:
        return piece[:-1], piece[-1]
    return piece, ""
