"""``course``: weeks of a course, on the screen and as handouts."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import click

from chantwright import almanac
from chantwright.cli.frame import echo_json, progress_line
from chantwright.cli.options import folder_of, json_option, singers_options, the_singers
from chantwright.engrave import Handout, write_handout
from chantwright.errors import ChantError
from chantwright.parish import PAPERS, load_knowledge, tone_text
from chantwright.parish.course import Course, Lesson, make_course, read_order

__all__ = ["course_verb"]


def _lesson(lesson: Lesson) -> dict[str, Any]:
    return {
        "title": lesson.hymn.title,
        "file": lesson.file,
        "hardness": round(lesson.hardness.points, 2),
        "reasons": [
            {"id": r.id, "what": r.what, "amount": r.amount, "points": round(r.points, 2)}
            for r in lesson.hardness.reasons
        ],
    }


def _json(course: Course) -> dict[str, Any]:
    return {
        "weeks": [
            {
                "number": week.number,
                "starts": week.starts.isoformat(),
                "tone": week.tone,
                "by_heart": _lesson(week.model),
                "hymns": [_lesson(x) for x in week.lessons],
            }
            for week in course.weeks
        ],
        "warnings": list(course.warnings),
    }


def _line(lesson: Lesson) -> str:
    reasons = lesson.hardness.reasons[:1]
    why = f"  ({reasons[0].short})" if reasons else ""
    return f"{lesson.hardness.points:5.1f}  {lesson.hymn.title}{why}"


@click.command("course", short_help="A course, one tone a week, with a handout for each.")
@click.argument("day", default="today", metavar="[DATE]")
@click.option("--parish", type=click.Path(path_type=Path), default=Path(), help="Parish folder.")
@click.option("--order", default="", help="Your own order of tones, such as “1 5 4 8”.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Write a handout for each week there."
)
@singers_options
@json_option
def course_verb(
    day: str,
    parish: Path,
    order: str,
    out: Path | None,
    group: str | None,
    singers: Path | None,
    as_json: bool,
) -> None:
    """A course of eight weeks from the coming services, one tone a week.

    For each week a hymn to know by heart and your parish's hymns of that tone from easy to hard.
    """
    folder = folder_of(parish)
    if folder is None:
        raise ChantError("no parish folder is named.", remedy="Use --parish.")
    when = date.today() if day == "today" else almanac.parse_date(day)
    knowledge = load_knowledge(folder.overrides)
    people = the_singers(knowledge.tones, folder, group, singers)
    course = make_course(folder, when, knowledge, people, order=read_order(order))
    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
        for week in course.weeks:
            target = out / f"week-{week.number}-tone-{week.tone}.pdf"
            handout = Handout(week.model.hymn, parish=folder.name, paper=PAPERS[folder.paper])
            write_handout(handout, target, knowledge.tones)
            progress_line(target.name, week.number, len(course.weeks))
    if as_json:
        echo_json(_json(course))
        return
    for week in course.weeks:
        name = tone_text(week.model.hymn, knowledge.tones)
        click.echo(f"Week {week.number}, from {almanac.long_date(week.starts)}: {name}")
        click.echo(f"  by heart  {_line(week.model)}")
        for lesson in week.lessons:
            click.echo(f"            {_line(lesson)}")
    for warning in course.warnings:
        click.echo(warning, err=True)
