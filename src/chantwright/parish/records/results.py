"""What singers' attempts came to, in numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.people import person
from chantwright.parish.records.tables import ResultRow, now

__all__ = ["SOURCES", "Result", "add_result", "results_of"]

SOURCES = ("app", "pack", "file")


@dataclass(frozen=True, slots=True)
class Result:
    """One singing of a hymn.

    Attributes
    ----------
    hymn : str
        The hymn file's name in the parish folder.
    notes, wrong, skipped : int
        How many notes the hymn has, how many were wrong, how many left out.
    off_moria : float or None
        Median distance of the right notes from their place, moria; None when too little was heard.
    drift_moria : float or None
        How far the base moved, moria, above 0 upward.
    sung : datetime or None
        When; now where it is not said.
    source : str
        app, pack (handed in by the singer) or file.
    detail : mapping
        Degree by degree and whatever else the verdict holds; plain data.
    """

    hymn: str
    notes: int
    wrong: int
    skipped: int
    off_moria: float | None = None
    drift_moria: float | None = None
    sung: datetime | None = None
    source: str = "app"
    detail: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))


def _check(result: Result) -> None:
    counts_ok = result.notes > 0 and 0 <= result.wrong + result.skipped <= result.notes
    if not counts_ok or result.wrong < 0 or result.skipped < 0:
        raise ChantError(
            "the numbers of this result do not fit each other.",
            remedy="Sing again, or hand the file in anew.",
        )
    if result.source not in SOURCES:
        raise ChantError(f"“{result.source}” is no source of results.", remedy="Use app or pack.")


def add_result(session: Session, person_id: str, result: Result) -> str:
    """Keep a result and return its id.

    Raises
    ------
    ChantError
        If there is no such singer, or the numbers do not fit.
    """
    person(session, person_id)
    _check(result)
    row = ResultRow(
        singer_id=person_id,
        hymn=result.hymn,
        notes=result.notes,
        wrong=result.wrong,
        skipped=result.skipped,
        off_moria=result.off_moria,
        drift_moria=result.drift_moria,
        sung=result.sung or now(),
        source=result.source,
        detail=dict(result.detail),
    )
    session.add(row)
    session.flush()
    return row.id


def results_of(session: Session, person_id: str, hymn: str | None = None) -> tuple[Result, ...]:
    """Return a singer's results, oldest first; of one hymn when it is named."""
    wanted = select(ResultRow).where(ResultRow.singer_id == person_id)
    if hymn is not None:
        wanted = wanted.where(ResultRow.hymn == hymn)
    return tuple(
        Result(
            row.hymn, row.notes, row.wrong, row.skipped, row.off_moria, row.drift_moria,
            row.sung, row.source, MappingProxyType(row.detail),
        )
        for row in session.scalars(wanted.order_by(ResultRow.sung, ResultRow.id))
    )  # fmt: skip
