"""What the almanac knows: seasons, days, feasts, eothina and services, read from the data rows.

Conventions: an *offset* counts days from Pascha; from 0 on it counts from the last Pascha, below 0
it counts to the coming one. A *mark* is the name of a season, movable day or feast that holds on a
day. A parish file has the same tables; its rows win field by field (`chantwright.rows`).

References: each row names its own sources.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from chantwright.almanac import fields as f
from chantwright.almanac.records import (
    DayRow,
    Eothinon,
    Feast,
    FixedSunday,
    Movable,
    Practice,
    Rank,
    Season,
    Service,
)
from chantwright.errors import ChantError
from chantwright.rows import OURS, Row, load_rows

__all__ = ["FILES", "HYMNS", "Almanac", "check", "load_almanac"]

FILES = (
    "movable.toml", "feasts.toml", "eothina.toml", "names.toml", "services.toml", "weekdays.toml",
    "propers.toml",
)  # fmt: skip

_Made = TypeVar("_Made")

HYMNS = ("feast", "mixed", "tone")
_COMMON = frozenset({"id", "src", "conf", "note", "title"})
_FIELDS: dict[str, frozenset[str]] = {
    table: _COMMON | frozenset(names.split())
    for table, names in {
        "season": "start end tone tones why_tone eothinon why_eothinon gospel exaposteilarion "
        "doxastikon week_from sunday_name weekday_name ask ask_weekday nominal",
        "movable": "offset rank hymns keeps_tone practices after why ask",
        "rank": "hymns gospel ask",
        "feast": "date rank hymns fore after ask",
        "sunday": "from to",
        "practice": "eothina",
        "eothinon": "number gospel tone",
        "pentecostarion": "practice offset eothinon",
        "tone_name": "tone",
        "service": "opens_day aliases items_of ask first last",
        "item": "service order psalm_lxx psalm_kjv tone_from tone_from_greek tone_from_slavic "
        "tone_from_romanian hymn joins part on_feast feast_title not_on only_on optional weekday",
        "shape": "day service keep",
        "by_tone": "item tone psalm_lxx psalm_kjv",
        "proper": "day start end item hymn tone",
        "katavasia": "start end from to tone",
        "day": "date service tone eothinon ask by confirmed",
    }.items()
}


@dataclass(frozen=True, eq=False)  # one is what was read once; so it can be a key
class Almanac:
    """All rows, ours with the parish's laid over them, checked."""

    seasons: tuple[Season, ...]
    movables: dict[int, tuple[Movable, ...]]
    ranks: dict[str, Rank]
    feasts: tuple[Feast, ...]
    sundays: tuple[FixedSunday, ...]
    practices: dict[str, Practice]
    eothina: dict[int, Eothinon]
    between: dict[tuple[str, int], Row]  # (practice, offset) -> row with the eothinon
    tone_names: dict[int, str]
    services: dict[str, Service]
    items: dict[str, tuple[Row, ...]]  # by service, in order
    shapes: dict[tuple[str, str], Row]  # (mark, service)
    by_tone: dict[tuple[str, int], Row]  # (item, tone)
    propers: tuple[Row, ...]
    katavasiae: tuple[Row, ...]
    days: tuple[DayRow, ...]

    def tone_title(self, tone: int) -> str:
        """Return both names of a tone, such as ``Tone 5, Plagal First``."""
        return f"Tone {tone}, {self.tone_names[tone]}"

    def practice(self, name: str) -> Practice:
        """Return a use by name, or raise a `ChantError` that lists them."""
        if name not in self.practices:
            raise ChantError(
                f"there is no practice called “{name}”.",
                remedy="Choose one of: " + ", ".join(self.practices) + ".",
            )
        return self.practices[name]

    def service(self, name: str) -> Service:
        """Return a service by its short name or another name of it."""
        if name in self.services:
            return self.services[name]
        wanted = " ".join(name.lower().replace("-", " ").split())
        for service in self.services.values():
            if wanted in (service.id.replace("-", " "), service.title.lower(), *service.aliases):
                return service
        raise ChantError(
            f"there is no service called “{name}”.",
            remedy="Choose one of: " + ", ".join(self.services) + ".",
        )


def _season(row: Row) -> Season:
    kind = f.choice(row, "tone", ("count", "daily", "none"))
    tones = row.get("tones", [])
    if kind == "daily" and (
        not isinstance(tones, list) or len(tones) != 7 or not all(t in range(1, 9) for t in tones)
    ):
        raise row.error(f"“tones” is {tones!r}.", "Write seven tones, 1 to 8, Sunday first.")
    start = f.number(row, "start", -80, 400)
    has_week = row.get("week_from") is not None
    return Season(
        row.id,
        f.text(row, "title"),
        start,
        f.number(row, "end", start, 400),
        kind,
        tuple(tones),
        f.choice(row, "nominal", ("count", ""), "") == "count",
        f.text(row, "why_tone", ""),
        f.choice(row, "eothinon", ("cycle", "table", "none")),
        f.text(row, "why_eothinon", ""),
        (f.flag(row, "gospel"), f.flag(row, "exaposteilarion"), f.flag(row, "doxastikon")),
        f.number(row, "week_from", -80, 400) if has_week else None,
        f.text(row, "sunday_name", ""),
        f.text(row, "weekday_name", ""),
        f.text(row, "ask", ""),
        f.text(row, "ask_weekday", ""),
    )


