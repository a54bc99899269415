"""Plain text and Markdown: which letters the bytes stand for, and signs that are only for layout.

References
----------
Markdown: the CommonMark specification 0.31 (headings, emphasis, block quotes, lists, links, hard
line breaks, backslash escapes), as far as it meets words to be sung. Encodings: UTF-8, UTF-16 with
its mark, and the Windows code pages 1252 (western) and 1253 (Greek) of old word processors.
"""

from __future__ import annotations

import codecs
import re

from chantwright.errors import ChantError, Where
from chantwright.words.document import Document
from chantwright.words.text import Change

__all__ = ["decoded", "read_markdown"]


def decoded(data: bytes, where: Where) -> tuple[str, tuple[Change, ...]]:
    """Turn bytes into text.

    Parameters
    ----------
    data : bytes
        A text file.
    where : Where
        For errors.

    Returns
    -------
    str, tuple of Change
        Text with plain line ends; one change if the encoding had to be guessed.

    Raises
    ------
    ChantError
        If it is no text.
    """
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return _plain(data.decode("utf-16")), ()
        except UnicodeDecodeError:
            raise _no_text(where) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        return _guessed(data, exc.start, where)
    if "\0" in text:
        raise _no_text(where)
    return _plain(text), ()


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _guessed(data: bytes, first: int, where: Where) -> tuple[str, tuple[Change, ...]]:
    """Read an older encoding: Greek if most letters are outside English, else western."""
    if any(b < 32 and b not in b"\t\n\r\f\x0b" for b in data):
        raise _no_text(where)
    high = sum(b >= 0xC0 for b in data)
    low = sum(chr(b).isalpha() for b in data if b < 0x80)
    page, name = ("cp1253", "Greek") if high > low else ("cp1252", "western")
    text = _plain(data.decode(page, errors="replace"))
    at = len(_plain(data[:first].decode(page, errors="replace")))
    line = text.count("\n", 0, at) + 1
    column = at - (text.rfind("\n", 0, at) + 1) + 1
    note = "the file is not UTF-8; look at its accents and quotation marks"
    kept = text[at : at + 1]
    return text, (Change(f"read as {name} Windows letters", kept, kept, line, column, note),)


def _no_text(where: Where) -> ChantError:
    return ChantError(
        "this is not a text file.",
        where=where,
        remedy="Give plain text, Markdown, a Word file (.docx) or a PDF with text in it.",
    )


# ------------------------------------------------------------------ Markdown
_EMPHASIS = re.compile(r"(?<![\\*\w])(\*{1,3})(?=\S)([^*\n]+?)(?<=\S)\1(?![*\w])")
_UNDERLINE = re.compile(r"(?<![\\_\w])(_{1,3})(?=\S)([^_\n]+?)(?<=\S)\1(?![_\w])")
_WHOLE = re.compile(r"^[ ]{0,3}(\*{1,3}|_{1,3})(?=\S)([^*_\n{}]+?)(?<=\S)\1[ ]*$")


class _Lines:
    """Lines under repair, one at a time, with what was changed."""

    def __init__(self) -> None:
        self.done: list[str] = []
        self.changes: list[Change] = []

    def note(self, kind: str, before: str, after: str = "", note: str = "") -> None:
        """Write down a change of the line that comes next."""
        self.changes.append(Change(kind, before, after, len(self.done) + 1, 1, note))

    def sub(self, line: str, pattern: str | re.Pattern[str], by: str, kind: str) -> str:
        """Replace in a line and write it down."""

        def one(found: re.Match[str]) -> str:
            new = found.expand(by)
            self.note(kind, found[0].strip() or found[0], new.strip())
            return new

        return re.sub(pattern, one, line)


def read_markdown(text: str, changes: tuple[Change, ...] = ()) -> Document:
    r"""Take Markdown's signs of layout off.

    Headings, and lines that are emphasised from end to end, become rubrics; emphasis inside a line
    goes, the words stay; a line break that was asked for (two spaces or a backslash at the end of
    a line) ends a phrase.

    Parameters
    ----------
    text : str
        Markdown.
    changes : tuple of Change
        Made before.

    Returns
    -------
    Document
        Our notation.
    """
    out = _Lines()
    out.changes += changes
    text = re.sub(r"<!--.*?-->", lambda m: _comment(out, text, m), text, flags=re.S)
    lines = text.split("\n")
    for number, line in enumerate(lines):
        following = lines[number + 1] if number + 1 < len(lines) else ""
        out.done.append(_line(out, line, following))
    return Document("\n".join(out.done), tuple(sorted(out.changes, key=lambda c: c.line)))


def _comment(out: _Lines, text: str, found: re.Match[str]) -> str:
    line = text.count("\n", 0, found.start()) + 1
    out.changes.append(Change("comment", found[0], "", line, 1, "not for singing"))
    return "\n" * found[0].count("\n")


def _line(out: _Lines, line: str, following: str) -> str:
    if re.fullmatch(r"[ ]{0,3}(?:(?:\*[ ]*){3,}|(?:-[ ]*){3,}|(?:_[ ]*){3,}|={2,}|`{3,}.*)", line):
        out.note("ruled line", line)
        return ""
    if found := re.match(r"[ ]{0,3}#{1,6}[ ]+(.*?)[ #]*$", line):
        return _rubric(out, line, found[1], "heading")
    if re.fullmatch(r"[ ]{0,3}(?:=+|-{2,})[ ]*", following) and line.strip():
        return _rubric(out, line, line.strip(), "heading")
    if found := _WHOLE.match(line):
        return _rubric(out, line, found[2], "line in italics")
    line = out.sub(line, r"^[ ]{0,3}(?:>[ ]?)+", "", "quotation sign")
    line = out.sub(line, r"^[ ]*[-+*][ ]+(?=\S)", "", "list sign")
    line = out.sub(line, r"!\[([^\]]*)\]\([^()\s]*\)", "", "picture")
    line = out.sub(line, r"\[([^\]]+)\]\([^()\s]*\)", r"\1", "link")
    line = out.sub(line, _EMPHASIS, r"\2", "emphasis")
    line = out.sub(line, _UNDERLINE, r"\2", "emphasis")
    line = out.sub(line, r"`([^`]+)`", r"\1", "sign")
    line = out.sub(line, r"</?[A-Za-z][^<>]{0,80}>", "", "sign")
    if following.strip() and re.search(r"\S(?:[ ]{2,}|\\)$", line) and "|" not in line:
        bar = "||" if re.search(r"[.;:!?…][”’\"')]*[ \\]*$", line) else "|"
        ended = line.rstrip(" \\") + f" {bar}"
        out.note("line break", line.strip(), ended.strip(), "taken as the end of a phrase")
        return ended
    return line


def _rubric(out: _Lines, line: str, words: str, kind: str) -> str:
    bare = re.sub(r"[*_`{}]", "", words).strip()
    if not bare:
        return ""
    out.note(kind, line.strip(), f"{{{bare}}}", "printed in red, not sung")
    return f"{{{bare}}}"
