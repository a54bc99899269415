"""The almanac's answer for reading: a page of plain text, and one JSON document.

Conventions: text lines are at most 88 characters; dates are civil. The JSON keys are listed in
docs/almanac.md; `to_json` gives no others.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Any

from chantwright.almanac.dates import WEEKDAYS, long_date, short_date
from chantwright.almanac.items import items
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import Question, Reason, ServiceDay, SungItem

__all__ = ["text", "to_json"]

_WIDTH = 88
_ITEM_VALUES = ("title", "tone", "total", "split", "order", "note", "file", "added")
_CALENDARS = {
    "new": "New calendar",
    "old": "Old calendar",
    "gregorian": "Gregorian calendar and Pascha",
}


def to_json(service_day: ServiceDay, overrides: Iterable[Path] = ()) -> dict[str, Any]:
    """Return one service as the JSON document of docs/almanac.md.

    Parameters
    ----------
    service_day : ServiceDay
    overrides : iterable of Path
        Parish files.

    Returns
    -------
    dict
        Only strings, numbers, booleans, None, lists and dicts.
    """
    d = service_day
    paths = tuple(overrides)
    almanac = load_almanac(paths)
    number = d.eothinon
    return {
        "service": d.service,
        "title": d.title,
        "civil_date": d.civil_date.isoformat(),
        "liturgical_date": d.liturgical_date.isoformat(),
        "calendar": d.calendar,
        "calendar_date": d.style_date,
        "practice": d.practice,
        "day": d.day_name,
        "season": d.season,
        "feasts": [
            {
                "id": x.id,
                "title": x.title,
                "rank": x.rank,
                "relation": x.relation,
                "layer": x.layer,
            }
            for x in d.feasts
        ],
        "served": d.served,
        "why_served": d.why_served,
        "cancelled": d.cancelled,
        "tone": d.tone,
        "nominal_tone": d.nominal_tone,
        "tone_name": almanac.tone_names[d.tone] if d.tone else None,
        "since": d.since.isoformat() if d.since else None,
        "until": d.until.isoformat() if d.until else None,
        "hymns": d.hymns,
        "eothinon": number,
        "nominal_eothinon": d.nominal_eothinon,
        "eothinon_gospel": almanac.eothina[number].gospel if number else None,
        "eothinon_sung": {
            "gospel": d.eothinon_gospel,
            "exaposteilarion": d.eothinon_exaposteilarion,
            "doxastikon": d.eothinon_doxastikon,
        },
        "reasons": [r.sentence for r in d.reasons],
        "layers": [{"value": r.value, "layer": r.layer} for r in d.reasons],
        "values": {
            name: {"layer": d.layer(name), "confirmed": d.sure(name)}
            for name in ("day", "saint", "hymns", "tone", "eothinon", "served")
        },
        "confirmed": d.confirmed,
        "open_questions": list(d.open_questions),
        "questions": [
            {"key": q.key, "sentence": q.sentence, "answer": q.answer, "layer": q.layer}
            for q in d.questions
        ],
        "decisions": [
            {"item": r.item, "about": r.about, "value": r.value, "layer": r.by} for r in d.decisions
        ],
        "items": [_item_json(i) for i in items(d, paths)],
    }


def _item_json(i: SungItem) -> dict[str, Any]:
    return {
        "id": i.id,
        "title": i.title,
        "psalm_lxx": i.psalm_lxx,
        "psalm_kjv": i.psalm_kjv,
        "tone": i.tone,
        "tone_from": i.tone_from,
        "reason": i.reason,
        "also": list(i.also),
        "note": i.note,
        "conf": i.conf,
        "basis": i.basis,
        "origin": i.origin,
        "kind": i.kind,
        "total": i.total,
        "split": [{"of": name, "number": number} for name, number in i.split],
        "order": list(i.order),
        "file": i.file,
        "item_layers": {
            name: {"layer": i.layer(name), "confirmed": i.sure(name)} for name in _ITEM_VALUES
        },
    }


def told(day: ServiceDay) -> list[Reason]:
    """Reasons worth a chanter's time: that a service is served as usual needs no sentence."""
    return [r for r in day.reasons if r.value != "served" or r.layer != "computed"]


def _wrapped(words: str, first: str = "  ", then: str = "  ") -> list[str]:
    return textwrap.wrap(
        words,
        _WIDTH,
        initial_indent=first,
        subsequent_indent=then,
        break_on_hyphens=False,
    )


