"""The word lists: our frozen pronouncing lexicon and the preferred readings.

Conventions
-----------
A *code* has one sign for each letter of a word: ``0 1 2`` on the first letter of a syllable's
vowel (its stress), ``a b`` the same as ``1 2`` with a short vowel, ``+`` on further letters of
that vowel, ``.`` on everything else: "heaven" is ``.a+.0.``. A *reading* as people write it is
``heav-en:10``.

References
----------
The lexicon is made from the Carnegie Mellon Pronouncing Dictionary (notice beside the data) by
``tools/words/build_lexicon.py``. The preferred readings (``preferences.toml``) are rows with
their own sources.
"""

from __future__ import annotations

import gzip
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path

from chantwright.rows import PARISH, Row, load_rows
from chantwright.words.leaning import Leaning, leaning
from chantwright.words.text import Source, written

__all__ = ["Lists", "Preference", "Written", "entries", "load_lists", "lookup", "parse_reading"]

PACKAGE = "chantwright.words"
WORD_TABLES = ("word", "class", "level", "heading", "price", "leaning", "letters")


@dataclass(frozen=True, slots=True)
class Written:
    """A reading written by hand: syllables and stress of each."""

    syllables: tuple[str, ...]
    stress: tuple[int, ...]

    def __str__(self) -> str:
        return written(self.syllables, self.stress)


@dataclass(frozen=True, slots=True)
class Preference:
    """A preferred reading of a word.

    Attributes
    ----------
    read : Written
        The usual reading.
    also : tuple of Written
        Others that may be chosen.
    verb, finite : Written or None
        Reading after a word that makes it a verb ("to record") or a finite verb ("hath blessed").
    source : str
        ``preference``, or ``parish`` when the parish changed it.
    """

    read: Written
    also: tuple[Written, ...]
    verb: Written | None
    finite: Written | None
    source: Source


@dataclass(frozen=True, slots=True)
class Heading:
    """Words of headings, and their kind: initial, opening, alone or numbered."""

    kind: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Lists:
    """All hand-made lists of the package, the parish's rows laid over ours."""

    words: Mapping[str, Preference]
    classes: Mapping[str, frozenset[str]]
    levels: Mapping[str, int]
    headings: tuple[Heading, ...]
    prices: Mapping[str, float]
    leanings: tuple[Leaning, ...] = ()

    def is_a(self, word: str, kind: str) -> bool:
        """Whether a lower-case word belongs to a class."""
        return word in self.classes.get(kind, ())


def parse_reading(raw: object, word: str, row: Row) -> Written:
    """Read ``heav-en:10``; a hyphen of the word itself is written as ``=`` ("long=suf-fer-ing").

    Raises
    ------
    ChantError
        If it is not of that form or its letters are not those of the word.
    """
    letters, colon, digits = str(raw).partition(":")
    parts = tuple(p.replace("=", "-") for p in letters.replace("=", "=\0").split("-"))
    parts = tuple(q for p in parts for q in p.split("\0"))
    if not colon or not digits or set(digits) - set("012") or len(parts) != len(digits):
        raise row.error(
            f"“{raw}” is not a reading.",
            "Write the syllables with hyphens, a colon, and one digit 0, 1 or 2 for each: "
            "heav-en:10.",
        )
    if "".join(parts) != word:
        raise row.error(
            f"the syllables “{letters}” do not spell “{word}”.",
            "Letters may not be added or left out.",
        )
    return Written(parts, tuple(map(int, digits)))


def _preference(row: Row) -> Preference:
    word = str(row.get("word", row.id)).lower()
    also = row.get("also", [])
    if not isinstance(also, list):
        raise row.error("“also” must be a list.", 'Write: also = ["ho-ur:10"].')
    verb, finite = row.get("verb"), row.get("finite")
    return Preference(
        read=parse_reading(row["read"], word, row),
        also=tuple(parse_reading(a, word, row) for a in also),
        verb=parse_reading(verb, word, row) if verb else None,
        finite=parse_reading(finite, word, row) if finite else None,
        source="parish" if row.origin == PARISH else "preference",
    )


def load_lists(overrides: Iterable[Path] = ()) -> Lists:
    """Load the preferred readings, word classes, levels, headings, prices and rules of stress.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files whose rows win.

    Returns
    -------
    Lists
        Everything keyed by lower-case words.
    """
    paths = tuple(Path(p) for p in overrides)
    return _load(paths, tuple(p.stat().st_mtime_ns if p.exists() else 0 for p in paths))


@lru_cache(maxsize=8)
def _load(overrides: tuple[Path, ...], _changed: tuple[int, ...]) -> Lists:
    """Load the lists once for each state of the parish files."""
    names = (
        "preferences.toml", "names.toml", "levels.toml", "headings.toml", "phrasing.toml",
        "leanings.toml",
    )  # fmt: skip
    rows = load_rows(PACKAGE, names, overrides=overrides, tables=WORD_TABLES)
    words = {
        str(r.get("word", r.id)).lower(): _preference(r) for r in rows.get("word", {}).values()
    }
    classes = {r.id: frozenset(_words(r)) for r in rows.get("class", {}).values()}
    levels: dict[str, int] = {}
    for row in rows.get("level", {}).values():
        for word in _words(row):
            levels[word] = _level(row)
    return Lists(
        words=words,
        classes=classes,
        levels=levels,
        headings=tuple(_heading(r) for r in rows.get("heading", {}).values()),
        prices={r.id: _price(r) for r in rows.get("price", {}).values()},
        leanings=tuple(
            leaning(r, rows.get("letters", {})) for r in rows.get("leaning", {}).values()
        ),
    )


def _heading(row: Row) -> Heading:
    kind = row["kind"]
    kinds = ("initial", "opening", "alone", "numbered")
    if kind not in kinds:
        raise row.error(f"“{kind}” is not a kind of heading.", f"Use one of: {', '.join(kinds)}.")
    return Heading(str(kind), tuple(_words(row)))


def _level(row: Row) -> int:
    level = row["level"]
    if not isinstance(level, int) or not 0 <= level <= 5:
        raise row.error("its level must be a whole number from 0 to 5.")
    return level


def _price(row: Row) -> float:
    price = row["price"]
    if not isinstance(price, int | float):
        raise row.error("its price must be a number.")
    return float(price)


def _words(row: Row) -> list[str]:
    words = row["words"]
    if not isinstance(words, list) or not all(isinstance(w, str) for w in words):
        raise row.error("its words must be a list.", 'Write: words = ["one", "two"].')
    return words


@lru_cache(maxsize=1)
def entries() -> Mapping[str, str]:
    """Return every lower-case word of the lexicon with its codes, best first, parted by spaces."""
    raw = (resources.files(PACKAGE) / "data" / "lexicon.txt.gz").read_bytes()
    lines = gzip.decompress(raw).decode("ascii").splitlines()
    return dict(line.split(" ", 1) for line in lines)


def lookup(word: str) -> tuple[str, ...]:
    """Return the codes of a lower-case word, best first; empty when it is not listed."""
    return tuple(entries().get(word, "").split())
