"""The parish's and the priest's word laid over a computed service.

Conventions: the parish's rows first, then the priest's; a row for one service after a row for the
whole day. A later one wins, and every change says what stood before. Nothing computed is lost: the
counts (`nominal_tone`, `nominal_eothinon`) stay.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from pathlib import Path

from chantwright.almanac.conditions import Standing
from chantwright.almanac.count import place
from chantwright.almanac.knowledge import Almanac, load_almanac
from chantwright.almanac.model import FeastDay, Question, Reason, ServiceDay
from chantwright.almanac.questions import answered
from chantwright.almanac.reading import HYMNS, parts_of
from chantwright.almanac.records import AnswerRow, DayRow, ItemRow, Serve
from chantwright.almanac.served import by_rule
from chantwright.errors import ChantError, Where

__all__ = ["decide", "lay_over"]

_HIGHEST = {"tone": 8, "eothinon": 11}
_ON_DAYS = ("tone", "eothinon", "day", "saint", "note", "served", "cancelled", "confirmed")
_ON_ITEMS = ("tone", "number", "split", "file", "title", "note", "omitted", "added")


def _named(value: int | None) -> str:
    return "none" if value is None else str(value)


def _set(value: str, who: str, to: int | None, was: int | None, by: str, layer: str) -> Reason:
    """Say what was set, and where it parts from what stood before."""
    told = f"as {by} gives it" if to == was else f"where {by} gives {_named(was)}"
    return Reason(value, f"{who} sets {value} {_named(to)}, {told}.", layer)


def _with_saint(day: ServiceDay, row: DayRow, who: str, almanac: Almanac) -> ServiceDay:
    """Add the saint or feast that a row names for the day."""
    before = day
    rank = almanac.ranks.get(row.rank)
    kept = FeastDay(f"saint-of-{row.date}", row.saint, row.rank, "day", row.by)
    said = [*day.reasons, Reason("saint", f"{who} names {row.saint} for this day.", row.by)]
    leads = min(day.hymns, rank.hymns, key=HYMNS.index) if rank else day.hymns
    marks = [*day.marks, "saint-given", *([f"rank:{row.rank}"] if rank else [])]
    # Some seasons keep their own order, whoever is kept on the day.
    own_order = {s.id for s in almanac.seasons if not s.festal} & set(day.marks)
    if rank and rank.festal and "sunday" not in marks and not own_order:
        marks.append("festal")
    day = replace(
        day,
        feasts=(kept, *(x for x in day.feasts if x.id != kept.id)),
        hymns=leads,
        marks=(*(m for m in marks if m != f"hymns:{day.hymns}"), f"hymns:{leads}"),
        reasons=tuple(said),
    )
    if leads == "feast" and day.tone is not None:
        day = replace(
            day,
            tone=None,
            eothinon=None,
            eothinon_gospel=False,
            eothinon_exaposteilarion=False,
            eothinon_doxastikon=False,
            reasons=(
                *day.reasons,
                Reason("tone", f"{row.saint} has the whole service and hides the tone.", row.by),
            ),
        )
    named = [AnswerRow(key, row.saint, row.by) for key in ("saint", "saint-of-sunday")]
    return _judged_anew(replace(day, questions=answered(day.questions, named)), before, almanac)


def _judged_anew(day: ServiceDay, before: ServiceDay, almanac: Almanac) -> ServiceDay:
    """Say again whether a service is served, where another rule holds on a day with new marks."""

    def rule(of: ServiceDay) -> Serve | None:
        at = place(of.liturgical_date, of.calendar)
        own = of.style_date[-5:]
        there = Standing(frozenset(of.marks), at.offset, at.until, own, of.practice)
        return by_rule(almanac, of.service, there)

    was, now = rule(before), rule(day)
    # A service that another of the same day takes up stays taken up.
    if now is None or now is was or was is None or before.why_served != was.why:
        return day
    said = Reason("served", now.why, day.layer("saint"))
    return replace(day, served=now.served, why_served=now.why, reasons=(*day.reasons, said))


def _lay_rows(day: ServiceDay, rows: Iterable[DayRow], almanac: Almanac) -> ServiceDay:
    """Lay rows on the whole day or service over the computed values."""
    tone_by = eothinon_by = "the almanac"
    for row in sorted(rows, key=lambda r: (r.by == "priest", bool(r.service))):
        if row.date != day.liturgical_date or row.service not in ("", day.service):
            continue
        who = "The priest" if row.by == "priest" else f"The parish file {Path(row.file).name}"
        if row.saint:
            day = _with_saint(day, row, who, almanac)
        reasons = list(day.reasons)
        if row.changes_tone:
            reasons.append(_set("tone", who, row.tone, day.tone, tone_by, row.by))
            tone_by = who[0].lower() + who[1:]
            leads = "mixed" if row.tone and day.hymns == "feast" else day.hymns
            day = replace(day, tone=row.tone, hymns=leads)
        if row.changes_eothinon:
            reasons.append(_set("eothinon", who, row.eothinon, day.eothinon, eothinon_by, row.by))
            eothinon_by = who[0].lower() + who[1:]
            has, had = row.eothinon is not None, day.eothinon is not None
            day = replace(
                day,
                eothinon=row.eothinon,
                # An eothinon where there was none is named in order to be sung.
                eothinon_gospel=has and (day.eothinon_gospel or not had),
                eothinon_exaposteilarion=has and (day.eothinon_exaposteilarion or not had),
                eothinon_doxastikon=has and (day.eothinon_doxastikon or not had),
            )
        if row.served is not None:
            told = f"{who} has this service {'served' if row.served else 'taken out'}."
            reasons.append(Reason("served", told, row.by))
            # What was never to be served cannot be cancelled.
            out = not row.served and day.served and row.by == "priest"
            day = replace(
                day, served=row.served, why_served=told, cancelled=out or (
                    day.cancelled and not row.served
                )
            )  # fmt: skip
        if row.title:
            reasons.append(Reason("day", f"{who} names the day {row.title}.", row.by))
        if row.note:
            reasons.append(Reason("note", f"{who}: {row.note}", row.by))
        asks = day.questions
        if row.ask:
            asks = (*asks, Question(f"day.{row.id}", row.ask))
        day = replace(
            day,
            day_name=row.title or day.day_name,
            reasons=tuple(reasons),
            questions=asks,
            confirmed=day.confirmed or row.confirmed,
        )
    return day


def lay_over(day: ServiceDay, almanac: Almanac) -> ServiceDay:
    """Lay all that the parish's files say, for the parish and for the priest, over a service."""
    if rows := almanac.days.get(day.liturgical_date):
        day = _lay_rows(day, rows, almanac)
    if almanac.decisions:
        mine = [
            row
            for row in almanac.decisions
            if row.service == day.service and row.date in (None, day.liturgical_date)
        ]
        # A standing rule of the parish before one for this day, the priest's last.
        mine.sort(key=lambda row: (row.by == "priest", row.date is not None))
        day = replace(day, decisions=tuple(mine))
    if almanac.answers:
        given = [
            row
            for row in almanac.answers
            if row.date in (None, day.liturgical_date) and row.service in ("", day.service)
        ]
        day = replace(day, questions=answered(day.questions, given))
    return day