def _movable(row: Row) -> Movable:
    return Movable(
        row.id,
        f.number(row, "offset", -100, 330),
        f.text(row, "title"),
        f.text(row, "rank", ""),
        f.choice(row, "hymns", (*HYMNS, ""), ""),
        f.flag(row, "keeps_tone"),
        f.names(row, "practices"),
        f.number(row, "after", 0, 15, 0),
        f.text(row, "why", ""),
        f.text(row, "ask", ""),
    )


def _rank(row: Row) -> Rank:
    return Rank(
        row.id,
        f.text(row, "title"),
        f.choice(row, "hymns", HYMNS),
        f.choice(row, "gospel", ("feast", "eothinon")),
        f.text(row, "ask", ""),
    )


def _feast(row: Row) -> Feast:
    return Feast(
        row.id,
        f.month_day(row, "date"),
        f.text(row, "title"),
        f.text(row, "rank", "S"),
        f.choice(row, "hymns", (*HYMNS, ""), ""),
        f.number(row, "fore", 0, 10, 0),
        f.number(row, "after", 0, 15, 0),
        f.text(row, "ask", ""),
        row.origin,
    )


def _sunday(row: Row) -> FixedSunday:
    return FixedSunday(
        row.id, f.month_day(row, "from"), f.month_day(row, "to"), f.text(row, "title")
    )


def _practice(row: Row) -> Practice:
    return Practice(
        row.id,
        f.text(row, "title"),
        f.text(row, "eothina"),
        f.text(row, "note", ""),
        row.conf,
        row.origin,
    )


def _eothinon(row: Row) -> Eothinon:
    return Eothinon(
        f.number(row, "number", 1, 11), f.text(row, "gospel"), f.number(row, "tone", 1, 8)
    )


def _service(row: Row) -> Service:
    return Service(
        row.id,
        f.text(row, "title"),
        f.flag(row, "opens_day"),
        f.names(row, "aliases"),
        f.names(row, "items_of"),
        f.text(row, "ask", ""),
        f.number(row, "first", -80, 0, 0),
        f.number(row, "last", -80, 0, 0),
    )


def _item(row: Row) -> Row:
    f.text(row, "title")
    f.text(row, "service")
    f.number(row, "order", 0, 10000)
    for key in ("tone_from", "tone_from_greek", "tone_from_slavic", "tone_from_romanian"):
        value = f.text(row, key, None if key == "tone_from" else "local")
        kind, _, fixed = value.partition(":")
        words = ("week", "eothinon", "saint", "feast", "katavasia", "local", "read")
        if value not in words and not (kind == "fixed" and fixed in tuple("12345678")):
            raise row.error(
                f"“{key}” is “{value}”.", "Write one of: " + ", ".join(words) + ", fixed:1 ... 8."
            )
    f.choice(row, "part", ("", "gospel", "exaposteilarion", "doxastikon", "doxology"), "")
    f.choice(row, "on_feast", ("", "text", "all"), "")
    for key in ("not_on", "only_on"):
        f.names(row, key)
    for key in ("joins", "optional", "weekday"):
        f.flag(row, key)
    for key in ("psalm_lxx", "psalm_kjv", "note", "hymn", "feast_title"):
        f.text(row, key, "")
    return row


def _shape(row: Row) -> Row:
    f.text(row, "day")
    f.text(row, "service")
    f.names(row, "keep")
    return row


def _by_tone(row: Row) -> Row:
    f.text(row, "item")
    f.number(row, "tone", 1, 8)
    return row


def _tone_name(row: Row) -> Row:
    f.text(row, "title")
    f.number(row, "tone", 1, 8)
    return row


def _between(row: Row) -> Row:
    f.text(row, "practice")
    f.number(row, "offset", 7, 48)
    f.number(row, "eothinon", 1, 11)
    return row


def _span(row: Row) -> Row:
    """Check a proper or katavasia row: when it holds, and its tone."""
    f.tone(row)
    f.names(row, "day")
    for key in ("title", "note", "hymn", "item"):
        f.text(row, key, "")
    if row.get("start") is not None or row.get("end") is not None:
        f.number(row, "end", f.number(row, "start", -80, 400), 400)
    elif row.get("from") is not None or row.get("to") is not None:
        f.month_day(row, "from")
        f.month_day(row, "to")
    elif not row.get("day"):
        raise row.error("it does not say when it holds.", 'Add a line like: day = ["thomas"].')
    return row


