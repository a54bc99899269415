"""The pack's own sign on a phone's screen: a ladder of unequal steps, drawn here.

References
----------
Web Application Manifest (W3C): icons of 192 and 512 pixels; a maskable one keeps its drawing inside
the middle four fifths. PNG: ISO/IEC 15948.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
import numpy.typing as npt

__all__ = ["SIZES", "draw_icon"]

SIZES = (192, 512)

_PAPER, _INK, _RUBRIC = (251, 248, 241), (34, 32, 28), (157, 42, 28)
_STEPS = (12, 10, 8, 12)  # moria of the lower fourth and the tone above it


def _chunk(kind: bytes, data: bytes) -> bytes:
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def _png(picture: npt.NDArray[np.uint8]) -> bytes:
    high, wide, _ = picture.shape
    rows = b"".join(b"\0" + row.tobytes() for row in picture)
    head = struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", head)
        + _chunk(b"IDAT", zlib.compress(rows, 9))
        + _chunk(b"IEND", b"")
    )


def draw_icon(side: int) -> bytes:
    """Draw the icon as a PNG of `side` x `side` pixels."""
    picture = np.full((side, side, 3), _PAPER, np.uint8)

    def box(left: float, top: float, right: float, bottom: float, colour: tuple[int, ...]) -> None:
        x1, x2 = round(left * side), round(right * side)
        y1, y2 = round(top * side), round(bottom * side)
        picture[y1:y2, x1:x2] = colour

    low, high, thick = 0.78, 0.22, 0.035
    total = sum(_STEPS)
    for rail in (0.3, 0.7 - thick):
        box(rail, high - 0.04, rail + thick, low + 0.04, _INK)
    at = 0
    for step in (0, *_STEPS):
        at += step
        y = low - (low - high) * at / total
        box(0.3, y - thick / 2, 0.7, y + thick / 2, _RUBRIC if at == 0 else _INK)
    return _png(picture)
