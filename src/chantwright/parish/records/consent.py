"""What was agreed for a singer: by whom, when, until when.

Nothing is agreed by default. For a minor only a guardian can agree, and is named; a grown singer
agrees alone. A consent that is withdrawn is kept as a fact with its end.
"""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.people import person
from chantwright.parish.records.tables import ConsentRow, now

__all__ = ["KINDS", "RECORDING", "agree", "agreed", "withdraw"]

RECORDING = "recording"
KINDS = (RECORDING, "sharing")
"""Keeping the sound of one's voice; letting the teacher hear it."""


def _kind(what: str) -> None:
    if what not in KINDS:
        raise ChantError(
            f"“{what}” is nothing one can agree to here.",
            remedy=f"It is one of: {', '.join(KINDS)}.",
        )


def agree(session: Session, person_id: str, what: str, *, given_by: str, as_guardian: bool) -> None:
    """Write down that somebody agreed.

    Raises
    ------
    ChantError
        If the name is missing, or a minor would agree alone.
    """
    _kind(what)
    singer = person(session, person_id)
    name = " ".join(given_by.split())
    if not name:
        raise ChantError("who agreed is not said.", remedy="Write the name of who agreed.")
    if singer.minor and not as_guardian:
        raise ChantError(
            f"{singer.nickname} is a minor, so a parent or guardian has to agree.",
            remedy="Ask them, and write down their name.",
        )
    if agreed(session, person_id, what):
        return
    session.add(
        ConsentRow(singer_id=person_id, what=what, given_by=name[:120], as_guardian=as_guardian)
    )
    session.flush()


def agreed(session: Session, person_id: str, what: str) -> bool:
    """Whether it is agreed now."""
    _kind(what)
    rows = session.scalars(
        select(ConsentRow).where(
            ConsentRow.singer_id == person_id,
            ConsentRow.what == what,
            ConsentRow.withdrawn.is_(None),
        )
    )
    return rows.first() is not None


def withdraw(session: Session, person_id: str, what: str) -> None:
    """End what was agreed."""
    _kind(what)
    rows = session.scalars(
        select(ConsentRow).where(
            ConsentRow.singer_id == person_id,
            ConsentRow.what == what,
            ConsentRow.withdrawn.is_(None),
        )
    )
    for row in rows:
        row.withdrawn = now()
    session.flush()
