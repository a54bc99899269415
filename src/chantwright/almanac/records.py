"""The records that the almanac's rows become.

Conventions: an *offset* counts days from Pascha; from 0 on it counts from the last Pascha, below 0
it counts to the coming one. Month and day of the parish's calendar are written ``MM-DD``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time

from chantwright.almanac.conditions import Condition
from chantwright.rows import Row

__all__ = [
    "AnswerRow",
    "DayRow",
    "Division",
    "Eothinon",
    "Feast",
    "FixedSunday",
    "Habit",
    "ItemRow",
    "Movable",
    "PointRow",
    "Practice",
    "Proper",
    "QuestionRow",
    "Rank",
    "Season",
    "Serve",
    "Service",
    "Verses",
]


@dataclass(frozen=True, slots=True)
class Season:
    """A stretch of the movable year and what rules in it."""

    id: str
    title: str
    start: int
    end: int
    tone: str  # count, daily, none
    tones: tuple[int, ...]
    counts: bool  # does the count go on beneath, although nothing of it is sung?
    why_tone: str
    eothinon: str  # cycle, table, none
    why_eothinon: str
    sung: tuple[bool, bool, bool]  # eothinon gospel, exaposteilarion, doxastikon
    week_from: int | None
    sunday_name: str
    weekday_name: str
    ask: str
    ask_weekday: str
    festal: bool  # do its weekdays take the festal order on a feast?
    origin: str


@dataclass(frozen=True, slots=True)
class Movable:
    """A named day that moves with Pascha."""

    id: str
    offset: int
    title: str
    rank: str
    hymns: str
    keeps_tone: bool
    practices: tuple[str, ...]
    after: int
    why: str
    ask: str
    origin: str


@dataclass(frozen=True, slots=True)
class Rank:
    """What a rank of feast does to the hymns of the tone."""

    id: str
    title: str
    hymns: str
    gospel: str
    ask: str
    festal: bool
    origin: str


@dataclass(frozen=True, slots=True)
class Feast:
    """A feast or saint on a fixed date of the parish's calendar."""

    id: str
    date: str
    title: str
    rank: str
    hymns: str
    fore: int
    after: int
    ask: str
    origin: str
    practices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FixedSunday:
    """A Sunday tied to a fixed date: the one from `start` to `end`, both included."""

    id: str
    start: str
    end: str
    title: str


@dataclass(frozen=True, slots=True)
class Practice:
    """A use, and whose list of eothina it follows between Pascha and Pentecost."""

    id: str
    title: str
    eothina: str
    note: str
    conf: str
    origin: str


@dataclass(frozen=True, slots=True)
class Eothinon:
    """One of the eleven: its gospel, and the tone of its doxastikon."""

    number: int
    gospel: str
    tone: int


@dataclass(frozen=True, slots=True)
class Service:
    """A service; `opens_day` when it opens the next liturgical day.

    `hour` and `minutes` say when it commonly begins and how long it lasts.
    """

    id: str
    title: str
    opens_day: bool
    aliases: tuple[str, ...]
    items_of: tuple[str, ...]
    ask: str
    note: str
    hour: time
    minutes: int


@dataclass(frozen=True, slots=True, eq=False)  # one for each row, so it can be a key
class Serve:
    """Whether a service is served on a day by the rule, and why (not).

    `joined_to` names services that take it up when they are served on the same civil day.
    """

    id: str
    service: str
    when: Condition
    served: bool
    why: str
    joined_to: tuple[str, ...]
    origin: str


@dataclass(frozen=True, slots=True)
class Habit:
    """What the parish itself serves: on which days, at which hour.

    `weekdays` are civil weekdays, 0 for Monday; empty for all.
    """

    id: str
    service: str
    when: Condition
    weekdays: frozenset[int]
    kept: bool
    hour: time | None
    minutes: int
    origin: str


@dataclass(frozen=True, slots=True)
class QuestionRow:
    """A question that the priest or the typikon must settle, asked where its conditions hold.

    `relations`: asked once for each feast that stands to the day in one of these relations.
    """

    id: str
    ask: str
    when: Condition
    services: tuple[str, ...]
    relations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PointRow:
    """One of the fourteen points: what it gathers.

    `values` are lines ``value: label``; `services` the services whose items it gathers; `items` the
    ends of their names; `tone_from` gathers by where the tone comes from; `asks` are beginnings of
    the keys of its questions.
    """

    id: str
    number: int
    title: str
    values: tuple[tuple[str, str], ...]
    services: tuple[str, ...]
    items: tuple[str, ...]
    tone_from: tuple[str, ...]
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Division:
    """How an item is made up on some days: a number and its parts, or parts in their order."""

    id: str
    items: tuple[str, ...]
    when: Condition
    total: int | None
    split: tuple[tuple[str, int], ...]
    order: tuple[str, ...]
    row: Row


@dataclass(frozen=True, slots=True)
class Verses:
    """Text and tone that an item has on some days."""

    id: str
    items: tuple[str, ...]
    when: Condition
    tone: int | None
    row: Row


@dataclass(frozen=True, slots=True)
class Proper:
    """A hymn that a day brings with it, or the katavasiae of a season."""

    id: str
    item: str
    hymn: str
    tone: int | None
    when: Condition
    row: Row


@dataclass(frozen=True, slots=True)
class DayRow:
    """What the parish or its priest decided for one liturgical day, or one service of it."""

    id: str
    date: date
    service: str
    title: str
    changes_tone: bool
    tone: int | None
    changes_eothinon: bool
    eothinon: int | None
    saint: str
    rank: str
    served: bool | None
    note: str
    ask: str
    by: str  # parish, priest
    confirmed: bool
    file: str


@dataclass(frozen=True, slots=True)
class ItemRow:
    """What the parish or its priest decided for one item: of one day, or always.

    `about` is one of ``tone``, ``number``, ``split``, ``file``, ``title``, ``note``, ``omitted``,
    ``added``; `value` its value as written.
    """

    service: str
    item: str
    about: str
    value: str
    by: str  # parish, priest
    date: date | None = None
    file: str = ""


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """The parish's or the priest's answer to an open question, by its key; `date` None: always."""

    key: str
    answer: str
    by: str
    date: date | None = None
    service: str = ""
    file: str = ""
