"""Data rows made into records, each field checked, so that a slip is told by its file and line."""

from __future__ import annotations

import re
from datetime import date, time

from chantwright.almanac import fields as f
from chantwright.almanac.conditions import CONDITION_FIELDS, Condition, read_condition
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
from chantwright.errors import ChantError, Where
from chantwright.rows import Row

__all__ = ["FIELDS", "HYMNS", "TONE_FROM", "parts_of"]

HYMNS = ("feast", "mixed", "tone")
TONE_FROM = ("week", "eothinon", "saint", "feast", "katavasia", "local", "read")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

_COMMON = frozenset({"id", "src", "conf", "note", "title"})
FIELDS: dict[str, frozenset[str]] = {
    table: _COMMON | frozenset(names.split())
    for table, names in {
        "season": "start end tone tones why_tone eothinon why_eothinon gospel exaposteilarion "
        "doxastikon week_from sunday_name weekday_name ask ask_weekday nominal festal",
        "movable": "offset rank hymns keeps_tone practices after why ask",
        "rank": "hymns gospel ask festal",
        "feast": "date rank hymns fore after ask practices",
        "sunday": "from to",
        "practice": "eothina",
        "eothinon": "number gospel tone",
        "pentecostarion": "practice offset eothinon",
        "tone_name": "tone",
        "service": "opens_day aliases items_of ask hour minutes",
        "serve": f"service served why joined_to {CONDITION_FIELDS}",
        "habit": f"service weekdays kept hour minutes {CONDITION_FIELDS}",
        "question": f"ask services relations {CONDITION_FIELDS}",
        "point": "number values services items tone_from asks",
        "division": f"items total split order {CONDITION_FIELDS}",
        "verses": f"items tone psalm_lxx psalm_kjv {CONDITION_FIELDS}",
        "item": "service order psalm_lxx psalm_kjv tone_from tone_from_greek tone_from_slavic "
        "tone_from_romanian hymn joins part on_feast feast_title not_on only_on optional weekday "
        "kind",
        "shape": "day service keep",
        "by_tone": "item tone psalm_lxx psalm_kjv",
        "proper": f"day item hymn tone {CONDITION_FIELDS}",
        "katavasia": f"day tone {CONDITION_FIELDS}",
        "day": "date service tone eothinon saint rank served ask by confirmed",
        "decision": "date service item tone number split file omitted after by",
        "answer": "date service question answer by",
        "setting": "value",
    }.items()
}
"""Every table of the almanac and the fields its rows may have."""


def season(row: Row) -> Season:
    """Read a season."""
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
        f.flag(row, "festal", True),
        row.origin,
    )


def movable(row: Row) -> Movable:
    """Read a day that moves with Pascha."""
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
        row.origin,
    )


def rank(row: Row) -> Rank:
    """Read a rank of feast."""
    return Rank(
        row.id,
        f.text(row, "title"),
        f.choice(row, "hymns", HYMNS),
        f.choice(row, "gospel", ("feast", "eothinon")),
        f.text(row, "ask", ""),
        f.flag(row, "festal"),
        row.origin,
    )


def feast(row: Row) -> Feast:
    """Read a feast on a fixed date."""
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
        f.names(row, "practices"),
    )


def sunday(row: Row) -> FixedSunday:
    """Read a Sunday tied to a fixed date."""
    return FixedSunday(
        row.id, f.month_day(row, "from"), f.month_day(row, "to"), f.text(row, "title")
    )


def practice(row: Row) -> Practice:
    """Read a use."""
    return Practice(
        row.id,
        f.text(row, "title"),
        f.text(row, "eothina"),
        f.text(row, "note", ""),
        row.conf,
        row.origin,
    )


def eothinon(row: Row) -> Eothinon:
    """Read one of the eleven."""
    return Eothinon(
        f.number(row, "number", 1, 11), f.text(row, "gospel"), f.number(row, "tone", 1, 8)
    )


def _hour(row: Row, default: str) -> time:
    value = row.get("hour", default)
    if isinstance(value, time):
        return value
    found = re.fullmatch(r"(\d\d?):(\d\d)", value) if isinstance(value, str) else None
    if found is None or int(found[1]) > 23 or int(found[2]) > 59:
        raise row.error(f"“hour” is {value!r}.", 'Write it like hour = "18:30".')
    return time(int(found[1]), int(found[2]))


