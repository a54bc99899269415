"""Hymns from text that is divided and marked by hand, so that these tests need no dictionary."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from chantwright.score import Hymn, Phrase, Place, Syllable, number
from chantwright.score.model import Cadence

_CLOSES: dict[str, Cadence] = {"|": "medial", "||": "full", "|||": "final"}
_MARKS = {"'": 1, "`": 2}


def syllables(text: str) -> tuple[Syllable, ...]:
    out = []
    for word in text.split():
        parts = word.split("-")
        for place, part in enumerate(parts):
            where: Place = (
                "single"
                if len(parts) == 1
                else "begin"
                if place == 0
                else "end"
                if place == len(parts) - 1
                else "middle"
            )
            stress = _MARKS.get(part[0], 0)
            out.append(Syllable(part[1:] if stress else part, where, stress))
    return tuple(out)


def hymn(text: str, tone: int | None = None, branch: str | None = None, title: str = "") -> Hymn:
    """A divided hymn: phrases end with | || or |||."""
    phrases = []
    words: list[str] = []
    for word in text.split():
        if word in _CLOSES:
            phrases.append(Phrase(syllables(" ".join(words)), cadence=_CLOSES[word]))
            words = []
        else:
            words.append(word)
    if words:
        phrases.append(Phrase(syllables(" ".join(words))))
    return number(Hymn(title=title, tone=tone, branch=branch, phrases=tuple(phrases)))


def pattern(stress: Sequence[int], cadence: Cadence | None = None) -> Phrase:
    """A phrase of syllables without meaning."""
    return Phrase(
        tuple(Syllable(f"s{i}", "single", s) for i, s in enumerate(stress)), cadence=cadence
    )


def psalms() -> list[tuple[str, str]]:
    """Title and marked text of every psalm in the data file."""
    found: list[tuple[str, str]] = []
    lines = (Path(__file__).parent / "data" / "psalms.txt").read_text(encoding="utf-8").splitlines()
    for line in lines:
        if line.startswith("# Psalm "):
            found.append((line[2:], ""))
        elif line and not line.startswith("#"):
            title, text = found[-1]
            found[-1] = (title, f"{text} {line}")
    return found
