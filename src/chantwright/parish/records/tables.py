"""The tables, as typed classes. Each row that concerns a singer goes when the singer goes."""

from __future__ import annotations

import secrets
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    DateTime,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Text,
    TypeDecorator,
    false,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

__all__ = [
    "AccountRow",
    "AssignmentRow",
    "AttemptRow",
    "Base",
    "CardRow",
    "ConsentRow",
    "InvitationRow",
    "JobRow",
    "RangeRow",
    "RecordingRow",
    "ResultRow",
    "SessionRow",
    "SingerRow",
    "new_id",
    "now",
]

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Moment(TypeDecorator[datetime]):
    """A time with its zone; SQLite forgets zones, so UTC is put back on reading."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Refuse times without a zone, keep others as UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without a zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Put UTC on."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def new_id() -> str:
    """Return a random id of 22 letters, fit for an address."""
    return secrets.token_urlsafe(16)


def now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


_ID = String(32)
_SINGER = "singer.id"


class Base(DeclarativeBase):
    """What all tables share."""

    metadata = MetaData(naming_convention=NAMING)


class SingerRow(Base):
    """A singer, by nickname."""

    __tablename__ = "singer"
    __table_args__ = (CheckConstraint("voice IN ('man', 'woman', 'child')", name="voice"),)

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    nickname: Mapped[str] = mapped_column(String(80), unique=True)
    voice: Mapped[str] = mapped_column(String(8))
    minor: Mapped[bool] = mapped_column(Boolean, default=False)
    added: Mapped[datetime] = mapped_column(Moment, default=now)


class RangeRow(Base):
    """A comfortable range, typed or taken by singing. The newest counts."""

    __tablename__ = "range"
    __table_args__ = (
        CheckConstraint("low_hz > 0 AND high_hz > low_hz", name="order"),
        CheckConstraint("how IN ('typed', 'sung')", name="how"),
    )

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    singer_id: Mapped[str] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"), index=True)
    low_hz: Mapped[float] = mapped_column(Float)
    high_hz: Mapped[float] = mapped_column(Float)
    how: Mapped[str] = mapped_column(String(8), default="typed")
    taken: Mapped[datetime] = mapped_column(Moment, default=now)


class ConsentRow(Base):
    """Who agreed to what for a singer, and when; withdrawing keeps the row and ends it."""

    __tablename__ = "consent"

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    singer_id: Mapped[str] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"), index=True)
    what: Mapped[str] = mapped_column(String(20))
    given_by: Mapped[str] = mapped_column(String(120))
    as_guardian: Mapped[bool] = mapped_column(Boolean)
    given: Mapped[datetime] = mapped_column(Moment, default=now)
    withdrawn: Mapped[datetime | None] = mapped_column(Moment, default=None)


class AssignmentRow(Base):
    """A hymn given to a singer to learn."""

    __tablename__ = "assignment"

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    singer_id: Mapped[str] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"), index=True)
    hymn: Mapped[str] = mapped_column(String(400))
    leads: Mapped[bool] = mapped_column(Boolean, default=False, server_default=false())
    due: Mapped[datetime | None] = mapped_column(Moment, default=None)
    given: Mapped[datetime] = mapped_column(Moment, default=now)
    done: Mapped[datetime | None] = mapped_column(Moment, default=None)


class ResultRow(Base):
    """What one singing of a hymn came to, in numbers; never sound."""

    __tablename__ = "result"
    __table_args__ = (Index("ix_result_singer_hymn", "singer_id", "hymn"),)

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    singer_id: Mapped[str] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"))
    hymn: Mapped[str] = mapped_column(String(400))
    sung: Mapped[datetime] = mapped_column(Moment, default=now)
    source: Mapped[str] = mapped_column(String(12), default="app")
    notes: Mapped[int] = mapped_column(Integer)
    wrong: Mapped[int] = mapped_column(Integer)
    skipped: Mapped[int] = mapped_column(Integer)
    off_moria: Mapped[float | None] = mapped_column(Float)
    drift_moria: Mapped[float | None] = mapped_column(Float)
    detail: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)


class RecordingRow(Base):
    """A kept recording: the name of its file, until when, and whether the teacher may hear it."""

    __tablename__ = "recording"

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    singer_id: Mapped[str] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"), index=True)
    hymn: Mapped[str] = mapped_column(String(400))
    file: Mapped[str] = mapped_column(String(80), unique=True)
    made: Mapped[datetime] = mapped_column(Moment, default=now)
    until: Mapped[datetime] = mapped_column(Moment, index=True)
    shared: Mapped[bool] = mapped_column(Boolean, default=False)


class CardRow(Base):
    """When a hymn should be practised again, by the scheduling algorithm's own state."""

    __tablename__ = "card"

    singer_id: Mapped[str] = mapped_column(
        ForeignKey(_SINGER, ondelete="CASCADE"), primary_key=True
    )
    hymn: Mapped[str] = mapped_column(String(400), primary_key=True)
    due: Mapped[datetime] = mapped_column(Moment, index=True)
    state: Mapped[dict[str, Any]] = mapped_column(JSON)


class AccountRow(Base):
    """Who may sign in: the teacher, or a singer."""

    __tablename__ = "account"
    __table_args__ = (CheckConstraint("role IN ('teacher', 'singer')", name="role"),)

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    login: Mapped[str] = mapped_column(String(80), unique=True)
    role: Mapped[str] = mapped_column(String(8))
    singer_id: Mapped[str | None] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"))
    secret: Mapped[str] = mapped_column(Text)
    made: Mapped[datetime] = mapped_column(Moment, default=now)


class SessionRow(Base):
    """A signed-in browser; only the digest of its token is kept."""

    __tablename__ = "session"

    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    account_id: Mapped[str] = mapped_column(
        ForeignKey("account.id", ondelete="CASCADE"), index=True
    )
    made: Mapped[datetime] = mapped_column(Moment, default=now)
    until: Mapped[datetime] = mapped_column(Moment)


class InvitationRow(Base):
    """A one-time invitation; only the digest of its token is kept."""

    __tablename__ = "invitation"

    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    role: Mapped[str] = mapped_column(String(8))
    singer_id: Mapped[str | None] = mapped_column(ForeignKey(_SINGER, ondelete="CASCADE"))
    made: Mapped[datetime] = mapped_column(Moment, default=now)
    until: Mapped[datetime] = mapped_column(Moment)
    used: Mapped[datetime | None] = mapped_column(Moment, default=None)


class JobRow(Base):
    """A piece of rendering: its state, who works on it, and when they last showed it."""

    __tablename__ = "job"
    __table_args__ = (
        CheckConstraint("state IN ('waiting', 'running', 'done', 'failed')", name="state"),
    )

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    what: Mapped[str] = mapped_column(String(40))
    about: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    state: Mapped[str] = mapped_column(String(8), default="waiting", index=True)
    asked: Mapped[datetime] = mapped_column(Moment, default=now)
    ended: Mapped[datetime | None] = mapped_column(Moment, default=None)
    trouble: Mapped[str] = mapped_column(Text, default="")
    holder: Mapped[str] = mapped_column(String(32), default="", server_default="")
    alive: Mapped[datetime | None] = mapped_column(Moment, default=None)


class AttemptRow(Base):
    """One attempt at something that may not be tried without end; of what, only a digest."""

    __tablename__ = "attempt"

    id: Mapped[str] = mapped_column(_ID, primary_key=True, default=new_id)
    digest: Mapped[str] = mapped_column(String(64), index=True)
    made: Mapped[datetime] = mapped_column(Moment)
    until: Mapped[datetime] = mapped_column(Moment, index=True)
