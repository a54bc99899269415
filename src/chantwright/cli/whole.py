"""``prepare``, ``found`` and ``demo``: the whole job, a new parish folder, and a look at both."""

from __future__ import annotations

import shutil
import sys
import time
from datetime import date
from pathlib import Path
from typing import Any

import click

from chantwright import almanac
from chantwright.cli.frame import progress_line
from chantwright.cli.options import look_options
from chantwright.cli.season import run_season
from chantwright.engrave import Booklet, Entry, write_booklet
from chantwright.errors import ChantError
from chantwright.parish import (
    ParishFolder,
    Prepared,
    copy_demo,
    demo_date,
    dressed,
    found_folder,
    open_folder,
    prepare,
    tone_text,
    weekend_folder,
    with_look,
)
from chantwright.parish.workers import workers
from chantwright.tones import load_tones
from chantwright.web import write_page

__all__ = ["demo_verb", "found_verb", "prepare_verb"]


def _run(
    folder: ParishFolder, day: date, out: Path, suffixes: tuple[str, ...], address: str = ""
) -> Prepared:
    started = time.monotonic()
    with workers(address) as pool:
        prepared = prepare(
            folder, day, out, executor=pool, progress=progress_line, suffixes=suffixes
        )
    page = write_page(prepared, load_tones(folder.overrides))
    pieces = [p for s in prepared.sessions for p in s.pieces if p.singable is not None]
    click.echo(
        f"{len(pieces)} hymn{'s' * (len(pieces) != 1)} in {time.monotonic() - started:.0f} seconds."
    )
    click.echo(f"  page         {page}")
    click.echo(f"  booklet      {prepared.booklet}")
    click.echo(f"  recordings   {out / 'recordings'}")
    click.echo(f"  hymn files   {out / 'hymns'}")
    click.echo(f"  plans        {folder.services}")
    if prepared.missing:
        click.echo(f"Words still to be found for {len(prepared.missing)} items; see the page.")
    if prepared.warnings:
        click.echo(f"{len(prepared.warnings)} warnings about pitch; see the page.")
    click.echo(
        "Everything computed is a proposal: what is sung is for the priest and the typikon to "
        "decide. Formulas are from memory and want an experienced chanter's eye."
    )
    return prepared


@click.command("prepare", short_help="The whole job for the coming Saturday evening and Sunday.")
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
    help="Folder for what is made [ready/ and the weekend's Saturday, in the parish folder].",
)
@click.option("--flac", is_flag=True, help="Write FLAC recordings too.")
@click.option(
    "--workers",
    "address",
    default="",
    metavar="ADDRESS",
    help="Record on the workers of a dask.distributed scheduler, such as tcp://10.0.0.5:8786; "
    "they must see the same folders.",
)
@click.option(
    "--from",
    "first",
    metavar="DATE",
    help="A whole season instead of DATE: every Saturday and Sunday from this day on ...",
)
@click.option("--to", "last", metavar="DATE", help="... to this one.")
@click.option(
    "--as-in",
    "as_in",
    metavar="DATE",
    help="With --from: services without a plan take the hymn files of this weekend's plans, each "
    "in the tone of its own week.",
)
@click.option(
    "--paper-only",
    is_flag=True,
    help="With --from: booklets, hymn files and pages, but no recordings.",
)
@click.option(
    "--processes",
    type=click.IntRange(1, 64),
    help="With --from: how many processes work at a time [as many as the computer has cores].",
)
@look_options
def prepare_verb(
    day: str,
    parish: Path,
    out: Path | None,
    flac: bool,
    address: str,
    first: str | None,
    last: str | None,
    as_in: str | None,
    paper_only: bool,
    processes: int | None,
    look: dict[str, Any],
) -> None:
    """The whole job for the coming Saturday evening and Sunday.

    Reads the plans in your parish folder (and makes them, empty, where there are none), sets what
    has no melody, finds the pitch, prints the booklet and makes the recordings. All of it lies in a
    folder named by the weekend's Saturday, whatever day it is made on. How the booklet and
    the page are written stands in parish.toml; an option here wins over it. A run that was
    ended half-way goes on where it stopped when it is started again.

    With --from and --to a whole season is made, a folder for each weekend. What is the same in
    several weeks is made once; a text that cannot be set stops nothing and is told at the end.
    """
    suffixes = (".opus", ".mp3", ".flac") if flac else (".opus", ".mp3")
    if first is not None and last is not None:
        folder = with_look(open_folder(parish), **look)
        run_season(
            folder,
            almanac.parse_date(first),
            almanac.parse_date(last),
            out or parish / "ready",
            as_in=almanac.parse_date(as_in) if as_in else None,
            suffixes=() if paper_only else suffixes,
            address=address,
            processes=processes,
        )
        return
    if first or last or as_in or processes or paper_only:
        raise ChantError(
            "a season needs its first and its last day.", remedy="Give both --from and --to."
        )
    when = date.today() if day == "today" else almanac.parse_date(day)
    folder = with_look(open_folder(parish), **look)
    _run(folder, when, out or weekend_folder(folder, when), suffixes, address)


@click.command("found", short_help="Found a parish folder.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", default="", help="Name of the parish, as printed.")
def found_verb(folder: Path, name: str) -> None:
    """Found a parish folder: settings, and places for hymns, plans and your own rows."""
    for path in found_folder(folder, name):
        click.echo(f"made {path}")
    click.echo(
        f"""Next:
  1  chantwright serve --parish {folder}
     opens it in the browser; everything below can be done there too.
  2  chantwright singers add NAME --voice man --lowest A2 --highest D4 --parish {folder}
     for each singer, so that hymns are pitched for them.
  3  Put words (or hymn files) into {folder / "hymns"}, then:
     chantwright prepare --parish {folder}
     The first time it writes plans into {folder / "services"}: write the files' names there, and
     run it again."""
    )


@click.command("demo", short_help="The whole job for an invented parish.")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    default=Path("demo"),
    show_default=True,
    help="Folder for the demonstration.",
)
def demo_verb(out: Path) -> None:
    """The whole job for an invented parish: a real Saturday evening and Sunday.

    Makes a parish folder with words, sets them in the tone of that week and the other seven,
    prints a booklet and records every hymn. One hymn is printed once more in staff and neumes.
    """
    parish = copy_demo(out / "parish")
    folder = open_folder(parish)
    prepared = _run(folder, demo_date(parish), out, (".opus", ".mp3", ".flac"))
    click.echo(f"  staff and neumes   {_in_both(prepared, out / 'staff-and-neumes.pdf')}")
    click.echo(f"""Look at it in the browser, or begin your own:
{_known()}  chantwright serve --parish {parish}
  chantwright found our-parish""")


def _known() -> str:
    """What to type so that the name is known in this window; nothing where it is."""
    here = Path(sys.executable).with_name("activate")
    here = here.relative_to(Path.cwd()) if here.is_relative_to(Path.cwd()) else here
    return "" if shutil.which("chantwright") or not here.exists() else f"  . {here}\n"


def _in_both(prepared: Prepared, path: Path) -> Path:
    """Print the first hymn in staff and neumes."""
    tones = load_tones(prepared.folder.overrides)
    pieces = (p for s in prepared.sessions for p in s.pieces)
    hymn = next(p.singable.hymn for p in pieces if p.singable is not None)
    entry = Entry("hymn", hymn.title, hymn, tone_text=tone_text(hymn, tones))
    booklet = Booklet(hymn.title, parish=prepared.folder.name, entries=(entry,))
    both = with_look(prepared.folder, readings=("staff", "neumes"))
    return write_booklet(dressed(booklet, both), path, tones)
