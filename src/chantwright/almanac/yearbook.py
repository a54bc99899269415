"""A diocesan yearbook typed as a table (CSV), held against what the almanac computes.

Conventions: the first line names the columns: ``date`` (YYYY-MM-DD, the liturgical day), and any
of ``tone``, ``eothinon``, ``saint`` (name of the saint or feast of the day) and ``rank`` (of that
saint, by the names of the table of ranks); an empty cell says nothing, ``none`` says that none is
sung. Nothing is taken silently: every difference is told, and `as_rows` writes only the rows that
differ, as a parish file.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from chantwright.almanac.dates import check_range, long_date, parse_date
from chantwright.almanac.day import service_day
from chantwright.almanac.knowledge import load_almanac
from chantwright.almanac.model import ServiceDay
from chantwright.errors import ChantError, Where

__all__ = ["Difference", "as_rows", "compare"]

_HIGHEST = {"tone": 8, "eothinon": 11}


@dataclass(frozen=True, slots=True)
class Difference:
    """Where the yearbook and the almanac part; `line` is the yearbook's."""

    day: date
    about: str
    computed: int | str | None
    printed: int | str | None
    line: int
    rank: str = ""

    def __str__(self) -> str:
        here, there = ("none" if n is None else n for n in (self.computed, self.printed))
        if self.rank:
            there = f"{there} (rank {self.rank})"
        return (
            f"line {self.line}, {long_date(self.day)}: the yearbook gives {self.about} {there}, "
            f"the almanac {here}."
        )


def _number(about: str, cell: str, where: Where) -> int | None:
    if cell.lower() == "none":
        return None
    number = int(cell) if cell.isascii() and cell.isdecimal() else 0
    if not 1 <= number <= _HIGHEST[about]:
        raise ChantError(
            f"there is no {about} “{cell}”.",
            where=where,
            remedy=f"Write a number from 1 to {_HIGHEST[about]}, or none.",
        )
    return number


def compare(
    path: Path,
    *,
    calendar: str = "new",
    practice: str = "greek",
    overrides: Iterable[Path] = (),
) -> tuple[Difference, ...]:
    """Hold a yearbook against the almanac.

    Raises
    ------
    ChantError
        If the file cannot be read, or a cell cannot be right; it names the line.
    """
    paths = tuple(overrides)
    ranks = tuple(load_almanac(paths).ranks)
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(f"the yearbook cannot be read ({exc}).", where=Where(str(path))) from None
    table = csv.DictReader(lines)
    columns = [str(c).strip().lower() for c in table.fieldnames or ()]
    if "date" not in columns or not set(columns) & {*_HIGHEST, "saint"}:
        raise ChantError(
            "the yearbook's first line does not name its columns.",
            where=Where(str(path), 1),
            remedy="Begin it with: date,tone,eothinon or date,saint,rank",
        )
    table.fieldnames = columns
    found: list[Difference] = []
    for row in table:
        where = Where(str(path), table.line_num)
        try:
            day = check_range(parse_date(row["date"] or ""))
        except ChantError as exc:
            raise ChantError(exc.what, where=where, remedy=exc.remedy) from None
        computed = service_day(
            day, "orthros", calendar=calendar, practice=practice, overrides=paths
        )
        for about, ours in (("tone", computed.tone), ("eothinon", computed.eothinon)):
            cell = (row.get(about) or "").strip()
            if cell and (printed := _number(about, cell, where)) != ours:
                found.append(Difference(day, about, ours, printed, table.line_num))
        if (saint := (row.get("saint") or "").strip()) and saint.lower() != "none":
            rank = (row.get("rank") or "").strip()
            _check_rank(rank, ranks, where)
            if (told := _other_saint(computed, saint, rank)) is not None:
                found.append(Difference(day, "saint", told, saint, table.line_num, rank))
    return tuple(found)


def _check_rank(rank: str, ranks: Iterable[str], where: Where) -> None:
    if rank and rank not in ranks:
        raise ChantError(
            f"there is no rank “{rank}”.",
            where=where,
            remedy=f"Write one of: {', '.join(ranks)}; or leave it empty.",
        )


def _other_saint(day: ServiceDay, saint: str, rank: str) -> str | None:
    """Return who is kept by the almanac where the yearbook names another, or another rank."""
    kept = [x for x in day.feasts if x.relation == "day"]
    for feast in kept:
        if feast.title.casefold() == saint.casefold() and rank in ("", feast.rank):
            return None
    return "; ".join(f"{x.title} (rank {x.rank})" for x in kept) or "none"


def as_rows(differences: Iterable[Difference], source: str) -> str:
    """Write differences as rows of a parish file, for the parish that takes the yearbook's word."""
    named = source.replace("\\", " ").replace('"', "'")
    rows = []
    for d in differences:
        value = '"none"' if d.printed is None else d.printed
        if isinstance(d.printed, str):
            value = json.dumps(d.printed, ensure_ascii=False)
        rank = f'rank = "{d.rank}"\n' if d.rank else ""
        rows.append(
            f'[[day]]\nid = "yearbook-{d.day}-{d.about}"\ndate = "{d.day}"\n{d.about} = {value}\n'
            f'{rank}src = "{named}, line {d.line}"\nconf = "medium"\n'
        )
    return "\n".join(rows)
