"""Names of the notes in every spelling.

A degree is an integer step number: ni = 0, pa = 1 ... zo = 6, ni' = 7, zo_ = -1. A note is written
as its syllable with ``'`` for each octave above the middle series and ``_`` for each below it.
The seven syllables ni pa vou ga di ke zo stand for do re mi fa sol la ti (common practice); the
Greek Ζω is therefore B, not C, though it looks like the seventh letter of another series. Capitals,
accents and vowel points do not matter. A single Latin letter is a note name of the letter series
(C = ni), never the beginning of a syllable.
"""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Mapping
from functools import lru_cache

from chantwright.errors import ChantError
from chantwright.rows import load_rows

__all__ = ["NAMINGS", "degree_name", "parse_degree"]

NAMINGS = ("english", "greek", "western", "letter", "arabic", "romanian", "slavonic")
_UP, _DOWN = "'’ʹ′΄´", "_‚,͵"
_TWICE = {"″": "''", "”": "''", '"': "''"}
_SOLFEGE = ("do", "re", "mi", "fa", "sol", "la", "ti")
_OTHER = {"si": 6, "te": 6, "so": 4, "ut": 0, "doh": 0, "fah": 3, "soh": 4, "lah": 5}


def _plain(text: str) -> str:
    """Lower case, without accents."""
    marks = unicodedata.normalize("NFD", text.strip().casefold())
    return unicodedata.normalize("NFC", "".join(c for c in marks if not unicodedata.combining(c)))


@lru_cache(maxsize=1)
def _tables() -> tuple[Mapping[str, tuple[str, ...]], Mapping[str, int]]:
    rows = list(load_rows("chantwright.tuning", ["notes.toml"])["note"].values())
    printed = {
        "english": tuple(r.id for r in rows),
        "greek": tuple(str(r["greek"]) for r in rows),
        "western": _SOLFEGE,
        "letter": tuple(str(r["western"]) for r in rows),
        "arabic": tuple(str(r["arabic"]) for r in rows),
        "romanian": tuple(str(r["romanian"]) for r in rows),
        "slavonic": tuple(str(r["slavonic"]) for r in rows),
    }
    known: dict[str, int] = dict(_OTHER)
    for names in printed.values():
        known.update({_plain(n): i for i, n in enumerate(names)})
    for i, row in enumerate(rows):
        known.update({_plain(s): i for s in row["spellings"]})
    return printed, known


@lru_cache(maxsize=4096)
def parse_degree(text: str) -> int:
    """Read a note in any spelling.

    Parameters
    ----------
    text : str
        Such as ``pa'``, ``Ke_``, ``Βου``, ``sol``.

    Returns
    -------
    int
        The degree.

    Raises
    ------
    ChantError
        If it is no note.
    """
    bare = text.strip()
    for mark, marks in _TWICE.items():
        bare = bare.replace(mark, marks)
    octave = 0
    while bare and bare[-1] in _UP + _DOWN:
        octave += 1 if bare[-1] in _UP else -1
        bare = bare[:-1]
    known = _tables()[1]
    step = known.get(_plain(bare))
    if step is None:
        word = _plain(bare)
        near = difflib.get_close_matches(word, list(known), 1, 0.5) if len(word) > 1 else []
        hint = "Notes are ni pa vou ga di ke zo."
        if near:
            hint = f"Did you mean “{_tables()[0]['english'][known[near[0]]]}”?"
        raise ChantError(f"“{text}” is not a note.", remedy=hint)
    return step + 7 * octave


def degree_name(degree: int, naming: str = "english") -> str:
    """Write a degree.

    Parameters
    ----------
    degree : int
        Step number.
    naming : str
        One of `NAMINGS`; english is the form used in files.

    Raises
    ------
    ChantError
        If the naming is unknown.
    """
    printed = _tables()[0]
    if naming not in printed:
        raise ChantError(
            f"“{naming}” is no way of naming notes.", remedy=f"Choose one of: {', '.join(NAMINGS)}."
        )
    octave, step = divmod(degree, 7)
    return printed[naming][step] + ("'" * octave if octave > 0 else "_" * -octave)
