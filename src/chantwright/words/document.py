"""Words out of a file: plain text, Markdown, a word-processor file (.docx) or a PDF with text.

What comes out is text in our own notation (red words in braces, raised figures as ¹²³), ready for
`read_words`, and a list of everything that was changed or left out on the way. The kind of a file
is found from its first bytes, not from its name, since mail programs rename attachments.

Files come from strangers, so every reader has limits; whatever cannot be read ends in one sentence
that says what to do instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from chantwright.errors import ChantError, Where
from chantwright.words.text import Change

__all__ = ["LARGEST", "Document", "is_document", "read_document"]

LARGEST = 30_000_000
"""Bytes; a larger file is a scan or a whole book, not a hymn."""
LONGEST = 1_000_000
"""Signs of text; some 200 hymns' worth many times over."""

_OTHERS = {
    b"\xd0\xcf\x11\xe0": "an old Word file (.doc), or one locked with a password",
    b"{\\rtf": "a file in rich text format (.rtf)",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"II*\x00": "a picture",
    b"MM\x00*": "a picture",
    b"\x1f\x8b": "a packed file (.gz)",
    b"<!DOCTYPE": "a web page",
    b"<html": "a web page",
}


@dataclass(frozen=True, slots=True)
class Document:
    """Text taken out of a file.

    Attributes
    ----------
    text : str
        In our notation, with single line ends.
    changes : tuple of Change
        What was changed or left out; lines and columns are those of `text`.
    """

    text: str
    changes: tuple[Change, ...] = ()


def is_document(path: str | Path) -> bool:
    """Whether a file is not plain text but a Markdown, Word or PDF file; by its name alone."""
    return Path(path).suffix.lower() in (".md", ".markdown", ".docx", ".pdf")


def read_document(path: str | Path) -> Document:
    """Take the words out of a file.

    Parameters
    ----------
    path : str or Path
        Plain text, Markdown, .docx or PDF.

    Returns
    -------
    Document
        Text and changes. Plain UTF-8 text is given back as it is.

    Raises
    ------
    ChantError
        If the file cannot be opened, is of another kind, locked, too large or broken, or holds
        only pictures of text.
    """
    path = Path(path)
    where = Where(str(path))
    try:
        size = path.stat().st_size
        if size > LARGEST:
            raise ChantError(
                f"this file is too large for a hymn ({size // 1_000_000} million bytes).",
                where=where,
                remedy="Copy the words you need into a new file.",
            )
        data = path.read_bytes()
    except (OSError, ValueError) as exc:
        if isinstance(exc, ChantError):
            raise
        reason = exc.strerror if isinstance(exc, OSError) and exc.strerror else str(exc)
        raise ChantError(
            f"this file cannot be opened ({reason.lower()}).",
            where=where,
            remedy="Check its name and folder.",
        ) from None
    found = _by_kind(data, path, where)
    if len(found.text) > LONGEST:
        raise ChantError(
            f"this file has {len(found.text)} signs of text, too many for one hymn.",
            where=where,
            remedy="Copy the words you need into a new file.",
        )
    return found


def _by_kind(data: bytes, path: Path, where: Where) -> Document:
    # each reader, with the library it needs, is loaded only when such a file comes
    if b"%PDF-" in data[:1024]:
        from chantwright.words.pdffile import read_pdf  # noqa: PLC0415

        return read_pdf(data, where)
    if data.startswith(b"PK\x03\x04"):
        from chantwright.words.wordfile import read_wordfile  # noqa: PLC0415

        return read_wordfile(data, where)
    for start, kind in _OTHERS.items():
        if data.lstrip()[: len(start)].lower() == start.lower():
            raise ChantError(
                f"this is {kind}, which cannot be read.",
                where=where,
                remedy="Open it and save it as .docx or plain text, or copy the words out of it.",
            )
    from chantwright.words.textfile import decoded, read_markdown  # noqa: PLC0415

    text, changes = decoded(data, where)
    if path.suffix.lower() in (".md", ".markdown"):
        return read_markdown(text, changes)
    return Document(text, changes)
