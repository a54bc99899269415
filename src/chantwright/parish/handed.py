"""Results that singers hand to the teacher: whose each is, and taken into the records once.

A result says in its ``detail`` whose it is (``singer``, a nickname or nothing) and of which hymn
(``title``). The practice pack names hymn files from the parish folder, the records from its
``hymns/``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from chantwright.errors import ChantError, Where
from chantwright.parish.practice import Rules, record
from chantwright.parish.records import Person, Result, persons, results_of

__all__ = ["Taken", "singer_named", "take_in"]

_HYMNS = "hymns/"


@dataclass(frozen=True, slots=True)
class Taken:
    """A result that was taken in, or that was known already.

    Attributes
    ----------
    who : Person
    result : Result
        As it stands in the records.
    is_new : bool
    """

    who: Person
    result: Result
    is_new: bool


def singer_named(people: tuple[Person, ...], nickname: str) -> Person:
    """Return the singer of a nickname, in capitals or not.

    Raises
    ------
    ChantError
        If there is none.
    """
    for one in people:
        if one.nickname.casefold() == nickname.casefold():
            return one
    names = ", ".join(p.nickname for p in people[:12])
    raise ChantError(
        f"there is no singer “{nickname}”.",
        remedy=f"There are: {names}." if names else "There is nobody in the records yet.",
    )


def _kept(result: Result) -> Result:
    return replace(result, hymn=result.hymn.removeprefix(_HYMNS))


def _mark(result: Result) -> tuple[object, ...]:
    return (_kept(result).hymn, result.sung, result.notes, result.wrong)


def take_in(
    session: Session,
    handed: Iterable[tuple[str, Result]],
    rules: Rules,
    who: Person | None = None,
    *,
    remedy: str = "Say whose it is.",
) -> tuple[Taken, ...]:
    """Take results into the records, and set the days on which their hymns are due again.

    Parameters
    ----------
    session : Session
        For writing; where one result is refused, nothing of it may be kept.
    handed : iterable of (str, Result)
        Each with the place it was read from, for errors.
    rules : Rules
        For the grade.
    who : Person, optional
        Whose they are; by default as each says.
    remedy : str
        What to do where one does not say.

    Returns
    -------
    tuple of Taken
        In the order of singing.

    Raises
    ------
    ChantError
        If one does not say whose it is, or there is no such singer.
    """
    people = persons(session)
    out = []
    for place, result in sorted(handed, key=lambda pair: _sung(pair[1])):
        name = str(result.detail.get("singer", ""))
        if who is None and not name:
            raise ChantError(
                f"this result of “{result.detail.get('title', '')}” does not say whose it is.",
                where=Where(place),
                remedy=remedy,
            )
        whose = who or singer_named(people, name)
        is_new = _mark(result) not in {_mark(r) for r in results_of(session, whose.id)}
        if is_new:
            record(session, whose.id, _kept(result), rules)
        out.append(Taken(whose, _kept(result), is_new))
    return tuple(out)


def _sung(result: Result) -> str:
    return result.sung.isoformat() if result.sung else ""
