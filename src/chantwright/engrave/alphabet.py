"""Letters that no font of a page has: named before anything is printed, never an empty box."""

from __future__ import annotations

from collections.abc import Iterable

from chantwright.engrave.metrics import missing
from chantwright.engrave.printable import printable
from chantwright.errors import ChantError, Where

__all__ = ["blanked", "check_texts"]


def check_texts(texts: Iterable[tuple[str, str]]) -> None:
    """Check that there is a font for every letter of some texts.

    Parameters
    ----------
    texts : iterable of (str, str)
        What each is, such as “the title of the booklet”, or empty for a syllable; and the text.

    Raises
    ------
    ChantError
        If there is none for one of them; names the text and the letter.
    """
    shown = [(what, printable(text)) for what, text in texts]
    gone = missing({c for _, text in shown for c in text if c.isprintable()})
    if not gone:
        return
    for what, text in shown:
        for c in text:
            if c in gone:
                where = f", which stands in {what}" if what else ""
                raise ChantError(
                    f"our fonts have no letter “{c}” (U+{ord(c):04X}){where}.",
                    where=Where(word=text[:60]),
                    remedy=f"{'Leave it out or write' if what else 'Write'} the word in letters "
                    "that they have: Latin, Greek, Cyrillic, Arabic, Hebrew or Georgian.",
                )


def blanked(text: str) -> str:
    """The same text with a question mark for each letter that no font has."""
    text = printable(text)
    gone = missing({c for c in text if c.isprintable()})
    return "".join("?" if c in gone else c for c in text)
