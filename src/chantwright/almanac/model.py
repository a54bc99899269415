"""What the almanac says of one service, as plain records.

Conventions: `civil_date` is the day on which the service is sung, `liturgical_date` the civil date
of the liturgical day it belongs to. Tones are 1 to 8, eothina 1 to 11; None means that none is
sung. Everything is a proposal until the priest confirms it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

__all__ = ["FeastDay", "Reason", "ServiceDay", "SungItem"]


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a value is what it is.

    Attributes
    ----------
    value : str
        What it speaks of: ``day``, ``tone``, ``eothinon``, ``evening``.
    sentence : str
        The reason in the trade's words.
    layer : str
        Who says so: ``computed``, ``parish`` or ``priest``.
    """

    value: str
    sentence: str
    layer: str = "computed"


@dataclass(frozen=True, slots=True)
class FeastDay:
    """A feast that touches the day; `relation` says how (day, forefeast, afterfeast ...)."""

    id: str
    title: str
    rank: str
    relation: str = "day"

    def __str__(self) -> str:
        return self.title if self.relation == "day" else f"{self.relation} of {self.title}"


@dataclass(frozen=True, slots=True)
class ServiceDay:
    """One service on one date, with its tone, eothinon and the reasons.

    Attributes
    ----------
    service, title : str
        Short name (``great-vespers``) and full name.
    civil_date, liturgical_date : date
        When it is sung, and the day it belongs to.
    calendar, practice : str
        Calendar and use it was reckoned for.
    style_date : str
        The liturgical day in the parish's own calendar, ``YYYY-MM-DD``.
    day_name, season : str
        Name of the liturgical day and of the season.
    tone, nominal_tone : int or None
        What is sung, and what the count gives.
    eothinon, nominal_eothinon : int or None
        The same for the eothinon.
    eothinon_gospel, eothinon_exaposteilarion, eothinon_doxastikon : bool
        Whether the gospel, exaposteilarion and doxastikon of that eothinon stand at their place.
    hymns : str
        ``tone`` (the hymns of the tone lead), ``mixed``, ``feast`` (nothing of the tone is sung).
    feasts : tuple of FeastDay
    since, until : date or None
        First and last civil day with this count; it opens on the evening before `since`.
    marks : tuple of str
        Names of season, days and feasts that hold (for looking up proper hymns).
    reasons : tuple of Reason
    open_questions : tuple of str
        What only the priest or the typikon can settle.
    confirmed : bool
        False: computed, to be confirmed by the priest.
    """

    service: str
    title: str
    civil_date: date
    liturgical_date: date
    calendar: str
    practice: str
    style_date: str
    day_name: str
    season: str
    tone: int | None
    nominal_tone: int | None
    eothinon: int | None
    nominal_eothinon: int | None
    eothinon_gospel: bool
    eothinon_exaposteilarion: bool
    eothinon_doxastikon: bool
    hymns: str
    feasts: tuple[FeastDay, ...]
    since: date | None
    until: date | None
    marks: tuple[str, ...]
    reasons: tuple[Reason, ...]
    open_questions: tuple[str, ...]
    confirmed: bool = False


@dataclass(frozen=True, slots=True)
class SungItem:
    """One thing sung or read in a service.

    Attributes
    ----------
    id, title : str
    psalm_lxx, psalm_kjv : str
        Reference by the Greek and by the King James numbering; empty without a psalm.
    tone : int or None
        None where it is read, free, or named only by the book of the day.
    tone_from : str
        week, eothinon, fixed, saint, feast, katavasia, local or read.
    reason : str
        Why it has this tone, or none.
    also : tuple of str
        Hymns of the feast that are added here.
    note : str
        What a chanter should know.
    conf, basis, origin : str
        How sure we are; where it comes from; ``chantwright`` or ``parish``.
    """

    id: str
    title: str
    psalm_lxx: str
    psalm_kjv: str
    tone: int | None
    tone_from: str
    reason: str
    also: tuple[str, ...]
    note: str
    conf: str
    basis: str
    origin: str
