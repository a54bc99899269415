"""What is sung in a service, in order, and the tone each thing has.

Conventions: an item takes its tone from the week, the eothinon, a fixed rule, the saint, the feast,
the katavasiae of the season, or local choice; some are read. `SungItem.tone` is None where the
books of the day, the priest or the parish decide. Sundays and weekdays have each an order of their
own; which saint a weekday has, and so most of its tones, stands in the book of the month. What the
parish and the priest decide for single items is laid over at the end (`chantwright.almanac.own`).

References: outlines of Great Vespers, Orthros and Divine Liturgy as each row names them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from chantwright.almanac.conditions import Standing
from chantwright.almanac.count import place
from chantwright.almanac.dates import ordinal
from chantwright.almanac.day import standing
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import ServiceDay, SungItem
from chantwright.almanac.own import decided_items, layers_of_row
from chantwright.almanac.records import Division, Proper, Verses
from chantwright.rows import PARISH, Row

__all__ = ["items", "psalm_kjv"]

_REASONS = {
    "week": "In the tone of the week.",
    "saint": "In the tone of the saint's own hymn; see the book of the month.",
    "feast": "In the tone of the feast's or season's own hymn; see the book.",
    "local": "A local choice of the parish.",
    "read": "Read, or chanted plainly.",
}


def psalm_kjv(lxx: int) -> str:
    """Return the King James number of a psalm of the Greek Bible.

    Parameters
    ----------
    lxx : int
        1 to 150.

    Returns
    -------
    str
        One number, or the two psalms or part of a psalm that it answers to.
    """
    special = {9: "9-10", 113: "114-115", 114: "116:1-9", 115: "116:10-19"}
    special |= {146: "147:1-11", 147: "147:12-20"}
    if lxx in special:
        return special[lxx]
    return str(lxx if lxx < 9 or lxx > 147 else lxx + 1)


@dataclass(frozen=True, slots=True)
class _Choice:
    """The tone of an item and why."""

    tone: int | None
    reason: str
    title: str = ""
    note: str = ""
    conf: str = ""
    basis: str = ""
    origin: str = ""


def _propers(item: Row, day: ServiceDay, at: Standing, almanac: Almanac) -> list[Proper]:
    """Return the hymns that the day brings to an item, in the order of the day's marks."""
    hymn = item.get("hymn", "")
    found = [
        row
        for row in almanac.propers
        if (row.item == item.id or (row.hymn and row.hymn == hymn)) and row.when.holds(at)
    ]
    # A feast on a fixed date comes after the name of the Sunday, unless it hides the Sunday.
    order = {mark: i for i, mark in enumerate(day.marks)}
    return sorted(
        found,
        key=lambda r: (
            min((order.get(m, 99) for m in r.when.on), default=0),
            not r.item,  # what is meant for this very item goes first
        ),
    )


def _feast_name(row: Proper, day: ServiceDay, almanac: Almanac) -> str:
    titles = {x.id: x.title for x in almanac.feasts}
    titles |= {m.id: m.title for many in almanac.movables.values() for m in many}
    for mark in day.marks:
        if mark in row.when.on and mark in titles:
            return titles[mark]
    return day.season


def _proper_choice(row: Proper, day: ServiceDay, almanac: Almanac) -> _Choice:
    name = _feast_name(row, day, almanac)
    told = "it has its own tone" if row.tone else "the books or the parish give the tone"
    return _Choice(
        row.tone,
        f"Proper to {name}; {told}.",
        row.row.get("title", ""),
        row.row.get("note", ""),
        row.row.conf,
        "; ".join(row.row.src),
        row.row.origin,
    )


