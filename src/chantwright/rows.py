"""Knowledge as rows: read our data files and let a parish's own rows win.

A data file is TOML made of flat arrays of tables (``[[scale]]``, ``[[branch]]``, ``[[formula]]``
...). Each row has an ``id``, and says where it comes from in ``src`` and how sure we are in
``conf`` (high, medium, low). A parish file has the same shape. A parish row with a known ``id``
replaces the fields it names and keeps the rest; a new ``id`` is a new row. The origin of every
row stays visible.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from chantwright.errors import ChantError, Where

__all__ = ["CONFIDENCE", "OURS", "PARISH", "Row", "Rows", "load_rows", "parse_rows", "parse_toml"]

OURS = "chantwright"
PARISH = "parish"
CONFIDENCE = ("high", "medium", "low")

_HEADER = re.compile(r"^\s*\[\[\s*([A-Za-z_]+)\s*\]\]")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a data file.

    Attributes
    ----------
    table : str
        Name of the array of tables it stands in.
    id : str
        Its name, unique within the table.
    values : Mapping[str, Any]
        All fields, the parish's laid over ours.
    origin : str
        `OURS` or `PARISH`.
    where : Where
        File and line of the row that won.
    own_fields : tuple of str
        Fields that the parish changed; empty for our own rows.
    """

    table: str
    id: str
    values: Mapping[str, Any]
    origin: str
    where: Where
    own_fields: tuple[str, ...] = field(default=())

    def __getitem__(self, key: str) -> Any:
        """Return a field; a missing one is an error that names the row."""
        try:
            return self.values[key]
        except KeyError:
            raise ChantError(
                f"the {self.table} row “{self.id}” has no “{key}”.",
                where=self.where,
                remedy=f"Add a line “{key} = ...” to that row.",
            ) from None

    def get(self, key: str, default: Any = None) -> Any:
        """Return a field or `default`."""
        return self.values.get(key, default)

    def error(self, what: str, remedy: str = "") -> ChantError:
        """Make an error that points at this row."""
        return ChantError(
            f"the {self.table} row “{self.id}”: {what}", where=self.where, remedy=remedy
        )

    @property
    def conf(self) -> str:
        """How sure we are: high, medium or low (a parish row counts as high)."""
        if self.origin == PARISH and "conf" not in self.own_fields:
            return "high"
        return str(self.values.get("conf", "low"))

    @property
    def src(self) -> tuple[str, ...]:
        """Names of the sources, or of the parish file."""
        if self.origin == PARISH and "src" not in self.own_fields:
            return (f"parish file {Path(self.where.file).name}",)
        raw = self.values.get("src", ())
        return tuple(str(s) for s in raw) if isinstance(raw, list | tuple) else (str(raw),)


Rows = dict[str, dict[str, Row]]
"""Table name -> row id -> row."""


def parse_toml(text: str, where: Where) -> dict[str, Any]:
    """Read TOML.

    Raises
    ------
    ChantError
        If it is broken, nested without end, or holds a number without end; names the line.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        what, line, column = "brackets within brackets within brackets", 0, 0
    except ValueError as exc:  # also for a number of thousands of digits
        at = re.search(r"line (\d+), column (\d+)", str(exc))
        line, column = (int(at[1]), int(at[2])) if at else (0, 0)
        broken = isinstance(exc, tomllib.TOMLDecodeError)
        what = str(exc) if broken else "a number far too long"
    raise ChantError(
        f"it cannot be read ({what}).",
        where=Where(where.file, line, column),
        remedy="Check quotes, brackets and equals signs on that line.",
    )


def parse_rows(text: str, *, file: str, origin: str) -> Rows:
    """Read the rows of one file.

    Parameters
    ----------
    text : str
        TOML text.
    file : str
        Name used in errors.
    origin : str
        `OURS` or `PARISH`.

    Returns
    -------
    Rows
        In the order of the file.

    Raises
    ------
    ChantError
        If the TOML is broken, a row has no ``id``, or an ``id`` stands twice.
    """
    doc = parse_toml(text, Where(file))
    lines: dict[str, list[int]] = {}
    for number, raw in enumerate(text.splitlines(), start=1):
        if found := _HEADER.match(raw):
            lines.setdefault(found[1], []).append(number)
    rows: Rows = {}
    for table, entries in doc.items():
        if not isinstance(entries, list) or not all(isinstance(e, dict) for e in entries):
            continue  # a plain key or [table]: the reader of that file takes it up itself
        into = rows.setdefault(table, {})
        starts = lines.get(table, [])
        for index, entry in enumerate(entries):
            where = Where(file, starts[index] if index < len(starts) else 0)
            row_id = entry.get("id")
            if not isinstance(row_id, str) or not row_id:
                raise ChantError(
                    f"a {table} row has no name.",
                    where=where,
                    remedy='Add a line like: id = "my.row".',
                )
            if row_id in into:
                raise ChantError(
                    f"the {table} row “{row_id}” stands twice in this file.",
                    where=where,
                    remedy="Give one of the two another id, or remove it.",
                )
            own = tuple(k for k in entry if k != "id") if origin == PARISH else ()
            into[row_id] = Row(table, row_id, dict(entry), origin, where, own)
    return rows


def _lay_over(ours: Rows, theirs: Rows) -> None:
    for table, entries in theirs.items():
        into = ours.setdefault(table, {})
        for row_id, row in entries.items():
            if (old := into.get(row_id)) is not None:
                values = {**old.values, **row.values}
                own = tuple(dict.fromkeys((*old.own_fields, *row.own_fields)))
                into[row_id] = Row(table, row_id, values, row.origin, row.where, own)
            else:
                into[row_id] = row


def load_rows(
    package: str,
    names: Iterable[str],
    *,
    overrides: Iterable[Path] = (),
    tables: Iterable[str] = (),
) -> Rows:
    """Read our data files of a package and lay the parish's files over them.

    Parameters
    ----------
    package : str
        Package that holds the data, such as ``"chantwright.tuning"``.
    names : iterable of str
        File names under its ``data`` folder.
    overrides : iterable of Path
        Parish files, later ones winning.
    tables : iterable of str
        Tables to take from the parish files; all of them when empty.

    Returns
    -------
    Rows
        Table name -> row id -> row.

    Raises
    ------
    ChantError
        If a file cannot be read; names the file and the line.
    """
    rows: Rows = {}
    folder = resources.files(package) / "data"
    for name in names:
        text = (folder / name).read_text(encoding="utf-8")
        _lay_over(rows, parse_rows(text, file=name, origin=OURS))
    wanted = set(tables)
    for path in overrides:
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, UnicodeDecodeError) as exc:
            raise ChantError(
                f"this parish file cannot be read ({exc}).",
                where=Where(str(path)),
                remedy="Check that it exists and is saved as UTF-8 text.",
            ) from None
        own = parse_rows(text, file=str(path), origin=PARISH)
        _lay_over(rows, {t: r for t, r in own.items() if not wanted or t in wanted})
    return rows
