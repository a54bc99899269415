"""Hymns given to singers to learn: what, by when, and who leads.

A hymn that is open for a singer is given once; giving it again changes its day. Of all to whom a
hymn is given, one at most leads it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from sqlalchemy import select
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.people import person
from chantwright.parish.records.tables import AssignmentRow, SingerRow, now

__all__ = ["Assignment", "assign", "assignments", "learned", "take_back"]

_LONGEST = 400


@dataclass(frozen=True, slots=True)
class Assignment:
    """A hymn given to a singer.

    Attributes
    ----------
    id : str
        Random.
    singer_id, nickname : str
        To whom.
    hymn : str
        The hymn file's name in the parish folder.
    by : date or None
        The day by which it is wanted.
    leads : bool
        Whether this singer leads it.
    """

    id: str
    singer_id: str
    nickname: str
    hymn: str
    by: date | None
    leads: bool


def assign(
    session: Session,
    singers: Iterable[str],
    hymn: str,
    by: date | None = None,
    leader: str = "",
) -> None:
    """Give a hymn to singers.

    Parameters
    ----------
    session : Session
        For writing.
    singers : iterable of str
        Their ids.
    hymn : str
        The hymn file's name.
    by : date, optional
        The day by which it is wanted.
    leader : str
        Id of the one who leads, given the hymn too; empty leaves that as it was.

    Raises
    ------
    ChantError
        If there is no such singer, or the name is longer than any hymn's.
    """
    if not hymn or len(hymn) > _LONGEST:
        raise ChantError("there is no such hymn in this parish.", remedy="Choose one shown.")
    given = {row.singer_id: row for row in _open(session, hymn)}
    for singer in dict.fromkeys([*singers, *([leader] if leader else [])]):
        person(session, singer)
        row = given.get(singer)
        if row is None:
            row = given[singer] = AssignmentRow(singer_id=singer, hymn=hymn)
            session.add(row)
        # By noon of the day, so that no zone makes another day of it.
        row.due = None if by is None else datetime.combine(by, time(12), UTC)
    if leader:
        for singer, row in given.items():
            row.leads = singer == leader
    session.flush()


def _open(session: Session, hymn: str) -> list[AssignmentRow]:
    wanted = select(AssignmentRow).where(AssignmentRow.hymn == hymn, AssignmentRow.done.is_(None))
    return list(session.scalars(wanted))


def assignments(session: Session, singer_id: str | None = None) -> tuple[Assignment, ...]:
    """Return what is open, of one singer when it is named: the nearest day first."""
    wanted = (
        select(AssignmentRow, SingerRow.nickname)
        .join(SingerRow, SingerRow.id == AssignmentRow.singer_id)
        .where(AssignmentRow.done.is_(None))
    )
    if singer_id is not None:
        wanted = wanted.where(AssignmentRow.singer_id == singer_id)
    found = [
        Assignment(
            row.id, row.singer_id, nickname, row.hymn,
            None if row.due is None else row.due.date(), row.leads,
        )
        for row, nickname in session.execute(wanted)
    ]  # fmt: skip
    return tuple(
        sorted(found, key=lambda a: (a.by or date.max, a.hymn, not a.leads, a.nickname, a.id))
    )


def _row(session: Session, assignment_id: str) -> AssignmentRow:
    row = session.get(AssignmentRow, assignment_id)
    if row is None or row.done is not None:
        raise ChantError("there is no such assignment.", remedy="Look at the page Assign.")
    return row


def take_back(session: Session, assignment_id: str) -> None:
    """Take a hymn back, as if it had not been given.

    Raises
    ------
    ChantError
        If there is no such assignment.
    """
    session.delete(_row(session, assignment_id))


def learned(session: Session, assignment_id: str) -> None:
    """Close an assignment: the hymn is learned.

    Raises
    ------
    ChantError
        If there is no such assignment.
    """
    _row(session, assignment_id).done = now()
