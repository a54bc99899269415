"""``calendar`` and ``yearbook``: a file for a calendar program, and a printed table compared."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import click

from chantwright import almanac, safefile
from chantwright.cli.frame import echo_json
from chantwright.cli.options import folder_of, json_option, parish_option
from chantwright.parish.plan import planned_in

__all__ = ["calendar_verb", "yearbook_verb"]


@click.command("calendar", short_help="Tones, services and deadlines as a calendar file.")
@click.argument("first", default="today", metavar="[FIRST]")
@click.argument("last", default="", metavar="[LAST]")
@click.option("-o", "--out", type=click.Path(path_type=Path), default=Path("services.ics"))
@click.option("--zone", default="", help="Time zone by name [the parish's, else Europe/Athens].")
@click.option(
    "--before",
    type=click.IntRange(0, 60),
    default=3,
    show_default=True,
    help="Days before Vespers by which the hymns should be known.",
)
@click.option(
    "--alarm",
    type=click.IntRange(0, 10_080),
    default=0,
    help="Minutes before a service at which you are reminded [no reminder].",
)
@parish_option
@json_option
def calendar_verb(
    first: str,
    last: str,
    out: Path,
    zone: str,
    before: int,
    alarm: int,
    parish: Path | None,
    as_json: bool,
) -> None:
    """Tones, the parish's services and practice deadlines from FIRST to LAST as an iCalendar file.

    Without LAST, one year. Every event is tentative until the priest confirms it; his lines in the
    plans of your parish folder are read. Where the file is there already, what has not changed
    stays as it is, and what has gets the next sequence number.
    """
    folder = folder_of(parish)
    start = date.today() if first == "today" else almanac.parse_date(first)
    end = almanac.parse_date(last) if last else start + timedelta(364)
    overrides = folder.overrides if folder else ()
    data = almanac.to_ical(
        start,
        end,
        calendar=folder.calendar if folder else "new",
        practice=folder.practice if folder else "greek",
        zone=zone or (folder.zone if folder else ""),
        before=before,
        alarm=alarm,
        title=(folder.name if folder else "") or "Tones and services",
        planned=planned_in(folder.services, overrides) if folder else almanac.Served,
        former=out.read_bytes() if out.is_file() else b"",
        now=datetime.now(UTC).replace(microsecond=0),
        overrides=overrides,
    )
    safefile.write_bytes(out, data)
    if as_json:
        echo_json(
            {
                "file": str(out),
                "first": start.isoformat(),
                "last": end.isoformat(),
                "events": almanac.ical_json(data),
            }
        )
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
    """Hold a diocesan yearbook, typed as a CSV table, against the almanac.

    Its first line names the columns: date and any of tone, eothinon, saint, rank.

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
                    "rank": d.rank,
                    "line": d.line,
                }
                for d in found
            ]
        )
    else:
        for difference in found:
            click.echo(str(difference))
        click.echo(f"Differences: {len(found)}.")
