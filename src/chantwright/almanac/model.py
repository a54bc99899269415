"""What the almanac says of one service, as plain records.

Conventions: `civil_date` is the day on which the service is sung, `liturgical_date` the civil date
of the liturgical day it belongs to. Tones are 1 to 8, eothina 1 to 11; None means that none is
sung. Everything is a proposal until the priest confirms it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from chantwright.almanac.records import ItemRow

__all__ = ["FeastDay", "Question", "Reason", "ServiceDay", "SungItem"]


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
    """A feast that touches the day; `relation` says how (day, forefeast, afterfeast ...).

    `layer` is ``parish`` where a row of the parish gives it its day or rank.
    """

    id: str
    title: str
    rank: str
    relation: str = "day"
    layer: str = "computed"

    def __str__(self) -> str:
        return self.title if self.relation == "day" else f"{self.relation} of {self.title}"


@dataclass(frozen=True, slots=True)
class Question:
    """What only the priest or the typikon can settle.

    Attributes
    ----------
    key : str
        Short lasting name, by which it is answered: ``saint``, ``rank.T:dormition``.
    sentence : str
        The question.
    answer : str
        The answer; empty while it is open.
    layer : str
        Who answered: ``parish`` or ``priest``; ``computed`` while it is open.
    """

    key: str
    sentence: str
    answer: str = ""
    layer: str = "computed"


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
    questions : tuple of Question
        What only the priest or the typikon can settle, with the answers given.
    served : bool
        Whether the rule (or the parish, or the priest) has this service on this day at all.
    why_served : str
        Why it is served, or why not; empty where there is nothing to say.
    decisions : tuple of ItemRow
        What the parish, then the priest, decided for single items.
    confirmed : bool
        False: computed, to be confirmed by the priest.
    cancelled : bool
        True when the priest takes the service out.
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
    questions: tuple[Question, ...]
    served: bool = True
    why_served: str = ""
    decisions: tuple[ItemRow, ...] = ()
    confirmed: bool = False
    cancelled: bool = False

    @property
    def open_questions(self) -> tuple[str, ...]:
        """Sentences of the questions that nobody has answered yet."""
        return tuple(q.sentence for q in self.questions if not q.answer)

    def layer(self, value: str) -> str:
        """Return who has the last word on a value (``tone``, ``eothinon``, ``day`` ...)."""
        for reason in reversed(self.reasons):
            if reason.value == value and reason.layer != "computed":
                return reason.layer
        return "computed"

    def sure(self, value: str) -> bool:
        """Say whether the priest set a value, or confirmed the whole service."""
        return self.confirmed or self.layer(value) == "priest"


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
    kind : str
        Kind of hymn, as the tones' table of use names it, or ``plain``.
    total : int or None
        How many stichera or troparia there are; None where nothing is counted.
    split : tuple of (str, int)
        From which books they come: ``(("tone", 7), ("saint", 3))``.
    order : tuple of str
        Its parts in the order of singing, where it has several.
    file : str
        Hymn file that the parish or the priest names for it.
    layers : tuple of (str, str)
        For each value that somebody decided (``tone``, ``total``, ``split``, ``title``, ``file``,
        ``note``, ``added``): ``parish`` or ``priest``.
    confirmed : bool
        Whether the priest confirmed the service.
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
    kind: str = "plain"
    total: int | None = None
    split: tuple[tuple[str, int], ...] = ()
    order: tuple[str, ...] = ()
    file: str = ""
    layers: tuple[tuple[str, str], ...] = ()
    confirmed: bool = False

    def layer(self, value: str) -> str:
        """Return who has the last word on a value of this item."""
        return dict(self.layers).get(value, "computed")

    def sure(self, value: str) -> bool:
        """Say whether the priest set a value, or confirmed the whole service."""
        return self.confirmed or self.layer(value) == "priest"
