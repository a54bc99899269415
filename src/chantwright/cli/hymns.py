"""``words``, ``set`` and ``pitch``: from plain words to a melody at a pitch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from chantwright import words
from chantwright.cli.frame import echo_json, existing
from chantwright.cli.options import (
    folder_of,
    in_tone,
    json_option,
    parish_option,
    read_hymn,
    singers_options,
    the_singers,
    tone_options,
    typed_words,
)
from chantwright.cli.settings import one_phrase, phrase_id
from chantwright.engrave import pitch_name
from chantwright.errors import ChantError
from chantwright.parish import (
    PitchChoice,
    choose_base,
    load_knowledge,
    make_singable,
    set_words,
)
from chantwright.score import ENDINGS, hymnfile, titled
from chantwright.setting import describe, reasons, tell, to_json
from chantwright.tuning import degree_name

__all__ = ["pitch_verb", "set_verb", "words_verb"]


def _raw(file: str | None, psalm: str | None) -> tuple[words.Document, str]:
    if (file is None) == (psalm is None):
        raise click.UsageError("Name a file of words, or - to type them, or use --psalm.")
    if psalm is not None:
        return words.Document(words.psalm(psalm).text), f"Psalm {psalm}"
    if file == "-":
        return words.Document(typed_words()), "(typed words)"
    path = existing(Path(str(file)))
    return words.read_document(path), str(path)


@click.command("words", short_help="Syllables, stresses and phrases of a text.")
@click.argument("file", required=False)
@click.option("--psalm", help="Words of the King James psalter, such as 141:1-2.")
@click.option(
    "--choices",
    type=click.IntRange(1, 5),
    default=1,
    help="How many ways to divide each verse into phrases to show.",
)
@parish_option
@json_option
def words_verb(
    file: str | None, psalm: str | None, choices: int, parish: Path | None, as_json: bool
) -> None:
    """Divide words into syllables, stresses and phrases, and say what was tidied.

    FILE is plain text in any state, Markdown, a Word file (.docx) or a PDF with text; - reads what
    you type. Your own marks win: a bar | ends a phrase, || a full close, an accent (incénse) moves
    the stress, a middle dot (heav·en) divides.
    """
    document, name = _raw(file, psalm)
    raw = document.text
    folder = folder_of(parish)
    overrides = folder.overrides if folder else ()
    hymn = hymnfile.loads(raw, file=name)
    # A file of words alone is read as it stands, so that places in it are the teacher's own.
    plain = hymn == hymnfile.loads(words.source_text(hymn))
    text = words.read_words(
        raw if plain else words.source_text(hymn),
        language=hymn.language,
        overrides=overrides,
        file=name,
    )
    text = replace(text, changes=(*document.changes, *text.changes))
    ways = words.divisions(text, choices, overrides) if choices > 1 else ()
    if as_json:
        more = [[way.to_json(text.words) for way in verse] for verse in ways]
        echo_json({**text.to_json(), **({"choices": more} if more else {})})
    else:
        click.echo(_words_text(text))
        click.echo(_ways_text(text, ways), nl=False)


def _ways_text(text: words.Text, ways: Sequence[Sequence[words.Division]]) -> str:
    """Other ways to divide each verse that has some: the phrases, and how each closes."""
    lines: list[str] = []
    for number, verse in enumerate(ways, start=1):
        for way in verse[1:]:
            if not lines:
                lines += ["", "Other ways to divide (1 is a stressed syllable at the close):"]
            phrases = [
                f"{span.to_json(text.words)['words']} ({''.join(map(str, close)) or '-'})"
                for span, close in zip(way.spans, way.closes, strict=True)
            ]
            lines.append(f"  verse {number}: {' | '.join(phrases)}")
    return "".join(f"{line}\n" for line in lines)


def _words_text(text: words.Text) -> str:
    """Phrases a line each: hyphens between syllables, a stroke before the stressed one."""
    lines: list[str] = []
    for phrase in words.to_phrases(text):
        if phrase.verse_start and lines:
            lines.append("")
        if phrase.rubric:
            lines.append(f"{{{phrase.rubric}}}")
        bars = {"medial": " |", "full": " ||", "final": " |||"}.get(phrase.cadence or "", "")
        lines.append(f"{len(phrase.syllables):>3}  {words.divided_line(phrase)}{bars}")
    guessed = [w.text for w in text.words if w.source == "guess"]
    if guessed:
        lines += ["", f"Guessed, please look: {', '.join(dict.fromkeys(guessed))}"]
    if text.changes:
        lines += ["", "What was tidied:"]
        lines += [f"  {change}" for change in text.changes]
    return "\n".join(lines)


@click.command("set", short_help="Set words to the melody of a tone.")
@click.argument("file")
@tone_options
@click.option("--ison", type=click.Choice(["simple", "moving"]), help="How the ison moves.")
@click.option("--ending", type=click.Choice(ENDINGS), help="How the last phrase closes.")
@click.option("--choices", type=click.IntRange(1, 9), default=1, help="How many settings to show.")
@click.option("--take", type=click.IntRange(1, 9), default=1, help="Which of them to keep.")
@click.option("--phrase", help="Set only this phrase (2 or p2) anew; the others stay as they are.")
@click.option(
    "--why", is_flag=True, help="Say of every syllable which formula it comes from, and why."
)
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Write the hymn file with its melody here."
)
@parish_option
@json_option
def set_verb(
    file: str,
    tone: int | None,
    branch: str | None,
    ison: str | None,
    ending: str | None,
    choices: int,
    take: int,
    phrase: str | None,
    why: bool,
    out: Path | None,
    parish: Path | None,
    as_json: bool,
) -> None:
    """Set the words of a hymn file to its tone: melody, ison, intonation, ending.

    FILE is a hymn file or words (plain text, .md, .docx, PDF); - reads what you type. Without
    --out the melody is only shown. With --phrase the file has its melody already, and one phrase of
    it is sung another way.
    """
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    hymn = read_hymn(file)
    hymn = in_tone(hymn, tone, branch, knowledge.tones, folder)
    if ending is not None:
        hymn = replace(hymn, ending="long" if ending == "long" else "ordinary")
    level = ison or (folder.ison if folder else "simple")
    wanted = max(choices, take)
    settings = (
        set_words(hymn, knowledge, ison=level, count=wanted)
        if phrase is None
        else one_phrase(hymn, phrase, knowledge, ison=level, count=wanted)
    )
    if take > len(settings):
        raise ChantError(
            f"these words have only {len(settings)} different settings in this tone.",
            remedy="Take a lower number.",
        )
    if out is not None:
        hymnfile.write(out, titled(settings[take - 1].hymn))
    if as_json:
        documents = [to_json(s) for s in settings[:choices]]
        first = to_json(settings[take - 1])
        echo_json(first if choices == 1 else {**first, "choices": documents})
        return
    for number, setting in enumerate(settings[:choices], start=1):
        if choices > 1:
            click.echo(f"— setting {number} —")
        only = "" if phrase is None else phrase_id(phrase)
        click.echo(describe(setting, only))
        if why:
            told = [r for r in reasons(setting, knowledge.books) if not only or r.phrase == only]
            click.echo("\n".join(tell(r) for r in told))
    if out is not None:
        click.echo(f"Written to {out}")


@click.command("pitch", short_help="Find the pitch that fits your singers.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@tone_options
@singers_options
@click.option(
    "--exact", is_flag=True, help="Any pitch to 10 cents, not only the notes of a pitch pipe."
)
@parish_option
@json_option
def pitch_verb(
    files: tuple[str, ...],
    tone: int | None,
    branch: str | None,
    group: str | None,
    singers: Path | None,
    exact: bool,
    parish: Path | None,
    as_json: bool,
) -> None:
    """Find the base pitch at which these singers can sing a hymn without strain."""
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    people = the_singers(knowledge.tones, folder, group, singers)
    documents = []
    for file in files:
        hymn = read_hymn(file)
        if not hymn.is_set:
            hymn = in_tone(hymn, tone, branch, knowledge.tones, folder)
        ready = make_singable(replace(hymn, base=None), knowledge, people)
        choice = choose_base(
            ready.hymn, knowledge.tones, people, grid_cents=10.0 if exact else 100.0
        )
        documents.append(_pitch_document(file, ready.hymn.title, choice))
        if not as_json:
            click.echo(_pitch_text(documents[-1]))
    if as_json:
        echo_json(documents)


def _pitch_document(file: str, title: str, choice: PitchChoice) -> dict[str, Any]:
    name, cents = pitch_name(choice.base.hz)
    return {
        "file": file,
        "title": title,
        "base": degree_name(choice.base.degree),
        "hz": round(choice.base.hz, 3),
        "note": name,
        "cents_off": round(cents, 1),
        "discomfort": round(choice.discomfort, 3),
        "singers": [
            {
                "name": fit.name,
                "voice": fit.voice,
                "octave": fit.octave,
                "lowest_hz": round(fit.lowest_hz, 2),
                "highest_hz": round(fit.highest_hz, 2),
                "comfortable": round(fit.comfortable, 4),
                "below_cents": round(fit.below_cents, 1),
                "above_cents": round(fit.above_cents, 1),
            }
            for fit in choice.fits
        ],
        "warnings": list(choice.warnings),
    }


def _pitch_text(document: dict[str, Any]) -> str:
    off = f" {document['cents_off']:+.0f} cents" if abs(document["cents_off"]) >= 0.5 else ""
    lines = [
        f"{document['title'] or document['file']}: {document['base'].capitalize()} on "
        f"{document['note']}{off} ({document['hz']:.1f} Hz)"
    ]
    widest = max(len(s["name"]) for s in document["singers"])
    for s in document["singers"]:
        filled = round(20 * s["comfortable"])
        octave = " an octave up" if s["octave"] == 1 else ""
        lines.append(
            f"  {s['name']:<{widest}}  {'▪' * filled}{'·' * (20 - filled)} "
            f"{s['comfortable']:.0%} comfortable{octave}"
        )
    lines += [f"  {sentence}" for sentence in document["warnings"]]
    return "\n".join(lines)
