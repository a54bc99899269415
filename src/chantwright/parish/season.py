"""A whole season at once: every Saturday evening and Sunday from one date to another.

Each weekend comes out as `chantwright.parish.prepare` would leave it, in a folder of its own. The
work is cut into pieces (`chantwright.parish.tasks`) that go through a standard
`concurrent.futures.Executor`: words are set, hymns are sung, weekends are laid out. What is the
same in several weeks is made once; what was finished before is found in the store and taken as it
is, whatever ended the earlier run. Earlier weeks come first, so that they can be used while the
later ones are still being made.

Nothing that is wrong with one text stops the others: its item is left without music in that week,
and what is wrong is told at the end, with its place.
"""

from __future__ import annotations

import heapq
import itertools
from collections import deque
from collections.abc import Callable
from concurrent.futures import Executor
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

from chantwright import safefile
from chantwright.almanac import check_range, items, week
from chantwright.errors import ChantError, Where
from chantwright.parish.errands import Errand, carry_out
from chantwright.parish.folder import ParishFolder
from chantwright.parish.order import Piece, Progress, Session, gather, plans_of
from chantwright.parish.paper import weekend_booklet
from chantwright.parish.plan import Plan, plan_name, read_plan
from chantwright.parish.ranges import singers_of
from chantwright.parish.singable import (
    Knowledge,
    Singable,
    load_knowledge,
    make_singable,
    with_tone,
)
from chantwright.parish.singers import Singer
from chantwright.parish.tasks import (
    Page,
    Sound,
    Week,
    is_laid_out,
    lay_out,
    mark_of,
    set_hymn_words,
    set_name,
    sing_hymn,
    sound_name,
    week_name,
)
from chantwright.parish.whole import Prepared, file_name
from chantwright.score import Hymn, hymnfile

__all__ = ["Season", "Trouble", "prepare_season", "weekends"]

_SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that could not be made.

    Attributes
    ----------
    day : date
        Saturday of the weekend.
    error : ChantError
        What is wrong, where, and what to do.
    """

    day: date
    error: ChantError

    def __str__(self) -> str:
        return f"{self.day.isoformat()}  {self.error}"


@dataclass(frozen=True, slots=True)
class Season:
    """What was made.

    Attributes
    ----------
    out : Path
        Folder with a folder for each weekend, named by its Saturday.
    days : tuple of date
        Saturdays of the weekends that lie there now.
    made, kept : int
        Pieces of work that were done, and those that were found done.
    troubles : tuple of Trouble
        In order of the weeks.
    missing : int
        Items whose words are still to be found.
    """

    out: Path
    days: tuple[date, ...]
    made: int
    kept: int
    troubles: tuple[Trouble, ...]
    missing: int


def weekends(first: date, last: date) -> tuple[date, ...]:
    """Return the Saturdays from one date to another, both included.

    Raises
    ------
    ChantError
        If there is none, or a date is out of bounds.
    """
    check_range(first)
    check_range(last)
    saturday = first + timedelta((_SATURDAY - first.weekday()) % 7)
    days = tuple(saturday + timedelta(n) for n in range(0, (last - saturday).days + 1, 7))
    if not days:
        raise ChantError(
            f"there is no Saturday from {first.isoformat()} to {last.isoformat()}.",
            remedy="Let the second date be a week or more after the first.",
        )
    return days


@dataclass(slots=True)
class _Weekend:
    """A weekend on its way: what it waits for, and what is wrong with it."""

    place: int
    day: date
    name: str
    waiting: set[str]
    troubles: list[ChantError] = field(default_factory=list)
    week: Week | None = None


class _Run:
    """One run over all weekends."""

    def __init__(
        self,
        folder: ParishFolder,
        out: Path,
        progress: Progress,
        suffixes: tuple[str, ...],
        page: Page | None,
        pattern: dict[str, Plan],
    ) -> None:
        self.folder, self.out, self.progress = folder, out, progress
        self.suffixes, self.page, self.pattern = suffixes, page, pattern
        self.knowledge: Knowledge = load_knowledge(folder.overrides)
        self.singers: tuple[Singer, ...] = singers_of(folder, self.knowledge.tones)
        self.store = out / "made"
        self.users: dict[str, list[_Weekend]] = {}  # who waits for a piece of work
        self.failed: dict[str, ChantError] = {}
        self.done: set[str] = set()
        self.pending: deque[tuple[int, date]] = deque()
        self.ready: list[tuple[int, int, Errand]] = []  # a heap: the earliest week first
        self.count = itertools.count()
        self.total = self.made = self.kept = self.missing = 0
        self.days: list[date] = []
        self.troubles: list[Trouble] = []

    # -- what is to be done

    def fetch(self) -> Errand | None:
        """Give the next piece of work, of the earliest weekend that has any."""
        while not self.ready and self.pending:
            self._look_at(*self.pending.popleft())
        return heapq.heappop(self.ready)[2] if self.ready else None

    def _look_at(self, place: int, day: date) -> None:
        """Look at a weekend; lay its work out, or find it done."""
        try:
            name = self._week_name(day)
        except ChantError as exc:
            self.troubles.append(Trouble(day, exc))
            return
        if is_laid_out(self._mark(day), name, self._out(day)):
            self.kept += 1
            self.missing += mark_of(self._mark(day))["missing"]
            self.days.append(day)
            return
        weekend = _Weekend(place, day, name, set())
        wanted: list[tuple[Hymn, str]] = []

        def collect(hymn: Hymn, tone: int | None) -> Singable:
            if not hymn.is_set:
                hymn = with_tone(hymn, tone)
                wanted.append((hymn, self._set_name(hymn)))
            return Singable(hymn, None, None)

        try:
            gather(
                self.folder, day, self.knowledge, self.singers, _quiet,
                maker=collect, troubles=[],
            )  # fmt: skip
        except ChantError as exc:
            self.troubles.append(Trouble(day, exc))
            return
        for hymn, known in wanted:
            file = self._set_file(known)
            given = (hymn, self.folder.ison, self.folder.overrides, file)
            work = Errand(known, f"set {hymn.title}", set_hymn_words, given, file)
            self._ask(weekend, work, done=file.is_file())
        if not weekend.waiting:
            self._gather(weekend)

    def _week_name(self, day: date) -> str:
        days = week(day, calendar=self.folder.calendar, practice=self.folder.practice,
                    overrides=self.folder.overrides)  # fmt: skip
        plans = plans_of(self.folder, days, self.pattern)
        files = [self.folder.hymns / line.file for plan, _ in plans for line in plan.lines]
        for service in (s for _, s in plans if s is not None):
            sung = items(service, overrides=self.folder.overrides)
            files += [self.folder.hymns / i.file for i in sung if i.file]
        settings = replace(self.folder, path=Path(), overrides=())
        page = getattr(self.page, "__qualname__", "")
        texts = [plan.text for plan, _ in plans]
        parts = (day, settings, self.singers, self.suffixes, page, texts)
        return week_name(parts, [*files, *self.folder.overrides])

    def _ask(self, weekend: _Weekend, work: Errand, *, done: bool) -> None:
        """Let a weekend wait for a piece of work, which is ordered by the first who wants it."""
        if work.name in self.done or work.name in self.failed:
            return
        if work.name in self.users:
            weekend.waiting.add(work.name)
            self.users[work.name].append(weekend)
            return
        self.total += not done
        if done:
            self.kept += 1
            self.done.add(work.name)
            return
        weekend.waiting.add(work.name)
        self.users[work.name] = [weekend]
        self._order(weekend, work)

    def _order(self, weekend: _Weekend, work: Errand) -> None:
        heapq.heappush(self.ready, (weekend.place, next(self.count), work))

    def _gather(self, weekend: _Weekend) -> None:
        """All words of a weekend are set: find its bases, and order what is to be sung."""

        def known(hymn: Hymn, tone: int | None) -> Singable:
            if not hymn.is_set:
                name = self._set_name(with_tone(hymn, tone))
                if name in self.failed:
                    raise self.failed[name]
                hymn = hymnfile.read(self._set_file(name))
            return make_singable(hymn, self.knowledge, self.singers, tone=tone)

        folder = self.folder
        try:
            sessions, missing, warnings = gather(
                folder, weekend.day, self.knowledge, self.singers, _quiet,
                maker=known, troubles=weekend.troubles,
            )  # fmt: skip
            out = self._out(weekend.day)
            out.mkdir(parents=True, exist_ok=True)
        except (ChantError, OSError) as exc:
            self._give_up(weekend, _as_error(exc, self.out))
            return
        self.missing += len(missing)
        sounds: dict[int, Sound] = {}
        named = []
        for session in sessions:
            pieces = [self._named(piece, sounds) for piece in session.pieces]
            named.append(replace(session, pieces=tuple(pieces)))
        whole = Prepared(folder, out, out / "booklet.pdf", tuple(named), missing, warnings)
        booklet = weekend_booklet(folder, named, self.knowledge.tones)
        weekend.week = Week(
            whole, booklet, sounds, self._mark(weekend.day), weekend.name, True, self.page
        )
        for sound in sounds.values():
            label = f"sung {sound.hymn.title}"
            work = Errand(sound.name, label, sing_hymn, (sound,), sound.files[-1])
            self._ask(weekend, work, done=sound.is_made)
        if not weekend.waiting:
            self._lay_out(weekend)

    def _named(self, piece: Piece, sounds: dict[int, Sound]) -> Piece:
        if piece.singable is None:
            return piece
        hymn = piece.singable.hymn
        stem = f"{piece.number:02d}-{file_name(hymn.title)}"
        if not self.suffixes:
            return replace(piece, hymn_file=f"hymns/{stem}.txt")
        name = sound_name(hymn, self.folder.name, self.suffixes, self.folder.overrides)
        sounds[piece.number] = Sound(
            hymn, self.folder.name, self.folder.overrides, self.store / "sound", name, self.suffixes
        )
        recordings = tuple(f"recordings/{stem}{suffix}" for suffix in self.suffixes)
        return replace(piece, hymn_file=f"hymns/{stem}.txt", recordings=recordings)

    def _lay_out(self, weekend: _Weekend) -> None:
        """All hymns of a weekend are sung: order its pages."""
        assert weekend.week is not None
        made = weekend.week
        lost = {n for n, sound in made.sounds.items() if sound.name in self.failed}
        weekend.troubles += [self.failed[made.sounds[n].name] for n in sorted(lost)]
        sessions = tuple(_without(s, lost) for s in made.prepared.sessions)
        ready = replace(
            made, prepared=replace(made.prepared, sessions=sessions), whole=not weekend.troubles
        )
        name = f"week {weekend.day.isoformat()}"
        self.users[name] = [weekend]
        self.total += 1
        label = f"laid out {weekend.day:%d %B %Y}"
        self._order(weekend, Errand(name, label, lay_out, (ready,)))

    # -- what was done

    def finish(self, work: Errand, error: ChantError | None) -> None:
        """Take the end of a piece of work, and let those go on who waited for it."""
        self.made += 1
        if error is None:
            self.done.add(work.name)
        else:
            self.failed[work.name] = error
        self.progress(work.label, self.made, self.total)
        for weekend in self.users.pop(work.name):
            weekend.waiting.discard(work.name)
            if work.call is lay_out:
                if error is not None:
                    weekend.troubles.append(error)
                else:
                    self.days.append(weekend.day)
                self.troubles += [Trouble(weekend.day, e) for e in weekend.troubles]
            elif not weekend.waiting:
                (self._gather if weekend.week is None else self._lay_out)(weekend)

    def _give_up(self, weekend: _Weekend, error: ChantError) -> None:
        self.troubles += [Trouble(weekend.day, e) for e in (*weekend.troubles, error)]

    def _out(self, day: date) -> Path:
        return self.out / day.isoformat()

    def _mark(self, day: date) -> Path:
        return self.store / "weeks" / f"{day.isoformat()}.json"

    def _set_name(self, hymn: Hymn) -> str:
        return set_name(hymn, self.folder.ison, self.folder.overrides)

    def _set_file(self, name: str) -> Path:
        return self.store / "set" / f"{name}.txt"

    def tidy(self) -> None:
        """Take sounds away that no weekend has any more; an older program made them."""
        marks = safefile.finished(self.store / "weeks", "*.json")
        kept = {name for mark in marks for name in mark_of(mark).get("sounds", ())}
        for file in safefile.finished(self.store / "sound", "*"):
            if file.name.split(".")[0] not in kept:
                file.unlink(missing_ok=True)


def _quiet(label: str, done: int, total: int) -> None:
    """Show nothing: a weekend is looked at in a moment."""


def _as_error(exc: ChantError | OSError, where: Path) -> ChantError:
    if isinstance(exc, ChantError):
        return exc
    return ChantError(
        f"nothing can be written here ({exc.strerror or exc}).",
        where=Where(str(where)),
        remedy="Check the folder and the disk.",
    )


def _without(session: Session, lost: set[int]) -> Session:
    """Leave out the recordings that could not be made."""
    pieces = (replace(p, recordings=()) if p.number in lost else p for p in session.pieces)
    return replace(session, pieces=tuple(pieces))


def _pattern(folder: ParishFolder, day: date | None) -> dict[str, Plan]:
    """Plans of the weekend whose hymn files are taken, by service."""
    if day is None:
        return {}
    found: dict[str, Plan] = {}
    for service in week(day, calendar=folder.calendar, practice=folder.practice,
                        overrides=folder.overrides):  # fmt: skip
        path = folder.services / plan_name(service.service, service.civil_date)
        if path.is_file():
            plan = read_plan(path)
            if any(line.file for line in plan.lines):
                found[service.service] = plan
    if not found:
        raise ChantError(
            f"there is no plan with hymn files of the weekend of {day.isoformat()}.",
            where=Where(str(folder.services)),
            remedy="Name a weekend whose plans you have filled in.",
        )
    return found


def prepare_season(
    folder: ParishFolder,
    first: date,
    last: date,
    out: Path,
    *,
    workers: Callable[[], AbstractContextManager[Executor]],
    progress: Progress,
    as_in: date | None = None,
    suffixes: tuple[str, ...] = (".opus", ".mp3"),
    page: Page | None = None,
) -> Season:
    """Do the whole job for every Saturday evening and Sunday of a season.

    Parameters
    ----------
    folder : ParishFolder
        The parish.
    first, last : date
        Civil dates; the weekends whose Saturday lies between them, both included.
    out : Path
        Folder for what is made; it may exist.
    workers : callable
        Opens an executor; called again where a process was ended from outside.
    progress : callable
        Called with a label, steps done and steps in all.
    as_in : date, optional
        A service without a plan takes the hymn files of the same items of this weekend, unless
        nothing is sung in a tone of the week (Palm Sunday, Pentecost).
    suffixes : tuple of str
        Kinds of recording; none makes paper and pages alone.
    page : callable, optional
        Writes a page for each weekend.

    Returns
    -------
    Season

    Raises
    ------
    ChantError
        If there is no weekend in between, the parish's own rows or singers are not understood,
        or workers elsewhere are not reached.
    """
    days = weekends(first, last)
    run = _Run(folder, out, progress, suffixes, page, _pattern(folder, as_in))
    for name in ("set", "sound", "weeks"):
        try:
            (run.store / name).mkdir(parents=True, exist_ok=True)
        except OSError as exc:
            raise _as_error(exc, out) from None
    run.pending.extend(enumerate(days))
    carry_out(workers, run.fetch, run.finish)
    run.tidy()
    troubles = tuple(sorted(run.troubles, key=lambda t: t.day))
    return Season(out, tuple(sorted(run.days)), run.made, run.kept, troubles, run.missing)
