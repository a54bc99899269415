"""Everything of a parish in one file, and back.

A backup is a zip: the parish folder's plain files, and every table as a file of JSON lines. It is
the same whichever database holds the records, so a backup from SQLite can be restored into
PostgreSQL and the other way round. Left out are singers' recordings, which are kept for a month
and must not live on in copies, and who is signed in.
"""

from __future__ import annotations

import json
import zipfile
import zlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from sqlalchemy import JSON, Table, func, insert, select
from sqlalchemy.exc import SQLAlchemyError

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.parish.records.store import FILE, Store
from chantwright.parish.records.tables import Base, Moment

__all__ = ["RECORDINGS", "back_up", "restore"]

RECORDINGS = "recordings"
"""Folder of singers' recordings inside a parish folder."""
_FORMAT = "chantwright backup 1"
_LEFT_OUT = ("session", "job", "invitation", "recording", "attempt")
_TABLES, _FILES, _MARK = "records/", "parish/", "backup.txt"
_LARGEST, _LARGEST_FILE = 4_000_000_000, 400_000_000
"""Bytes that a backup, and one file in it, may unfold to."""


def _tables() -> Iterator[Table]:
    """Tables in an order in which no row is written before the row it belongs to."""
    for table in Base.metadata.sorted_tables:
        if table.name not in _LEFT_OUT:
            yield table


def _json(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime) else value


def _value(table: Table, name: str, value: Any) -> Any:
    kind = table.columns[name].type
    if value is not None and isinstance(kind, Moment):
        return datetime.fromisoformat(value)
    if isinstance(kind, JSON) and not isinstance(value, dict):
        raise TypeError(name)
    return value


def _parish_files(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        own = name == FILE or name.startswith((f"{FILE}-", "ready/", f"{RECORDINGS}/"))
        # A dot begins the scrap of a save that was cut off; one of a backup would grow each time.
        own = own or path.name.startswith(".")
        if path.is_file() and not path.is_symlink() and not own:
            yield path


def back_up(store: Store, folder: Path, target: Path) -> int:
    """Write a backup, whole or not at all.

    Parameters
    ----------
    store : Store
        The records.
    folder : Path
        The parish folder. What was made from it (``ready/``) is left out.
    target : Path
        The zip to write.

    Returns
    -------
    int
        Number of files and rows in it.
    """
    count = 0
    inside = folder.resolve()
    with (
        safefile.writing(target, private=True) as temporary,
        zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as zipped,
    ):
        zipped.writestr(_MARK, _FORMAT + "\n")
        with store.read() as session:
            connection = session.connection()
            for table in _tables():
                lines = []
                for row in connection.execute(select(table).order_by(*table.primary_key)):
                    lines.append(
                        json.dumps(
                            {k: _json(v) for k, v in row._mapping.items()}, ensure_ascii=False
                        )
                    )
                count += len(lines)
                zipped.writestr(f"{_TABLES}{table.name}.jsonl", "".join(f"{x}\n" for x in lines))
        for path in _parish_files(folder):
            if path.resolve() == target.resolve() or not path.resolve().is_relative_to(inside):
                continue
            zipped.write(path, _FILES + path.relative_to(folder).as_posix())
            count += 1
    return count


def _safe(name: str) -> PurePosixPath:
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or "\\" in name or ":" in name:
        raise ChantError(
            f"the backup holds a file with a name that is not safe (“{name[:60]}”).",
            remedy="It was not made by this tool; do not use it.",
        )
    return path


def _rows(zipped: zipfile.ZipFile, table: Table) -> list[dict[str, Any]]:
    try:
        text = zipped.read(f"{_TABLES}{table.name}.jsonl").decode("utf-8")
    except KeyError:
        return []
    needed = {
        c.name
        for c in table.columns
        if not c.nullable and c.default is None and c.server_default is None
        and c is not table.autoincrement_column
    }  # fmt: skip
    out = []
    for line in text.splitlines():
        given = json.loads(line)
        if not isinstance(given, dict):
            raise TypeError(f"a row of {table.name} is no row")
        lost = needed - given.keys()
        if lost:
            raise KeyError(f"a row of {table.name} without its {min(lost)}")
        out.append({k: _value(table, k, v) for k, v in given.items()})
    return out


def restore(store: Store, folder: Path, source: Path) -> int:
    """Put a backup back, into an empty folder and an empty database.

    Parameters
    ----------
    store : Store
        The records; empty.
    folder : Path
        The parish folder; made where needed, without a ``parish.toml``.
    source : Path
        The zip.

    Returns
    -------
    int
        Number of files and rows.

    Raises
    ------
    ChantError
        If the folder or the database is not empty, or the backup is damaged. Nothing is then
        changed in the database.
    """
    if (folder / "parish.toml").exists():
        raise ChantError(
            "there is a parish in this folder already.",
            where=Where(str(folder)),
            remedy="Restore into a new, empty folder.",
        )
    try:
        with zipfile.ZipFile(source) as zipped:
            _check(zipped, source)
            names = [n for n in zipped.namelist() if n.startswith(_FILES) and not n.endswith("/")]
            places = {name: _safe(name.removeprefix(_FILES)) for name in names}
            count = _restore_rows(store, zipped)
            for name, place in places.items():
                target = folder / place
                target.parent.mkdir(parents=True, exist_ok=True)
                safefile.write_bytes(target, zipped.read(name))
            return count + len(names)
    except SQLAlchemyError:
        raise ChantError(
            "this is no backup that can be restored (its rows do not fit one another).",
            where=Where(str(source)),
            remedy="Choose another backup file.",
        ) from None
    except (
        OSError, zipfile.BadZipFile, zlib.error, KeyError, ValueError, TypeError, EOFError,
        NotImplementedError, RuntimeError,
    ) as exc:  # fmt: skip
        raise ChantError(
            f"this is no backup that can be restored ({exc}).",
            where=Where(str(source)),
            remedy="Choose another backup file.",
        ) from None


def _check(zipped: zipfile.ZipFile, source: Path) -> None:
    if zipped.read(_MARK).decode("utf-8").strip() != _FORMAT:
        raise KeyError(_MARK)
    sizes = [i.file_size for i in zipped.infolist()]
    if sum(sizes) > _LARGEST or max(sizes) > _LARGEST_FILE:
        raise ChantError(
            "the backup unfolds to more than a parish holds.", where=Where(str(source))
        )
    damaged = zipped.testzip()
    if damaged is not None:
        raise zipfile.BadZipFile(damaged)


def _restore_rows(store: Store, zipped: zipfile.ZipFile) -> int:
    count = 0
    with store.write() as session:
        connection = session.connection()
        for table in _tables():
            if connection.scalar(select(func.count()).select_from(table)):
                raise ChantError(
                    "the records are not empty.",
                    remedy="Restore into a new database, or one that has no singers yet.",
                )
        for table in _tables():
            rows = _rows(zipped, table)
            if rows:
                connection.execute(insert(table), rows)
            count += len(rows)
    return count
