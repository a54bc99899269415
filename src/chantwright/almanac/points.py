"""What a chanter must know of a service: fourteen points, each value with who says it.

Conventions: the three layers are ``computed``, ``parish`` (the parish's table) and ``priest`` (his
decision for the day or the service). A value is confirmed when the priest set it or confirmed the
service. What the almanac cannot know is an open question under its point, never a guess. What a
point gathers, its labels and its questions stand in the data (``[[point]]``, ``[[question]]``).

References: common practice of the stand; each item names its own source in the data.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from chantwright.almanac.dates import long_date, short_date
from chantwright.almanac.items import items
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import ServiceDay, SungItem
from chantwright.almanac.records import PointRow

__all__ = ["Known", "Point", "points", "points_json", "points_text"]

Value = str | int | bool | None


@dataclass(frozen=True, slots=True)
class Known:
    """One value: what it is, who says so, and whether the priest confirmed it."""

    name: str
    value: Value
    layer: str = "computed"
    confirmed: bool = False


@dataclass(frozen=True, slots=True)
class Point:
    """One of the fourteen points; `asks` are its open questions, `keys` their keys."""

    number: int
    title: str
    known: tuple[Known, ...]
    asks: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a point looks at."""

    day: ServiceDay
    almanac: Almanac
    sung: tuple[SungItem, ...]


def _feasts(seen: _Seen, label: str) -> list[Known]:
    ranks = seen.almanac.ranks
    return [
        Known(
            label,
            f"{x}, {ranks[x.rank].title}" if x.rank in ranks else str(x),
            x.layer,
            seen.day.confirmed or x.layer == "priest",
        )
        for x in seen.day.feasts
    ]


def _reasons(seen: _Seen, label: str) -> list[Known]:
    return [
        Known(label, r.sentence, r.layer, seen.day.confirmed or r.layer == "priest")
        for r in seen.day.reasons
        if r.value in ("tone", "hymns", "evening")
    ]


def _decisions(seen: _Seen, label: str) -> list[Known]:
    said = [
        Known(f"{label} on {r.value}", r.sentence, r.layer, r.layer == "priest")
        for r in seen.day.reasons
        if r.layer != "computed"
    ]
    return said + [
        Known(f"{label} on {row.item}", f"{row.about}: {row.value}", row.by, row.by == "priest")
        for row in seen.day.decisions
    ]


def _answers(seen: _Seen, label: str) -> list[Known]:
    return [
        Known(f"{label} to {q.key}", f"{q.sentence} {q.answer}", q.layer, q.layer == "priest")
        for q in seen.day.questions
        if q.answer
    ]


_MANY: dict[str, Callable[[_Seen, str], list[Known]]] = {
    "feasts": _feasts,
    "reasons": _reasons,
    "decisions": _decisions,
    "answers": _answers,
}


def _one(seen: _Seen, name: str) -> tuple[Value, str, bool]:
    """Return a value of the day, its layer, and whether it is sure."""
    day, almanac = seen.day, seen.almanac
    row = almanac.eothina[day.eothinon] if day.eothinon else None
    doxology = next((i for i in seen.sung if i.id == "orthros.great-doxology"), None)
    if name == "doxology_tone":
        if doxology is None or row is None:
            return None, "computed", False
        return doxology.tone, doxology.layer("tone"), doxology.sure("tone")
    values: dict[str, tuple[Value, str]] = {
        "title": (day.title, ""),
        "civil_date": (long_date(day.civil_date), ""),
        "liturgical_date": (long_date(day.liturgical_date), ""),
        "style_date": (day.style_date, ""),
        "calendar": (day.calendar, ""),
        "practice": (almanac.practice(day.practice).title, ""),
        "served": (day.served, "served"),
        "why_served": (day.why_served or None, "served"),
        "day": (day.day_name, "day"),
        "season": (day.season, ""),
        "hymns": (day.hymns, "hymns"),
        "tone": (almanac.tone_title(day.tone) if day.tone else None, "tone"),
        "nominal_tone": (day.nominal_tone, ""),
        "since": (short_date(day.since) if day.since else None, ""),
        "until": (short_date(day.until) if day.until else None, ""),
        "eothinon": (day.eothinon, "eothinon"),
        "nominal_eothinon": (day.nominal_eothinon, ""),
        "confirmed": (day.confirmed, ""),
        "cancelled": (day.cancelled, "served"),
    }
    if row is not None:
        gospel = row.gospel if day.eothinon_gospel else "of the feast"
        values |= {
            "gospel": (gospel, "eothinon"),
            "exaposteilarion": (day.eothinon_exaposteilarion, "eothinon"),
            "doxastikon": (day.eothinon_doxastikon, "eothinon"),
            "doxastikon_tone": (row.tone, "eothinon"),
        }
    value, about = values.get(name, (None, ""))
    layer = day.layer(about) if about else "computed"
    if name == "confirmed" and day.confirmed:
        layer = "priest"
    return value, layer, day.confirmed or layer == "priest"


