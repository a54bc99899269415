"""Options that several verbs share, and the parish folder they stand for."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any, TypeVar, cast

import click

from chantwright import almanac
from chantwright.cli.frame import existing
from chantwright.engrave import FORMS, READINGS
from chantwright.errors import ChantError
from chantwright.parish import (
    LETTERS,
    LOOK,
    PAPERS,
    ParishFolder,
    Singer,
    group_singers,
    open_folder,
    read_singers,
    singers_of,
)
from chantwright.parish.folder import ACCIDENTALS, SCRIPTS
from chantwright.score import Hymn, called, hymnfile
from chantwright.tones import Tones
from chantwright.words import is_document, read_document

__all__ = [
    "folder_of",
    "in_tone",
    "json_option",
    "look_options",
    "parish_option",
    "read_hymn",
    "singers_options",
    "the_singers",
    "tone_options",
    "typed_words",
]

_F = TypeVar("_F", bound=Callable[..., Any])


def json_option(command: _F) -> _F:
    """``--json``: print one JSON document instead of text."""
    return click.option(
        "as_json", "--json", is_flag=True, help="Print one JSON document instead of text."
    )(command)


def parish_option(command: _F) -> _F:
    """``--parish``: the parish folder whose own settings and rows win."""
    return click.option(
        "--parish",
        type=click.Path(path_type=Path),
        help="Your parish folder: its settings and its own rows win over ours.",
    )(command)


_LOOK = (
    click.option(
        "--as",
        "readings",
        multiple=True,
        type=click.Choice(READINGS),
        help="How hymns are written; may be given several times [staff].",
    ),
    click.option(
        "--letters",
        type=click.Choice(list(LETTERS)),
        help="Letters under the notes: pa vou ga, re mi fa, or none.",
    ),
    click.option(
        "--script", type=click.Choice(list(SCRIPTS)), help="Script of the letters [latin]."
    ),
    click.option(
        "--accidentals",
        type=click.Choice(list(ACCIDENTALS)),
        help="Sharps and flats on the staff: as on a keyboard, with moria, or none [conventional].",
    ),
    click.option("--paper", type=click.Choice(list(PAPERS)), help="Size of the paper [a4]."),
    click.option(
        "--form",
        type=click.Choice(FORMS),
        help="Pages, half sheets to fold and staple, slides for a projector, or a phone [pages].",
    ),
    click.option("--large", "size", flag_value="large", help="Large print."),
    click.option("--black", "ink", flag_value="black", help="Black only, for photocopiers."),
)


def look_options(command: _F) -> _F:
    """How hymns look on paper; the verb gets one dict ``look``, for `parish.with_look`.

    What is not asked for is taken from the parish folder, else as in the brackets.
    """

    @functools.wraps(command)
    def bundled(*args: Any, **kwargs: Any) -> Any:
        look = {name: kwargs.pop(name) for name in LOOK}
        return command(*args, look=look, **kwargs)

    for option in reversed(_LOOK):
        bundled = option(bundled)
    return cast(_F, bundled)


def tone_options(command: _F) -> _F:
    """``--tone`` and ``--branch``."""
    command = click.option(
        "--branch", help="A branch of the tone, such as t4.heirmologic_legetos."
    )(command)
    return click.option(
        "--tone", type=click.IntRange(1, 8), help="Tone 1 to 8; wins over the file's own."
    )(command)


def singers_options(command: _F) -> _F:
    """``--group`` and ``--singers``."""
    command = click.option(
        "--singers",
        type=click.Path(path_type=Path),
        help="A list of singers with their comfortable ranges (singers.toml).",
    )(command)
    return click.option(
        "--group",
        type=click.Choice(["men", "women", "children", "mixed"]),
        help="Who sings, where nobody's range has been taken.",
    )(command)


def folder_of(parish: Path | None) -> ParishFolder | None:
    """Open the parish folder, where one is named."""
    return None if parish is None else open_folder(parish)


def the_singers(
    tones: Tones, folder: ParishFolder | None, group: str | None, singers: Path | None
) -> tuple[Singer, ...]:
    """Singers named on the command line, else the parish's own, else a mixed group."""
    if singers is not None:
        return read_singers(singers)
    if group is not None:
        return group_singers(tones, group)
    return group_singers(tones, "mixed") if folder is None else singers_of(folder, tones)


def typed_words() -> str:
    """Read standard input as UTF-8; what is not UTF-8 is replaced by a mark."""
    return sys.stdin.buffer.read().decode("utf-8-sig", errors="replace")


def in_tone(
    hymn: Hymn,
    tone: int | None,
    branch: str | None,
    tones: Tones,
    folder: ParishFolder | None,
) -> Hymn:
    """Give a hymn the tone asked for, else its own, else the tone of the coming Sunday.

    Raises
    ------
    ChantError
        If the branch is unknown, or no tone is sung on the coming Sunday either.
    """
    if branch is not None:
        return replace(hymn, branch=branch, tone=tones.branch(branch).tone)
    if tone is not None:
        return replace(hymn, tone=tone, branch=None)
    if hymn.tone is not None or hymn.branch is not None:
        return hymn
    coming = almanac.week(
        date.today(),
        calendar=folder.calendar if folder else "new",
        practice=folder.practice if folder else "greek",
        overrides=folder.overrides if folder else (),
    )
    now = next((d for d in coming if d.tone is not None), None)
    if now is None:
        raise ChantError(
            f"“{called(hymn)}” has no tone, and the coming Sunday gives it none.",
            remedy="Write a line such as “tone: 2” at the top of its file, or use --tone.",
        )
    click.echo(
        f"No tone is written, so tone {now.tone} of {almanac.long_date(now.liturgical_date)} "
        "is taken.",
        err=True,
    )
    return replace(hymn, tone=now.tone)


def read_hymn(file: str) -> Hymn:
    """Read a hymn file, a document of words, or words typed when the name is ``-``."""
    if file == "-":
        return hymnfile.loads(typed_words(), file="(typed words)")
    path = existing(Path(file))
    if not is_document(path):
        return hymnfile.read(path)
    document = read_document(path)
    for change in document.changes:
        click.echo(f"{path.name}: {change}", err=True)
    return hymnfile.loads(document.text, file=str(path))
