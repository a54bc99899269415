"""The verb `pack`: a folder for the singers' phones."""

from __future__ import annotations

import time
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from multiprocessing import get_context
from pathlib import Path

import click

from chantwright import almanac
from chantwright.cli.frame import progress_line
from chantwright.errors import ChantError, Where
from chantwright.parish import open_folder
from chantwright.web.pack import write_pack, zip_pack
from chantwright.web.packfile import write_single

__all__ = ["pack_verb"]


@click.command("pack", short_help="A practice folder for the singers' phones.")
@click.argument("day", default="today", metavar="[DATE]")
@click.option(
    "--parish",
    type=click.Path(path_type=Path),
    default=Path(),
    help="Your parish folder [the folder you are in].",
)
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="Folder to write [ready/practice in the parish folder].",
)
@click.option("--zip", "zipped", is_flag=True, help="Write it as one zip too.")
@click.option("--single", is_flag=True, help="Write it as one file for a USB stick too.")
def pack_verb(day: str, parish: Path, out: Path | None, zipped: bool, single: bool) -> None:
    """A practice folder for the singers' phones, for the coming Saturday evening and Sunday.

    Put the folder on any web site whose address begins with https. It shows score and words, plays
    and slows the recordings, holds a drone, works in flight mode, and listens to the singer;
    nothing that is sung leaves the device. Written again into the same folder, it becomes the new
    week's.
    """
    started = time.monotonic()
    when = date.today() if day == "today" else almanac.parse_date(day)
    folder = open_folder(parish)
    target = out or parish / "ready" / "practice"
    if target.exists() and not target.is_dir():
        raise ChantError(
            "this is a file, not a folder.", where=Where(str(target)), remedy="Name another."
        )
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        pack = write_pack(folder, when, target, executor=pool, progress=progress_line)
    click.echo(f"{len(pack.hymns)} hymns in {time.monotonic() - started:.0f} seconds.")
    click.echo(f"  first page   {target / 'index.html'}")
    if zipped:
        click.echo(f"  zip          {zip_pack(pack, target.with_name(target.name + '.zip'))}")
    if single:
        click.echo(f"  one file     {write_single(pack, target.with_name(target.name + '.html'))}")
    if pack.missing:
        click.echo(f"Words still to be found for {len(pack.missing)} items.")
    for sentence in (*pack.warnings, *pack.remarks):
        click.echo(f"  {sentence}", err=True)
    click.echo("To let it listen and work in flight mode, put the folder on an https site.")
