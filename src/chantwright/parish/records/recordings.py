"""Recordings of singers: kept only where it was agreed, for a month, and never heard unasked.

The sound lies in a folder of its own; here stands whose it is, until when it is kept and whether
the teacher may hear it.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from chantwright import safefile
from chantwright.errors import ChantError
from chantwright.parish.records.consent import RECORDING, agreed
from chantwright.parish.records.people import person
from chantwright.parish.records.tables import RecordingRow, now

__all__ = ["KEPT_DAYS", "Recording", "keep_recording", "purge", "recordings_of", "share"]

KEPT_DAYS = 30
_SETTLED = 3600.0
"""Seconds after which a file without a row belongs to nobody."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A kept recording; `file` is its name in the folder of recordings."""

    id: str
    singer_id: str
    hymn: str
    file: str
    made: datetime
    until: datetime
    shared: bool


def _recording(row: RecordingRow) -> Recording:
    return Recording(row.id, row.singer_id, row.hymn, row.file, row.made, row.until, row.shared)


def keep_recording(
    session: Session, person_id: str, hymn: str, sound: bytes, folder: Path, *, suffix: str
) -> Recording:
    """Keep a recording.

    Parameters
    ----------
    session : Session
        For writing.
    person_id, hymn : str
        Who sang what.
    sound : bytes
        The file's bytes.
    folder : Path
        Where recordings lie; made where needed, readable by its owner alone.
    suffix : str
        Such as ``.wav``.

    Raises
    ------
    ChantError
        If nobody agreed to keeping it.
    """
    singer = person(session, person_id)
    if not agreed(session, person_id, RECORDING):
        who = "their parent or guardian has" if singer.minor else "they have"
        raise ChantError(
            f"{singer.nickname}'s recording is not kept: {who} not agreed to it.",
            remedy="The verdict is shown all the same. To keep sound, write down who agreed first.",
        )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    made = now()
    name = secrets.token_urlsafe(16) + suffix
    row = RecordingRow(
        singer_id=person_id, hymn=hymn, file=name, made=made, until=made + timedelta(KEPT_DAYS)
    )
    session.add(row)
    session.flush()
    safefile.write_bytes(folder / name, sound, private=True)
    return _recording(row)


def recordings_of(
    session: Session, person_id: str, *, shared: bool = False
) -> tuple[Recording, ...]:
    """Return a singer's recordings, newest first; with `shared` only what the teacher may hear."""
    wanted = select(RecordingRow).where(RecordingRow.singer_id == person_id)
    if shared:
        wanted = wanted.where(RecordingRow.shared)
    return tuple(
        _recording(row) for row in session.scalars(wanted.order_by(RecordingRow.made.desc()))
    )


def share(session: Session, recording_id: str, *, shared: bool) -> None:
    """Let the teacher hear a recording, or no longer.

    Raises
    ------
    ChantError
        If there is no such recording.
    """
    row = session.get(RecordingRow, recording_id)
    if row is None:
        raise ChantError("there is no such recording.", remedy="It may have been deleted.")
    row.shared = shared
    session.flush()


def purge(session: Session, folder: Path, at: datetime | None = None) -> int:
    """Delete recordings whose time is over, and files that belong to nobody.

    Returns
    -------
    int
        How many files were deleted.
    """
    moment = at or now()
    expired = {}
    for row in session.scalars(select(RecordingRow).where(RecordingRow.until <= moment)):
        expired[row.file] = True
        session.delete(row)
    session.flush()
    known = set(session.scalars(select(RecordingRow.file)))
    gone = 0
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.name in known or not path.is_file():
            continue
        # A file that was written a moment ago may belong to a row that is not committed yet.
        if expired.get(path.name) or now().timestamp() - path.stat().st_mtime > _SETTLED:
            path.unlink(missing_ok=True)
            gone += 1
    return gone
