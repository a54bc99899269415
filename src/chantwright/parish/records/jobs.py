"""Long work that was asked for: waiting, running, done or failed, and how far it is.

A row outlives the server. One that still says *running* when a server starts belongs to a server
that is gone: it is then marked as failed and can be asked for again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.tables import JobRow, now

__all__ = ["STOPPED", "Job", "ask", "end", "job", "last", "mark_stopped", "tell"]

STOPPED = "The server was stopped while it worked. What was finished is kept: ask again."
_OPEN = ("waiting", "running")


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of long work; `about` is plain data, `trouble` a sentence where it failed."""

    id: str
    what: str
    about: Mapping[str, Any]
    state: str
    asked: datetime
    ended: datetime | None
    trouble: str

    @property
    def is_open(self) -> bool:
        """Whether it waits or runs."""
        return self.state in _OPEN


def _job(row: JobRow) -> Job:
    return Job(row.id, row.what, dict(row.about), row.state, row.asked, row.ended, row.trouble)


def _row(session: Session, job_id: str) -> JobRow:
    row = session.get(JobRow, job_id)
    if row is None:
        raise ChantError("there is no such work.", remedy="Ask for it again.")
    return row


def ask(session: Session, what: str, about: Mapping[str, Any]) -> tuple[Job, bool]:
    """Ask for work; where the same is open already, that is returned.

    Returns
    -------
    job : Job
    fresh : bool
        Whether it is new and has to be begun.
    """
    open_row = session.scalar(
        select(JobRow).where(JobRow.what == what, JobRow.state.in_(_OPEN)).limit(1)
    )
    if open_row is not None:
        return _job(open_row), False
    row = JobRow(what=what, about=dict(about), state="running")
    session.add(row)
    session.flush()
    return _job(row), True


def tell(session: Session, job_id: str, about: Mapping[str, Any]) -> None:
    """Write down how far it is."""
    row = _row(session, job_id)
    row.about = {**row.about, **about}


def end(session: Session, job_id: str, trouble: str = "") -> None:
    """Write down that it is done, or why it failed."""
    row = _row(session, job_id)
    row.state, row.trouble, row.ended = ("failed" if trouble else "done"), trouble, now()


def job(session: Session, job_id: str) -> Job:
    """Return a piece of work.

    Raises
    ------
    ChantError
        If there is none.
    """
    return _job(_row(session, job_id))


def last(session: Session, what: str) -> Job | None:
    """Return what was asked for last."""
    row = session.scalar(
        select(JobRow).where(JobRow.what == what).order_by(JobRow.asked.desc()).limit(1)
    )
    return None if row is None else _job(row)


def mark_stopped(session: Session) -> int:
    """Mark work of a server that is gone as failed; returns how many."""
    rows = list(session.scalars(select(JobRow).where(JobRow.state.in_(_OPEN))))
    for row in rows:
        row.state, row.trouble, row.ended = "failed", STOPPED, now()
    return len(rows)
