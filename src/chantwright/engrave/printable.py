"""What a page can show: text without control characters and broken halves of characters.

References
----------
W3C, Extensible Markup Language (XML) 1.0, section 2.2: characters a document may hold.
"""

from __future__ import annotations

import unicodedata

__all__ = ["printable"]


def printable(text: str) -> str:
    """Return the text in composed form, white space as plain spaces, other controls left out."""
    if text.isascii() and text.isprintable():
        return text
    out = []
    for c in unicodedata.normalize("NFC", text):
        if c in "\t\n\r\x0b\x0c\x85\u2028\u2029":
            out.append(" ")
        elif unicodedata.category(c) in ("Cc", "Cs") or ord(c) & 0xFFFE == 0xFFFE:
            continue
        else:
            out.append(c)
    return "".join(out)
