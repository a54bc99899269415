"""Bytes of a file that another program made, taken with care.

Such files come from anywhere. They are read with a limit to their size, packed ones (zip) also
with a limit to what they unfold to, so that a small file cannot fill the memory.

References
----------
MusicXML 4.0, compressed files: ``META-INF/container.xml`` names the score in the zip.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from pathlib import Path

from lxml import etree

from chantwright.errors import ChantError, Where

__all__ = ["LARGEST", "parse_xml", "read_limited", "unpacked"]

LARGEST = 20_000_000
"""Bytes; a year of hymns takes less."""


def read_limited(path: Path, largest: int = LARGEST) -> bytes:
    """Read a file that is not larger than the limit.

    Raises
    ------
    ChantError
        If there is no such file, it cannot be read, is empty, or is too large.
    """
    try:
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except OSError as exc:
        raise ChantError(
            f"the file cannot be read ({exc.strerror or exc}).",
            where=Where(str(path)),
            remedy="Check its name and that you may read it.",
        ) from None
    if not data:
        raise ChantError("the file is empty.", where=Where(str(path)), remedy="Choose another.")
    if len(data) > largest:
        raise ChantError(
            f"the file is larger than {largest // 1_000_000} million bytes.",
            where=Where(str(path)),
            remedy="That is no single melody; export one hymn only.",
        )
    return data


def parse_xml(data: bytes, file: str = "") -> etree._Element:
    """Parse XML without following anything outside the file.

    Raises
    ------
    ChantError
        If it is not well formed or declares entities; names the line.
    """
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False
    )
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as exc:
        raise ChantError(
            f"the file is damaged or no XML ({exc.msg}).",
            where=Where(file, exc.lineno or 0),
            remedy="Export it anew from the program that made it.",
        ) from None
    document = root.getroottree().docinfo
    if document.internalDTD is not None and any(document.internalDTD.iterentities()):
        raise ChantError(
            "the file declares entities of its own, which is not safe to read.",
            where=Where(file),
            remedy="Export it anew from the program that made it.",
        )
    return root


def _member(zipped: zipfile.ZipFile, name: str, file: str) -> bytes:
    with zipped.open(name) as member:
        data = member.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise ChantError(
            "the packed file unfolds to more than a score can hold.",
            where=Where(file),
            remedy="Export it unpacked (.musicxml).",
        )
    return data


def unpacked(data: bytes, file: str = "") -> bytes:
    """Bytes of the score inside a packed MusicXML file; other bytes as they are.

    Raises
    ------
    ChantError
        If the zip is damaged, holds no score, or unfolds to too much.
    """
    if not data.startswith(b"PK"):
        return data
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as zipped:
            names = zipped.namelist()
            if "META-INF/container.xml" in names:
                container = parse_xml(_member(zipped, "META-INF/container.xml", file), file)
                for element in container.iter("{*}rootfile"):
                    name = element.get("full-path", "")
                    if name in names:
                        return _member(zipped, name, file)
            for name in names:
                if name.endswith((".musicxml", ".xml")) and not name.startswith("META-INF"):
                    return _member(zipped, name, file)
    except (
        zipfile.BadZipFile, zlib.error, EOFError, KeyError, RuntimeError, NotImplementedError,
        OSError, ValueError,
    ) as exc:  # fmt: skip
        raise ChantError(
            f"the packed file is damaged ({exc}).",
            where=Where(file),
            remedy="Export it anew from the program that made it.",
        ) from None
    raise ChantError(
        "the packed file holds no score.", where=Where(file), remedy="Export it as .musicxml."
    )
