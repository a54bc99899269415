"""``print``: paper from hymn files."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from chantwright import words
from chantwright.cli.frame import progress_line
from chantwright.cli.options import (
    folder_of,
    in_tone,
    look_options,
    parish_option,
    read_hymn,
    singers_options,
    the_singers,
    tone_options,
)
from chantwright.engrave import Booklet, Entry, Handout, write_booklet, write_handout
from chantwright.errors import ChantError
from chantwright.parish import (
    PAPERS,
    Knowledge,
    ParishFolder,
    Singer,
    dressed,
    load_knowledge,
    make_singable,
    tone_text,
    with_look,
)
from chantwright.score import Hymn, hymnfile

__all__ = ["handout_verb", "print_verb", "ready_hymn"]


def ready_hymn(
    file: str,
    knowledge: Knowledge,
    people: tuple[Singer, ...],
    tone: int | None,
    branch: str | None,
    folder: ParishFolder | None,
) -> Hymn:
    """Read a hymn, set it if it has no melody, and give it a pitch for the singers."""
    hymn = read_hymn(file)
    if not hymn.is_set:
        hymn = in_tone(hymn, tone, branch, knowledge.tones, folder)
    elif tone is not None or branch is not None:
        raise ChantError(
            f"“{hymn.title or file}” has its melody already, so its tone cannot be changed here.",
            remedy="Leave out --tone, or set the words again with: chantwright set",
        )
    return make_singable(hymn, knowledge, people, ison=folder.ison if folder else "simple").hymn


@click.command("print", short_help="Print hymns as a booklet.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    default=Path("booklet.pdf"),
    show_default=True,
    help="The PDF to write.",
)
@click.option(
    "--title", default="", help="Title of the whole; of several hymns it stands on a cover."
)
@look_options
@tone_options
@singers_options
@parish_option
def print_verb(
    files: tuple[str, ...],
    out: Path,
    title: str,
    look: dict[str, Any],
    tone: int | None,
    branch: str | None,
    group: str | None,
    singers: Path | None,
    parish: Path | None,
) -> None:
    """Print hymns as a booklet: staff or neumes, words, ison and solfege letters.

    Words without a melody are set first; hymns without a pitch get one for your singers.
    """
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    people = the_singers(knowledge.tones, folder, group, singers)
    dress = with_look(folder or ParishFolder(Path()), **look)
    entries = []
    for number, file in enumerate(files, start=1):
        hymn = ready_hymn(file, knowledge, people, tone, branch, folder)
        progress_line(f"set {hymn.title or file}", number, len(files))
        entries.append(
            Entry(
                kind="hymn",
                title=hymn.title or Path(file).stem,
                hymn=hymn,
                tone_text=tone_text(hymn, knowledge.tones),
            )
        )
    booklet = Booklet(
        title=title or (entries[0].title if len(entries) == 1 else "Hymns"),
        parish=folder.name if folder else "",
        date_text=f"{date.today().day} {date.today():%B %Y}",
        entries=tuple(entries),
    )
    booklet = dressed(booklet, dress)
    click.echo(f"Written to {write_booklet(booklet, out, knowledge.tones)}")


_MODEL = "145:1-3"
"""Psalm verses that show a tone where no hymn is named."""


@click.command("handout", short_help="One page on a tone: ladder, intonation, a hymn by heart.")
@click.argument("file", required=False, metavar="[FILE]")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    default=Path("handout.pdf"),
    show_default=True,
    help="The PDF to write.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="Size of the paper.")
@click.option("--black", is_flag=True, help="Black only, for photocopiers.")
@tone_options
@singers_options
@parish_option
def handout_verb(
    file: str | None,
    out: Path,
    paper: str | None,
    black: bool,
    tone: int | None,
    branch: str | None,
    group: str | None,
    singers: Path | None,
    parish: Path | None,
) -> None:
    """One page on a tone: the ladder of its scale to true size, intonation, a hymn to know.

    FILE is the hymn to know by heart; where none is named, verses of Psalm 145 are set.
    """
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    people = the_singers(knowledge.tones, folder, group, singers)
    if file is not None:
        hymn = ready_hymn(file, knowledge, people, tone, branch, folder)
    else:
        plain = hymnfile.loads(f"title: Psalm {_MODEL}\n\n{words.psalm(_MODEL).text}")
        plain = in_tone(plain, tone, branch, knowledge.tones, folder)
        hymn = make_singable(plain, knowledge, people).hymn
        hymn = replace(hymn, words_source=f"Psalm {_MODEL}, King James")
    handout = Handout(
        hymn,
        parish=folder.name if folder else "",
        paper=PAPERS[paper or (folder.paper if folder else "a4")],
        black=black,
    )
    click.echo(f"Written to {write_handout(handout, out, knowledge.tones)}")
