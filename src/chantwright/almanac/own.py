"""What the parish and the priest decide for single items, laid over the computed order.

Conventions: the parish's standing rules first, then its rules for the day, then the priest's. Each
value keeps who had the last word on it (`SungItem.layers`); nothing is taken out silently: what
was left out is told by `left_out`.
"""

from __future__ import annotations

from dataclasses import replace

from chantwright.almanac.model import ServiceDay, SungItem
from chantwright.almanac.reading import parts_of
from chantwright.almanac.records import ItemRow
from chantwright.errors import Where
from chantwright.rows import PARISH, Row

__all__ = ["decided_items", "layers_of_row", "left_out", "short_name"]

_FIELDS = {
    "title": "title",
    "note": "note",
    "kind": "kind",
    "order": "place",
    "psalm_lxx": "psalm_lxx",
    "psalm_kjv": "psalm_kjv",
}


def layers_of_row(row: Row) -> dict[str, str]:
    """Return which values of an item a row of the parish gave."""
    if row.origin != PARISH:
        return {}
    return {value: PARISH for field, value in _FIELDS.items() if field in row.own_fields}


def short_name(day: ServiceDay, item: SungItem) -> str:
    """Return an item's name inside its own service's plan."""
    return item.id.removeprefix(day.service + ".")


def left_out(day: ServiceDay) -> dict[str, str]:
    """Return the items that somebody had left out, by short name, and who."""
    out: dict[str, str] = {}
    for row in day.decisions:
        if row.about == "omitted":
            out.pop(row.item, None)
            if row.value == "yes":
                out[row.item] = row.by
    return out


def _who(row: ItemRow) -> str:
    return "The priest" if row.by == "priest" else "The parish"


def _laid(item: SungItem, row: ItemRow) -> SungItem:
    """Lay one decision over an item."""
    layers = {**dict(item.layers), row.about: row.by}
    if row.about == "tone":
        to = None if row.value == "none" else int(row.value)
        was = f"tone {item.tone}" if item.tone else "no tone"
        told = "as it stood" if to == item.tone else f"where {was} stood"
        reason = f"{_who(row)} sets tone {row.value}, {told}. {item.reason}"
        item = replace(item, tone=to, reason=reason)
    elif row.about == "number":
        layers = {**dict(item.layers), "total": row.by}
        total = int(row.value)
        keeps = sum(n for _, n in item.split) == total
        item = replace(item, total=total, split=item.split if keeps else ())
    elif row.about == "split":
        split = parts_of(row.value, Where(row.file, word=row.value))
        layers["total"] = row.by
        item = replace(item, split=split, total=sum(n for _, n in split))
    elif row.about == "title":
        item = replace(item, title=row.value)
    elif row.about == "note":
        item = replace(item, note=f"{item.note} {_who(row)}: {row.value}".strip())
    elif row.about == "file":
        item = replace(item, file=row.value)
    return replace(item, layers=tuple(layers.items()))


def _added(day: ServiceDay, row: ItemRow) -> SungItem:
    return SungItem(
        id=f"{day.service}.{row.item}",
        title=row.item.replace("-", " ").capitalize(),
        psalm_lxx="",
        psalm_kjv="",
        tone=None,
        tone_from="local",
        reason=f"Added by {_who(row).lower()}.",
        also=(),
        note="",
        conf="high",
        basis=_who(row),
        origin=PARISH,
        layers=(("added", row.by),),
        confirmed=day.confirmed,
    )


def decided_items(day: ServiceDay, sung: tuple[SungItem, ...]) -> tuple[SungItem, ...]:
    """Lay all decisions of a service over its items, in their order."""
    if not day.decisions:
        return sung
    done = list(sung)
    for row in day.decisions:
        names = [short_name(day, item) for item in done]
        if row.about == "added":
            if row.item not in names:
                after = row.value.removeprefix("after ").strip()
                place = names.index(after) + 1 if after in names else len(done)
                done.insert(place, _added(day, row))
        elif row.about != "omitted" and row.item in names:
            place = names.index(row.item)
            done[place] = _laid(done[place], row)
    out = left_out(day)
    return tuple(item for item in done if short_name(day, item) not in out)
