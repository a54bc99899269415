"""``calendar``: tones and services for a calendar program."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import click

from chantwright import almanac, safefile
from chantwright.cli.frame import echo_json
from chantwright.cli.options import folder_of, json_option, parish_option

__all__ = ["calendar_verb"]


@click.command("calendar")
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
