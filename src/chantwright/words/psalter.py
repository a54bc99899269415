"""The Psalms of the King James Version, and the two ways of numbering them.

Conventions
-----------
``psalm("141")`` takes the numbers of the Hebrew text and the King James Version unless told
otherwise. The Greek psalter (LXX) joins 9 and 10, and 114 and 115; it divides 116 and 147. Verse
numbers are those of the King James Version in both; titles are not counted as verses.

The extract holds the words only: brackets around supplied words are gone, because these words are
sung; there are no psalm titles and no *Selah* is left out. The King James Version is in the
public domain outside the Crown's patent in the United Kingdom.

References
----------
Numbering: the tables in any Septuagint in English; common knowledge.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from chantwright.errors import ChantError, Where

__all__ = ["Psalm", "greek_number", "hebrew_numbers", "psalm", "verses_of"]

_REFERENCE = re.compile(
    r"(?:psalms?|ps\.?)?\s*(\d{1,3})(?:\s*[:.]\s*(\d{1,3})(?:\s*[-–]\s*(\d{1,3}))?)?\s*", re.I
)


@dataclass(frozen=True, slots=True)
class Psalm:
    """Verses of one psalm.

    Attributes
    ----------
    number : int
        Hebrew and King James number.
    greek : str
        Number in the Greek psalter, such as ``140`` or ``9`` (second part: ``9b``).
    first, last : int
        Verses.
    verses : tuple of str
        The words of each verse.
    """

    number: int
    greek: str
    first: int
    last: int
    verses: tuple[str, ...]

    @property
    def text(self) -> str:
        """The verses with a blank line between them, ready for `read_words`."""
        return "\n\n".join(self.verses)

    @property
    def title(self) -> str:
        """Name with both numbers: ``Psalm 141 (140 in the Greek psalter):1-2``."""
        whole = self.first == 1 and self.last == len(verses_of(self.number))
        part = "" if whole else f":{self.first}"
        part += f"-{self.last}" if part and self.last != self.first else ""
        if self.greek == str(self.number):
            return f"Psalm {self.number}{part}"
        return f"Psalm {self.number}{part} ({self.greek} in the Greek psalter)"


@lru_cache(maxsize=1)
def _all() -> Mapping[int, tuple[str, ...]]:
    data = resources.files("chantwright.words") / "data" / "psalms_kjv.txt.gz"
    found: dict[int, list[str]] = {}
    for line in gzip.decompress(data.read_bytes()).decode("utf-8").splitlines():
        place, text = line.split("\t")
        found.setdefault(int(place.split(":")[0]), []).append(text)
    return {n: tuple(v) for n, v in found.items()}


def verses_of(number: int) -> tuple[str, ...]:
    """All verses of a psalm by its Hebrew number.

    Raises
    ------
    ChantError
        If there is no such psalm.
    """
    if number not in _all():
        raise ChantError(
            f"there is no psalm {number}.",
            where=Where(word=str(number)),
            remedy="Psalms are numbered 1 to 150.",
        )
    return _all()[number]


def greek_number(number: int, verse: int = 1) -> str:
    """Greek (LXX) number of a psalm by its Hebrew number.

    Parameters
    ----------
    number : int
        Hebrew number, 1 to 150.
    verse : int
        King James verse, which tells the halves of 116 and 147 apart.

    Returns
    -------
    str
        Such as ``140``. Psalm 10 is the second part of Greek 9, 115 of Greek 113: ``9b``, ``113b``.
    """
    verses_of(number)
    special = {
        10: "9b",
        114: "113",
        115: "113b",
        116: "114" if verse < 10 else "115",
        147: "146" if verse < 12 else "147",
    }
    same = number < 10 or number > 147
    return special.get(number, str(number if same else number - 1))


def hebrew_numbers(greek: int) -> tuple[tuple[int, int, int], ...]:
    """Hebrew psalms that a Greek psalm holds.

    Parameters
    ----------
    greek : int
        Greek (LXX) number, 1 to 150.

    Returns
    -------
    tuple of (int, int, int)
        Hebrew number, first and last King James verse of each part.

    Raises
    ------
    ChantError
        If there is no such psalm.
    """
    verses_of(greek)
    found: list[tuple[int, int, int]] = []
    for number in range(max(1, greek), min(150, greek + 3) + 1):
        size = len(verses_of(number))
        own = [v for v in range(1, size + 1) if greek_number(number, v).rstrip("b") == str(greek)]
        if own:
            found.append((number, own[0], own[-1]))
    return tuple(found)


def psalm(reference: str, *, numbering: str = "hebrew") -> Psalm:
    """Look up a psalm or some of its verses.

    Parameters
    ----------
    reference : str
        ``141``, ``141:1``, ``141:1-2``; a "Psalm" before it is understood.
    numbering : str
        ``hebrew`` (King James) or ``greek`` (LXX) for the number of the psalm. A Greek psalm that
        lies in two Hebrew ones can be asked for only whole or by Hebrew number.

    Returns
    -------
    Psalm
        Its verses.

    Raises
    ------
    ChantError
        If the reference cannot be read or does not exist.
    """
    found = _REFERENCE.fullmatch(reference.strip())
    if not found:
        raise ChantError(
            f"“{reference}” does not name a psalm.",
            where=Where(word=reference),
            remedy="Write it like 141 or 141:1-2.",
        )
    number = int(found[1])
    low = 0
    if numbering == "greek":
        parts = hebrew_numbers(number)
        if len(parts) > 1:
            names = " and ".join(f"{n}:{a}-{b}" for n, a, b in parts)
            raise ChantError(
                f"Greek psalm {number} is {names} in the King James Version.",
                where=Where(word=reference),
                remedy="Ask for the parts by those numbers.",
            )
        number, low, high = parts[0]
    elif numbering == "hebrew":
        low, high = 1, len(verses_of(number))
    else:
        raise ChantError(
            f"“{numbering}” is not a way of numbering psalms.", remedy="Use hebrew or greek."
        )
    if found[2]:
        first = int(found[2])
        last = int(found[3] or first)
        if not low <= first <= last <= high:
            raise ChantError(
                f"psalm {number} has verses {low} to {high} here.",
                where=Where(word=reference),
                remedy="Mend the verse numbers.",
            )
        low, high = first, last
    return Psalm(number, greek_number(number, low), low, high, verses_of(number)[low - 1 : high])
