"""Faults of rows as such: tables and fields nobody reads, and rows without grounds.

What a row may hold is learnt from our own rows: a field that none of them has is a slip of the pen.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from importlib import resources
from pathlib import Path

from chantwright.errors import Where
from chantwright.rows import CONFIDENCE, OURS, PARISH, Row, Rows, parse_rows
from chantwright.tones.finding import Finding

__all__ = ["groundless", "strangers"]

_ALWAYS = ("id", "conf", "src", "remark")
_OURS_ALONE = ("note",)  # names of notes are read without asking which parish it is
_HEADER = re.compile(r"^\s*\[\[\s*([A-Za-z_]+)\s*\]\]", re.MULTILINE)


@lru_cache(maxsize=1)
def _house_tables() -> frozenset[str]:
    """Names of the tables in every data file of the house, read as text."""
    names: set[str] = set()
    for package in resources.files("chantwright").iterdir():
        folder = package / "data"
        if not (package.is_dir() and folder.is_dir()):
            continue
        for entry in folder.iterdir():
            if entry.name.endswith(".toml"):
                names.update(_HEADER.findall(entry.read_text(encoding="utf-8")))
    return frozenset(names)


def _line_of(text: str, key: str) -> int:
    found = re.search(rf"^\s*\[*\s*{re.escape(key)}\b", text, re.MULTILINE)
    return text.count("\n", 0, found.start()) + 1 + found[0].count("\n") if found else 0


def _stray_tables(path: Path, text: str, ours: Iterable[str]) -> Iterator[Finding]:
    known = tuple(ours)
    for key, value in tomllib.loads(text).items():
        where = Where(str(path), _line_of(text, key), 0, key)
        rows = isinstance(value, list) and all(isinstance(v, dict) for v in value)
        if key in _OURS_ALONE:
            yield Finding(
                "wrong",
                where,
                f"a parish file cannot change the table “{key}”; nothing reads it there.",
                "Remove it. Every spelling in use is read already.",
            )
            continue
        if key in known:
            if not rows:
                yield Finding(
                    "wrong",
                    where,
                    f"“{key}” is not written as a row.",
                    f"Write the heading with two brackets: [[{key}]]",
                )
            continue
        if near := difflib.get_close_matches(key, known, 1, 0.75):
            if key not in _house_tables():
                yield Finding(
                    "wrong",
                    where,
                    f"there is no table “{key}”.",
                    f"Did you mean [[{near[0]}]]?",
                )
        elif key not in _house_tables():
            yield Finding(
                "doubtful",
                where,
                f"nothing here reads a table “{key}”.",
                f"Tables of the tones are: {', '.join(known)}.",
            )


def strangers(paths: Iterable[Path], rows: Rows, ours: Rows) -> Iterator[Finding]:
    """Tables and fields of parish files that nobody reads.

    Parameters
    ----------
    paths : iterable of Path
        Parish files.
    rows : Rows
        All rows, the parish's laid over ours.
    ours : Rows
        Our own rows alone.
    """
    fields = {t: {f for r in own.values() for f in r.values} for t, own in ours.items()}
    for path in paths:
        text = path.read_text(encoding="utf-8")
        yield from _stray_tables(path, text, rows)
        for table, own in parse_rows(text, file=str(path), origin=PARISH).items():
            allowed = sorted({*fields.get(table, ()), *_ALWAYS})
            if table not in fields or table in _OURS_ALONE:
                continue
            for row in own.values():
                for key in row.values:
                    if key not in allowed:
                        near = difflib.get_close_matches(key, allowed, 1, 0.5)
                        yield Finding(
                            "wrong",
                            Where(row.where.file, row.where.line, 0, key),
                            f"the {table} row “{row.id}” has a field “{key}” that nothing reads.",
                            f"Did you mean “{near[0]}”?"
                            if near
                            else f"Fields are: {', '.join(allowed)}.",
                        )


def _conf(row: Row, key: str) -> Iterator[Finding]:
    value = row.values.get(key)
    if value is not None and value not in CONFIDENCE:
        yield Finding(
            "wrong",
            row.where,
            f"the {row.table} row “{row.id}”: “{key}” is “{value}”.",
            f"Choose one of: {', '.join(CONFIDENCE)}.",
        )


def groundless(rows: Rows, sources: Mapping[str, str]) -> Iterator[Finding]:
    """Rows that do not say how sure they are and where they come from.

    Parameters
    ----------
    rows : Rows
        All tables.
    sources : mapping of str to str
        Known sources.
    """
    for table, entries in rows.items():
        for row in entries.values() if table != "source" else ():
            yield from _conf(row, "conf")
            yield from _conf(row, "exists")
            needed = row.origin == OURS
            if needed and "conf" not in row.values:
                yield Finding("wrong", row.where, f"the {table} row “{row.id}” has no conf.")
            if needed and not row.src:
                yield Finding("wrong", row.where, f"the {table} row “{row.id}” names no source.")
            for name in row.src if needed or "src" in row.own_fields else ():
                if name not in sources:
                    near = difflib.get_close_matches(name, sources, 1, 0.5)
                    yield Finding(
                        "wrong",
                        row.where,
                        f"the {table} row “{row.id}” names a source “{name}” that nobody explains.",
                        f"Did you mean “{near[0]}”?"
                        if near
                        else f'Explain it: [[source]] id = "{name}", text = "..."',
                    )
