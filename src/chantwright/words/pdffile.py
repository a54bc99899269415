"""PDF files that hold text: lines, red words, raised figures, room between verses.

Conventions
-----------
Lengths are in points. A line whose distance from the line before is a third more than that of
close lines begins a verse. First and last lines that stand at the same height on most pages,
figures aside, are page heads and feet: they go out and are listed. A hyphen at the end of a line
stays, for `cleaning` to mend and list.

References
----------
ISO 32000-1 (PDF 1.7), section 9 (text). Read through pypdfium2.
"""

from __future__ import annotations

import ctypes
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

import pypdfium2
import pypdfium2.raw as pdfium

from chantwright.errors import ChantError, Where
from chantwright.words.coloured import Line, Run, is_red, lines_text
from chantwright.words.document import Document
from chantwright.words.text import Change

__all__ = ["read_pdf"]

PAGES = 400
SIGNS = 1_000_000
WIDER = 1.33
"""Distance of lines, in that of close lines, from which there is room for a new verse."""
SMALL = 0.75
"""Size of a raised figure, in that of the letters around it."""
_HYPHEN = (0xFFFE, 0x02, 0xAD)
"""How the library gives a hyphen that ended a line."""


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of a page with its height above the foot, in points."""

    runs: tuple[Run, ...]
    y: float

    @property
    def text(self) -> str:
        return "".join(r.text for r in self.runs)


@dataclass(frozen=True, slots=True)
class _Sign:
    """One sign of a page: code, red or not, size and height of its base line in points."""

    code: int
    red: bool
    size: float
    y: float


def read_pdf(data: bytes, where: Where) -> Document:
    """Take the words out of a PDF.

    Parameters
    ----------
    data : bytes
        The file.
    where : Where
        For errors.

    Returns
    -------
    Document
        Text and changes.

    Raises
    ------
    ChantError
        If it is locked, broken or too long, or holds only pictures of text.
    """
    try:
        pdf = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as exc:
        raise _not_opened(str(exc), where) from None
    try:
        if len(pdf) > PAGES:
            raise ChantError(
                f"this PDF has {len(pdf)} pages, too many for one hymn.",
                where=where,
                remedy="Print the pages you need into a PDF of their own.",
            )
        pages = [_rows(_signs(pdf[k])) for k in range(len(pdf))]
    except pypdfium2.PdfiumError as exc:
        raise _not_opened(str(exc), where) from None
    finally:
        pdf.close()
    _checked(pages, where)
    pages, heads = _without_heads(pages)
    text, changes = lines_text(_lines(pages))
    return Document(text, (*heads, *changes))


def _not_opened(reason: str, where: Where) -> ChantError:
    if "password" in reason.lower() or "security" in reason.lower():
        return ChantError(
            "this PDF is locked with a password.",
            where=where,
            remedy="Open it with its password and save it without one, or copy the words out.",
        )
    return ChantError(
        "this PDF is broken and cannot be opened.",
        where=where,
        remedy="Get it again, or copy the words out of it.",
    )


def _checked(pages: Sequence[Sequence[_Row]], where: Where) -> None:
    text = "".join(row.text for page in pages for row in page)
    if sum(map(len, text.split())) < 4 * max(1, min(len(pages), 3)):
        raise ChantError(
            "there is no text in this PDF, only pictures of pages.",
            where=where,
            remedy="A scan must be typed, or passed through a program that recognises letters.",
        )
    strange = sum(c == "\ufffd" or "\ue000" <= c <= "\uf8ff" for c in text)
    if strange > 0.1 * len(text):
        raise ChantError(
            "the letters of this PDF cannot be told: its typeface has its own numbers for them.",
            where=where,
            remedy="Ask for the words as .docx or plain text, or type them.",
        )


def _signs(page: pypdfium2.PdfPage) -> list[_Sign]:
    raw = page.get_textpage()
    count = min(raw.count_chars(), SIGNS)
    parts = [ctypes.c_uint() for _ in range(4)]
    x, y = ctypes.c_double(), ctypes.c_double()
    found = []
    for k in range(count):
        coloured = pdfium.FPDFText_GetFillColor(raw.raw, k, *parts)
        red, green, blue = (p.value for p in parts[:3])
        pdfium.FPDFText_GetCharOrigin(raw.raw, k, x, y)
        found.append(
            _Sign(
                pdfium.FPDFText_GetUnicode(raw.raw, k),
                bool(coloured) and is_red(red, green, blue),
                pdfium.FPDFText_GetFontSize(raw.raw, k),
                y.value,
            )
        )
    return found


def _rows(signs: Sequence[_Sign]) -> list[_Row]:
    """Gather the signs of a page into lines."""
    rows: list[_Row] = []
    line: list[_Sign] = []
    for sign in signs:
        if sign.code in _HYPHEN:
            line.append(replace(sign, code=ord("-")))
        if sign.code in (10, 13, *_HYPHEN[:2]):
            rows += _row(line)
            line = []
        elif sign.code not in _HYPHEN:
            line.append(sign)
    return rows + _row(line)


def _row(line: Sequence[_Sign]) -> list[_Row]:
    letters = [s for s in line if not chr(s.code).isspace()]
    if not letters:
        return []
    size = median(s.size for s in letters)
    base = median(s.y for s in letters)
    runs: list[Run] = []
    for sign in line:
        letter = chr(sign.code) if 0 < sign.code < 0x110000 else "\ufffd"
        small = letter.isdigit() and sign.size < SMALL * size and sign.y > base + 0.05 * size
        run = Run(letter, sign.red, small)
        if runs and (runs[-1].red, runs[-1].raised) == (run.red, run.raised):
            runs[-1] = replace(runs[-1], text=runs[-1].text + letter)
        else:
            runs.append(run)
    return [_Row(tuple(runs), base)]


def _head(row: _Row) -> tuple[str, int]:
    """Name a line that may be a page head: its words without figures, and its height."""
    return re.sub(r"\d+|\b[ivxl]+\b", "#", row.text).strip(), round(row.y / 4)


def _without_heads(
    pages: Sequence[Sequence[_Row]],
) -> tuple[list[list[_Row]], tuple[Change, ...]]:
    """Take out what stands at the head or the foot of most pages."""
    edges = Counter(_head(r) for p in pages for r in {id(q): q for q in (*p[:2], *p[-2:])}.values())
    most = max(2, len(pages) // 2)
    left, changes = [], []
    for page in pages:
        own = []
        for k, row in enumerate(page):
            if (k < 2 or k >= len(page) - 2) and edges[_head(row)] >= most:
                kind = "page head" if k < 2 and k < len(page) / 2 else "page foot"
                changes.append(Change(kind, row.text.strip(), "", 0, 0, "not part of the words"))
            else:
                own.append(row)
        left.append(own)
    return left, tuple(changes)


def _lines(pages: Sequence[Sequence[_Row]]) -> list[Line]:
    steps = sorted(a.y - b.y for p in pages for a, b in pairwise(p) if a.y - b.y > 1)
    close = steps[len(steps) // 4] if steps else 0.0
    found = []
    for page in pages:
        before: float | None = None
        for row in page:
            gap = before is not None and close > 0 and before - row.y > WIDER * close
            found.append(Line(row.runs, gap))
            before = row.y
    return found
