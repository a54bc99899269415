"""``range``, ``hold``, ``name`` and ``transcribe``: recordings of somebody singing."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Literal

import click

from chantwright import words as words_of
from chantwright.cli.frame import echo_json, existing, progress_line
from chantwright.cli.options import folder_of, json_option, parish_option, read_hymn
from chantwright.ear.compass import Compass, take_compass
from chantwright.ear.contour import Contour
from chantwright.ear.holding import Holding, ison_spans, judge_holding
from chantwright.ear.naming import Named, name_singing
from chantwright.ear.recording import read_recording
from chantwright.ear.takedown import take_down
from chantwright.ear.trace import trace
from chantwright.ear.voicing import nothing_sung
from chantwright.engrave import pitch_name
from chantwright.errors import ChantError, Where
from chantwright.parish import load_knowledge, open_folder
from chantwright.score import hymnfile
from chantwright.tones import Branch, Tones

__all__ = ["hold_verb", "name_verb", "range_verb", "transcribe_verb"]

drone_option = click.option(
    "--drone",
    help="A drone sounds in the recording: its pitch in Hz, or “find”.",
)


def _contour(path: Path, drone: str | None) -> Contour:
    """Read and trace a recording; what is odd about it is said."""
    progress_line("reading the recording", 0, 100)
    recording = read_recording(path)
    for remark in recording.about.remarks:
        click.echo(remark, err=True)
    contour = trace(
        recording.samples,
        recording.rate,
        drone=_drone(drone),
        progress=lambda share: progress_line("listening", round(100 * share), 100),
    )
    if nothing_sung(contour):
        raise ChantError(
            "nothing sung can be heard in this recording.",
            where=Where(str(path)),
            remedy="Sing held notes close to the microphone; a loud drone may hide a voice.",
        )
    return contour


def _note(hz: float) -> str:
    """Nearest key of the keyboard, and the cents that remain where they can be heard."""
    name, cents = pitch_name(hz)
    return f"{name} {cents:+d} cents" if abs(cents) >= 10 else name


def _drone(text: str | None) -> float | Literal["detect"] | None:
    if text is None or text == "find":
        return "detect" if text == "find" else None
    try:
        return float(text.lower().removesuffix("hz"))
    except ValueError:
        raise ChantError(
            f"“{text}” is no pitch of a drone.", remedy="Write it in Hz, such as 146.8, or “find”."
        ) from None


@click.command("range", short_help="Take a singer's range from a recording.")
@click.argument("recording", type=click.Path(path_type=Path))
@click.option("--singer", default="", help="Name of the singer, for the list of singers.")
@click.option(
    "--voice",
    type=click.Choice(["man", "woman", "child"]),
    help="Whose voice, for the list of singers.",
)
@click.option(
    "--parish",
    type=click.Path(path_type=Path),
    help="Keep the range of --singer in the records of this parish folder.",
)
@json_option
def range_verb(
    recording: Path, singer: str, voice: str | None, parish: Path | None, as_json: bool
) -> None:
    """Take a singer's comfortable range from a recording of held notes.

    Sing one note after another on “ah”, from the middle down and then up, only as far as it is
    easy, and hold each for a second. Slides and notes that are only touched do not count.
    """
    if parish is not None:
        if not singer:
            raise click.UsageError("Say whose range it is: --singer.")
        open_folder(parish)
    compass = take_compass(_contour(recording, None))
    if parish is not None:
        from chantwright.cli.keeping import keep_range  # noqa: PLC0415 (opens what speaks SQL)

        keep_range(parish, singer, voice, compass.low_hz, compass.high_hz)
    if as_json:
        echo_json(asdict(compass))
        return
    click.echo(_compass_text(compass))
    if parish is not None:
        click.echo(f"Kept for {singer} in {parish}.")
    elif singer:
        click.echo(
            f'\n[[singer]]\nname = "{singer}"\nvoice = "{voice or "man"}"\n'
            f'lowest = "{compass.low_hz:.1f} Hz"\nhighest = "{compass.high_hz:.1f} Hz"'
        )


def _compass_text(compass: Compass) -> str:
    lines = [
        f"Comfortable: {_note(compass.low_hz)} to {_note(compass.high_hz)} "
        f"({compass.low_hz:.0f} to {compass.high_hz:.0f} Hz).",
        f"Held: {compass.notes} different notes, from {_note(compass.lowest_hz)} to "
        f"{_note(compass.highest_hz)}.",
        *compass.remarks,
    ]
    return "\n".join(lines)


@click.command("hold", short_help="How steadily a hymn's ison was held.")
@click.argument("recording", type=click.Path(path_type=Path))
@click.argument("hymn")
@click.option(
    "--start", type=float, help="Seconds at which the hymn begins [where singing begins]."
)
@click.option("--tempo", type=click.IntRange(20, 300), help="Beats a minute [the hymn's own].")
@parish_option
@json_option
def hold_verb(
    recording: Path,
    hymn: str,
    start: float | None,
    tempo: int | None,
    parish: Path | None,
    as_json: bool,
) -> None:
    """Say how steadily the ison of HYMN was held, whether it sank, and which changes came late.

    The holder sings along with the melody through headphones, so that only the ison is recorded.
    """
    folder = folder_of(parish)
    tones = load_knowledge(folder.overrides if folder else ()).tones
    score = read_hymn(hymn)
    branch = _branch(score.tone, score.branch, tones)
    style = tones.styles.get(branch.style)
    pace = tempo or score.tempo or (style.tempo if style else 100)
    contour = _contour(recording, None)
    first = float(contour.times[contour.voiced][0]) if start is None else start
    spans = ison_spans(
        score, tones.scales[branch.scale], base_degree=branch.base, tempo=pace, start=first
    )
    given = score.base.hz if score.base and score.base.degree == branch.base else None
    held = judge_holding(contour, spans, base_hz=given)
    if as_json:
        echo_json(asdict(held))
    else:
        click.echo(_holding_text(held))


def _holding_text(held: Holding) -> str:
    lines = [f"Base as sung: {_note(held.base_hz)} ({held.base_hz:.1f} Hz)."]
    if held.offset is not None and abs(held.offset) >= 2:
        way = "above" if held.offset > 0 else "below"
        lines.append(f"That is {abs(held.offset):.0f} moria {way} the base that was given.")
    steady = "Steady" if held.unsteadiness <= 1.5 else "Unsteady"
    lines.append(f"{steady}: single moments stray by {held.unsteadiness:.1f} moria.")
    if abs(held.drift) >= 2:
        lines.append(
            f"It {'rose' if held.drift > 0 else 'sank'} by {abs(held.drift):.0f} moria a minute."
        )
    if held.silent:
        lines.append(f"Silent for {held.silent:.1f} seconds, longer than breaths.")
    for change in held.late:
        when = f"{int(change.at // 60)}:{change.at % 60:04.1f}"
        late = "was not reached" if change.late is None else f"came {change.late:.1f} seconds late"
        lines.append(f"The change at {when} {late}.")
    if held.changes and not held.late:
        lines.append(f"All {len(held.changes)} changes came in time.")
    return "\n".join(lines)


@click.command("name", short_help="Base, scale and tone of free singing.")
@click.argument("recording", type=click.Path(path_type=Path))
@drone_option
@parish_option
@json_option
def name_verb(recording: Path, drone: str | None, parish: Path | None, as_json: bool) -> None:
    """Name the base, the scale and the likely tone of free singing, or say 'not sure'.

    Sing for 40 seconds or more, and end on the base.
    """
    folder = folder_of(parish)
    tones = load_knowledge(folder.overrides if folder else ()).tones
    named = name_singing(_contour(recording, drone), tones)
    if as_json:
        echo_json(asdict(named))
    else:
        click.echo(_named_text(named))


def _named_text(named: Named) -> str:
    if named.one_note:
        return (
            f"Only one note was heard, {_note(named.final_hz)} ({named.final_hz:.1f} Hz): "
            "an ison, perhaps. It has no scale; sing a tune of more notes."
        )
    if not named.likely:
        return "Not sure: too few notes were held. Sing for 40 seconds or more."
    lines = [f"Last note: {_note(named.final_hz)} ({named.final_hz:.1f} Hz)."]
    if named.family is None:
        lines.append(
            f"Scale: not sure. Of the four families, {named.likely} comes nearest, but another "
            "explains the notes almost as well."
        )
    else:
        lines.append(f"Scale: {named.family} ({named.notes} notes).")
    if abs(named.drift) >= 2:
        way = "rose" if named.drift > 0 else "sank"
        lines.append(f"The whole {way} by about {abs(named.drift):.0f} moria a minute.")
    if named.tones:
        lines.append("Tone: " + ("likely" if named.tone_sure else "not sure; perhaps"))
        lines += [f"  {s.title}, base {_note(s.base_hz)} ({s.base_hz:.1f} Hz)" for s in named.tones]
    elif named.family is not None:
        lines.append("Tone: not sure; no tone of this family ends where you ended.")
    return "\n".join(lines)


@click.command("transcribe", short_help="Write down a sung melody as a hymn file.")
@click.argument("recording", type=click.Path(path_type=Path))
@click.argument("text", required=False, metavar="[WORDS]")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="The hymn file to write.")
@click.option("--tone", type=click.IntRange(1, 8), help="Tone 1 to 8.")
@click.option("--branch", help="A branch of the tone, such as t4.heirmologic_legetos.")
@click.option("--tempo", type=click.FloatRange(20, 300), help="Beats a minute, if you know it.")
@drone_option
@parish_option
def transcribe_verb(
    recording: Path,
    text: str | None,
    out: Path | None,
    tone: int | None,
    branch: str | None,
    tempo: float | None,
    drone: str | None,
    parish: Path | None,
) -> None:
    """Write down a sung melody: degrees, beats and, with WORDS, syllables.

    WORDS is a file of words, one phrase to a line, or - to type them. Breathe between phrases. The
    tone is that of the words' file, or give --tone. Read it through: what was guessed is told.
    """
    folder = folder_of(parish)
    overrides = folder.overrides if folder else ()
    tones = load_knowledge(overrides).tones
    hymn = None if text is None else read_hymn(text)
    if hymn is not None and (branch is not None or tone is not None):
        sung_in = _branch(tone, branch, tones)
    elif hymn is not None:
        sung_in = _branch(hymn.tone, hymn.branch, tones)
    else:
        sung_in = _branch(tone, branch, tones)
    divided = None if hymn is None else words_of.divide(hymn, overrides)
    taken = take_down(
        _contour(existing(recording), drone), tones, sung_in, words=divided, tempo=tempo
    )
    if out is None:
        click.echo(hymnfile.dumps(taken.hymn), nl=False)
    else:
        hymnfile.write(out, taken.hymn)
        click.echo(f"Written to {out}")
    click.echo(
        f"Base {_note(taken.base_hz)} ({taken.base_hz:.1f} Hz), {taken.tempo:.0f} beats a minute.",
        err=True,
    )
    for at, said in taken.doubtful:
        click.echo(f"At {int(at // 60)}:{at % 60:04.1f} {said}.", err=True)


def _branch(tone: int | None, branch: str | None, tones: Tones) -> Branch:
    if branch is not None:
        return tones.branch(branch)
    if tone is not None:
        return tones.default_branch(tone)
    raise ChantError(
        "in which tone was it sung?",
        remedy="Use --tone, or write a line such as “tone: 2” at the top of the words. "
        "To find out: chantwright name",
    )
