"""How a booklet is to look, as asked for on a page; what is not asked for is the parish's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Query

from chantwright.engrave import FORMS, READINGS
from chantwright.parish import LETTERS, ParishFolder
from chantwright.parish.folder import INKS, SCRIPTS, SIZES

__all__ = ["Asked", "LookChoices", "look_choices"]


def _asked(
    reading: Annotated[list[str] | None, Query()] = None,
    letters: str | None = None,
    script: str | None = None,
    accidentals: str | None = None,
    paper: str | None = None,
    form: str | None = None,
    size: str | None = None,
    ink: str | None = None,
) -> dict[str, Any]:
    return {
        "readings": reading,
        "letters": letters,
        "script": script,
        "accidentals": accidentals,
        "paper": paper,
        "form": form,
        "size": size,
        "ink": ink,
    }


Asked = Annotated[dict[str, Any], Depends(_asked)]
"""What a page asks for, for `chantwright.parish.with_look`; ``reading`` may stand several times."""


@dataclass(frozen=True, slots=True)
class LookChoices:
    """What a form offers: readings, and name -> choices; `now` holds what the parish has."""

    readings: tuple[str, ...]
    others: Mapping[str, tuple[str, ...]]
    now: ParishFolder


def look_choices(folder: ParishFolder) -> LookChoices:
    """Choices of a form that asks for a booklet."""
    others = {
        "form": FORMS,
        "letters": tuple(LETTERS),
        "script": tuple(SCRIPTS),
        "size": SIZES,
        "ink": INKS,
    }
    return LookChoices(READINGS, others, folder)
