"""A course: one tone a week, in the order the weeks bring them or in the parish's own.

Each week has a hymn to know by heart, and the parish's other hymns of the tone from easy to hard;
words that have no tone of their own belong to the first week. The hymn to know by heart is the
easiest that touches the most of the tone in at least four phrases; where the parish has none of
that tone, verses of a psalm are set.

References
----------
The eight tones rotate weekly and change at Saturday Great Vespers: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from chantwright import almanac, safefile, words
from chantwright.errors import ChantError
from chantwright.parish.folder import ParishFolder
from chantwright.parish.hardness import Hardness, hardness, load_weights
from chantwright.parish.singable import Knowledge, make_singable
from chantwright.parish.singers import Singer
from chantwright.score import Hymn, hymnfile
from chantwright.tones import Branch, Tones

__all__ = ["Course", "Lesson", "Week", "make_course", "read_order", "tones_ahead"]

_WEEKS = 8
_PSALM = "145:1-3"
_ENOUGH = 4
_LOOK_AHEAD = 60


@dataclass(frozen=True, slots=True)
class Lesson:
    """A hymn of a week.

    Attributes
    ----------
    hymn : Hymn
        Set and pitched.
    file : str
        Its name in the parish folder, empty when it is a psalm set for the course.
    hardness : Hardness
        How hard it is, with reasons.
    """

    hymn: Hymn
    file: str
    hardness: Hardness


@dataclass(frozen=True, slots=True)
class Week:
    """A week of the course.

    Attributes
    ----------
    number : int
        From 1.
    starts : date
        The Saturday on whose evening the tone is first sung, or the day asked for with an order
        of the parish's own.
    tone : int
        1 to 8.
    model : Lesson
        The hymn to know by heart.
    lessons : tuple of Lesson
        The others, from easy to hard.
    """

    number: int
    starts: date
    tone: int
    model: Lesson
    lessons: tuple[Lesson, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """Weeks in order, and sentences about hymns that could not be taken in."""

    weeks: tuple[Week, ...]
    warnings: tuple[str, ...]


def tones_ahead(
    folder: ParishFolder, day: date, count: int = _WEEKS
) -> tuple[tuple[date, int], ...]:
    """Return the Saturdays and tones of the coming weeks; weeks without a tone are passed over.

    Raises
    ------
    ChantError
        If the almanac knows no such days.
    """
    saturday = day + timedelta(days=(5 - day.weekday()) % 7)
    out: list[tuple[date, int]] = []
    for _ in range(_LOOK_AHEAD):
        days = almanac.week(
            saturday,
            calendar=folder.calendar,
            practice=folder.practice,
            overrides=folder.overrides,
        )
        tone = next((d.tone for d in days if d.tone is not None), None)
        # Pascha and Thomas Sunday both have tone 1: it is learned once.
        if tone is not None and (not out or out[-1][1] != tone):
            out.append((saturday, tone))
        if len(out) == count:
            break
        saturday += timedelta(days=7)
    return tuple(out)


def _branch(hymn: Hymn, tones: Tones) -> Branch | None:
    if hymn.branch in tones.branches:
        return tones.branches[str(hymn.branch)]
    if hymn.tone is None:
        return None
    return tones.default_branch(hymn.tone, hymn.style or "heirmologic")


def _spread(lesson: Lesson, branch: Branch) -> float:
    """Part of the tone's usual compass that a hymn touches, 0 to 1."""
    low, high = branch.usual
    touched = {
        n.degree
        for p in lesson.hymn.phrases
        for s in p.syllables
        for n in s.notes
        if low <= n.degree <= high
    }
    return len(touched) / (high - low + 1)


def _model(lessons: Sequence[Lesson], branch: Branch) -> Lesson | None:
    whole = [x for x in lessons if len(x.hymn.phrases) >= _ENOUGH]
    if not whole:
        return None
    # The easiest of those that show nearly as much of the tone as any.
    best = max(_spread(x, branch) for x in whole)
    shown = [x for x in whole if _spread(x, branch) >= 0.75 * best]
    return min(shown, key=lambda x: (x.hardness.points, x.hymn.title))


