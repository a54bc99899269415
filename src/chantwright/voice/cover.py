"""The picture that players show beside a recording, and how each kind of file carries it.

Conventions
-----------
One PNG of 480 pixels a side, small enough for a single page of an Ogg file. It is drawn, not
photographed: the title, the place, and the steps of a scale as a ladder.

References
----------
ID3 tag version 2.3.0 (1999), section 4.15 (APIC). RFC 9639 (2024), section 8.8: the picture block
of FLAC. RFC 7845 (2016), section 5.2 (comment header of Opus), and the Vorbis comment field
METADATA_BLOCK_PICTURE: the same block in base64. RFC 3533 (2003): pages of Ogg.
"""

from __future__ import annotations

import base64
import json
import struct
import zlib
from functools import lru_cache

import typst

from chantwright.errors import ChantError

__all__ = ["COVER_SIDE", "apic", "draw_cover", "with_flac_picture", "with_opus_picture"]

COVER_SIDE = 480
"""Pixels."""

_PAGE_MOST = 255 * 255  # octets in one Ogg page
_DRAWING = """
#let said = json(bytes(sys.inputs.said))
#set page(width: 240pt, height: 240pt, margin: 22pt, fill: rgb("#fbf8f1"))
#set text(font: "Libertinus Serif", fill: rgb("#22201c"))
#place(top + left, text(size: 22pt, weight: "bold", fill: rgb("#9d2a1c"),
  box(width: 196pt, height: 90pt, clip: true, par(leading: 0.4em, said.title))))
#place(bottom + left, box(width: 120pt, height: 60pt, clip: true,
  align(bottom + left, text(size: 12pt, par(leading: 0.4em, said.below)))))
#let high = 92pt
#let whole = said.steps.sum()
#let up = 0
#for (i, step) in (0, ..said.steps).enumerate() {
  up += step
  place(bottom + right, dy: -up / whole * high,
    line(length: if i == 0 or i == said.steps.len() { 58pt } else { 44pt },
      stroke: (paint: rgb(if i == 0 or i == said.steps.len() { "#9d2a1c" } else { "#b9ae9c" }),
      thickness: 2pt)))
}
"""


@lru_cache(maxsize=32)
def draw_cover(
    title: str, below: str = "", steps: tuple[int, ...] = (12, 10, 8, 12, 12, 10, 8)
) -> bytes:
    """Draw a cover.

    Parameters
    ----------
    title : str
        In large letters.
    below : str
        In small ones: parish and date.
    steps : tuple of int
        Steps of the scale that is drawn, in moria.

    Returns
    -------
    bytes
        A PNG.
    """
    clean = {
        "title": " ".join(title.split()),
        "below": " ".join(below.split()),
        "steps": list(steps),
    }
    pictures = typst.Compiler(
        _DRAWING.encode(), sys_inputs={"said": json.dumps(clean)}, ignore_system_fonts=True
    ).compile(format="png", ppi=144)
    if isinstance(pictures, list):
        pictures = pictures[0]
    return bytes(pictures or b"")


def _size(png: bytes) -> tuple[int, int]:
    if png[:8] != b"\x89PNG\r\n\x1a\n" or len(png) < 33:
        raise ChantError("the cover is not a PNG picture.", remedy="Save it as PNG and try again.")
    width, height = struct.unpack(">II", png[16:24])
    return int(width), int(height)


def apic(png: bytes) -> bytes:
    """Body of an ID3 picture frame: front cover."""
    _size(png)
    return b"\x00image/png\x00\x03\x00" + png


def _block(png: bytes) -> bytes:
    """FLAC's picture block: front cover."""
    width, height = _size(png)
    kind = b"image/png"
    return (
        struct.pack(">II", 3, len(kind))
        + kind
        + struct.pack(">IIIIII", 0, width, height, 24, 0, len(png))
        + png
    )


def with_flac_picture(data: bytes, png: bytes) -> bytes:
    """Put a picture into a FLAC file, after the stream's own description."""
    if data[:4] != b"fLaC" or data[4] & 0x7F != 0:
        raise ValueError("not a FLAC file")
    end = 8 + int.from_bytes(data[5:8], "big")
    block = _block(png)
    last = data[4] & 0x80
    header = bytes([data[4] & 0x7F]) + data[5:end]
    length = len(block).to_bytes(3, "big")
    return data[:4] + header + bytes([6 | last]) + length + block + data[end:]


def with_opus_picture(data: bytes, png: bytes) -> bytes:
    """Put a picture into an Opus file: one more comment on its second page.

    A picture too large for the page is left out: the sound matters more.
    """
    first = _page_length(data, 0)
    second = _page_length(data, first)
    count = data[first + 26]
    body = data[first + 27 + count : first + second]
    if body[:8] != b"OpusTags" or data[first + 27 + count - 1] == 255:
        raise ValueError("not an Opus file of the usual form")
    vendor = struct.unpack("<I", body[8:12])[0]
    at = 12 + vendor
    (comments,) = struct.unpack("<I", body[at : at + 4])
    end = at + 4
    for _ in range(comments):
        end += 4 + int(struct.unpack("<I", body[end : end + 4])[0])
    field = b"METADATA_BLOCK_PICTURE=" + base64.b64encode(_block(png))
    packet = (
        body[:at]
        + struct.pack("<I", comments + 1)
        + body[at + 4 : end]
        + struct.pack("<I", len(field))
        + field
    )
    if len(packet) >= _PAGE_MOST:
        return data
    lacing = bytes([255] * (len(packet) // 255) + [len(packet) % 255])
    page = data[first : first + 22] + bytes(4) + bytes([len(lacing)]) + lacing + packet
    page = page[:22] + struct.pack("<I", _crc(page)) + page[26:]
    return data[:first] + page + data[first + second :]


def with_own_serial(data: bytes) -> bytes:
    """Give an Ogg file a serial number that follows from what is in it.

    The encoder draws one at random, so that the same sound made twice would differ in its bytes.
    Different sounds still have different numbers, as RFC 3533 asks of files that are joined.
    """
    out = bytearray(data)
    pages = []
    at = 0
    while at < len(data):
        length = _page_length(data, at)
        pages.append((at, length))
        out[at + 14 : at + 18] = out[at + 22 : at + 26] = bytes(4)
        at += length
    serial = struct.pack("<I", zlib.crc32(out))
    for at, length in pages:
        out[at + 14 : at + 18] = serial
        out[at + 22 : at + 26] = struct.pack("<I", _crc(bytes(out[at : at + length])))
    return bytes(out)


def _page_length(data: bytes, at: int) -> int:
    if data[at : at + 4] != b"OggS":
        raise ValueError("not an Ogg file")
    count = data[at + 26]
    return 27 + count + sum(data[at + 27 : at + 27 + count])


_TURNED = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def _crc(data: bytes) -> int:
    """Checksum of an Ogg page: polynomial 04c11db7, nothing reflected, beginning with 0.

    That of zlib is the same polynomial with the bits of every octet in the other order, beginning
    and ending with all bits turned over.
    """
    value = zlib.crc32(data.translate(_TURNED), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{value:032b}"[::-1], 2)
