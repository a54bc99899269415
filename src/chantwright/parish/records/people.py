"""Singers: adding, renaming, ranges, and everything that is kept of one."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import delete, inspect, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.tables import (
    AccountRow,
    AssignmentRow,
    Base,
    CardRow,
    ConsentRow,
    InvitationRow,
    RangeRow,
    RecordingRow,
    ResultRow,
    SingerRow,
)
from chantwright.parish.singers import HIGHEST_HZ, LOWEST_HZ, VOICES, Singer, Voice

__all__ = [
    "Person",
    "add_person",
    "delete_person",
    "everything",
    "person",
    "persons",
    "rename",
    "take_range",
]

_LONGEST = 80
_OF_A_SINGER: tuple[type[Base], ...] = (
    RangeRow,
    ConsentRow,
    AssignmentRow,
    ResultRow,
    RecordingRow,
    CardRow,
)


@dataclass(frozen=True, slots=True)
class Person:
    """A singer as the records know them.

    Attributes
    ----------
    id : str
        Random.
    nickname : str
        As the teacher calls them.
    voice : str
        man, woman or child (an unchanged voice).
    minor : bool
        Under age: a guardian agrees for them.
    low_hz, high_hz : float or None
        Newest comfortable range, Hz; None when none was taken.
    how : str
        typed or sung; empty without a range.
    """

    id: str
    nickname: str
    voice: Voice
    minor: bool
    low_hz: float | None = None
    high_hz: float | None = None
    how: str = ""

    @property
    def singer(self) -> Singer | None:
        """For the choice of a base; None without a range."""
        if self.low_hz is None or self.high_hz is None:
            return None
        return Singer(self.nickname, self.voice, self.low_hz, self.high_hz)


def _nickname(text: str) -> str:
    plain = " ".join(unicodedata.normalize("NFC", text).split())
    plain = "".join(c for c in plain if unicodedata.category(c)[0] != "C")
    if not plain:
        raise ChantError("the nickname is empty.", remedy="Write how the singer is called.")
    if len(plain) > _LONGEST:
        raise ChantError(
            f"the nickname is longer than {_LONGEST} letters.", remedy="Write a shorter one."
        )
    return plain


def _taken(nickname: str) -> ChantError:
    return ChantError(
        f"there is a singer called “{nickname}” already.", remedy="Give this one another nickname."
    )


def add_person(session: Session, nickname: str, voice: str, *, minor: bool | None = None) -> Person:
    """Add a singer.

    Parameters
    ----------
    session : Session
        For writing.
    nickname : str
        Not yet in use.
    voice : str
        man, woman or child.
    minor : bool, optional
        Under age; a child's voice is, when it is not said.

    Raises
    ------
    ChantError
        If the nickname is empty or in use, or the voice is unknown.
    """
    name = _nickname(nickname)
    if voice not in VOICES:
        raise ChantError(f"“{voice}” is no kind of voice.", remedy="Choose man, woman or child.")
    if session.scalar(select(SingerRow).where(SingerRow.nickname == name)) is not None:
        raise _taken(name)
    row = SingerRow(nickname=name, voice=voice, minor=voice == "child" if minor is None else minor)
    session.add(row)
    try:
        session.flush()
    except IntegrityError:
        raise _taken(name) from None
    return _person(session, row)


def _row(session: Session, person_id: str) -> SingerRow:
    row = session.get(SingerRow, person_id)
    if row is None:
        raise ChantError("there is no such singer.", remedy="Look at the list of singers.")
    return row


def _person(session: Session, row: SingerRow) -> Person:
    newest = session.scalar(
        select(RangeRow)
        .where(RangeRow.singer_id == row.id)
        .order_by(RangeRow.taken.desc(), RangeRow.id)
        .limit(1)
    )
    voice: Voice = next(v for v in VOICES if v == row.voice)
    if newest is None:
        return Person(row.id, row.nickname, voice, row.minor)
    return Person(row.id, row.nickname, voice, row.minor, newest.low_hz, newest.high_hz, newest.how)


def person(session: Session, person_id: str) -> Person:
    """Return a singer.

    Raises
    ------
    ChantError
        If there is none with that id.
    """
    return _person(session, _row(session, person_id))


def persons(session: Session) -> tuple[Person, ...]:
    """Return all singers, by nickname."""
    rows = session.scalars(select(SingerRow).order_by(SingerRow.nickname))
    return tuple(_person(session, row) for row in rows)


def rename(session: Session, person_id: str, nickname: str) -> Person:
    """Give a singer another nickname.

    Raises
    ------
    ChantError
        If it is empty or in use.
    """
    row, name = _row(session, person_id), _nickname(nickname)
    other = session.scalar(select(SingerRow).where(SingerRow.nickname == name))
    if other is not None and other.id != row.id:
        raise _taken(name)
    row.nickname = name
    session.flush()
    return _person(session, row)


def take_range(
    session: Session,
    person_id: str,
    low_hz: float,
    high_hz: float,
    *,
    how: str = "typed",
    taken: datetime | None = None,
) -> Person:
    """Keep a comfortable range; older ones stay as history.

    Raises
    ------
    ChantError
        If the range is not one a person sings, or is wider than a safe choice allows.
    """
    if not LOWEST_HZ <= low_hz < high_hz <= HIGHEST_HZ:
        raise ChantError(
            f"the range {low_hz:g} to {high_hz:g} Hz is not one a person sings.",
            remedy="Give the lowest comfortable note first, then the highest.",
        )
    row = _row(session, person_id)
    kept = RangeRow(singer_id=row.id, low_hz=low_hz, high_hz=high_hz, how=how)
    if taken is not None:
        kept.taken = taken
    session.add(kept)
    session.flush()
    return _person(session, row)


def _plain(row: Base) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for column in inspect(type(row)).columns:
        value = getattr(row, column.key)
        out[column.key] = value.isoformat() if isinstance(value, datetime) else value
    return out


def _rows(session: Session, person_id: str) -> Iterator[tuple[str, Base]]:
    for table in _OF_A_SINGER:
        column = inspect(table).columns["singer_id"]
        for row in session.scalars(select(table).where(column == person_id)):
            yield table.__tablename__, row


def everything(session: Session, person_id: str) -> dict[str, Any]:
    """Return all that is kept of a singer, as plain data for a file they may have.

    The names of their recordings are in it; the caller adds the files.
    """
    row = _row(session, person_id)
    out: dict[str, Any] = {"singer": _plain(row)}
    for name, one in _rows(session, person_id):
        out.setdefault(name, []).append(_plain(one))
    account = session.scalar(select(AccountRow).where(AccountRow.singer_id == person_id))
    if account is not None:
        out["account"] = {"login": account.login, "made": account.made.isoformat()}
    return out


def delete_person(session: Session, person_id: str) -> tuple[str, ...]:
    """Delete a singer and every row of theirs.

    Returns
    -------
    tuple of str
        File names of their recordings, for the caller to delete.
    """
    row = _row(session, person_id)
    files = tuple(
        session.scalars(select(RecordingRow.file).where(RecordingRow.singer_id == person_id))
    )
    # The database does so too (on delete cascade); said here as well, so that no row stays where
    # foreign keys were switched off.
    kinds: tuple[type[Base], ...] = (*_OF_A_SINGER, InvitationRow)
    for kind in kinds:
        table = kind.__table__
        session.execute(delete(kind).where(table.c.singer_id == person_id))
    for account in session.scalars(select(AccountRow).where(AccountRow.singer_id == person_id)):
        session.delete(account)
    session.flush()
    session.delete(row)
    session.flush()
    return files