def _from_eothinon(item: Row, day: ServiceDay, almanac: Almanac) -> _Choice:
    part = item.get("part", "")
    number = day.eothinon
    if part == "gospel":
        if number and day.eothinon_gospel:
            gospel = almanac.eothina[number].gospel
            return _Choice(
                None, f"The {ordinal(number)} of the eleven.", f"Morning gospel {number}: {gospel}"
            )
        return _Choice(
            None, "Not of the eleven: the gospel of the feast.", "Morning gospel of the feast"
        )
    if number and day.eothinon_doxastikon:
        tone = almanac.eothina[number].tone
        title = f"Glory: eothinon doxastikon {number}" if part == "doxastikon" else ""
        told = "" if part == "doxastikon" else ", and not in that of the week"
        return _Choice(
            tone, f"In the tone of the doxastikon of eothinon {number} (tone {tone}){told}.", title
        )
    if part == "doxastikon":
        return _Choice(
            None, "Of the feast or the Triodion, in its own tone.", "Glory at the Praises"
        )
    return _Choice(None, "In the tone of the Glory that is sung at the Praises this day.")


def _from_katavasia(at: Standing, almanac: Almanac) -> _Choice:
    for row in almanac.katavasiae:
        if row.when.holds(at):
            return _Choice(
                row.tone,
                f"With the katavasiae {row.row['title']}.",
                "",
                row.row.get("note", ""),
                row.row.conf,
                "; ".join(row.row.src),
                row.row.origin,
            )
    return _Choice(None, "The typikon names the katavasiae.")


def _verses(item: Row, at: Standing, almanac: Almanac) -> Verses | None:
    """Return the text and tone that the day or evening gives an item."""
    for row in almanac.verses:
        if item.id in row.items and row.when.holds(at):
            return row
    return None


def _divisions(
    item: Row, at: Standing, almanac: Almanac
) -> tuple[Division | None, Division | None]:
    """Return the rows that give an item its numbers and its order."""
    holding = [d for d in almanac.divisions if item.id in d.items and d.when.holds(at)]
    return (
        next((d for d in holding if d.total or d.split), None),
        next((d for d in holding if d.order), None),
    )


def _choose(item: Row, kind: str, day: ServiceDay, at: Standing, almanac: Almanac) -> _Choice:
    """Decide the tone of an item without the hymns that the day brings."""
    word, _, fixed = kind.partition(":")
    led = day.hymns == "feast"
    if (led and item.get("on_feast") == "all") or (word == "week" and (led or not day.tone)):
        return _Choice(None, "Of the feast: its book gives hymn and tone.")
    if word == "fixed":
        return _Choice(int(fixed), f"Commonly tone {fixed}, whatever the week.")
    if word == "eothinon" or item.get("part") == "gospel":
        return _from_eothinon(item, day, almanac)
    if word == "katavasia":
        return _from_katavasia(at, almanac)
    return _Choice(day.tone, _REASONS[word]) if word == "week" else _Choice(None, _REASONS[word])