def _psalm(tone: int, knowledge: Knowledge, singers: Sequence[Singer]) -> Hymn:
    plain = hymnfile.loads(f"title: Psalm {_PSALM}\ntone: {tone}\n\n{words.psalm(_PSALM).text}")
    hymn = make_singable(plain, knowledge, tuple(singers)).hymn
    return replace(hymn, words_source=f"Psalm {_PSALM}, King James")


def make_course(
    folder: ParishFolder,
    day: date,
    knowledge: Knowledge,
    singers: Sequence[Singer],
    *,
    order: Sequence[int] = (),
    only: int | None = None,
) -> Course:
    """Make a course of weeks from a day on.

    Parameters
    ----------
    folder : ParishFolder
        Its hymns are the lessons.
    day : date
        The first week is that of the coming Saturday.
    knowledge : Knowledge
        Tones and formula books.
    singers : sequence of Singer
        For the pitch.
    order : sequence of int
        Tones in the parish's own order; the tones of the coming weeks where it is empty.
    only : int, optional
        Number of the one week that is wanted; the others are not set, and left out.

    Raises
    ------
    ChantError
        If the order names a tone that is not there.
    """
    for tone in order:
        if tone not in knowledge.tones.tones:
            raise ChantError(f"there is no tone {tone}.", remedy="Tones are 1 to 8.")
    saturday = day + timedelta(days=(5 - day.weekday()) % 7)
    ahead = (
        tuple((saturday + timedelta(days=7 * i), tone) for i, tone in enumerate(order))
        if order
        else tones_ahead(folder, day)
    )
    weights = load_weights(folder.overrides)
    first = ahead[0][1] if ahead else None
    wanted = [
        (number, starts, tone)
        for number, (starts, tone) in enumerate(ahead, start=1)
        if only is None or number == only
    ]
    by_tone, warnings = _lessons(folder, knowledge, singers, {t for _, _, t in wanted}, first)
    weeks = []
    for number, starts, tone in wanted:
        found = [
            Lesson(hymn, file, hardness(hymn, weights)) for hymn, file in by_tone.get(tone, ())
        ]
        found.sort(key=lambda x: (x.hardness.points, x.hymn.title))
        model = _model(found, knowledge.tones.default_branch(tone))
        if model is None:
            hymn = _psalm(tone, knowledge, singers)
            model = Lesson(hymn, "", hardness(hymn, weights))
        rest = tuple(x for x in found if x is not model)
        weeks.append(Week(number, starts, tone, model, rest))
    return Course(tuple(weeks), tuple(warnings))


def _lessons(
    folder: ParishFolder,
    knowledge: Knowledge,
    singers: Sequence[Singer],
    wanted: set[int],
    first: int | None,
) -> tuple[dict[int, list[tuple[Hymn, str]]], list[str]]:
    out: dict[int, list[tuple[Hymn, str]]] = {}
    warnings = []
    for path in safefile.finished(folder.hymns, "**/*.txt"):
        name = path.relative_to(folder.hymns).as_posix()
        try:
            hymn = hymnfile.read(path)
            if hymn.tone is None and hymn.branch is None and first is not None:
                hymn = replace(hymn, tone=first)  # sung in the tone of the week
            branch = _branch(hymn, knowledge.tones)
            if branch is None or branch.tone not in wanted:
                continue
            sung = make_singable(hymn, knowledge, tuple(singers), ison=folder.ison).hymn
        except ChantError as exc:
            warnings.append(f"{name} was left out: {exc.what} {exc.remedy}".rstrip())
            continue
        out.setdefault(branch.tone, []).append((sung, name))
    return out, warnings


def read_order(text: str) -> tuple[int, ...]:
    """Read an order of tones such as "1 5 4 8".

    Raises
    ------
    ChantError
        If something in it is no number.
    """
    parts = text.replace(",", " ").split()
    if not all(p.isdigit() for p in parts):
        raise ChantError(
            f"“{text}” is no order of tones.", remedy="Write the tones with spaces: 1 5 4 8"
        )
    return tuple(int(p) for p in parts)