def _number(about: str, value: str, at: Where) -> int | None:
    if value.lower() == "none":
        return None
    number = int(value) if value.isascii() and value.isdecimal() else 0
    if not 1 <= number <= _HIGHEST[about]:
        raise ChantError(
            f"there is no {about} “{value}”.",
            where=at,
            remedy=f"Write a number from 1 to {_HIGHEST[about]}, or none.",
        )
    return number


def _yes(about: str, value: str, at: Where) -> bool:
    if value.lower() not in ("yes", "no"):
        raise ChantError(
            f"“{value}” is no answer to “{about}”.", where=at, remedy="Write yes or no."
        )
    return value.lower() == "yes"


def _check_confirmed(value: str, at: Where) -> bool:
    if value.lower() == "yes":
        return True
    try:
        date.fromisoformat(value)
    except ValueError:
        raise ChantError(
            f"“{value}” does not say when the priest confirmed.",
            where=at,
            remedy="Write yes, or the date: 2026-11-20.",
        ) from None
    return True


def _on_item(day: ServiceDay, words: list[str], value: str, at: Where, known: Almanac) -> ItemRow:
    """Read the priest's word on one item: ``item NAME WHAT: value``."""
    about = words[-1] if len(words) == 2 else ""
    if about not in _ON_ITEMS:
        raise ChantError(
            f"“item {' '.join(words)}” does not say what of the item is decided.",
            where=at,
            remedy=f"Write the item and one of: {', '.join(_ON_ITEMS)}.",
        )
    name = words[0]
    names = known.item_names(day.service)
    base = value.removeprefix("after ").strip() if about == "added" else name
    if base not in names and not any(
        row.item == base and row.about == "added" for row in day.decisions
    ):
        raise ChantError(
            f"this service has no item “{base}”.",
            where=at,
            remedy=f"Its items are: {', '.join(names)}.",
        )
    if about == "tone":
        value = _named(_number("tone", value, at))
    elif about == "number" and not (value.isascii() and value.isdecimal() and 0 < int(value) < 41):
        raise ChantError(
            f"“{value}” is no number of stichera.", where=at, remedy="Write a number such as 6."
        )
    elif about == "split":
        parts_of(value, at)
    elif about == "omitted":
        value = "yes" if _yes("omitted", value, at) else "no"
    elif about == "added" and not value.startswith("after "):
        raise ChantError(
            f"“{value}” does not say where the item stands.",
            where=at,
            remedy="Write after, and the item it follows: after aposticha.",
        )
    return ItemRow(day.service, name, about, value, "priest", day.liturgical_date, at.file)


