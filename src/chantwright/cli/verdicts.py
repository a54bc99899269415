"""``hear``: listen to a recording of a hymn and say what a good teacher would say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Literal

import click

from chantwright import safefile
from chantwright.cli.frame import FAILED, echo_json, existing, progress_line
from chantwright.cli.options import folder_of, json_option, parish_option
from chantwright.ear.listening import ListenOptions, listen
from chantwright.ear.pages import document, told, write_page
from chantwright.ear.recording import read_recording
from chantwright.ear.verdict import LEVELS
from chantwright.errors import ChantError
from chantwright.score import hymnfile
from chantwright.tones import load_tones

__all__ = ["hear_verb"]


def _drone(text: str | None) -> float | Literal["detect"] | None:
    if text is None:
        return None
    if text == "find":
        return "detect"
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 30.0 <= value <= 1000.0:
        raise ChantError(
            f"“{text}” is no pitch of a drone.",
            remedy="Give its pitch in Hz, such as 146.8, or write: --drone find",
        )
    return value


@click.command("hear", short_help="Hear a singer: a verdict on a recording of a hymn.")
@click.argument("hymn", type=click.Path(path_type=Path))
@click.argument("recording", type=click.Path(path_type=Path))
@click.option(
    "--level",
    type=click.Choice(list(LEVELS)),
    default="regular",
    show_default=True,
    help="How strictly: 3, 2 or 1.5 moria.",
)
@click.option(
    "--base",
    type=click.FloatRange(30, 1000),
    metavar="HZ",
    help="Pitch of the tone's base that the singer was given.",
)
@click.option(
    "--drone",
    metavar="HZ|find",
    help="An ison sounds in the recording: its pitch, or “find”.",
)
@click.option("--page", type=click.Path(path_type=Path), help="Write the verdict as a page here.")
@click.option(
    "--save", type=click.Path(path_type=Path), help="Write the verdict as a JSON file here."
)
@json_option
@parish_option
def hear_verb(
    hymn: Path,
    recording: Path,
    level: str,
    base: float | None,
    drone: str | None,
    page: Path | None,
    save: Path | None,
    as_json: bool,
    parish: Path | None,
) -> None:
    """Hear a singer: a verdict on a recording of a hymn.

    HYMN is a hymn file with its melody, RECORDING a sound file of one person singing it. Says
    where the base stood and whether it moved, which notes were off and by how many moria, what was
    left out, and the one thing to practise next. Nothing is sent anywhere; nothing is kept unless
    you name a file with --page or --save.
    """
    folder = folder_of(parish)
    overrides = folder.overrides if folder else ()
    tones = load_tones(overrides)
    score = hymnfile.read(existing(hymn))
    sound = read_recording(existing(recording))
    options = ListenOptions(level=level, base_hz=base, drone=_drone(drone))
    verdict = listen(
        score,
        sound.samples,
        sound.rate,
        tones,
        options,
        overrides=overrides,
        progress=progress_line,
    )
    if page is not None:
        write_page(verdict, page, recording=recording.name, remarks=sound.about.remarks)
    if save is not None:
        text = json.dumps(document(verdict), ensure_ascii=False, indent=1)
        safefile.write_text(save, text + "\n")
    if as_json:
        echo_json(document(verdict))
    else:
        for sentence in (*sound.about.remarks, *verdict.summary):
            click.echo(sentence)
        for sentence in told(verdict):
            click.echo(f"  – {sentence}")
        if verdict.practise:
            click.echo(f"Next: {verdict.practise}")
        for made in (page, save):
            if made is not None:
                click.echo(f"Written to {made}")
    if verdict.status in ("nothing sung", "another hymn"):
        click.get_current_context().exit(FAILED)
