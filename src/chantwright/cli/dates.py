"""``calendar`` and ``yearbook``: a file for a calendar program, and a printed table compared."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import click

from chantwright import almanac, safefile
from chantwright.cli.frame import echo_json
from chantwright.cli.options import folder_of, json_option, parish_option

__all__ = ["calendar_verb", "yearbook_verb"]


@click.command("calendar", short_help="Tones, services and deadlines as a calendar file.")
@click.argument("first", default="today", metavar="[FIRST]")
@click.argument("last", default="", metavar="[LAST]")
@click.option("-o", "--out", type=click.Path(path_type=Path), default=Path("services.ics"))
@click.option("--zone", default="Europe/Athens", show_default=True, help="Time zone by name.")
@click.option(
    "--before",
    type=click.IntRange(0, 60),
    default=3,
    show_default=True,
    help="Days before Vespers by which the hymns should be known.",
)
@parish_option
@json_option
def calendar_verb(
    first: str,
    last: str,
    out: Path,
    zone: str,
    before: int,
    parish: Path | None,
    as_json: bool,
) -> None:
    """Tones, services and practice deadlines from FIRST to LAST as an iCalendar file.

    Without LAST, one year. Every event is tentative until the priest confirms it.
    """
    folder = folder_of(parish)
    start = date.today() if first == "today" else almanac.parse_date(first)
    end = almanac.parse_date(last) if last else start + timedelta(364)
    data = almanac.to_ical(
        start,
        end,
        calendar=folder.calendar if folder else "new",
        practice=folder.practice if folder else "greek",
        zone=zone,
        before=before,
        title=(folder.name if folder else "") or "Tones and services",
        overrides=folder.overrides if folder else (),
    )
    safefile.write_bytes(out, data)
    if as_json:
        echo_json({"file": str(out), "first": start.isoformat(), "last": end.isoformat()})
    else:
        click.echo(f"Wrote {out}: {almanac.long_date(start)} to {almanac.long_date(end)}.")


@click.command("yearbook", short_help="Hold a diocesan yearbook against the computed tones.")
@click.argument("table", type=click.Path(path_type=Path))
@click.option(
    "--take",
    type=click.Path(path_type=Path),
    help="Write the differences as rows of your parish, into this file of its folder “own”.",
)
@parish_option
@json_option
def yearbook_verb(table: Path, take: Path | None, parish: Path | None, as_json: bool) -> None:
    """Hold a diocesan yearbook, typed as a CSV table (date,tone,eothinon), against the almanac.

    Tells every difference; takes none of them unless you say --take.
    """
    folder = folder_of(parish)
    found = almanac.compare(
        table,
        calendar=folder.calendar if folder else "new",
        practice=folder.practice if folder else "greek",
        overrides=folder.overrides if folder else (),
    )
    if take is not None and found:
        safefile.write_text(take, almanac.as_rows(found, table.name), keep=True)
    if as_json:
        echo_json(
            [
                {
                    "day": d.day.isoformat(),
                    "about": d.about,
                    "computed": d.computed,
                    "printed": d.printed,
                    "line": d.line,
                }
                for d in found
            ]
        )
    else:
        for difference in found:
            click.echo(str(difference))
        click.echo(f"Differences: {len(found)}.")
