"""Tags at the head of an MP3 file.

The encoder's own tags hold thirty bytes of Latin-1 and would break Greek titles, so the tag is
written here: version 2.3 with UTF-16 text, which every player reads.

References
----------
M. Nilsson, "ID3 tag version 2.3.0" (informal standard, 3 February 1999), sections 3.1 (header,
sizes of seven bits a byte), 3.3 (frames), 4.2 (text frames) and 4.11 (comments).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

from chantwright.voice.cover import apic

__all__ = ["tag"]

_FRAMES = {
    "title": b"TIT2",
    "artist": b"TPE1",
    "album": b"TALB",
    "date": b"TYER",
    "tracknumber": b"TRCK",
    "genre": b"TCON",
    "copyright": b"TCOP",
}


def _utf16(text: str) -> bytes:
    return b"\xff\xfe" + text.encode("utf-16-le")


def _frame(name: bytes, body: bytes) -> bytes:
    return name + struct.pack(">IH", len(body), 0) + body


def tag(fields: Mapping[str, str], picture: bytes | None = None) -> bytes:
    """Make a tag to stand before the sound.

    Parameters
    ----------
    fields : mapping of str to str
        Any of title, artist, album, comment, date (its year is kept), tracknumber, genre and
        copyright; empty ones are left out.
    picture : bytes, optional
        A PNG for the front cover.

    Returns
    -------
    bytes
        Empty when there is nothing to say.
    """
    frames = b""
    for key, value in fields.items():
        if not value:
            continue
        if key == "comment":
            body = b"\x01" + b"und" + _utf16("") + b"\x00\x00" + _utf16(value)
            frames += _frame(b"COMM", body)
        elif key in _FRAMES:
            text = value[:4] if key == "date" else value
            frames += _frame(_FRAMES[key], b"\x01" + _utf16(text))
    if picture:
        frames += _frame(b"APIC", apic(picture))
    if not frames:
        return b""
    size = len(frames)
    seven = bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))
    return b"ID3\x03\x00\x00" + seven + frames
