"""Word-processor files (.docx): paragraphs, red runs, raised figures, breaks.

Conventions
-----------
A paragraph is a line; an empty paragraph, or room before or after a paragraph, parts two verses. In
a file with neither, paragraphs of more than one sentence's length are verses of their own. Struck
text of tracked changes is out, inserted text is in. Hidden text, comments, notes, text boxes,
page heads and feet are not taken, and listed.

References
----------
ECMA-376 (Office Open XML), part 1, 17.3 (paragraphs and runs). Read through python-docx.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from typing import Any

import docx
from docx.oxml.ns import qn

from chantwright.errors import ChantError, Where
from chantwright.words.coloured import Line, Run, is_red, lines_text
from chantwright.words.document import Document
from chantwright.words.text import Change

__all__ = ["read_wordfile"]

UNPACKED = 120_000_000
"""Bytes that all parts may take unpacked; pictures included."""
XML_PART = 24_000_000
"""Bytes that one part of text may take unpacked."""
PARTS = 4000
LONG_LINE = 90
"""Letters of a paragraph, in the middle of the file's, from which paragraphs are verses."""
_LEFT_OUT = {
    "word/comments.xml": "comments",
    "word/footnotes.xml": "footnotes",
    "word/endnotes.xml": "endnotes",
}
_W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"
_TEXT = re.compile(rb"<w:t[ >]")
Styles = Mapping[str, tuple[str, str | None]]
"""Name and colour of each style, by its id."""


def read_wordfile(data: bytes, where: Where) -> Document:
    """Take the words out of a .docx file.

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
        If it is another kind of packed file, broken, too large unpacked, or holds no words.
    """
    changes = _checked(data, where)
    try:
        opened = docx.Document(io.BytesIO(data))
        lines, more = _lines(opened.element.body, _styles(opened.styles.element))
    except ChantError:
        raise
    except Exception:  # whatever a broken file brings up in the library, it is a broken file
        raise _broken(where) from None
    text, red = lines_text(lines)
    if not text.strip():
        raise ChantError(
            "there are no words in this file.",
            where=where,
            remedy="If it holds a picture of the words, they must be typed.",
        )
    return Document(text, (*changes, *more, *red))


def _broken(where: Where) -> ChantError:
    return ChantError(
        "this Word file is broken.",
        where=where,
        remedy="Open it, save it again as .docx, or copy the words out of it.",
    )


