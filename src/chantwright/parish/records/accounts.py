"""Who may sign in: accounts, one-time invitations, sessions that can be ended.

Secrets are kept as argon2 hashes; tokens of sessions and invitations as SHA-256 digests, so that
nobody who reads the database can sign in with it. There is no way to make an account but by an
invitation.

References
----------
RFC 9106 (argon2). OWASP cheat sheets on password storage and session management.
"""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import delete, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from chantwright.errors import ChantError
from chantwright.parish.records.people import person
from chantwright.parish.records.tables import AccountRow, InvitationRow, SessionRow, now

__all__ = [
    "ROLES",
    "Account",
    "account_of",
    "change_secret",
    "end_all",
    "end_session",
    "invite",
    "join",
    "open_session",
    "sign_in",
]

ROLES = ("teacher", "singer")
SHORTEST = 10
_LONGEST = 200
_SIGNED_IN = timedelta(days=30)
_INVITED = timedelta(days=14)
_HASHER = PasswordHasher()
_DUMMY = _HASHER.hash("nobody has this secret")
"""Checked when there is no such account, so that the time tells nothing."""


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who is signed in; `singer_id` is None for a teacher who does not sing."""

    id: str
    login: str
    role: str
    singer_id: str | None


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _account(row: AccountRow) -> Account:
    return Account(row.id, row.login, row.role, row.singer_id)


def _login(text: str) -> str:
    plain = unicodedata.normalize("NFKC", text).strip().casefold()
    if not plain or len(plain) > 80 or any(unicodedata.category(c)[0] == "C" for c in plain):
        raise ChantError("that name cannot be used to sign in.", remedy="Choose another.")
    return plain


def _secret(text: str) -> str:
    if len(text) < SHORTEST:
        raise ChantError(
            f"the password is shorter than {SHORTEST} letters.",
            remedy="Three or four words that nobody would guess are good.",
        )
    if len(text) > _LONGEST:
        raise ChantError("the password is too long.", remedy=f"Use up to {_LONGEST} letters.")
    return text


def invite(session: Session, role: str, singer_id: str | None = None) -> str:
    """Make an invitation that works once, for two weeks.

    Returns
    -------
    str
        The token; it cannot be read again.

    Raises
    ------
    ChantError
        If the role is unknown, a singer is not named, or there is no such singer.
    """
    if role not in ROLES:
        raise ChantError(f"“{role}” is no role.", remedy="Use teacher or singer.")
    if role == "singer":
        if singer_id is None:
            raise ChantError("an invitation for a singer names one.", remedy="Choose the singer.")
        person(session, singer_id)
    token = secrets.token_urlsafe(24)
    session.add(
        InvitationRow(digest=_digest(token), role=role, singer_id=singer_id, until=now() + _INVITED)
    )
    session.flush()
    return token


def join(session: Session, token: str, login: str, secret: str) -> Account:
    """Make an account by an invitation, which is used up.

    Raises
    ------
    ChantError
        If the invitation is unknown, used or too old; the name is taken; the password too short.
    """
    name, plain = _login(login), _secret(secret)
    row = session.get(InvitationRow, _digest(token))
    if row is None or row.used is not None or row.until <= now():
        raise ChantError(
            "this invitation is not valid any more.", remedy="Ask your teacher for a new one."
        )
    if session.scalar(select(AccountRow).where(AccountRow.login == name)) is not None:
        raise ChantError(f"“{name}” is taken.", remedy="Choose another name to sign in with.")
    made = AccountRow(
        login=name, role=row.role, singer_id=row.singer_id, secret=_HASHER.hash(plain)
    )
    row.used = now()
    session.add(made)
    try:
        session.flush()
    except IntegrityError:
        raise ChantError(f"“{name}” is taken.", remedy="Choose another name.") from None
    return _account(made)


def sign_in(session: Session, login: str, secret: str) -> Account | None:
    """Return the account that a name and password belong to, or None."""
    try:
        name = _login(login)
    except ChantError:
        name = ""
    row = session.scalar(select(AccountRow).where(AccountRow.login == name)) if name else None
    try:
        _HASHER.verify(row.secret if row is not None else _DUMMY, secret[:_LONGEST])
    except (VerificationError, InvalidHashError):
        return None
    if row is None:
        return None
    if _HASHER.check_needs_rehash(row.secret):
        row.secret = _HASHER.hash(secret[:_LONGEST])
    return _account(row)


def change_secret(session: Session, account_id: str, secret: str) -> None:
    """Give an account another password and end every session of it.

    Raises
    ------
    ChantError
        If it is too short, or there is no such account.
    """
    row = session.get(AccountRow, account_id)
    if row is None:
        raise ChantError("there is no such account.", remedy="Sign in again.")
    row.secret = _HASHER.hash(_secret(secret))
    end_all(session, account_id)


def open_session(session: Session, account_id: str) -> tuple[str, datetime]:
    """Sign a browser in: always under a fresh token, never one that the browser brought.

    Returns
    -------
    token : str
        For the cookie.
    until : datetime
        When it ends.
    """
    token = secrets.token_urlsafe(32)
    until = now() + _SIGNED_IN
    session.execute(delete(SessionRow).where(SessionRow.until <= now()))
    session.add(SessionRow(digest=_digest(token), account_id=account_id, until=until))
    session.flush()
    return token, until


def account_of(session: Session, token: str) -> Account | None:
    """Return who is signed in under a token, or None."""
    row = session.get(SessionRow, _digest(token)) if token else None
    if row is None or row.until <= now():
        return None
    found = session.get(AccountRow, row.account_id)
    return None if found is None else _account(found)


def end_session(session: Session, token: str) -> None:
    """Sign a browser out."""
    session.execute(delete(SessionRow).where(SessionRow.digest == _digest(token)))


def end_all(session: Session, account_id: str) -> None:
    """Sign an account out everywhere."""
    session.execute(delete(SessionRow).where(SessionRow.account_id == account_id))
