"""What is sung on a weekend: plans against computed services, and every hymn made singable."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from chantwright import safefile
from chantwright.almanac import ServiceDay, SungItem, items, left_out, week
from chantwright.errors import ChantError, Where
from chantwright.parish.folder import ParishFolder
from chantwright.parish.pitch import choice_at
from chantwright.parish.plan import (
    LESSON,
    Plan,
    PlanLine,
    decided,
    plan_name,
    propose,
    read_plan,
    write_plan,
)
from chantwright.parish.service_bases import Kinship, choose_service_bases, load_kinship
from chantwright.parish.singable import Knowledge, Singable, make_singable
from chantwright.parish.singers import Singer
from chantwright.score import Hymn, hymnfile
from chantwright.tones import Tones

__all__ = ["Maker", "Piece", "Progress", "Session", "gather", "plans_of"]

Maker = Callable[[Hymn, int | None], Singable]
"""Makes a hymn singable, in the tone of its service where it has none of its own."""

Progress = Callable[[str, int, int], None]
"""Called with a label, steps done and steps in all."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One line of the order: a hymn to sing, or an item that has no music.

    Attributes
    ----------
    number : int
        Place in the booklet, from 1; 0 for an item without music of its own.
    item : str
        The item's title, such as "Aposticha".
    note : str
        Why this tone, or why there is no music.
    singable : Singable or None
        The hymn.
    file : str
        The hymn file it came from, relative to the parish folder.
    recordings : tuple of str
        Recording files, relative to the output folder.
    hymn_file : str
        The set hymn, relative to the output folder.
    same_as : int
        Number of the earlier piece that is sung again here; 0 when there is none.
    """

    number: int
    item: str
    note: str
    singable: Singable | None = None
    file: str = ""
    recordings: tuple[str, ...] = ()
    hymn_file: str = ""
    same_as: int = 0


@dataclass(frozen=True, slots=True)
class Session:
    """A service (or a lesson) and its pieces in order."""

    service: str
    title: str
    civil_date: date
    day: ServiceDay | None
    pieces: tuple[Piece, ...]
    plan_file: str = ""


def plans_of(
    folder: ParishFolder, days: Sequence[ServiceDay], pattern: Mapping[str, Plan] | None = None
) -> list[tuple[Plan, ServiceDay | None]]:
    """Plans of these services and of the weekend's lessons; makes the ones that are not there.

    Parameters
    ----------
    folder : ParishFolder
    days : sequence of ServiceDay
    pattern : mapping of str to Plan, optional
        Plans by service, from which a plan that is made takes the hymn files of its items, where
        the day has a tone.
    """
    found: list[tuple[Plan, ServiceDay | None]] = []
    for day in days:
        path = folder.services / plan_name(day.service, day.civil_date)
        if not path.is_file():
            sung = items(day, overrides=folder.overrides)
            folder.services.mkdir(parents=True, exist_ok=True)
            named = tuple((_item_name(day.service, i.id), i.title) for i in sung)
            plan = propose(day, named)
            # A day without a tone of the week has hymns of its own.
            if pattern is not None and day.service in pattern and day.tone is not None:
                like = {line.item: line for line in pattern[day.service].lines}
                lines = tuple(like.get(line.item, line) for line in plan.lines)
                plan = replace(plan, lines=lines)
            write_plan(path, plan)
        plan = read_plan(path)
        found.append((plan, decided(day, plan, folder.overrides)))
    dates = {day.civil_date for day in days}
    for path in safefile.finished(folder.services, f"*-{LESSON}*.txt"):
        plan = read_plan(path)
        if plan.service == LESSON and plan.civil_date in dates:
            found.append((plan, None))
    return found


def _item_name(service: str, row_id: str) -> str:
    """An item's name inside its own service's plan."""
    return row_id.removeprefix(service + ".")


def _by_item(day: ServiceDay, folder: ParishFolder) -> dict[str, SungItem]:
    sung = items(day, overrides=folder.overrides)
    return {_item_name(day.service, i.id): i for i in sung}


def _read_hymn(folder: ParishFolder, plan: Plan, line: PlanLine) -> tuple[Hymn, str]:
    path = folder.hymns / line.file
    try:
        inside = path.resolve().is_relative_to(folder.path.resolve())
    except (OSError, ValueError):
        inside = False
    where = Where(plan.file, line.line, word=line.file)
    if not inside:
        raise ChantError(
            "this hymn file lies outside the parish folder.",
            where=where,
            remedy="Copy it into the folder “hymns”.",
        )
    if not path.is_file():
        raise ChantError(
            "there is no such hymn file.",
            where=where,
            remedy=f"Put it into {folder.hymns}, or empty that line.",
        )
    return hymnfile.read(path), str(path.relative_to(folder.path))


def gather(
    folder: ParishFolder,
    day: date,
    knowledge: Knowledge,
    singers: Sequence[Singer],
    progress: Progress,
    *,
    maker: Maker | None = None,
    troubles: list[ChantError] | None = None,
) -> tuple[tuple[Session, ...], tuple[str, ...], tuple[str, ...]]:
    """Find what is sung on the coming Saturday evening and Sunday, and set it.

    Parameters
    ----------
    folder, day, knowledge, singers, progress
        As in `chantwright.parish.prepare`.
    maker : Maker, optional
        Makes each hymn singable; by default `make_singable`.
    troubles : list of ChantError, optional
        Takes up what is wrong with single items, which are then left without music. Without it
        the first such thing is raised.

    Returns
    -------
    sessions, missing, warnings
        The services in order; the items whose words are still to be found; sentences about pitch.
    """

    def usual(hymn: Hymn, tone: int | None) -> Singable:
        return make_singable(hymn, knowledge, singers, tone=tone, ison=folder.ison)

    days = week(
        day,
        calendar=folder.calendar,
        practice=folder.practice,
        overrides=folder.overrides,
    )
    kinship = load_kinship(folder.overrides)
    plans = plans_of(folder, days)
    total = sum(1 for plan, _ in plans for line in plan.lines if line.file)
    weekend = _Weekend(folder, knowledge, maker or usual, progress, total, troubles)
    sessions: list[Session] = []
    warnings: list[str] = []
    for plan, service in plans:
        pieces = _sharing(weekend.pieces(plan, service), knowledge.tones, singers, kinship)
        warnings += [
            f"{p.singable.hymn.title}: {sentence}"
            for p in pieces
            if p.singable is not None and p.singable.pitch is not None
            for sentence in p.singable.pitch.warnings
        ]
        heading = service.title if service is not None else plan.title or "For the class"
        sessions.append(
            Session(plan.service, heading, plan.civil_date, service, tuple(pieces), plan.file)
        )
    return tuple(sessions), tuple(weekend.missing), tuple(warnings)


@dataclass(slots=True)
class _Weekend:
    """The pieces of a weekend, plan after plan."""

    folder: ParishFolder
    knowledge: Knowledge
    make: Maker
    progress: Progress
    total: int
    troubles: list[ChantError] | None
    missing: list[str] = field(default_factory=list)
    number: int = 0
    first: dict[tuple[str, int | None], tuple[int, str]] = field(default_factory=dict)
    """Where a hymn is sung first, by its file and tone: its number and the service."""

    def pieces(self, plan: Plan, service: ServiceDay | None) -> list[Piece]:
        """Return the pieces of one plan in its order."""
        sung = {} if service is None else _by_item(service, self.folder)
        out = {} if service is None else left_out(service)
        pieces: list[Piece] = []
        for line in plan.lines:
            if line.item in out:
                pieces.append(Piece(0, line.item, f"left out by the {out[line.item]}"))
                continue
            title = sung[line.item].title if line.item in sung else line.item
            try:
                pieces.append(self._piece(plan, service, line, sung))
            except ChantError as exc:
                if self.troubles is None:
                    raise
                self.troubles.append(exc)
                pieces.append(Piece(0, title, "could not be made"))
        return pieces

    def _piece(
        self, plan: Plan, service: ServiceDay | None, line: PlanLine, sung: dict[str, SungItem]
    ) -> Piece:
        item = None if service is None else _item_of(plan, line, sung)
        if item is not None and item.file:
            line = replace(line, file=item.file)  # the priest's word wins
        title = item.title if item else line.item
        if not line.file:
            if item is None or item.tone_from != "read":
                self.missing.append(f"{plan.title or plan.service}: {title}")
            return Piece(0, title, _why_not(item))
        self.progress(f"setting {line.file}", self.number + 1, self.total)
        hymn, name = _read_hymn(self.folder, plan, line)
        if line.tone is not None:
            hymn = replace(hymn, tone=line.tone)
        tone = hymn.tone or (item.tone if item else None)
        if tone is None and service is not None:
            tone = service.tone or service.nominal_tone
        if (before := self.first.get((name, tone))) is not None:
            note = f"“{hymn.title}”, as at {before[1]}"
            return Piece(0, title, note, same_as=before[0])
        hymn, said = in_branch(hymn, item, tone, self.knowledge)
        try:
            singable = self.make(hymn, tone)
        except ChantError as exc:
            raise _in_file(exc, name) from None
        self.number += 1
        self.first[name, tone] = (self.number, service.title if service else plan.title)
        return Piece(self.number, title, _why(item, line, singable.hymn, said), singable, name)


def _sharing(
    pieces: list[Piece], tones: Tones, singers: Sequence[Singer], kinship: Kinship
) -> list[Piece]:
    """Choose the bases of a service together; a base written in a file stays."""
    free = [
        (place, s)
        for place, piece in enumerate(pieces)
        if (s := piece.singable) is not None and s.pitch is not None
    ]
    chosen = choose_service_bases([s.hymn for _, s in free], tones, singers, kinship=kinship)
    done = list(pieces)
    for (place, singable), base in zip(free, chosen.bases, strict=True):
        choice = choice_at(singable.hymn, tones, singers, base.hz)
        pitched = replace(singable, hymn=replace(singable.hymn, base=base), pitch=choice)
        done[place] = replace(pieces[place], singable=pitched)
    return done


def _in_file(exc: ChantError, name: str) -> ChantError:
    where = exc.where if exc.where.file else replace(exc.where, file=name)
    return ChantError(exc.what, where=where, remedy=exc.remedy)


def _item_of(plan: Plan, line: PlanLine, sung: dict[str, SungItem]) -> SungItem:
    """Return the item of a service that a line of its plan names."""
    if line.item not in sung:
        raise ChantError(
            f"this service has no item “{line.item}”.",
            where=Where(plan.file, line.line),
            remedy=f"Its items are: {', '.join(sung)}.",
        )
    return sung[line.item]


def in_branch(
    hymn: Hymn, item: SungItem | None, tone: int | None, knowledge: Knowledge
) -> tuple[Hymn, str]:
    """Give words that wait to be set the branch that their kind of hymn takes in the tone.

    Parameters
    ----------
    hymn : Hymn
        A branch, a style or a melody in its file stays.
    item : SungItem or None
        Where it is sung; its kind decides.
    tone : int or None
    knowledge : Knowledge

    Returns
    -------
    hymn, said : Hymn, str
        A sentence where there are no formulas for that branch and another is taken.
    """
    if item is None or item.kind == "plain" or tone is None:
        return hymn, ""
    if hymn.is_set or hymn.branch is not None or hymn.style:
        return hymn, ""
    tones = knowledge.tones
    wanted = tones.branch_for(tone, item.kind)
    if wanted.id in knowledge.books.books:
        return replace(hymn, tone=tone, branch=wanted.id), ""
    usual = tones.default_branch(tone)
    if wanted.id == usual.id:
        return hymn, ""
    if wanted.style != usual.style:
        said = (
            f"There are no {wanted.style} formulas in tone {tone} yet; the {usual.style} ones are "
            "taken."
        )
    else:
        said = f"There are no formulas for the branch {wanted.id} yet; {usual.id} is taken."
    return hymn, said


def _why_not(item: SungItem | None) -> str:
    if item is not None and item.tone_from == "read":
        return "read"
    return "words still to be found"


def _why(item: SungItem | None, line: PlanLine, hymn: Hymn, said: str = "") -> str:
    """Say why a hymn has its tone; `said` is a sentence that follows."""
    if line.tone is not None:
        why = f"tone {line.tone}: written in the plan"
    elif item is None:  # a lesson: its own line names it
        why = ""
    elif item.tone is not None and item.tone != hymn.tone:
        why = f"tone {hymn.tone}: written in the hymn file"
    else:
        why = item.reason
    return f"{why.rstrip('.')}. {said}" if said else why