def service(row: Row) -> Service:
    """Read a service."""
    return Service(
        row.id,
        f.text(row, "title"),
        f.flag(row, "opens_day"),
        f.names(row, "aliases"),
        f.names(row, "items_of"),
        f.text(row, "ask", ""),
        f.text(row, "note", ""),
        _hour(row, "18:00"),
        f.number(row, "minutes", 5, 720, 60),
    )


def serve(row: Row) -> Serve:
    """Read a rule on whether a service is served."""
    return Serve(
        row.id,
        f.text(row, "service"),
        read_condition(row),
        f.flag(row, "served"),
        f.text(row, "why"),
        f.names(row, "joined_to"),
        row.origin,
    )


def habit(row: Row) -> Habit:
    """Read what the parish itself serves."""
    days = f.names(row, "weekdays")
    for day in days:
        if day.lower() not in WEEKDAYS:
            raise row.error(f"“{day}” is no weekday.", "Write one like wednesday.")
    return Habit(
        row.id,
        f.text(row, "service"),
        read_condition(row),
        frozenset(WEEKDAYS.index(day.lower()) for day in days),
        f.flag(row, "kept", True),
        _hour(row, "") if row.get("hour") is not None else None,
        f.number(row, "minutes", 0, 720, 0),
        row.origin,
    )


def question(row: Row) -> QuestionRow:
    """Read an open question."""
    return QuestionRow(
        row.id,
        f.text(row, "ask"),
        read_condition(row),
        f.names(row, "services"),
        f.names(row, "relations"),
    )


def point(row: Row) -> PointRow:
    """Read one of the fourteen points."""
    values = []
    for line in f.names(row, "values"):
        value, colon, label = line.partition(":")
        if not colon or not label.strip():
            raise row.error(f"“{line}” names no label.", 'Write it like "tone: tone of the week".')
        values.append((value.strip(), label.strip()))
    return PointRow(
        row.id,
        f.number(row, "number", 1, 14),
        f.text(row, "title"),
        tuple(values),
        f.names(row, "services"),
        f.names(row, "items"),
        f.names(row, "tone_from"),
        f.names(row, "asks"),
    )


def parts_of(split: str, where: Where) -> tuple[tuple[str, int], ...]:
    """Read a split such as ``7 tone, 3 saint``."""
    found = []
    for word in split.split(","):
        number, _, name = word.strip().partition(" ")
        if not (number.isascii() and number.isdecimal() and 0 < int(number) < 41 and name.strip()):
            raise ChantError(
                f"“{word.strip()}” is no part of a split.",
                where=where,
                remedy="Write it like: 7 tone, 3 saint",
            )
        found.append((name.strip(), int(number)))
    return tuple(found)


def _parts(row: Row) -> tuple[tuple[str, int], ...]:
    words = f.names(row, "split")
    return parts_of(", ".join(words), row.where) if words else ()


def division(row: Row) -> Division:
    """Read how an item is made up."""
    total = f.number(row, "total", 1, 40) if row.get("total") is not None else None
    split = _parts(row)
    if total is not None and split and sum(n for _, n in split) != total:
        raise row.error(
            f"its parts come to {sum(n for _, n in split)}, not to {total}.",
            "Mend “total” or “split”.",
        )
    return Division(
        row.id, f.names(row, "items"), read_condition(row), total, split, f.names(row, "order"), row
    )


def verses(row: Row) -> Verses:
    """Read text and tone of an item on some days."""
    for key in ("title", "psalm_lxx", "psalm_kjv", "note"):
        f.text(row, key, "")
    return Verses(row.id, f.names(row, "items"), read_condition(row), f.tone(row), row)


