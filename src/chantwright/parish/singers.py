"""The singers of a parish and the range each sings in without strain.

Conventions
-----------
Ranges are *comfortable* ranges in Hz, lowest to highest note that the singer can hold softly and
repeat without effort; never the extremes. A singers file is TOML with one ``[[singer]]`` table a
person: ``name``, ``voice`` (man, woman or child), ``lowest`` and ``highest`` as note names
("A2", "Bb3", "F#4") or as Hz ("146.8 Hz").
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from chantwright.errors import ChantError, Where
from chantwright.rows import PARISH, parse_rows
from chantwright.tones import Tones

__all__ = ["VOICES", "Singer", "group_singers", "note_hz", "read_singers"]

Voice = Literal["man", "woman", "child"]
VOICES: tuple[Voice, ...] = ("man", "woman", "child")

_NOTE = re.compile(r"^([A-Ga-g])([#b♯♭]?)(-?\d)$")
_STEPS: Mapping[str, int] = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGNS: Mapping[str, int] = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
LOWEST_HZ, HIGHEST_HZ = 50.0, 1200.0


@dataclass(frozen=True, slots=True)
class Singer:
    """A singer and a comfortable range.

    Attributes
    ----------
    name : str
        As the teacher calls them.
    voice : str
        man, woman or child (an unchanged voice).
    low_hz, high_hz : float
        Lowest and highest comfortable note in Hz.
    """

    name: str
    voice: Voice
    low_hz: float
    high_hz: float


def note_hz(text: str) -> float:
    """Read a note name or a frequency.

    Parameters
    ----------
    text : str
        "A2", "Bb3", "F#4" (A4 = 440 Hz, equal temperament, ISO 16) or "146.8 Hz".

    Returns
    -------
    float
        Hz.

    Raises
    ------
    ChantError
        If it is neither.
    """
    plain = text.strip()
    if found := _NOTE.match(plain):
        semitones = _STEPS[found[1].upper()] + _SIGNS[found[2]] + 12 * (int(found[3]) - 4) - 9
        return float(440.0 * 2.0 ** (semitones / 12))
    number = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:Hz)?", plain, re.IGNORECASE)
    if number:
        return float(number[1])
    raise ChantError(
        f"“{text}” is not a note.",
        remedy="Write a letter and an octave, such as A2 or Bb3 (middle C is C4), or “146 Hz”.",
    )


def read_singers(path: Path) -> tuple[Singer, ...]:
    """Read a singers file.

    Raises
    ------
    ChantError
        Names the file, the line and the singer.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(
            f"the list of singers cannot be read ({exc}).", where=Where(str(path))
        ) from None
    text = re.sub(r"(?m)^(\s*)name(\s*=)", r"\1id\2", text)
    rows = parse_rows(text, file=str(path), origin=PARISH).get("singer", {})
    if not rows:
        raise ChantError(
            "this list names no singer.",
            where=Where(str(path)),
            remedy="Add a table: [[singer]] name = ..., voice = ..., lowest = ..., highest = ...",
        )
    singers = []
    for name, row in rows.items():
        voice = row["voice"]
        if voice not in VOICES:
            raise row.error(f"“{voice}” is no kind of voice.", "Write man, woman or child.")
        try:
            low, high = note_hz(str(row["lowest"])), note_hz(str(row["highest"]))
        except ChantError as exc:
            raise row.error(exc.what, exc.remedy) from None
        if not LOWEST_HZ <= low < high <= HIGHEST_HZ:
            raise row.error(
                f"the range {row['lowest']} to {row['highest']} is not one a person sings.",
                "Give the lowest comfortable note first, then the highest.",
            )
        singers.append(Singer(name, voice, low, high))
    return tuple(singers)


def group_singers(tones: Tones, group: str) -> tuple[Singer, ...]:
    """Stand-in singers for a group whose ranges nobody has taken yet.

    Parameters
    ----------
    tones : Tones
        Holds the usual comfortable ranges of groups.
    group : str
        men, women, children, or mixed (all three, singing in octaves).

    Raises
    ------
    ChantError
        If the group is unknown.
    """
    kinds: Mapping[str, tuple[tuple[str, Voice], ...]] = {
        "men": (("men", "man"),),
        "women": (("women", "woman"),),
        "children": (("children", "child"),),
        "mixed": (("men", "man"), ("women", "woman"), ("children", "child")),
    }
    if group not in kinds:
        raise ChantError(
            f"“{group}” is no group of singers.", remedy=f"Choose one of: {', '.join(kinds)}."
        )
    return tuple(
        Singer(name, voice, *tones.groups[name].comfortable_hz) for name, voice in kinds[group]
    )
