"""``sing``: a practice recording, or MIDI, from hymn files."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import click

from chantwright import safefile
from chantwright.cli.frame import progress_line
from chantwright.cli.making import ready_hymn
from chantwright.cli.options import (
    folder_of,
    parish_option,
    singers_options,
    the_singers,
    tone_options,
)
from chantwright.errors import ChantError
from chantwright.parish import load_knowledge
from chantwright.score import Hymn
from chantwright.voice import (
    HOLDING,
    INTONATIONS,
    MODES,
    SUNG,
    TUNINGS,
    TrackOptions,
    draw_cover,
    joined,
    load_spelling,
    looped,
    record,
    write_midi,
)

__all__ = ["sing_verb"]


@click.command("sing", short_help="Make a practice recording.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="What to write: .opus, .mp3, .flac, .wav, or .mid [the hymn's name].opus.",
)
@click.option(
    "--part",
    type=click.Choice(list(MODES)),
    default=MODES[0],
    show_default=True,
    help="What is heard.",
)
@click.option(
    "--text",
    type=click.Choice(list(SUNG)),
    default=SUNG[0],
    show_default=True,
    help="What the voice sings: the words, pa vou ga, re mi fa, or ah.",
)
@click.option("--plain", is_flag=True, help="The plain voice, which hints at words only.")
@click.option(
    "--pace", type=click.FloatRange(0.4, 1.5), default=1.0, help="Pace: 0.7 for learners."
)
@click.option("--phrase", type=click.IntRange(1), help="One phrase only, again and again.")
@click.option(
    "--times",
    type=click.IntRange(1, 50),
    default=4,
    show_default=True,
    help="How often, with --phrase.",
)
@click.option(
    "--rest",
    type=click.IntRange(0, 64),
    default=2,
    show_default=True,
    help="Beats of rest between one time, or one verse, and the next.",
)
@click.option(
    "--intonation",
    type=click.Choice(list(INTONATIONS)),
    default="short",
    show_default=True,
    help="The few notes before the hymn.",
)
@click.option(
    "--count-in",
    type=click.IntRange(0, 8),
    default=4,
    show_default=True,
    help="Ticks before the hymn begins.",
)
@click.option(
    "--voice",
    help="Who sings.",
    type=click.Choice(["low", "high", "child"]),
    default="low",
    show_default=True,
)
@click.option(
    "--vibrato",
    type=click.FloatRange(0, 12),
    default=0,
    show_default=True,
    help="Cents to either side, on longer notes.",
)
@click.option(
    "--holders",
    type=click.IntRange(1, 4),
    default=3,
    show_default=True,
    help="Voices that hold the ison; one alone is as true as a machine.",
)
@click.option(
    "--holding",
    type=click.Choice(list(HOLDING)),
    default=HOLDING[0],
    show_default=True,
    help="What they sing.",
)
@click.option("--say-title", is_flag=True, help="Speak the title first.")
@click.option(
    "--tuning",
    type=click.Choice(list(TUNINGS)),
    default=TUNINGS[0],
    show_default=True,
    help="With .mid: a tuning table, or bends.",
)
@click.option(
    "--map",
    "map_file",
    type=click.Path(path_type=Path),
    help="Write when each syllable and note sounds (JSON).",
)
@tone_options
@singers_options
@parish_option
def sing_verb(
    files: tuple[str, ...],
    out: Path | None,
    part: str,
    text: str,
    plain: bool,
    pace: float,
    phrase: int | None,
    times: int,
    rest: int,
    intonation: str,
    count_in: int,
    voice: str,
    vibrato: float,
    holders: int,
    holding: str,
    say_title: bool,
    tuning: str,
    map_file: Path | None,
    tone: int | None,
    branch: str | None,
    group: str | None,
    singers: Path | None,
    parish: Path | None,
) -> None:
    """Make a practice recording: intonation, count-in, words and ison, in the true tuning.

    Several files of one tone become the verses of one recording. Listen at the level of quiet
    speech.
    """
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    people = the_singers(knowledge.tones, folder, group, singers)
    hymn = _whole(
        [ready_hymn(f, knowledge, people, tone, branch, folder) for f in files], rest, phrase, times
    )
    first = files[0]
    target = out or Path("recording.opus" if first == "-" else Path(first).stem + ".opus")
    options = TrackOptions(
        mode=part,
        pace=pace,
        voice=voice,
        sung=text,
        engine="plain" if plain else "auto",
        intonation=intonation,
        count_in=count_in,
        vibrato=vibrato,
        holders=holders,
        holding=holding,
        say_title=say_title,
    )
    if target.suffix.lower() in (".mid", ".midi"):
        if map_file is not None:
            raise ChantError(
                "a MIDI file has no timing map: its own times are exact.",
                remedy="Leave out --map, or write a recording.",
            )
        write_midi(hymn, knowledge.tones, target, tuning=tuning, options=options)
        click.echo(f"Written to {target}")
        return
    progress_line(f"singing {hymn.title or first}", 1, 2)
    made = record(
        hymn,
        knowledge.tones,
        [target],
        options,
        {"title": hymn.title, "album": folder.name if folder else ""},
        picture=draw_cover(hymn.title or Path(first).stem, folder.name if folder else ""),
        spelling=load_spelling(folder.overrides) if folder and folder.overrides else None,
    )
    progress_line(f"written {target.name}", 2, 2)
    if map_file is not None:
        safefile.write_text(map_file, made.timing.to_json())
    for remark in made.remarks:
        click.echo(remark, err=True)
    click.echo(f"Written to {target} ({made.timing.seconds:.0f} seconds)")


def _whole(hymns: list[Hymn], rest: int, phrase: int | None, times: int) -> Hymn:
    """Join verses, or take one phrase again and again."""
    if len(hymns) > 1:
        # Every verse was given a pitch for itself; they are sung at the first one's.
        hymns = [hymns[0], *(_at_pitch(h, hymns[0]) for h in hymns[1:])]
    hymn = joined(hymns, rest=Fraction(rest)) if len(hymns) > 1 else hymns[0]
    return hymn if phrase is None else looped(hymn, phrase, times, rest)


def _at_pitch(hymn: Hymn, first: Hymn) -> Hymn:
    if hymn.branch != first.branch:
        return hymn
    return replace(hymn, base=first.base)
