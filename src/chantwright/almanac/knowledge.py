"""What the almanac knows: seasons, days, feasts, eothina and services, read from the data rows.

Conventions: an *offset* counts days from Pascha; from 0 on it counts from the last Pascha, below 0
it counts to the coming one. A *mark* is the name of a season, movable day or feast that holds on a
day (`chantwright.almanac.conditions`). A parish file has the same tables; its rows win field by
field (`chantwright.rows`). What was read once is kept until one of the files changes.

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
from chantwright.almanac import reading as read
from chantwright.almanac.conditions import Condition
from chantwright.almanac.reading import FIELDS
from chantwright.almanac.records import (
    AnswerRow,
    DayRow,
    Division,
    Eothinon,
    Feast,
    FixedSunday,
    Habit,
    ItemRow,
    Movable,
    PointRow,
    Practice,
    Proper,
    QuestionRow,
    Rank,
    Season,
    Serve,
    Service,
    Verses,
)
from chantwright.errors import ChantError
from chantwright.rows import OURS, Row, load_rows

__all__ = ["FILES", "Almanac", "check", "load_almanac"]

FILES = (
    "movable.toml", "feasts.toml", "saints.toml", "eothina.toml", "names.toml", "services.toml",
    "weekdays.toml", "feastweek.toml", "vesperal.toml", "propers.toml", "served.toml",
    "divisions.toml", "daily.toml", "points.toml",
)  # fmt: skip

_Made = TypeVar("_Made")

# Words besides names of seasons, days and feasts that a condition may look for.
_GENERAL_MARKS = frozenset(
    {
        "forefeast", "afterfeast", "leave-taking", "saint-given", "eothinon-unsure", "festal",
        *(f"hymns:{name}" for name in read.HYMNS), *read.WEEKDAYS,
    }
)  # fmt: skip


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
    serves: dict[str, tuple[Serve, ...]]  # by service; the first that holds wins
    habits: tuple[Habit, ...]
    questions: tuple[QuestionRow, ...]
    points: tuple[PointRow, ...]
    divisions: tuple[Division, ...]
    verses: tuple[Verses, ...]
    items: dict[str, tuple[Row, ...]]  # by service, in order
    shapes: dict[tuple[str, str], Row]  # (mark, service)
    by_tone: dict[tuple[str, int], Row]  # (item, tone)
    propers: tuple[Proper, ...]
    katavasiae: tuple[Proper, ...]
    days: dict[date, tuple[DayRow, ...]]
    decisions: tuple[ItemRow, ...]
    answers: tuple[AnswerRow, ...]
    settings: dict[str, str]

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

    def item_names(self, service: str) -> tuple[str, ...]:
        """Return the names that items of a service may have in a plan, without the service's."""
        kinds = self.services[service].items_of or (service,)
        # A vigil's plan keeps the whole name, since two services stand in it.
        return tuple(
            row.id.removeprefix(service + ".") for kind in kinds for row in self.items.get(kind, ())
        )


def _ours_last(rows: Iterable[_Made], origin: Callable[[_Made], str]) -> tuple[_Made, ...]:
    """Put the parish's own before ours, where the first that holds wins."""
    return tuple(sorted(rows, key=lambda row: origin(row) == OURS))


# Names in one table that must stand in another.
_NAMED = (
    ("movable", "rank", "rank"),
    ("feast", "rank", "rank"),
    ("item", "service", "service"),
    ("shape", "service", "service"),
    ("serve", "service", "service"),
    ("habit", "service", "service"),
    ("day", "service", "service"),
    ("day", "rank", "rank"),
    ("decision", "service", "service"),
    ("answer", "service", "service"),
    ("by_tone", "item", "item"),
    ("proper", "item", "item"),
    ("pentecostarion", "practice", "practice"),
    ("practice", "eothina", "practice"),
)


