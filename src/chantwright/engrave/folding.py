"""Pages two by two on sheets, so that the folded and stapled stack reads in order.

References
----------
Saddle stitch: with n pages, n a multiple of four, the outer sheet carries pages n and 1 in front,
2 and n - 1 behind (common practice of printers).
"""

from __future__ import annotations

import io

from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.generic import (
    ArrayObject,
    DecodedStreamObject,
    DictionaryObject,
    FloatObject,
    IndirectObject,
    NameObject,
)

__all__ = ["folded", "sheets"]


def sheets(count: int) -> tuple[tuple[int | None, int | None], ...]:
    """Which pages stand left and right on each side of each sheet.

    Parameters
    ----------
    count : int
        Number of pages.

    Returns
    -------
    tuple of (left, right)
        Page numbers from 0, None for an empty half; front and back by turns, to be printed on
        both sides and turned over the short edge.
    """
    total = -(-count // 4) * 4
    pages = [i if i < count else None for i in range(total)]
    out = []
    for i in range(total // 4):
        out.append((pages[total - 1 - 2 * i], pages[2 * i]))
        out.append((pages[2 * i + 1], pages[total - 2 - 2 * i]))
    return tuple(out)


def folded(pdf: bytes) -> bytes:
    """Lay the pages of a PDF two by two on sheets twice as wide.

    Parameters
    ----------
    pdf : bytes
        Pages of one size.

    Returns
    -------
    bytes
        PDF. Its text can be selected, but it carries no tags: their order would be the sheets'.
    """
    reader = PdfReader(io.BytesIO(pdf))
    writer = PdfWriter()
    box = reader.pages[0].mediabox
    width, height = float(box.width), float(box.height)
    forms = [_form(page, writer) for page in reader.pages]
    for pair in sheets(len(forms)):
        sheet = writer.add_blank_page(width=2 * width, height=height)
        drawn = DictionaryObject()
        lines = []
        for side, number in enumerate(pair):
            if number is not None:
                drawn[NameObject(f"/P{side}")] = forms[number]
                lines.append(f"q 1 0 0 1 {side * width:.4f} 0 cm /P{side} Do Q")
        content = DecodedStreamObject()
        content.set_data("\n".join(lines).encode("ascii"))
        sheet[NameObject("/Contents")] = writer._add_object(content)
        sheet[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): drawn})
    info = reader.metadata
    if info is not None:
        writer.add_metadata({k: str(v) for k, v in info.items() if k in ("/Title", "/Author")})
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _form(page: PageObject, writer: PdfWriter) -> IndirectObject:
    """A page as one drawing that sheets can place; its content is copied, never parsed."""
    contents = page.get_contents()
    plain = DecodedStreamObject()
    plain.set_data(contents.get_data() if contents is not None else b"")
    drawing = plain.flate_encode()
    drawing[NameObject("/Type")] = NameObject("/XObject")
    drawing[NameObject("/Subtype")] = NameObject("/Form")
    box = page.mediabox
    drawing[NameObject("/BBox")] = ArrayObject(
        FloatObject(x) for x in (box.left, box.bottom, box.right, box.top)
    )
    drawing[NameObject("/Resources")] = page["/Resources"].clone(writer)
    return writer._add_object(drawing)
