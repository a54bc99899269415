"""A clean text taken apart: words with their punctuation, bars, verse starts and rubrics."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from chantwright.words.cleaning import LITERAL, literal
from chantwright.words.text import Bar
from chantwright.words.tracked import Tracked

__all__ = ["Token", "tokens"]

_LETTER = r"[^\W\d_\ue000-\uf8ff]"
_MARK = r"[\u0300-\u036f]"
_WORD = re.compile(
    rf"['’‘]?{_LETTER}(?:{_LETTER}|{_MARK}|[·‿](?={_LETTER})|['’](?={_LETTER})|-(?={_LETTER}))*['’]?"
)
_PIECE = re.compile(
    rf"(?P<rubric>\{{[^{{}}]*\}})|(?P<word>{_WORD.pattern})|(?P<bar>\|{{1,3}})|(?P<keep>~)"
    r"|(?P<verse>[ ]*\n[ ]*\n\s*)|(?P<line>[ ]*\n[ ]*)|(?P<space>\s+)|(?P<sign>.)",
    re.S,
)
_OPENERS = "“‘«¿¡" + chr(LITERAL + ord("(")) + chr(LITERAL + ord("["))


@dataclass(frozen=True, slots=True)
class Token:
    """A word as written (marks inside), with what stands around it."""

    marked: str
    line: int
    column: int
    before: str = ""
    after: str = ""
    bar: Bar = ""
    keep: bool = False
    verse_start: bool = False
    line_end: bool = False
    rubric: str = ""


def tokens(text: Tracked) -> tuple[Token, ...]:
    """Take a clean text apart.

    Returns
    -------
    tuple of Token
        One for each word. Punctuation clings to the word before it; an opening quotation mark to
        the word after it. A rubric after the last word goes to that word's verse.
    """
    done: list[Token] = []
    before, rubric = "", ""
    verse, spaced = True, True
    for found in _PIECE.finditer(text.text):
        kind, piece = found.lastgroup, found[0]
        if kind == "word":
            line, column = text.place(found.start())
            word, tail = _closing_quote(piece, before)
            done.append(
                Token(word, line, column, literal(before), tail, "", False, verse, False, rubric)
            )
            before, rubric, verse, spaced = "", "", False, False
        elif kind == "rubric":
            own = literal(" ".join(piece[1:-1].split()))
            if not own:
                continue
            rubric = f"{rubric} {own}" if rubric else own
        elif kind == "verse":
            verse, spaced = True, True
            if done:
                done[-1] = replace(done[-1], line_end=True)
        elif kind == "line":
            spaced = True
            if done:
                done[-1] = replace(done[-1], line_end=True)
        elif kind == "space":
            spaced = True
        elif kind == "bar" and done:
            longest = max(done[-1].bar, piece, key=len)
            done[-1] = replace(done[-1], bar=longest)  # type: ignore[arg-type]
        elif kind == "keep" and done:
            done[-1] = replace(done[-1], keep=True)
            spaced = True
        elif kind == "sign":
            opens = piece in _OPENERS or (piece in "\"'" and spaced)
            if not done or opens:
                before += piece
            else:
                mark = piece
                if spaced and piece in "—–":
                    mark = " " + piece
                done[-1] = replace(done[-1], after=done[-1].after + literal(mark))
                if piece in "—–":
                    spaced = True
    if done and (rubric or before.strip()):
        last = done[-1]
        if before.strip():
            last = done[-1] = replace(last, after=last.after + literal(before))
        if rubric:
            at = max(i for i, w in enumerate(done) if w.verse_start)
            text.note(
                "rubric", len(text.text) - 1, rubric, rubric, "printed before the verse it follows"
            )
            own = done[at].rubric
            done[at] = replace(done[at], rubric=f"{own} {rubric}" if own else rubric)
    return tuple(done)


def _closing_quote(piece: str, before: str) -> tuple[str, str]:
    """Tell a closing quotation mark from a final apostrophe."""
    if piece[-1] in "'’" and ("‘" in before or "'" in before or piece[-2:-1] != "s"):
        if piece[:-1].lower() not in ("th", "o", "thro", "tho", "an", "wi", "ma", "goin"):
            return piece[:-1], piece[-1]
    return piece, ""
