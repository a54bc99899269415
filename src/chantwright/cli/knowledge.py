"""``week`` and ``check``: what is sung, and whether the data is sound."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import click

from chantwright import almanac
from chantwright.cli.frame import FAILED, echo_json
from chantwright.cli.options import folder_of, json_option, parish_option
from chantwright.parish.plan import Plan, decided, plan_json, plan_name, read_plan
from chantwright.setting import check_books
from chantwright.tones import check as check_tones
from chantwright.tones.finding import of_error

__all__ = ["check_verb", "week_verb"]


@click.command("week", short_help="What is sung this week, in which tone, and why.")
@click.argument("day", default="today", metavar="[DATE]")
@click.option(
    "--calendar",
    type=click.Choice(["new", "old", "gregorian"]),
    help="Calendar of the fixed feasts [the parish's, else new].",
)
@click.option(
    "--practice",
    type=click.Choice(["greek", "slavic", "romanian"]),
    help="Whose books the parish follows [the parish's, else greek].",
)
@click.option("--points", is_flag=True, help="The fourteen points a chanter must know.")
@click.option(
    "--service",
    "services",
    multiple=True,
    metavar="NAME",
    help="Only this service, on DATE itself: vespers, orthros, liturgy, presanctified ...; may be "
    "given more than once, or “all” for every service that the day has.",
)
@parish_option
@json_option
def week_verb(
    day: str,
    calendar: str | None,
    practice: str | None,
    points: bool,
    services: tuple[str, ...],
    parish: Path | None,
    as_json: bool,
) -> None:
    """The tone of the week and what is sung on the coming Saturday evening and Sunday, and why.

    DATE is a day such as 2026-11-28; without it, today. With --service, a service of that very day
    instead, or why there is none. Everything computed is a proposal until the priest confirms it.
    """
    folder = folder_of(parish)
    overrides = folder.overrides if folder else ()
    when = date.today() if day == "today" else almanac.parse_date(day)
    days = _services(
        when,
        services,
        calendar or (folder.calendar if folder else "new"),
        practice or (folder.practice if folder else "greek"),
        overrides,
    )
    plans: dict[int, Plan] = {}
    if folder:
        for i, d in enumerate(days):
            path = folder.services / plan_name(d.service, d.civil_date)
            if path.is_file():
                plans[i] = read_plan(path)
                days = (*days[:i], decided(d, plans[i], overrides), *days[i + 1 :])
    if points and as_json:
        echo_json([almanac.points_json(d, overrides) for d in days])
    elif points:
        click.echo("\n".join(almanac.points_text(d, overrides) for d in days), nl=False)
    elif as_json:
        echo_json(
            [
                almanac.to_json(d, overrides)
                | {"plan": plan_json(plans[i], _read_items(d, overrides)) if i in plans else None}
                for i, d in enumerate(days)
            ]
        )
    else:
        click.echo(almanac.text(days, overrides))
        if not services:
            _also_served(days, overrides)
        for i, plan in plans.items():
            read = _read_items(days[i], overrides)
            click.echo(f"\nPlan of {days[i].title}, {almanac.long_date(plan.civil_date)}")
            for line in plan.lines:
                lacking = "read" if line.item in read else "words still to be found"
                click.echo(f"  {line.item}: {line.value or lacking}")


def _services(
    when: date,
    names: tuple[str, ...],
    calendar: str,
    practice: str,
    overrides: tuple[Path, ...],
) -> tuple[almanac.ServiceDay, ...]:
    """Return the services asked for: those named of one day, or the three of the Sunday."""
    if not names:
        return almanac.week(when, calendar=calendar, practice=practice, overrides=overrides)
    if "all" in names:
        return almanac.service_days(when, calendar=calendar, practice=practice, overrides=overrides)
    return tuple(
        almanac.service_day(when, name, calendar=calendar, practice=practice, overrides=overrides)
        for name in names
    )


def _also_served(days: tuple[almanac.ServiceDay, ...], overrides: tuple[Path, ...]) -> None:
    """Tell what the parish serves on the other days up to that Sunday."""
    sunday = days[-1]
    shown = {(d.civil_date, d.service) for d in days}
    told = []
    for back in range(6, -1, -1):
        for service, habit in almanac.parish_services(
            sunday.civil_date - timedelta(back),
            calendar=sunday.calendar,
            practice=sunday.practice,
            overrides=overrides,
        ):
            if (service.civil_date, service.service) not in shown:
                tone = f"tone {service.tone}" if service.tone else "no tone of the week"
                hour = f", {habit.hour:%H:%M}" if habit.hour else ""
                when = almanac.long_date(service.civil_date)
                told.append(f"  {service.title}, {when}{hour}: {tone} ({service.day_name})")
    if told:
        click.echo("Also served in these days (week DATE --service NAME tells each)")
        click.echo("\n".join(told))


def _read_items(day: almanac.ServiceDay, overrides: tuple[Path, ...]) -> set[str]:
    """Return the items of a service that are read, by their names in its plan."""
    return {
        item.id.removeprefix(day.service + ".")
        for item in almanac.items(day, overrides)
        if item.tone_from == "read"
    }


@click.command("check", short_help="Look for mistakes in tones, formulas and your own rows.")
@parish_option
@json_option
def check_verb(parish: Path | None, as_json: bool) -> None:
    """Look through all tones, scales, formulas and feasts, and your own rows, for mistakes.

    Ends with code 1 where something is wrong; doubts alone do not count as wrong.
    """
    folder = folder_of(parish)
    overrides = folder.overrides if folder else ()
    findings = [
        *check_tones(overrides),
        *check_books(overrides),
        *(of_error(error) for error in almanac.check(overrides)),
    ]
    wrong = [f for f in findings if f.level == "wrong"]
    if as_json:
        echo_json(
            {
                "wrong": len(wrong),
                "doubtful": len(findings) - len(wrong),
                "findings": [
                    {
                        "level": f.level,
                        "where": str(f.where),
                        "sentence": f.sentence,
                        "remedy": f.remedy,
                    }
                    for f in findings
                ],
            }
        )
    else:
        for finding in findings:
            place = f"{finding.where}: " if str(finding.where) else ""
            click.echo(f"{finding.level}: {place}{finding.sentence} {finding.remedy}".rstrip())
        click.echo(
            f"{len(wrong)} wrong, {len(findings) - len(wrong)} doubtful."
            if findings
            else "Everything is in order."
        )
    if wrong:
        raise SystemExit(FAILED)
