"""Which words of a hymn are English and which Greek.

A hymn has one language; words in the letters of the other ("Kyrie" in Greek between English verses)
are read by their own rules. A run of words is taken as the other language only if one of its
letters cannot be mistaken: a lone "O" or "A" typed on the wrong keyboard is still an error.

References
----------
Letters that look alike in both scripts: the Unicode charts (Greek and Coptic, Basic Latin).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from itertools import groupby

from chantwright.words.english import read_english
from chantwright.words.greek import read_greek
from chantwright.words.lexicon import Lists
from chantwright.words.text import Change, Word
from chantwright.words.tokens import Token

__all__ = ["read_tongues"]

_ALIKE = frozenset("ABEHIKMNOPTXYZovuikxyn" + "ΑΒΕΗΙΚΜΝΟΡΤΧΥΖονυικχγη")
Reader = Callable[[Sequence[Token], Lists, str], tuple[Word, ...]]


def read_tongues(
    found: Sequence[Token], tongue: str, lists: Lists, file: str = ""
) -> tuple[tuple[Word, ...], tuple[Change, ...]]:
    """Read each word in its own language.

    Parameters
    ----------
    found : sequence of Token
        Words as written.
    tongue : str
        Language of the hymn: ``en``, or ``el`` or ``grc``.
    lists : Lists
        Readings, levels and classes.
    file : str
        For errors.

    Returns
    -------
    tuple of Word, tuple of Change
        The words; one change for each run of words in the other language.

    Raises
    ------
    ChantError
        As `read_english` and `read_greek`, for what is neither.
    """
    main = "LATIN" if tongue == "en" else "GREEK"
    readers: dict[str, Reader] = {"LATIN": read_english, "GREEK": read_greek}
    other = "GREEK" if main == "LATIN" else "LATIN"
    words: list[Word] = []
    changes: list[Change] = []
    for foreign, group in groupby(found, lambda t: _script(t) == other):
        run = list(group)
        sure = foreign and any(set(_letters(t)) - _ALIKE for t in run)
        words += readers[other if sure else main](run, lists, file)
        if sure:
            whole = " ".join(t.marked for t in run)
            name = "Greek" if other == "GREEK" else "English"
            first = run[0]
            changes.append(
                Change("language", whole, whole, first.line, first.column, f"read as {name}")
            )
    return tuple(words), tuple(changes)


def _letters(token: Token) -> list[str]:
    parts = unicodedata.normalize("NFD", token.marked)
    return [c for c in parts if c.isalpha()]


def _script(token: Token) -> str:
    """Script of a word; empty when it has letters of several."""
    scripts = {unicodedata.name(c, "?").split()[0] for c in _letters(token)}
    return scripts.pop() if len(scripts) == 1 else ""
