"""``backup``, ``restore`` and ``singers``: what is kept of a parish, and of one singer."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import click

from chantwright.cli.frame import echo_json
from chantwright.engrave import pitch_name
from chantwright.errors import ChantError, Where
from chantwright.parish import note_hz, open_folder, read_singers
from chantwright.parish.handed import singer_named, take_in
from chantwright.parish.practice import load_rules
from chantwright.parish.records import (
    Store,
    add_person,
    back_up,
    open_store,
    persons,
    restore,
    store_url,
    take_range,
)
from chantwright.parish.records.backup import RECORDINGS
from chantwright.parish.records.handing import hand_over
from chantwright.parish.singers import VOICES
from chantwright.web.handin import read_handins, told_in

__all__ = ["backup_verb", "keep_range", "restore_verb", "singers_verb"]

_PARISH = click.option(
    "--parish",
    type=click.Path(path_type=Path),
    default=Path(),
    help="Your parish folder [the folder you are in].",
)


@contextmanager
def _opened(parish: Path) -> Iterator[Store]:
    store = open_store(store_url(parish))
    try:
        yield store
    finally:
        store.close()


@click.command("backup", short_help="Everything of your parish in one file.")
@_PARISH
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="The file [parish-DATE.zip here]."
)
def backup_verb(parish: Path, out: Path | None) -> None:
    """Write your hymns, plans, settings and records of singers into one file.

    Left out are recordings of singers, who is signed in, and what can be made again (ready/).
    The file names people: keep it where nobody else reads it.
    """
    open_folder(parish)
    target = out or Path(f"parish-{date.today().isoformat()}.zip")
    with _opened(parish) as store:
        count = back_up(store, parish, target)
    click.echo(f"{count} files and rows in {target}")


@click.command("restore", short_help="Put a parish back from such a file.")
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path))
def restore_verb(source: Path, folder: Path) -> None:
    """Put a parish back into an empty FOLDER from the file SOURCE that `backup` wrote.

    With CHANTWRIGHT_RECORDS set, the records go into that database, which must be empty too.
    """
    if not source.is_file():
        raise ChantError(
            "there is no such file.", where=Where(str(source)), remedy="Check its name."
        )
    if (folder / "parish.toml").exists():  # before a database is made in it
        raise ChantError(
            "there is a parish in this folder already.",
            where=Where(str(folder)),
            remedy="Restore into a new, empty folder.",
        )
    folder.mkdir(parents=True, exist_ok=True)
    with _opened(folder) as store:
        count = restore(store, folder, source)
    click.echo(f"{count} files and rows put back into {folder}")


@click.group("singers", short_help="Who sings, and everything kept of one singer.")
def singers_verb() -> None:
    """Who sings in your parish, and everything that is kept of one singer."""


def _note(hz: float | None) -> str:
    return "" if hz is None else pitch_name(hz)[0]


@singers_verb.command("add")
@click.argument("nickname")
@click.option(
    "--voice", type=click.Choice(VOICES), required=True, help="child is a voice not yet changed."
)
@click.option("--lowest", help="Lowest comfortable note, such as A2 or “110 Hz”.")
@click.option("--highest", help="Highest comfortable note, such as D4.")
@click.option("--minor/--grown", default=None, help="Under age [a child's voice is].")
@_PARISH
def add_singer(
    nickname: str,
    voice: str,
    lowest: str | None,
    highest: str | None,
    minor: bool | None,
    parish: Path,
) -> None:
    """Add a singer, with a comfortable range where it is known.

    A nickname suffices. Comfortable is what can be held softly, without effort; never the extremes.
    """
    open_folder(parish)
    if (lowest is None) != (highest is None):
        raise click.UsageError("Give both --lowest and --highest, or neither.")
    with _opened(parish) as store, store.write() as session:
        one = add_person(session, nickname, voice, minor=minor)
        if lowest is not None and highest is not None:
            one = take_range(session, one.id, note_hz(lowest), note_hz(highest))
    span = f", {_note(one.low_hz)} to {_note(one.high_hz)}" if one.singer else ", no range yet"
    click.echo(f"{one.nickname}: {one.voice}{span}")


@singers_verb.command("list")
@_PARISH
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def list_singers(parish: Path, as_json: bool) -> None:
    """List the singers in the records with their comfortable ranges."""
    folder = open_folder(parish)
    with _opened(parish) as store, store.read() as session:
        found = persons(session)
    listed = () if folder.singers_file is None else read_singers(folder.singers_file)
    if as_json:
        echo_json(
            [
                {
                    "nickname": p.nickname,
                    "voice": p.voice,
                    "minor": p.minor,
                    "low_hz": p.low_hz,
                    "high_hz": p.high_hz,
                }
                for p in found
            ]
        )
        return
    for p in found:
        span = f"{_note(p.low_hz)} to {_note(p.high_hz)}" if p.low_hz else "no range yet"
        click.echo(f"{p.nickname:20} {p.voice:6} {span}")
    if any(p.singer for p in found):
        return
    for one in listed:
        span = f"{_note(one.low_hz)} to {_note(one.high_hz)}"
        click.echo(f"{one.name:20} {one.voice:6} {span}  (singers.toml)")
    if not found and not listed:
        click.echo(
            "Nobody yet. Add them here (chantwright singers add --help), or on the page Singers of "
            "chantwright serve. Until then the usual ranges of the group in parish.toml are taken."
        )


def keep_range(
    parish: Path, nickname: str, voice: str | None, low_hz: float, high_hz: float
) -> None:
    """Keep a range that was sung, for a singer of the records or, with a voice, for a new one.

    Raises
    ------
    ChantError
        If there is no such singer and no voice is given, or the range is not one a person sings.
    """
    with _opened(parish) as store, store.write() as session:
        known = persons(session)
        if voice is None or any(p.nickname.casefold() == nickname.casefold() for p in known):
            one = singer_named(known, nickname)
        else:
            one = add_person(session, nickname, voice)
        take_range(session, one.id, low_hz, high_hz, how="sung")


@singers_verb.command("export")
@click.argument("nickname")
@_PARISH
@click.option("-o", "--out", type=click.Path(path_type=Path), help="The file [NICKNAME.zip here].")
def export_singer(nickname: str, parish: Path, out: Path | None) -> None:
    """Write everything that is kept of one singer, with their recordings, into one file."""
    open_folder(parish)
    with _opened(parish) as store:
        with store.read() as session:
            who = singer_named(persons(session), nickname)
        plain = re.sub(r"[^\w-]+", "-", who.nickname).strip("-") or "singer"
        target = out or Path(f"{plain}.zip")
        sounds = hand_over(store, who.id, parish / RECORDINGS, target)
    click.echo(f"Everything of {who.nickname} ({sounds} recordings) is in {target}")


@singers_verb.command("results")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path, allow_dash=True))
@click.option("--singer", metavar="NICKNAME", help="Whose they are [as the singer wrote it].")
@_PARISH
def take_results(files: tuple[Path, ...], singer: str | None, parish: Path) -> None:
    """Take in results that singers handed you from the practice pack.

    FILES are what they kept or sent: a file, or a message saved as text with one or more results in
    it; - reads what you paste. What was taken in before is not taken in twice. Either all is taken
    in or nothing.
    """
    folder = open_folder(parish)
    handed = [(str(f), r) for f in files for r in read_handins(_pasted(f), str(f))]
    rules = load_rules(folder.overrides)
    with _opened(parish) as store, store.write() as session:
        who = singer_named(persons(session), singer) if singer else None
        found = take_in(session, handed, rules, who, remedy="Say it with --singer NICKNAME.")
    taken = dict.fromkeys([t.who.nickname for t in found], 0)
    for one in found:
        taken[one.who.nickname] += one.is_new
    for name, count in taken.items():
        click.echo(f"{name}: {count} taken in" if count else f"{name}: nothing new")


def _pasted(file: Path) -> str:
    if str(file) == "-":
        return told_in(sys.stdin.buffer.read(), "what you pasted")
    try:
        data = file.read_bytes()
    except OSError as exc:
        raise ChantError(
            f"it cannot be read: {exc.strerror}.", where=Where(str(file)), remedy="Check its name."
        ) from None
    return told_in(data, str(file))