def item(row: Row) -> Row:
    """Check an item; it stays a row, since the parish may lay single fields over it."""
    f.text(row, "title")
    f.text(row, "service")
    f.text(row, "kind", "plain")
    f.number(row, "order", 0, 10000)
    for key in ("tone_from", "tone_from_greek", "tone_from_slavic", "tone_from_romanian"):
        value = f.text(row, key, None if key == "tone_from" else "local")
        kind, _, fixed = value.partition(":")
        if value not in TONE_FROM and not (kind == "fixed" and fixed in tuple("12345678")):
            raise row.error(
                f"“{key}” is “{value}”.",
                "Write one of: " + ", ".join(TONE_FROM) + ", fixed:1 ... 8.",
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


def shape(row: Row) -> Row:
    """Check a day whose service has its own shape."""
    f.text(row, "day")
    f.text(row, "service")
    f.names(row, "keep")
    return row


def by_tone(row: Row) -> Row:
    """Check verses that go with a tone."""
    f.text(row, "item")
    f.number(row, "tone", 1, 8)
    return row


def tone_name(row: Row) -> Row:
    """Check a name of a tone."""
    f.text(row, "title")
    f.number(row, "tone", 1, 8)
    return row


def between(row: Row) -> Row:
    """Check a Sunday between Pascha and Pentecost."""
    f.text(row, "practice")
    f.number(row, "offset", 7, 48)
    f.number(row, "eothinon", 1, 11)
    return row


def setting(row: Row) -> tuple[str, str]:
    """Read a plain setting: its name and value."""
    return row.id, f.text(row, "value")


def proper(row: Row) -> Proper:
    """Read a proper or katavasia row: when it holds, and its tone."""
    days = frozenset(f.names(row, "day"))
    for key in ("title", "note", "hymn", "item"):
        f.text(row, key, "")
    when = read_condition(row)
    if when.bare and not days:
        raise row.error("it does not say when it holds.", 'Add a line like: day = ["thomas"].')
    if days:
        when = Condition(
            when.on | days, when.also, when.not_on, when.offsets, when.start, when.end,
            when.first, when.last, when.practices,
        )  # fmt: skip
    return Proper(row.id, row.get("item", ""), row.get("hymn", ""), f.tone(row), when, row)


def _date(row: Row) -> date:
    raw = row["date"]
    try:
        return raw if type(raw) is date else date.fromisoformat(str(raw))
    except ValueError:
        raise row.error(f"“date” is {raw!r}.", 'Write it like date = "2026-11-29".') from None


def day(row: Row) -> DayRow:
    """Read a decision on a liturgical day."""
    on = _date(row)
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
        on,
        f.text(row, "service", ""),
        f.text(row, "title", ""),
        "tone" in row.values,
        f.tone(row),
        "eothinon" in row.values,
        None if number in (None, "none") else f.number(row, "eothinon", 1, 11),
        f.text(row, "saint", ""),
        f.text(row, "rank", ""),
        f.flag(row, "served") if "served" in row.values else None,
        f.text(row, "note", ""),
        f.text(row, "ask", ""),
        by,
        confirmed,
        row.where.file,
    )


def decision(row: Row) -> tuple[ItemRow, ...]:
    """Read what is decided for one item; one record for each thing decided."""
    by = f.choice(row, "by", ("parish", "priest"), "parish")
    on = _date(row) if row.get("date") is not None else None
    said: list[tuple[str, str]] = []
    if row.get("tone") is not None:
        said.append(("tone", str(f.tone(row) or "none")))
    if row.get("number") is not None:
        said.append(("number", str(f.number(row, "number", 1, 40))))
    if split := _parts(row):
        said.append(("split", ", ".join(f"{n} {name}" for name, n in split)))
    if f.flag(row, "omitted"):
        said.append(("omitted", "yes"))
    if row.get("after") is not None:
        said.insert(0, ("added", "after " + f.text(row, "after")))
    said += [(key, value) for key in ("title", "file", "note") if (value := f.text(row, key, ""))]
    if not said:
        raise row.error("it decides nothing.", "Add tone, number, split, file, omitted or after.")
    service_name, name = f.text(row, "service"), f.text(row, "item")
    return tuple(
        ItemRow(service_name, name, about, value, by, on, row.where.file) for about, value in said
    )


def answer(row: Row) -> AnswerRow:
    """Read the answer to an open question."""
    return AnswerRow(
        f.text(row, "question"),
        f.text(row, "answer"),
        f.choice(row, "by", ("parish", "priest"), "parish"),
        _date(row) if row.get("date") is not None else None,
        f.text(row, "service", ""),
        row.where.file,
    )
