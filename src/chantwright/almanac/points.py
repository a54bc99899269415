"""What a chanter must know of a service: fourteen points, each value with who says it.

Conventions: the three layers are ``computed``, ``parish`` (the parish's table) and ``priest`` (his
decision for the day or the service). A value is confirmed when the priest set it or confirmed the
service. What the almanac cannot know is an open question under its point, never a guess.

References: common practice of the stand; each item names its own source in the data.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from chantwright.almanac.dates import long_date, short_date
from chantwright.almanac.items import items
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import ServiceDay, SungItem

__all__ = ["Known", "Point", "points", "points_json", "points_text"]

# Which items a point gathers, by the word in the item's name after its service.
_GATHERED = {
    5: ("Stichera at “Lord, I cry”", ("lord-i-cry", "stichera", "glory", "dogmatikon")),
    6: (
        "Entrance, prokeimenon, aposticha",
        ("gladsome-light", "prokeimenon", "readings", "litia", "aposticha", "aposticha-glory"),
    ),
    7: (
        "Apolytikia in their order",
        ("apolytikion", "apolytikia", "god-is-the-lord", "dismissal-apolytikion"),
    ),
    8: (
        "Sessional hymns and Psalm 50 (51)",
        ("kathismata", "amomos", "evlogetaria", "hypakoe", "psalm-50", "alleluia"),
    ),
    9: ("Canons and katavasiae", ("canon", "katavasiae", "magnificat", "holy-is-the-lord")),
    10: (
        "Praises and doxology",
        (
            "praises",
            "praises-stichera",
            "praises-glory",
            "most-blessed",
            "great-doxology",
            "doxology",
            "after-doxology",
        ),
    ),
    11: (
        "What changes at the Liturgy",
        (
            "antiphons",
            "third-antiphon",
            "entrance",
            "apolytikia",
            "kontakion",
            "trisagion",
            "prokeimenon",
            "alleluia",
            "truly-meet",
            "communion",
            "we-have-seen",
        ),
    ),
}
_ONLY = {5: "vespers", 6: "vespers", 8: "orthros", 9: "orthros", 10: "orthros", 11: "liturgy"}


@dataclass(frozen=True, slots=True)
class Known:
    """One value: what it is, who says so, and whether the priest confirmed it."""

    name: str
    value: str | int | bool | None
    layer: str = "computed"
    confirmed: bool = False


@dataclass(frozen=True, slots=True)
class Point:
    """One of the fourteen points; `asks` are its open questions."""

    number: int
    title: str
    known: tuple[Known, ...]
    asks: tuple[str, ...] = ()


def _layer(day: ServiceDay, name: str) -> str:
    """Return the last layer that set a value."""
    layers = [r.layer for r in day.reasons if r.value == name and r.layer != "computed"]
    return layers[-1] if layers else "computed"


def _of_item(item: SungItem, day: ServiceDay) -> Known:
    tone = f"tone {item.tone}" if item.tone else item.tone_from
    if item.tone_from == "week":
        layer = _layer(day, "tone")
    elif item.tone_from == "eothinon":
        layer = _layer(day, "eothinon")
    else:
        layer = "computed"
    if item.origin == "parish":
        layer = "parish"
    said = f"{tone}. {item.reason}"
    if item.also:
        said += " Also: " + " ".join(item.also)
    if item.note:
        said += f" {item.note}"
    return Known(item.title, said, layer, day.confirmed or layer == "priest")


def _eothinon(day: ServiceDay, almanac: Almanac, sung: tuple[SungItem, ...]) -> list[Known]:
    layer = _layer(day, "eothinon")
    sure = day.confirmed or layer == "priest"
    number = day.eothinon
    known = [
        Known("eothinon", number, layer, sure),
        Known("eothinon of the count", day.nominal_eothinon),
    ]
    if number is None:
        return known
    row = almanac.eothina[number]
    doxology = next((i for i in sung if i.id == "orthros.great-doxology"), None)
    known += [
        Known("gospel", row.gospel if day.eothinon_gospel else "of the feast", layer, sure),
        Known("exaposteilarion is sung", day.eothinon_exaposteilarion, layer, sure),
        Known("doxastikon is sung", day.eothinon_doxastikon, layer, sure),
        Known("tone of the doxastikon", row.tone, layer, sure),
    ]
    if doxology is not None:
        known.append(Known("tone of the Great Doxology", doxology.tone, layer, sure))
    return known


def _belongs(item: SungItem, number: int) -> bool:
    service, *rest = item.id.split(".")
    kind = _ONLY.get(number, "")
    return (kind in service) and rest[-1] in _GATHERED[number][1]


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
    sung = items(day, paths)

    def value(name: str, what: str | int | None, about: str = "-") -> Known:
        layer = _layer(day, about)
        return Known(name, what, layer, day.confirmed or layer == "priest")

    first = Point(
        1,
        "Service and dates",
        (
            value("service", day.title),
            value("sung on", long_date(day.civil_date)),
            value("belongs to", long_date(day.liturgical_date)),
            value("date in the parish's calendar", day.style_date),
            value("calendar", day.calendar),
            value("practice", almanac.practice(day.practice).title),
        ),
    )
    feasts = [
        Known("feast", f"{x}, {almanac.ranks[x.rank].title}" if x.rank in almanac.ranks else str(x))
        for x in day.feasts
    ]
    second = Point(
        2,
        "Day, feasts, season",
        (value("day", day.day_name, "day"), *feasts, value("season", day.season)),
    )
    reasons = tuple(
        Known("reason", r.sentence, r.layer, day.confirmed or r.layer == "priest")
        for r in day.reasons
        if r.value in ("tone", "evening")
    )
    span = (
        (
            Known("counted from", short_date(day.since)),
            Known("counted until", short_date(day.until)),
        )
        if day.since and day.until
        else ()
    )
    third = Point(
        3,
        "Tone",
        (
            value("tone", almanac.tone_title(day.tone) if day.tone else None, "tone"),
            value("tone of the count", day.nominal_tone),
            *span,
            *reasons,
        ),
    )
    fourth = Point(4, "Eothinon and what hangs on it", tuple(_eothinon(day, almanac, sung)))
    gathered = [
        Point(number, title, tuple(_of_item(i, day) for i in sung if _belongs(i, number)))
        for number, (title, _) in _GATHERED.items()
    ]
    special = Point(
        12,
        "Special acts",
        (),
        ("Kneeling, procession, blessing of loaves, memorial, veneration: is there any?",),
    )
    local = Point(
        13,
        "Local choices",
        tuple(_of_item(i, day) for i in sung if i.tone_from == "local"),
        tuple(day.open_questions),
    )
    decided = [r for r in day.reasons if r.layer != "computed"]
    state = Point(
        14,
        "Confirmation",
        (
            Known(
                "confirmed by the priest", day.confirmed, "priest" if day.confirmed else "computed"
            ),
            *(
                Known(f"decision on {r.value}", r.sentence, r.layer, r.layer == "priest")
                for r in decided
            ),
        ),
        () if day.confirmed else ("The priest has not yet confirmed this service.",),
    )
    return (first, second, third, fourth, *gathered, special, local, state)


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
                "open_questions": list(point.asks),
            }
            for point in points(day, overrides)
        ],
    }


def _shown(value: str | int | bool | None) -> str:
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
        for ask in point.asks:
            lines += textwrap.wrap(
                f"To ask: {ask}", 88, initial_indent="   ? ", subsequent_indent="     "
            )
        if not point.known and not point.asks:
            lines.append("   Nothing of this in this service.")
    return "\n".join(lines) + "\n"
