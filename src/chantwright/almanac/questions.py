"""What only the priest or the typikon can settle, as questions with lasting keys.

Conventions: a key names the row that asks (``season.lent``, ``service.orthros``, ``saint``), and
after a colon the feast it asks about (``rank.T:dormition``). By its key a question is answered.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from chantwright.almanac.conditions import Standing
from chantwright.almanac.feastdays import Found
from chantwright.almanac.knowledge import Almanac
from chantwright.almanac.model import Question
from chantwright.almanac.records import AnswerRow, Season, Service

__all__ = ["answered", "asked"]


def asked(
    almanac: Almanac, season: Season, found: Found, service: Service, day: Standing
) -> tuple[Question, ...]:
    """Return the questions of a service on a day."""
    sunday = "sunday" in day.marks
    asks = {f"season.{season.id}": season.ask if sunday else season.ask_weekday}
    asks |= {f"movable.{m.id}": m.ask for m in found.movables}
    for feast in found.feasts:
        asks[f"feast.{feast.id}"] = feast.ask
        if sunday:
            told = almanac.ranks[feast.rank].ask.format(feast=feast.title)
            asks[f"rank.{feast.rank}:{feast.id}"] = told
    use = almanac.practices[day.practice].title
    for row in almanac.questions:
        if (row.services and service.id not in row.services) or not row.when.holds(day):
            continue
        if row.relations:
            for near in found.all:
                if near.relation in row.relations:
                    asks[f"{row.id}:{near.id}"] = row.ask.format(feast=near, practice=use)
        else:
            asks[row.id] = row.ask.format(practice=use, feast="")
    if sunday and found.hymns != "feast":
        asks[f"service.{service.id}"] = service.ask
    return tuple(Question(key, ask) for key, ask in asks.items() if ask)


def answered(questions: tuple[Question, ...], answers: Iterable[AnswerRow]) -> tuple[Question, ...]:
    """Lay answers over the questions they name; the priest's over the parish's."""
    by_key = {q.key: q for q in questions}
    for row in sorted(answers, key=lambda a: a.by == "priest"):
        if row.key in by_key:
            by_key[row.key] = replace(by_key[row.key], answer=row.answer, layer=row.by)
    return tuple(by_key.values())
