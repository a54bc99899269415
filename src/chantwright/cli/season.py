"""A season with ``prepare --from ... --to ...``: what is shown while it is made, and at the end."""

from __future__ import annotations

import time
from datetime import date
from functools import partial
from pathlib import Path

import click

from chantwright.cli.frame import FAILED, progress_line
from chantwright.parish import ParishFolder
from chantwright.parish.season import Season, prepare_season
from chantwright.parish.workers import workers
from chantwright.web import write_page

__all__ = ["run_season"]


def run_season(
    folder: ParishFolder,
    first: date,
    last: date,
    out: Path,
    *,
    as_in: date | None,
    suffixes: tuple[str, ...],
    address: str,
    processes: int | None,
) -> Season:
    """Prepare a season and tell about it; ends with code 1 where something could not be made."""
    started = time.monotonic()
    season = prepare_season(
        folder,
        first,
        last,
        out,
        workers=partial(workers, address, processes),
        progress=progress_line,
        as_in=as_in,
        suffixes=suffixes,
        page=write_page,
    )
    click.echo(
        f"{len(season.days)} weekends in {time.monotonic() - started:.0f} seconds: "
        f"{season.made} pieces of work done, {season.kept} found done."
    )
    click.echo(f"  a folder for each weekend, by its Saturday   {out}")
    click.echo(f"  plans                                        {folder.services}")
    if season.missing:
        click.echo(f"Words still to be found for {season.missing} items; see the pages.")
    click.echo(
        "Everything computed is a proposal: what is sung is for the priest and the typikon to "
        "decide. Formulas are from memory and want an experienced chanter's eye."
    )
    if season.troubles:
        click.echo("Not made, and why; mend it and run the same again:", err=True)
        for trouble in season.troubles:
            click.echo(f"  {trouble}", err=True)
        raise SystemExit(FAILED)
    return season
