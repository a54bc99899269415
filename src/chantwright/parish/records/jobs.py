"""Long work that was asked for: waiting, running, done or failed, and how far it is.

A row outlives the server. Whoever works on it says so under a name of its own, and shows a sign of
life every few seconds. Work without a sign for a while belongs to a server that is gone, and any
server that serves the parish takes it up; `let_go` says so at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import CursorResult, Update, select, update
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.tables import JobRow, now

__all__ = ["Job", "ask", "beat", "end", "job", "last", "let_go", "take_up", "tell"]

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


def ask(
    session: Session, what: str, about: Mapping[str, Any], holder: str = ""
) -> tuple[Job, bool]:
    """Ask for work; where the same is open already, that is returned.

    Parameters
    ----------
    session : Session
        For writing.
    what : str
        Kind of work.
    about : mapping
        Plain data.
    holder : str
        Who begins it, if it is new.

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
    row = JobRow(what=what, about=dict(about), state="running", holder=holder, alive=now())
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


def beat(session: Session, job_id: str, holder: str) -> bool:
    """Show a sign of life; False when the work is not one's own any more."""
    mine = update(JobRow).where(
        JobRow.id == job_id, JobRow.holder == holder, JobRow.state.in_(_OPEN)
    )
    return _changed(session, mine.values(alive=now()))


def let_go(session: Session, job_id: str, holder: str) -> None:
    """Leave work for whoever takes it up, such as the same server when it is started again."""
    row = session.get(JobRow, job_id)
    if row is not None and row.holder == holder and row.state in _OPEN:
        row.alive = None


def take_up(session: Session, what: str, holder: str, silent: timedelta) -> Job | None:
    """Take up open work that nobody has shown a sign of for some time.

    Parameters
    ----------
    session : Session
        For writing.
    what : str
        Kind of work.
    holder : str
        Who takes it up.
    silent : timedelta
        How long there was no sign.

    Returns
    -------
    Job or None
        Of two who try at the same moment one gets it.
    """
    found = session.scalar(
        select(JobRow).where(JobRow.what == what, JobRow.state.in_(_OPEN)).limit(1)
    )
    if found is None or (found.alive is not None and found.alive > now() - silent):
        return None
    same = (
        JobRow.alive.is_(None) if found.alive is None else JobRow.alive == found.alive,
        JobRow.holder == found.holder,
    )
    mine = update(JobRow).where(JobRow.id == found.id, JobRow.state.in_(_OPEN), *same)
    if not _changed(session, mine.values(holder=holder, alive=now())):
        return None
    session.refresh(found)
    return _job(found)


def _changed(session: Session, statement: Update) -> bool:
    done = session.execute(statement, execution_options={"synchronize_session": False})
    return isinstance(done, CursorResult) and done.rowcount == 1