def _checked(data: bytes, where: Where) -> list[Change]:
    """Look into the package before anything of it is unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            parts = package.infolist()
            names = {p.filename for p in parts}
            if "word/document.xml" not in names:
                raise ChantError(
                    "this is a packed file, but not a Word file (.docx).",
                    where=where,
                    remedy="Unpack it, or save the words as .docx or plain text.",
                )
            texts = [p for p in parts if p.filename.endswith((".xml", ".rels"))]
            huge = (
                len(parts) > PARTS
                or sum(p.file_size for p in parts) > UNPACKED
                or any(p.file_size > XML_PART for p in texts)
            )
            if huge:
                raise ChantError(
                    "this Word file is far larger unpacked than any hymn.",
                    where=where,
                    remedy="Copy the words you need into a new file.",
                )
            for part in texts:
                if re.search(rb"<!(?:DOCTYPE|ENTITY)", package.read(part)):
                    raise ChantError(
                        "this Word file holds definitions that no word processor writes, "
                        "so it is not opened.",
                        where=where,
                        remedy="Copy the words into a new file.",
                    )
            return [_left_out(p.filename, package.read(p)) for p in texts if _has_words(package, p)]
    except (zipfile.BadZipFile, zlib.error, RuntimeError, OSError, EOFError, ValueError) as exc:
        if isinstance(exc, ChantError):
            raise
        raise _broken(where) from None


def _has_words(package: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    aside = part.filename in _LEFT_OUT or re.match(r"word/(?:header|footer)\d*\.xml", part.filename)
    return bool(aside and _TEXT.search(package.read(part)))


def _left_out(name: str, data: bytes) -> Change:
    kind = _LEFT_OUT.get(name, "page head" if "header" in name else "page foot")
    words = b" ".join(re.findall(rb"<w:t(?: [^>]*)?>([^<]*)</w:t>", data)).decode(
        "utf-8", "replace"
    )
    short = " ".join(words.split())[:80]
    return Change(kind, short or "…", "", 0, 0, "not part of the words")


# ------------------------------------------------------------------ paragraphs


def _lines(body: Any, styles: Styles) -> tuple[list[Line], list[Change]]:
    changes: list[Change] = []
    found: list[Line] = []
    paragraphs = [p for p in body.iter(_W + "p") if not _in_box(p)]
    shown = [(p, list(_runs(p, styles, changes))) for p in paragraphs]
    texts = ["".join(r.text for r in runs).strip() for _, runs in shown]
    sizes = sorted(len(t) for t in texts if t)
    parted = not all(texts[:-1]) or any(map(_room, paragraphs))
    verses = not parted and bool(sizes) and sizes[len(sizes) // 2] >= LONG_LINE
    gap = False
    for (paragraph, runs), text in zip(shown, texts, strict=True):
        if not text:
            gap = True
            continue
        gap = gap or verses or (_room(paragraph) and bool(found))
        style, _ = styles.get(_value(paragraph, "pPr", "pStyle") or "", ("", None))
        if style.startswith(("heading", "title", "subtitle")):
            rubric = "{" + " ".join(text.replace("{", "").replace("}", "").split()) + "}"
            changes.append(Change("heading", text, rubric, 0, 0, "printed in red, not sung"))
            found.append(Line((Run(rubric),), gap))
            gap = _room_after(paragraph)
            continue
        for line in _broken_lines(runs):
            found.append(Line(tuple(line), gap))
            gap = False
        gap = _room_after(paragraph)
    boxes = sum(1 for p in body.iter(_W + "p") if _in_box(p) and _words(p))
    if boxes:
        note = "their words are not taken; paste them where they belong"
        changes.append(Change("text boxes", f"{boxes} paragraphs", "", 0, 0, note))
    return found, changes


def _words(paragraph: Any) -> str:
    return "".join(t.text or "" for t in paragraph.iter(_W + "t")).strip()


def _in_box(paragraph: Any) -> bool:
    return any(a.tag == _W + "txbxContent" for a in paragraph.iterancestors())


def _broken_lines(runs: list[Run]) -> Iterator[list[Run]]:
    """Part the runs of a paragraph at its line breaks."""
    line: list[Run] = []
    for run in runs:
        first, *rest = run.text.split("\n")
        line.append(Run(first, run.red, run.raised))
        for part in rest:
            yield line
            line = [Run(part, run.red, run.raised)]
    yield line


def _value(parent: Any, *names: str) -> str | None:
    """Attribute ``val`` of the innermost of nested elements; None when there is none."""
    at = parent
    for name in names:
        at = None if at is None else at.find(_W + name)
    return None if at is None else str(at.get(qn("w:val"), "1"))


def _spacing(paragraph: Any, side: str) -> int:
    """Room before or after a paragraph, in twentieths of a point, written in the paragraph."""
    spacing = paragraph.find(f"{_W}pPr/{_W}spacing")
    raw = "0" if spacing is None else str(spacing.get(_W + side, "0"))
    return int(raw) if raw.lstrip("-").isdigit() else 0


def _room(paragraph: Any) -> bool:
    return _spacing(paragraph, "before") >= 100


def _room_after(paragraph: Any) -> bool:
    return _spacing(paragraph, "after") >= 100


def _runs(paragraph: Any, styles: Styles, changes: list[Change]) -> Iterator[Run]:
    for run in paragraph.iter(_W + "r"):
        owner = next(a for a in run.iterancestors() if a.tag == _W + "p")
        if owner is not paragraph:
            continue  # a text box inside this paragraph
        if any(a.tag in (_W + "del", _W + "moveFrom") for a in run.iterancestors()):
            continue
        text = _letters(run)
        if not text:
            continue
        if _on(run, "vanish"):
            changes.append(Change("hidden text", text, "", 0, 0, "not shown in the file either"))
            continue
        raised = _value(run, "rPr", "vertAlign") == "superscript"
        yield Run(text, _red(run, paragraph, styles), raised)


def _on(run: Any, name: str) -> bool:
    return _value(run, "rPr", name) not in (None, "0", "false", "off", "none")


def _letters(run: Any) -> str:
    out = ""
    for child in run:
        if child.tag == _W + "t":
            out += child.text or ""
        elif child.tag in (_W + "br", _W + "cr"):
            out += "\n"
        elif child.tag == _W + "tab":
            out += " "
        elif child.tag == _W + "noBreakHyphen":
            out += "-"
    return out


def _styles(element: Any) -> dict[str, tuple[str, str | None]]:
    """Name, in small letters, and colour of each style; a style has its parent's colour."""
    own = {str(s.get(_W + "styleId")): s for s in element.findall(_W + "style")}
    found: dict[str, tuple[str, str | None]] = {}
    for name, style in own.items():
        colour, at = None, style
        for _ in range(10):  # a ring of parents must not hold us
            colour = _value(at, "rPr", "color")
            parent = own.get(_value(at, "basedOn") or "")
            if colour is not None or parent is None:
                break
            at = parent
        found[name] = ((_value(style, "name") or name).lower(), colour)
    return found


def _red(run: Any, paragraph: Any, styles: Styles) -> bool:
    """Whether a run is red: by its own colour, else its style's, else its paragraph's."""
    colours = (
        _value(run, "rPr", "color"),
        styles.get(_value(run, "rPr", "rStyle") or "", ("", None))[1],
        styles.get(_value(paragraph, "pPr", "pStyle") or "", ("", None))[1],
    )
    colour = next((c for c in colours if c is not None), "")
    return bool(re.fullmatch("[0-9A-Fa-f]{6}", colour)) and is_red(*bytes.fromhex(colour))