def _head(day: ServiceDay, almanac: Almanac) -> list[str]:
    """Name, calendar, tone and eothinon of a liturgical day."""
    title = f"{long_date(day.liturgical_date)}: {day.day_name}"
    calendar = _CALENDARS[day.calendar]
    if day.calendar == "old":
        calendar += f" ({day.style_date})"
    state = (
        "Confirmed by the priest." if day.confirmed else "A proposal until the priest confirms it."
    )
    lines = [
        *_wrapped(title, "", "  "),
        *_wrapped(f"{calendar}, {almanac.practices[day.practice].title}. {state}", "", "  "),
    ]
    lines.append("")
    if day.tone:
        lines.append(almanac.tone_title(day.tone).upper())
    elif day.nominal_tone:
        lines.append(f"NO TONE IS SUNG (beneath it the count stands at tone {day.nominal_tone})")
    else:
        lines.append("NO TONE OF THE WEEK")
    if day.tone and day.since and day.until and day.tone == day.nominal_tone:
        eve = day.since - timedelta(1)
        lines.append(
            f"  from {WEEKDAYS[eve.weekday()]} evening, {short_date(eve)}, "
            f"to {long_date(day.until)} before Vespers"
        )
    if number := day.eothinon:
        gospel = almanac.eothina[number]
        lines.append(f"EOTHINON {number}: {gospel.gospel}")
        parts = {
            "gospel": day.eothinon_gospel,
            "exaposteilarion": day.eothinon_exaposteilarion,
            f"doxastikon (tone {gospel.tone})": day.eothinon_doxastikon,
        }
        own = [part for part, yes in parts.items() if yes]
        given = [part for part, yes in parts.items() if not yes]
        if own:
            lines.append(f"  its own at Orthros: {', '.join(own)}")
        if given:
            lines.append(f"  given way to the day's: {', '.join(given)}")
    elif day.liturgical_date.weekday() == 6:
        lines.append("NO EOTHINON")
    if touching := [str(x) for x in day.feasts if x.relation != "day"]:
        lines += _wrapped("also: " + ", ".join(touching))
    return lines


def _item_lines(number: int, item: SungItem) -> list[str]:
    tone = (
        f"tone {item.tone}"
        if item.tone
        else {"read": "read", "local": "local"}.get(item.tone_from, "book")
    )
    why = item.tone_from if item.tone else ""
    psalm = ""
    if item.psalm_kjv:
        same = item.psalm_lxx in ("", item.psalm_kjv)
        psalm = item.psalm_kjv if same else f"{item.psalm_kjv} (Greek {item.psalm_lxx})"
        psalm = psalm if psalm[0].isalpha() else f"Ps {psalm}"
    mark = " *" if item.tone and item.conf == "low" else ""
    lines = _wrapped(item.title + mark, f"{number:3}  {tone:6} {why:9} ", " " * 22)
    if psalm:
        lines += _wrapped(psalm, " " * 22, " " * 22)
    if item.total is not None:
        split = " + ".join(f"{n} {name}" for name, n in item.split)
        lines += _wrapped(f"{item.total}: {split}" if split else f"{item.total}", *[" " * 22] * 2)
    for part in item.order:
        lines += _wrapped("· " + part, " " * 22, " " * 24)
    for also in item.also:
        lines += _wrapped("and " + also, " " * 22, " " * 22)
    if said := [f"{value} by the {layer}" for value, layer in item.layers]:
        lines += _wrapped("(" + ", ".join(said) + ")", " " * 22, " " * 22)
    return lines


def _service_lines(
    day: ServiceDay, first: ServiceDay, listed: Sequence[SungItem], almanac: Almanac
) -> list[str]:
    """Head of one service and its items."""
    evening = almanac.services[day.service].opens_day
    lines = [
        "",
        f"{day.title.upper()}, {long_date(day.civil_date)}{', evening' if evening else ''}",
    ]
    if (day.tone, day.eothinon) != (first.tone, first.eothinon):
        told = almanac.tone_title(day.tone) if day.tone else "no tone"
        lines.append(f"  for this service: {told}, eothinon {day.eothinon or 'none'}")
    if day.cancelled:
        lines += _wrapped("TAKEN OUT: " + day.why_served)
    elif not day.served:
        lines += _wrapped("NOT SERVED: " + day.why_served)
    for number, item in enumerate(listed, start=1):
        lines += _item_lines(number, item)
    if not listed and day.served:
        lines.append("  The order of this service stands in the books of the day.")
    return lines


def _question_lines(questions: Sequence[Question]) -> list[str]:
    """What is still to be asked, and what was answered."""
    lines: list[str] = []
    if asks := {q.key: q.sentence for q in questions if not q.answer}:
        lines += ["", "To ask the priest (the word in brackets is the key of the answer)"]
        for key, ask in asks.items():
            lines += _wrapped(f"{ask} [{key}]", "  - ", "    ")
    if given := {q.key: q for q in questions if q.answer}:
        lines += ["", "Answered"]
        for question in given.values():
            told = f"{question.sentence} {question.answer} ({question.layer})"
            lines += _wrapped(told, "  - ", "    ")
    return lines


def text(service_days: Sequence[ServiceDay], overrides: Iterable[Path] = ()) -> str:
    """Return what a chanter needs for these services, as plain text.

    Parameters
    ----------
    service_days : sequence of ServiceDay
        From `week` or `service_days`.
    overrides : iterable of Path
        Parish files.

    Returns
    -------
    str
        Lines of at most 88 characters, ending with a newline.
    """
    paths = tuple(overrides)
    almanac = load_almanac(paths)
    lines: list[str] = []
    for liturgical in dict.fromkeys(d.liturgical_date for d in service_days):
        days = [d for d in service_days if d.liturgical_date == liturgical]
        lines += [*_head(days[0], almanac), "", "Why"]
        for sentence in dict.fromkeys(r.sentence for d in days for r in told(d)):
            lines += _wrapped(sentence, "  - ", "    ")
        sung = [(day, items(day, paths)) for day in days]
        for day, listed in sung:
            lines += _service_lines(day, days[0], listed, almanac)
        low = any(i.tone and i.conf == "low" for _, listed in sung for i in listed)
        if low:
            lines += ["", "* a tone we are not sure of; ask an experienced chanter."]
        lines += _question_lines([q for d in days for q in d.questions])
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"
