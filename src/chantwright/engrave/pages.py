"""Papers, and the page compiler: data goes in, a tagged PDF comes out.

All words go to a template as data, never as part of it, so nothing a user writes can be taken
for a command.

References
----------
ISO 14289-1 (PDF/UA-1): the tagged kind of PDF. ISO 216: A4. ANSI/ASME Y14.1: Letter.
"""

from __future__ import annotations

import re
import threading
from importlib import resources
from typing import Any

import typst

from chantwright.engrave.printable import printable
from chantwright.errors import ChantError

__all__ = ["PAPERS", "compiled", "for_page"]

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in millimetres."""
_RUNS, _KEEP = 11, 1_500_000
"""Runs that make old work forgotten, and the size of data (characters) after which it is."""
_kept = [0]
_lock = threading.Lock()
_LONG_RUN = re.compile(r"(\S{26})(?=\S)")


def for_page(data: Any) -> Any:
    """The same data with every text freed of what no page can show.

    A run of letters longer than any word may be broken, so that it stays on the page.
    """
    if isinstance(data, str):
        if data.startswith("<svg "):
            return data
        return _LONG_RUN.sub("\\1\u200b", printable(data))
    if isinstance(data, list):
        return [for_page(item) for item in data]
    if isinstance(data, dict):
        return {key: for_page(item) for key, item in data.items()}
    return data


def _forget(size: int) -> None:
    """Let the compiler drop what it has kept of earlier pages.

    It keeps the work of its last ten runs, some seven times the size of the pictures in them; a
    server that prints booklets would soon hold gigabytes. Runs on an empty page make that old.
    """
    with _lock:
        _kept[0] += size
        if _kept[0] < _KEEP:
            return
        _kept[0] = 0
    with resources.as_file(resources.files("chantwright.engrave") / "data" / "empty.typ") as empty:
        compiler = typst.Compiler(str(empty), ignore_system_fonts=True)
        for _ in range(_RUNS):
            compiler.compile(format="pdf")


def compiled(template: str, name: str, data: str) -> bytes:
    """Compile a template of ours with its data.

    Parameters
    ----------
    template : str
        File name under ``data/``.
    name : str
        What the template calls its data.
    data : str
        JSON.

    Returns
    -------
    bytes
        PDF, tagged; PDF/UA-1 unless a text cannot be shown by any font.

    Raises
    ------
    ChantError
        If the pages cannot be set.
    """
    source = (resources.files("chantwright.engrave") / "data" / template).read_bytes()

    def compiler() -> typst.Compiler:
        # One that has failed once cannot be used again.
        return typst.Compiler(source, sys_inputs={name: data}, ignore_system_fonts=True)

    try:
        pdf = compiler().compile(format="pdf", pdf_standards=["ua-1"])
    except typst.TypstError:
        # The standard refuses some texts, such as letters that no font has. Tags are kept, only
        # the claim to the standard goes.
        try:
            pdf = compiler().compile(format="pdf")
        except typst.TypstError as exc:
            raise ChantError(
                f"the pages could not be set ({exc}).",
                remedy="Look for strange signs in titles and words, and print fewer hymns at "
                "once to find the one that fails.",
            ) from None
    if not isinstance(pdf, bytes):
        raise TypeError("the page compiler gave no PDF")
    _forget(len(data))
    return pdf