# Values that say nothing where they are missing.
_UNLESS_MISSING = (
    "why_served", "since", "until", "gospel", "exaposteilarion", "doxastikon", "doxastikon_tone",
    "doxology_tone",
)  # fmt: skip


def _of_item(item: SungItem, day: ServiceDay) -> list[Known]:
    """Tell an item's tone, and beside it each further value with its own layer."""
    tone = f"tone {item.tone}" if item.tone else item.tone_from
    said = f"{tone}. {item.reason}"
    if item.also:
        said += " Also: " + " ".join(item.also)
    if item.note:
        said += f" {item.note}"
    known = [Known(item.title, said, item.layer("tone"), item.sure("tone"))]
    if item.total is not None:
        known.append(
            Known(f"{item.title}, how many", item.total, item.layer("total"), item.sure("total"))
        )
    if item.split:
        split = " and ".join(f"{n} of the {name}" for name, n in item.split)
        known.append(Known(f"{item.title}, split", split, item.layer("split"), item.sure("split")))
    if item.order:
        order = "; ".join(item.order)
        known.append(Known(f"{item.title}, order", order, item.layer("order"), item.sure("order")))
    if item.file:
        known.append(Known(f"{item.title}, file", item.file, item.layer("file"), day.confirmed))
    return known


def _belongs(item: SungItem, row: PointRow) -> bool:
    if row.tone_from:
        return item.tone_from in row.tone_from
    service, _, name = item.id.partition(".")
    if service not in row.services:
        return False
    # A name that is a list's word, or ends with it after a point (weekday.canon, bright.stichera).
    return any(name == end or name.endswith("." + end) for end in row.items)


def _point(row: PointRow, seen: _Seen, asks: dict[str, str]) -> Point:
    known: list[Known] = []
    for name, label in row.values:
        if name in _MANY:
            known += _MANY[name](seen, label)
            continue
        value, layer, sure = _one(seen, name)
        if value is not None or name not in _UNLESS_MISSING:
            known.append(Known(label, value, layer, sure))
    if row.services or row.tone_from:
        for item in seen.sung:
            if _belongs(item, row):
                known += _of_item(item, seen.day)
    return Point(row.number, row.title, tuple(known), tuple(asks.values()), tuple(asks))


def points(day: ServiceDay, overrides: Iterable[Path] = ()) -> tuple[Point, ...]:
    """Gather the fourteen points of a service.

    Parameters
    ----------
    day : ServiceDay
    overrides : iterable of Path
        Parish files.

    Returns
    -------
    tuple of Point
        Always fourteen; a point that this service has nothing of is empty.
    """
    paths = tuple(overrides)
    almanac = load_almanac(paths)
    seen = _Seen(day, almanac, items(day, paths))
    rows = almanac.points
    asks: dict[int, dict[str, str]] = {row.number: {} for row in rows}
    rest = next((row.number for row in rows if row.id == "local"), rows[-1].number)
    for question in day.questions:
        if question.answer:
            continue
        to = next(
            (row.number for row in rows if any(question.key.startswith(a) for a in row.asks)), rest
        )
        asks[to][question.key] = question.sentence
    if not day.confirmed and "confirmation" in rows[-1].asks:
        asks[rows[-1].number]["confirmation"] = "The priest has not yet confirmed this service."
    return tuple(_point(row, seen, asks[row.number]) for row in rows)


def points_json(day: ServiceDay, overrides: Iterable[Path] = ()) -> dict[str, Any]:
    """Return the fourteen points of a service as one JSON document."""
    return {
        "service": day.service,
        "civil_date": day.civil_date.isoformat(),
        "points": [
            {
                "number": point.number,
                "title": point.title,
                "known": [
                    {"name": k.name, "value": k.value, "layer": k.layer, "confirmed": k.confirmed}
                    for k in point.known
                ],
                "open_questions": [
                    {"key": key, "sentence": ask}
                    for key, ask in zip(point.keys, point.asks, strict=True)
                ],
            }
            for point in points(day, overrides)
        ],
    }


def _shown(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "none" if value is None else str(value)


def points_text(day: ServiceDay, overrides: Iterable[Path] = ()) -> str:
    """Return the fourteen points of a service as a page of plain text, 88 characters wide."""
    lines = [f"{day.title}, {long_date(day.civil_date)}"]
    for point in points(day, overrides):
        lines += ["", f"{point.number}. {point.title}"]
        for k in point.known:
            state = f"[{k.layer}{', confirmed' if k.confirmed else ''}]"
            lines += textwrap.wrap(
                f"{k.name}: {_shown(k.value)} {state}",
                88,
                initial_indent="   ",
                subsequent_indent="     ",
                break_on_hyphens=False,
            )
        for key, ask in zip(point.keys, point.asks, strict=True):
            lines += textwrap.wrap(
                f"To ask ({key}): {ask}", 88, initial_indent="   ? ", subsequent_indent="     "
            )
        if not point.known and not point.asks:
            lines.append("   Nothing of this in this service.")
    return "\n".join(lines) + "\n"