def decide(
    day: ServiceDay,
    about: str,
    value: str,
    *,
    where: Where | None = None,
    overrides: Iterable[Path] = (),
) -> ServiceDay:
    """Lay one decision of the priest over a service.

    Parameters
    ----------
    day : ServiceDay
    about : str
        ``tone``, ``eothinon``, ``day`` (its name), ``saint``, ``note``, ``served``, ``cancelled``,
        ``confirmed``; ``answer KEY`` for an open question; ``item NAME WHAT`` for one item, WHAT
        being ``tone``, ``number``, ``split``, ``file``, ``title``, ``note``, ``omitted``,
        ``added``.
    value : str
        A number or ``none``; words; yes or no; for ``confirmed`` ``yes`` or the date on which he
        did; for ``split`` ``7 tone, 3 saint``; for ``added`` ``after`` and another item.
    where : Where, optional
        File and line it was read from.
    overrides : iterable of Path
        Parish files.

    Raises
    ------
    ChantError
        If there is no such thing to decide, no such question or item, no such tone or eothinon.
    """
    at = where or Where(word=about)
    almanac = load_almanac(overrides)
    first, *rest = about.split() or [""]
    if not value or (first in _ON_DAYS and rest) or first not in (*_ON_DAYS, "answer", "item"):
        raise ChantError(
            f"“{about}: {value}” is nothing the priest decides here.",
            where=at,
            remedy=f"Write one of {', '.join(_ON_DAYS)}, answer KEY or item NAME WHAT, a colon and "
            "the value.",
        )
    if first == "item":
        row = _on_item(day, rest, value, at, almanac)
        return replace(day, decisions=(*day.decisions, row))
    if first == "answer":
        key = " ".join(rest)
        keys = [q.key for q in day.questions]
        if key not in keys:
            raise ChantError(
                f"no question called “{key}” is asked of this service.",
                where=at,
                remedy=f"Its questions are: {', '.join(keys) or 'none'}.",
            )
        given = AnswerRow(key, value, "priest")
        return replace(day, questions=answered(day.questions, (given,)))
    said_served: bool | None = None
    if first in ("served", "cancelled"):
        said_served = _yes(first, value, at) is (first == "served")
    row_of_day = DayRow(
        id=f"priest-{first}",
        date=day.liturgical_date,
        service=day.service,
        title=value if first == "day" else "",
        changes_tone=first == "tone",
        tone=_number("tone", value, at) if first == "tone" else None,
        changes_eothinon=first == "eothinon",
        eothinon=_number("eothinon", value, at) if first == "eothinon" else None,
        saint=value if first == "saint" else "",
        rank="",
        served=said_served,
        note=value if first == "note" else "",
        ask="",
        by="priest",
        confirmed=first == "confirmed" and _check_confirmed(value, at),
        file=at.file,
    )
    return _lay_rows(day, (row_of_day,), almanac)
