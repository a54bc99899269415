"""The hymn file: plain text a chanter can write with no manual.

The grammar is told on one page in ``docs/hymn-file.md``. What is written here can be read back
unchanged: ``loads(dumps(hymn)) == number(hymn)`` for every hymn that `validate` passes, and a
text that was written is written the same again.
"""

from __future__ import annotations

from pathlib import Path

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.score.model import Hymn
from chantwright.score.reader import read_hymn
from chantwright.score.writer import write_hymn

__all__ = ["dumps", "loads", "read", "write"]


def loads(text: str, file: str = "") -> Hymn:
    """Read a hymn from text.

    Parameters
    ----------
    text : str
        The hymn file, or plain words alone. Any kind of line end.
    file : str
        Name used in errors.

    Returns
    -------
    Hymn
        Numbered: every phrase and syllable has an id. An empty text is a hymn without phrases.

    Raises
    ------
    ChantError
        If a line cannot be understood; says which, where in it, and what to write.
    """
    return read_hymn(text, file)


def dumps(hymn: Hymn) -> str:
    """Write a hymn as text.

    Parameters
    ----------
    hymn : Hymn
        Ids that are missing are given as `number` gives them.

    Returns
    -------
    str
        Empty for ``Hymn()``; ends with a line end otherwise.

    Raises
    ------
    ChantError
        If the hymn cannot be written down; see `validate`.
    """
    return write_hymn(hymn)


def read(path: str | Path) -> Hymn:
    """Read a hymn file (UTF-8, with or without a byte order mark).

    Raises
    ------
    ChantError
        If the file cannot be opened, is not UTF-8 text, or cannot be understood.
    """
    path = Path(path)
    try:
        data = path.read_bytes()
    except (OSError, ValueError) as exc:
        reason = exc.strerror if isinstance(exc, OSError) and exc.strerror else str(exc)
        raise ChantError(
            f"this hymn file cannot be opened ({reason.lower()}).",
            where=Where(str(path)),
            remedy="Check its name and folder.",
        ) from None
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as exc:
        before = data[: exc.start]
        last = max(before.rfind(b"\n"), before.rfind(b"\r"))
        column = len(before[last + 1 :].decode("utf-8")) + 1
        line = before.count(b"\n") or before.count(b"\r")
        raise ChantError(
            "this is not UTF-8 text.",
            where=Where(str(path), line + 1, column),
            remedy="Open it in your editor and save it as plain text, encoding UTF-8.",
        ) from None
    return loads(text, str(path))


def write(path: str | Path, hymn: Hymn) -> None:
    """Write a hymn file whole or not at all; the version before stays beside it as ``name~``.

    Raises
    ------
    ChantError
        If the hymn cannot be written down, or the file cannot be written; whatever stood there
        before is untouched.
    """
    safefile.write_text(path, dumps(hymn), keep=True)