def _day(row: Row) -> DayRow:
    raw = row["date"]
    try:
        day = raw if type(raw) is date else date.fromisoformat(str(raw))
    except ValueError:
        raise row.error(f"“date” is {raw!r}.", 'Write it like date = "2026-11-29".') from None
    number = row.get("eothinon")
    by = f.choice(row, "by", ("parish", "priest"), "parish")
    confirmed = f.flag(row, "confirmed")
    if confirmed and by != "priest":
        raise row.error(
            "only the priest can confirm a day.",
            'Add by = "priest" if he did, or take out “confirmed”.',
        )
    return DayRow(
        row.id,
        day,
        f.text(row, "service", ""),
        f.text(row, "title", ""),
        "tone" in row.values,
        f.tone(row),
        "eothinon" in row.values,
        None if number in (None, "none") else f.number(row, "eothinon", 1, 11),
        f.text(row, "note", ""),
        f.text(row, "ask", ""),
        by,
        confirmed,
        row.where.file,
    )


def _read(overrides: tuple[Path, ...], problems: list[ChantError] | None) -> Almanac:
    """Read all rows; with a list for `problems`, note what is wrong there and read on."""
    rows = load_rows("chantwright.almanac", FILES, overrides=overrides, tables=_FIELDS)

    def each(table: str, make: Callable[[Row], _Made]) -> list[_Made]:
        made: list[_Made] = []
        for row in rows.get(table, {}).values():
            try:
                f.check_known(row, _FIELDS[table])
                made.append(make(row))
            except ChantError as error:
                if problems is None:
                    raise
                problems.append(error)
        return made

    def tell(row: Row, what: str, remedy: str) -> None:
        if problems is None:
            raise row.error(what, remedy)
        problems.append(row.error(what, remedy))

    # Names in one table that must stand in another.
    for table, key, target in (
        ("movable", "rank", "rank"),
        ("feast", "rank", "rank"),
        ("item", "service", "service"),
        ("shape", "service", "service"),
        ("day", "service", "service"),
        ("by_tone", "item", "item"),
        ("proper", "item", "item"),
        ("pentecostarion", "practice", "practice"),
        ("practice", "eothina", "practice"),
    ):
        for row in rows.get(table, {}).values():
            name = row.get(key, "")
            if name and name not in rows[target]:
                tell(row, f"“{key}” is “{name}”.", "Write one of: " + ", ".join(rows[target]) + ".")

    movables: dict[int, list[Movable]] = {}
    for movable in each("movable", _movable):
        movables.setdefault(movable.offset, []).append(movable)
    items: dict[str, list[Row]] = {}
    for item in sorted(each("item", _item), key=lambda row: int(row["order"])):
        items.setdefault(str(item["service"]), []).append(item)
    return Almanac(
        seasons=tuple(each("season", _season)),
        movables={k: tuple(v) for k, v in movables.items()},
        ranks={r.id: r for r in each("rank", _rank)},
        feasts=tuple(each("feast", _feast)),
        sundays=tuple(each("sunday", _sunday)),
        practices={p.id: p for p in each("practice", _practice)},
        eothina={e.number: e for e in each("eothinon", _eothinon)},
        between={(r["practice"], r["offset"]): r for r in each("pentecostarion", _between)},
        tone_names={r["tone"]: str(r["title"]) for r in each("tone_name", _tone_name)},
        services={s.id: s for s in each("service", _service)},
        items={k: tuple(v) for k, v in items.items()},
        shapes={(r["day"], r["service"]): r for r in each("shape", _shape)},
        by_tone={(r["item"], r["tone"]): r for r in each("by_tone", _by_tone)},
        propers=tuple(each("proper", _span)),
        # The first that holds wins, so the parish's own go before ours.
        katavasiae=tuple(sorted(each("katavasia", _span), key=lambda row: row.origin == OURS)),
        days=tuple(each("day", _day)),
    )


@lru_cache(maxsize=1)
def _ours() -> Almanac:
    return _read((), None)


def load_almanac(overrides: Iterable[Path] = ()) -> Almanac:
    """Read the almanac's rows and lay the parish's files over them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files, later ones winning. Tables that belong to other packages are left alone.

    Returns
    -------
    Almanac

    Raises
    ------
    ChantError
        At the first row that cannot be right; it names the file and the line.
    """
    paths = tuple(overrides)
    return _read(paths, None) if paths else _ours()


def check(overrides: Iterable[Path] = ()) -> tuple[ChantError, ...]:
    """Return all that is wrong in the almanac's rows and the parish's, in the trade's words."""
    problems: list[ChantError] = []
    _read(tuple(overrides), problems)
    return tuple(problems)
