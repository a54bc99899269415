"""What is sung on a weekend: plans against computed services, and every hymn made singable."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

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

__all__ = ["Piece", "Progress", "Session", "gather"]

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


def _plans(
    folder: ParishFolder, days: Sequence[ServiceDay]
) -> list[tuple[Plan, ServiceDay | None]]:
    """Plans of these services and of the weekend's lessons; makes the ones that are not there."""
    found: list[tuple[Plan, ServiceDay | None]] = []
    for day in days:
        path = folder.services / plan_name(day.service, day.civil_date)
        if not path.is_file():
            sung = items(day, overrides=folder.overrides)
            folder.services.mkdir(parents=True, exist_ok=True)
            named = tuple((_item_name(day.service, i.id), i.title) for i in sung)
            write_plan(path, propose(day, named))
        plan = read_plan(path)
        found.append((plan, decided(day, plan, folder.overrides)))
    dates = {day.civil_date for day in days}
    for path in sorted(folder.services.glob(f"*-{LESSON}*.txt")):
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
) -> tuple[tuple[Session, ...], tuple[str, ...], tuple[str, ...]]:
    """Find what is sung on the coming Saturday evening and Sunday, and set it.

    Returns
    -------
    sessions, missing, warnings
        The services in order; the items whose words are still to be found; sentences about pitch.
    """
    days = week(
        day,
        calendar=folder.calendar,
        practice=folder.practice,
        overrides=folder.overrides,
    )
    kinship = load_kinship(folder.overrides)
    plans = _plans(folder, days)
    total = sum(1 for plan, _ in plans for line in plan.lines if line.file)
    sessions: list[Session] = []
    missing: list[str] = []
    warnings: list[str] = []
    number = 0
    first: dict[tuple[str, int | None], tuple[int, str]] = {}
    for plan, service in plans:
        sung = {} if service is None else _by_item(service, folder)
        pieces: list[Piece] = []
        out = {} if service is None else left_out(service)
        for line in plan.lines:
            if line.item in out:
                pieces.append(Piece(0, line.item, f"left out by the {out[line.item]}"))
                continue
            item = None if service is None else _item_of(plan, line, sung)
            if item is not None and item.file:
                line = replace(line, file=item.file)  # noqa: PLW2901 (the priest's word wins)
            title = item.title if item else line.item
            if not line.file:
                if item is None or item.tone_from != "read":
                    missing.append(f"{plan.title or plan.service}: {title}")
                pieces.append(Piece(0, title, _why_not(item)))
                continue
            number += 1
            progress(f"setting {line.file}", number, total)
            hymn, name = _read_hymn(folder, plan, line)
            if line.tone is not None:
                hymn = replace(hymn, tone=line.tone)
            tone = hymn.tone or (item.tone if item else None)
            if tone is None and service is not None:
                tone = service.tone or service.nominal_tone
            if (before := first.get((name, tone))) is not None:
                number -= 1
                note = f"“{hymn.title}”, as at {before[1]}"
                pieces.append(Piece(0, title, note, same_as=before[0]))
                continue
            first[name, tone] = (number, service.title if service else plan.title)
            hymn, said = in_branch(hymn, item, tone, knowledge)
            try:
                singable = make_singable(hymn, knowledge, singers, tone=tone, ison=folder.ison)
            except ChantError as exc:
                raise _in_file(exc, name) from None
            why = _why(item, line, singable.hymn, said)
            pieces.append(Piece(number, title, why, singable, name))
        pieces = _sharing(pieces, knowledge.tones, singers, kinship)
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
    return tuple(sessions), tuple(missing), tuple(warnings)


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
