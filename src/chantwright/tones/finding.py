"""A finding: something a check of the knowledge rows has to say, in the trade's words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from chantwright.errors import ChantError, Where

__all__ = ["Finding", "Level", "of_error"]

Level = Literal["wrong", "doubtful"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong or doubtful in a row.

    Attributes
    ----------
    level : str
        wrong (it contradicts itself or the trade) or doubtful (a chanter should look).
    where : Where
        File and line of the row.
    sentence : str
        What is the matter.
    remedy : str
        What to do about it.
    """

    level: Level
    where: Where
    sentence: str
    remedy: str = ""


def of_error(error: ChantError) -> Finding:
    """Return the finding that an error amounts to."""
    return Finding("wrong", error.where, error.what, error.remedy)