def _read(overrides: tuple[Path, ...], problems: list[ChantError] | None) -> Almanac:
    """Read all rows; with a list for `problems`, note what is wrong there and read on."""
    rows = load_rows("chantwright.almanac", FILES, overrides=overrides, tables=FIELDS)

    def tell(error: ChantError) -> None:
        if problems is None:
            raise error
        problems.append(error)

    def each(table: str, make: Callable[[Row], _Made]) -> list[_Made]:
        made: list[_Made] = []
        for row in rows.get(table, {}).values():
            try:
                f.check_known(row, FIELDS[table])
                made.append(make(row))
            except ChantError as error:
                tell(error)
        return made

    for table, key, target in _NAMED:
        for row in rows.get(table, {}).values():
            name = row.get(key, "")
            if name and (not isinstance(name, str) or name not in rows[target]):
                known = ", ".join(rows[target])
                tell(row.error(f"“{key}” is “{name}”.", f"Write one of: {known}."))
    marks = _GENERAL_MARKS | {f"rank:{name}" for name in rows["rank"]}
    marks |= {f"{name}:weekday" for name in rows["season"]}
    marks |= {name for t in ("season", "movable", "feast", "sunday") for name in rows[t]}

    def conditional(
        table: str, make: Callable[[Row], _Made], when: Callable[[_Made], Condition]
    ) -> list[_Made]:
        """Read rows with conditions, whose marks must be known."""

        def checked(row: Row) -> _Made:
            one = make(row)
            condition = when(one)
            for mark in sorted((condition.on | condition.also | condition.not_on) - marks):
                raise row.error(
                    f"no day, feast or season is called “{mark}”.",
                    "Write a name from the tables season, movable, feast or sunday, a weekday, or "
                    "rank:L and the like.",
                )
            return one

        return each(table, checked)

    movables: dict[int, list[Movable]] = {}
    for movable in each("movable", read.movable):
        movables.setdefault(movable.offset, []).append(movable)
    items: dict[str, list[Row]] = {}
    for item in sorted(each("item", read.item), key=lambda row: int(row["order"])):
        items.setdefault(str(item["service"]), []).append(item)
    serves: dict[str, list[Serve]] = {}
    for serve in _ours_last(conditional("serve", read.serve, lambda s: s.when), lambda s: s.origin):
        serves.setdefault(serve.service, []).append(serve)
    days: dict[date, list[DayRow]] = {}
    for day in each("day", read.day):
        days.setdefault(day.date, []).append(day)
    return Almanac(
        seasons=tuple(each("season", read.season)),
        movables={k: tuple(v) for k, v in movables.items()},
        ranks={r.id: r for r in each("rank", read.rank)},
        feasts=tuple(each("feast", read.feast)),
        sundays=tuple(each("sunday", read.sunday)),
        practices={p.id: p for p in each("practice", read.practice)},
        eothina={e.number: e for e in each("eothinon", read.eothinon)},
        between={(r["practice"], r["offset"]): r for r in each("pentecostarion", read.between)},
        tone_names={r["tone"]: str(r["title"]) for r in each("tone_name", read.tone_name)},
        services={s.id: s for s in each("service", read.service)},
        serves={k: tuple(v) for k, v in serves.items()},
        # The last that holds wins; a parish's new rows stand after ours.
        habits=tuple(conditional("habit", read.habit, lambda h: h.when)),
        questions=tuple(conditional("question", read.question, lambda q: q.when)),
        points=tuple(sorted(each("point", read.point), key=lambda p: p.number)),
        divisions=_ours_last(
            conditional("division", read.division, lambda d: d.when), lambda d: d.row.origin
        ),
        verses=_ours_last(
            conditional("verses", read.verses, lambda v: v.when), lambda v: v.row.origin
        ),
        items={k: tuple(v) for k, v in items.items()},
        shapes={(r["day"], r["service"]): r for r in each("shape", read.shape)},
        by_tone={(r["item"], r["tone"]): r for r in each("by_tone", read.by_tone)},
        propers=tuple(conditional("proper", read.proper, lambda p: p.when)),
        katavasiae=_ours_last(
            conditional("katavasia", read.proper, lambda p: p.when), lambda p: p.row.origin
        ),
        days={k: tuple(v) for k, v in days.items()},
        decisions=tuple(one for many in each("decision", read.decision) for one in many),
        answers=tuple(each("answer", read.answer)),
        settings=dict(each("setting", read.setting)),
    )


_Stamp = tuple[Path, int, int]


@lru_cache(maxsize=8)
def _kept(stamps: tuple[_Stamp, ...]) -> Almanac:
    return _read(tuple(path for path, _, _ in stamps), None)


def _stamp(path: Path) -> _Stamp:
    """Name a state of a file: path, time of its last change, size."""
    try:
        state = path.stat()
    except OSError:
        return path, 0, 0  # reading it will say what is wrong
    return path, state.st_mtime_ns, state.st_size


def load_almanac(overrides: Iterable[Path] = ()) -> Almanac:
    """Read the almanac's rows and lay the parish's files over them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files, later ones winning. Tables that belong to other packages are left alone.

    Returns
    -------
    Almanac
        The same object until one of the files changes.

    Raises
    ------
    ChantError
        At the first row that cannot be right; it names the file and the line.
    """
    return _kept(tuple(_stamp(path) for path in overrides))


def check(overrides: Iterable[Path] = ()) -> tuple[ChantError, ...]:
    """Return all that is wrong in the almanac's rows and the parish's, in the trade's words."""
    problems: list[ChantError] = []
    _read(tuple(overrides), problems)
    return tuple(problems)