def _sung(item: Row, day: ServiceDay, at: Standing, almanac: Almanac) -> SungItem:
    own = f"tone_from_{day.practice}"
    # A parish that sets the common field means it for its own use too.
    use_own = item.get(own) is not None and not (
        "tone_from" in item.own_fields and own not in item.own_fields
    )
    kind = str(item[own] if use_own else item["tone_from"])
    choice = _choose(item, kind, day, at, almanac)
    tone_from = kind.partition(":")[0]
    decided_here = "tone_from" in item.own_fields or own in item.own_fields
    propers = [] if decided_here else _propers(item, day, at, almanac)
    evening = None if decided_here else _verses(item, at, almanac)
    if evening is not None:
        choice = _Choice(
            evening.tone,
            "It goes by the evening on which it is sung."
            if evening.tone
            else "The book of the day gives text and tone.",
            evening.row.get("title", ""),
            evening.row.get("note", ""),
            evening.row.conf,
            "; ".join(evening.row.src),
            evening.row.origin,
        )
        tone_from = "fixed" if evening.tone else "feast"
    # The day's own hymn takes the place of a thing that belongs to the feast anyhow, and of all
    # where the feast leads; a row meant for this very item also that of a fixed or local thing.
    led = day.hymns == "feast" or tone_from == "feast"
    if propers and (led or (tone_from != "week" and propers[0].item == item.id)):
        choice = _proper_choice(propers.pop(0), day, almanac)
        tone_from = "local" if choice.tone is None and tone_from == "local" else "feast"
    also = tuple(
        f"{_feast_name(row, day, almanac)}: tone {row.tone}. {row.row.get('note', '')}".strip()
        for row in propers
        if row.tone and row.hymn and (item.get("joins") or kind == "feast")
    )
    title = choice.title or str(item["title"])
    if day.hymns == "feast" and not choice.title:
        title = str(item.get("feast_title", title))
    if item.get("part") == "exaposteilarion":
        if day.eothinon and day.eothinon_exaposteilarion:
            title = f"Exaposteilarion {day.eothinon} and its theotokion"
        else:
            title = "Exaposteilarion of the day"
            choice = _Choice(None, "Of the feast or season, not of the eothinon; see the book.")
            tone_from = "feast"
    by_tone = (
        almanac.by_tone.get((item.id, choice.tone)) if choice.tone and tone_from == "week" else None
    )
    own_psalm = evening is not None and evening.row.get("psalm_kjv")
    source = evening.row if evening is not None and own_psalm else by_tone or item
    note = " ".join(n for n in (str(item.get("note", "")), choice.note) if n)
    if own_text := day.hymns == "feast" and bool(item.get("on_feast")):
        note = "On this day the feast has its own text."
    counted, ordered = _divisions(item, at, almanac)
    layers = layers_of_row(item)
    if decided_here or choice.origin == PARISH:
        layers["tone"] = PARISH
    elif tone_from in ("week", "eothinon") or (day.hymns == "feast" and choice.tone is None):
        about = "eothinon" if tone_from == "eothinon" else "tone"
        layers |= {"tone": layer} if (layer := day.layer(about)) != "computed" else {}
    for name, row in (("total", counted), ("split", counted), ("order", ordered)):
        if row is not None and row.row.origin == PARISH:
            layers[name] = PARISH
    return SungItem(
        id=item.id,
        title=title,
        psalm_lxx="" if own_text else str(source.get("psalm_lxx", "")),
        psalm_kjv="" if own_text else str(source.get("psalm_kjv", "")),
        tone=choice.tone,
        tone_from=tone_from,
        reason="A parish rule. " + choice.reason if decided_here else choice.reason,
        also=also,
        note=note,
        conf=choice.conf or item.conf,
        basis=choice.basis or "; ".join(item.src),
        origin=choice.origin or item.origin,
        kind=str(item.get("kind", "plain")),
        total=counted.total if counted else None,
        split=counted.split if counted else (),
        order=ordered.order if ordered else (),
        layers=tuple(layers.items()),
        confirmed=day.confirmed,
    )


def _rows(day: ServiceDay, almanac: Almanac) -> list[Row]:
    """Return the rows of a service that hold on its day, in order."""
    sunday = place(day.liturgical_date, day.calendar).sunday
    kind = almanac.service(day.service)
    rows: list[Row] = []
    for name in kind.items_of or (kind.id,):
        shape = next(
            (s for m in day.marks if (s := almanac.shapes.get((m, name))) is not None), None
        )
        for row in almanac.items.get(name, ()):
            if bool(row.get("weekday")) is sunday:
                continue
            only = row.get("only_on", ())
            if only and not any(mark in day.marks for mark in only):
                continue
            if any(mark in day.marks for mark in row.get("not_on", ())):
                continue
            if shape is not None and not only and row.id not in shape["keep"]:
                continue
            rows.append(row)
    return rows


def items(service_day: ServiceDay, overrides: Iterable[Path] = ()) -> tuple[SungItem, ...]:
    """List what is sung in a service, in order, with the tone of each and why.

    Parameters
    ----------
    service_day : ServiceDay
        From `week`, `service_days` or `service_day`.
    overrides : iterable of Path
        Parish files; an ``[[item]]`` row there changes an item or adds one, a ``[[decision]]`` row
        decides one for a day or always.

    Returns
    -------
    tuple of SungItem
        Empty for a service that is not served on that day, and for services whose order is not
        known here.
    """
    if not service_day.served and not service_day.cancelled:
        return ()
    almanac = load_almanac(overrides)
    at = standing(service_day)
    sung = tuple(_sung(row, service_day, at, almanac) for row in _rows(service_day, almanac))
    return decided_items(service_day, sung)
