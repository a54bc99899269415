"""The name of a hymn by its first words.

Conventions
-----------
A hymn that nobody has given a title is called by its incipit: its first words, as far as the first
sign of a pause, at most six of them (common practice of indexes of hymns).
"""

from __future__ import annotations

from dataclasses import replace

from chantwright.score.model import Hymn

__all__ = ["called", "incipit", "titled"]

_MOST = 6
_PAUSES = ",;:.!?…·"
_MARKS = str.maketrans("", "", "|~·{}")


def incipit(hymn: Hymn) -> str:
    """First words of a hymn, without the sign of a pause after them; empty where it has none."""
    first = next((p.words for p in hymn.phrases if p.words.strip()), "")
    taken: list[str] = []
    for word in first.split()[:_MOST]:
        plain = word.translate(_MARKS)
        if plain:
            taken.append(plain)
        # One word alone ("Lord,") tells no hymn from another.
        if len(taken) > 1 and plain.rstrip("”’\"'")[-1:] in tuple(_PAUSES):
            break
    return " ".join(taken).strip(f" {_PAUSES}-–—“”\"'")


def called(hymn: Hymn) -> str:
    """What to call a hymn in a sentence: its title, else its first words."""
    return hymn.title or incipit(hymn) or "this hymn"


def titled(hymn: Hymn) -> Hymn:
    """Give a hymn its first words as a title, where it has none."""
    return hymn if hymn.title else replace(hymn, title=incipit(hymn))
