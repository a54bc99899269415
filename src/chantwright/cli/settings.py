"""``choose``, ``fit``, ``figures`` and ``audition``: the teacher's own hand in the setting."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from chantwright import safefile, words
from chantwright.cli.exchange import read_any
from chantwright.cli.frame import echo_json, existing, progress_line
from chantwright.cli.options import (
    folder_of,
    in_tone,
    json_option,
    parish_option,
    read_hymn,
    tone_options,
)
from chantwright.engrave import hymn_svg
from chantwright.errors import ChantError
from chantwright.parish import Knowledge, ParishFolder, group_singers, load_knowledge
from chantwright.parish.pitch import choose_base
from chantwright.score import Hymn, Note, Phrase, hymnfile
from chantwright.setting import (
    Audition,
    Fitted,
    Setting,
    apart,
    audition,
    describe,
    fit,
    learn,
    manner,
    preferred,
    rows_text,
    set_hymn,
    set_phrase,
    take,
    write_likings,
    write_taste,
)
from chantwright.setting.book import ROLES, book_rows
from chantwright.voice import TrackOptions, sing, write_track

__all__ = ["audition_verb", "choose_verb", "figures_verb", "fit_verb", "one_phrase", "phrase_id"]

_PRICES = "prices.toml"
_LIKINGS = "likings.toml"
_MORE = 3
"""Settings beyond the round's own among which those that differ in kind are sought."""


def phrase_id(name: str) -> str:
    """Id of a phrase that is named by its number or its id."""
    return f"p{name}" if name.isascii() and name.isdigit() else name


def one_phrase(
    hymn: Hymn, phrase: str, knowledge: Knowledge, *, ison: str, count: int
) -> tuple[Setting, ...]:
    """Ways to sing one phrase of a hymn; the words are divided and the rest set where need be.

    The way in which the hymn has it already is none of them.
    """
    name = phrase_id(phrase)
    divided = words.divide(hymn, overrides=knowledge.overrides)
    missing = [p.id for p in divided.phrases if not p.is_set and p.id != name]
    if missing:
        divided = set_hymn(divided, knowledge.tones, knowledge.books, ison=ison)[0].hymn
    found = set_phrase(divided, name, knowledge.tones, knowledge.books, count=count + 1, ison=ison)
    now = _sung(divided, name)
    return tuple(one for one in found if _sung(one.hymn, name) != now)[:count]


def _sung(hymn: Hymn, phrase: str) -> tuple[Note, ...]:
    return tuple(n for p in hymn.phrases if p.id == phrase for s in p.syllables for n in s.notes)


def _parish(parish: Path | None) -> ParishFolder:
    folder = folder_of(parish)
    if folder is None:
        raise click.UsageError("Name your parish folder with --parish: it keeps what is learnt.")
    return folder


@click.command("choose", short_help="Choose between two settings; your taste is remembered.")
@click.argument("file")
@click.option("--phrase", help="Choose for one phrase only (2 or p2).")
@click.option("--rounds", type=click.IntRange(1, 9), default=1, show_default=True)
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Write the hymn as you chose it here."
)
@tone_options
@parish_option
def choose_verb(
    file: str,
    phrase: str | None,
    rounds: int,
    out: Path | None,
    tone: int | None,
    branch: str | None,
    parish: Path | None,
) -> None:
    """Show two settings of a hymn, A and B, and learn from the one you take.

    The prices of the setter move a little towards your choice, and the formulas you take are
    liked the more, those you leave the less. Both are kept as plain rows in own/prices.toml and
    own/likings.toml of your parish folder, where every later setting finds them; delete a file to
    forget.
    """
    folder = _parish(parish)
    hymn = read_hymn(file)
    taken: Setting | None = None
    path = folder.path / "own" / _PRICES
    for number in range(1, rounds + 1):
        # Read anew each round: the choice before has moved the prices.
        knowledge = load_knowledge(safefile.finished(folder.path / "own", "*.toml"))
        toned = in_tone(hymn, tone, branch, knowledge.tones, folder)
        found = _two(toned, phrase, knowledge, folder, number)
        if found is None:
            click.echo("These words have no second setting to choose.")
            break
        only = "" if phrase is None else phrase_id(phrase)
        for letter, setting in zip("AB", found, strict=True):
            click.echo(f"— {letter} —\n{describe(setting, only)}")
        answer = click.prompt(
            "Which do you take?",
            type=click.Choice(["a", "b", "neither"], case_sensitive=False),
            default="a",
        )
        if answer == "neither":
            continue
        taken, left = found if answer == "a" else found[::-1]
        liked = preferred(taken, left)
        if liked:
            path.parent.mkdir(exist_ok=True)
            write_likings(path.with_name(_LIKINGS), liked)
            took = [name for name, (more, _) in liked.items() if more]
            click.echo(
                f"Formulas taken: {', '.join(took) or 'none'}; others left: "
                + str(len(liked) - len(took))
            )
        learnt = learn(knowledge.books, taken, left)
        if learnt:
            path.parent.mkdir(exist_ok=True)
            write_taste(path, learnt, manner(taken))
            click.echo(f"Remembered in {path}:")
            for name, value in learnt.items():
                weight = knowledge.books.weights[name]
                old = weight.price(manner(taken))
                click.echo(f"  {weight.text}: {old:.2f} → {value:.2f}")
        else:
            click.echo("The setter's prices thought so too; they stay.")
    if out is not None and taken is not None:
        hymnfile.write(out, taken.hymn)
        click.echo(f"Written to {out}")


def _two(
    hymn: Hymn, phrase: str | None, knowledge: Knowledge, folder: ParishFolder, number: int
) -> tuple[Setting, Setting] | None:
    """The best setting and another, a different one each round: those first that differ in kind.

    Two settings that pay the same for everything teach nothing, whichever is taken.
    """
    count = number + _MORE
    if phrase is not None:
        found = one_phrase(hymn, phrase, knowledge, ison=folder.ison, count=count)
    else:
        divided = words.divide(hymn, overrides=knowledge.overrides)
        found = tuple(
            set_hymn(divided, knowledge.tones, knowledge.books, count=count, ison=folder.ison)
        )
    if len(found) < 2:
        return None
    first, *others = found
    ranked = sorted(others, key=lambda s: -apart(first, s, knowledge.books))
    return first, ranked[min(number, len(ranked)) - 1]


@click.command("fit", short_help="Sing new words to the melody of a known hymn.")
@click.argument("file")
@click.argument("model")
@click.option(
    "--formulas", is_flag=True, help="Set phrases that fit badly from the tone's formulas."
)
@click.option("--tone", type=click.IntRange(1, 8), help="The model's tone, for MusicXML and MIDI.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Write the hymn file with its melody here."
)
@parish_option
@json_option
def fit_verb(
    file: str,
    model: str,
    formulas: bool,
    tone: int | None,
    out: Path | None,
    parish: Path | None,
    as_json: bool,
) -> None:
    """Sing the words of FILE to the melody of MODEL, a hymn your singers know by heart.

    MODEL is a hymn file with notes and stresses, or a MusicXML or MIDI file with one line of
    melody and its words; those need --tone.

    Words with as many syllables and the same stresses fit exactly. Otherwise each phrase says
    what had to be changed; a phrase with more than two changes is better set from formulas.
    """
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    divided = words.divide(read_hymn(file), overrides=knowledge.overrides)
    known = read_any(existing(Path(model)), knowledge.tones, knowledge.overrides, tone)
    done = fit(divided, known)
    hymn = done.hymn
    if formulas and done.unfit:
        hymn = _by_formulas(done, knowledge, folder)
    if out is not None:
        hymnfile.write(out, hymn)
    if as_json:
        echo_json(
            [
                {
                    "phrase": p.phrase,
                    "model": p.model,
                    "edits": p.edits,
                    "cost": p.cost,
                    "report": list(p.report),
                    "rather_formulas": p.rather_formulas,
                }
                for p in done.phrases
            ]
        )
        return
    for phrase, told in zip(hymn.phrases, done.phrases, strict=True):
        state = "fits exactly" if told.exact else f"{told.edits} changes, price {told.cost:.1f}"
        click.echo(f"{told.phrase} as {told.model} of the model: {state}\n  {phrase.words}")
        for sentence in told.report:
            click.echo(f"    {sentence}")
        if told.rather_formulas:
            click.echo(
                "    set from the tone's formulas."
                if formulas
                else "    Better set this phrase from the tone's formulas: add --formulas."
            )
    if out is not None:
        click.echo(f"Written to {out}")


def _by_formulas(done: Fitted, knowledge: Knowledge, folder: ParishFolder | None) -> Hymn:
    """Set the phrases that fit badly anew, the others locked."""
    hymn = done.hymn
    if hymn.tone is None and hymn.branch is None:
        raise ChantError(
            "the model has no tone, so no formulas can be chosen.",
            remedy="Write a line such as “tone: 2” at the top of the model's file.",
        )
    good = {p.id for p in hymn.phrases} - set(done.unfit)
    level = folder.ison if folder else "simple"
    set_anew = set_hymn(hymn, knowledge.tones, knowledge.books, locked=good, ison=level)[0].hymn
    source = f"{hymn.melody_source}; {', '.join(done.unfit)} from formulas"
    return replace(set_anew, melody_kind="model", melody_source=source)


@click.command("figures", short_help="Propose the figures of a known melody as formula rows.")
@click.argument("file")
@click.option("--tone", type=click.IntRange(1, 8), help="Its tone, for MusicXML and MIDI.")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="Write the rows here, such as own/taken.toml in your parish folder.",
)
@parish_option
def figures_verb(file: str, tone: int | None, out: Path | None, parish: Path | None) -> None:
    """Cut the melody of a hymn file (or MusicXML, MIDI) into formula rows.

    Openings, feet and cadences become rows of their own.

    Nothing is taken over by itself: look at the rows, keep those that belong to the tone, and put
    them into the own/ folder of your parish.
    """
    folder = folder_of(parish)
    knowledge = load_knowledge(folder.overrides if folder else ())
    hymn = read_any(existing(Path(file)), knowledge.tones, knowledge.overrides, tone)
    if hymn.branch is not None:
        branch = knowledge.tones.branch(hymn.branch).id
    elif hymn.tone is not None:
        branch = knowledge.tones.default_branch(hymn.tone, hymn.style or "heirmologic").id
    else:
        raise ChantError("the hymn has no tone.", remedy="Write a line such as “tone: 2”.")
    rows = take(hymn, branch, knowledge.books.books.get(branch))
    if out is not None and out.exists():
        raise ChantError(
            f"there is a file “{out}” already.", remedy="Choose another name; nothing was written."
        )
    text = rows_text(rows)
    if out is None:
        click.echo(text, nl=False)
    else:
        safefile.write_text(out, text)
        click.echo(f"{len(rows)} figures written to {out}")


@click.command("audition", short_help="Hear and see one formula on words, and check it.")
@click.argument("formula")
@click.argument("text", default="Lord, have mercy on thy people.", metavar="[WORDS]")
@click.option("--slots", help="Other slots for it, such as “w*=@ S=ga+vou w=pa:2”.")
@click.option("--book", help="Its book (a branch), where the formula is new.")
@click.option("--role", type=click.Choice(ROLES), help="Its role, where that changes.")
@click.option("--shape", help="Its shape, where that changes: 1, 10, 100, 11 or any.")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    default=Path(),
    help="Folder for the recording and the picture [the folder you are in].",
)
@click.option(
    "--keep",
    is_flag=True,
    help="Put the changed row into own/formulas.toml of your parish folder.",
)
@parish_option
def audition_verb(
    formula: str,
    text: str,
    slots: str | None,
    book: str | None,
    role: str | None,
    shape: str | None,
    out: Path,
    keep: bool,
    parish: Path | None,
) -> None:
    """Set WORDS with one formula row, write a recording and a picture, and check the row.

    FORMULA is the id of a row, ours or your own; --slots tries it with other notes. Nothing of
    ours is changed: with --keep the row goes into your parish folder.
    """
    folder = folder_of(parish) if not keep else _parish(parish)
    overrides = folder.overrides if folder else ()
    knowledge = load_knowledge(overrides)
    given = {"slots": slots, "book": book, "role": role, "shape": shape}
    changes = {k: v for k, v in given.items() if v is not None}
    if slots is not None:  # a row's start and end belong to its old slots
        changes |= {"conf": "low", "src": "on trial"}
    divided = words.divide(Hymn(phrases=(Phrase(text=text),)), overrides=overrides)
    whole = Phrase(tuple(s for p in divided.phrases for s in p.syllables))
    progress_line("setting the words", 1, 3)
    found = audition(book_rows(overrides), formula, whole, knowledge.tones, changes=changes)
    hymn = _pitched(found, knowledge)
    stem = formula.replace("/", "-")
    out.mkdir(parents=True, exist_ok=True)
    progress_line("drawing", 2, 3)
    pictures = []
    drawn = hymn_svg(hymn, knowledge.tones)
    for number, svg in enumerate(drawn, start=1):
        name = f"{stem}.svg" if len(drawn) == 1 else f"{stem}-{number}.svg"
        safefile.write_text(out / name, svg)
        pictures.append(out / name)
    progress_line("singing", 3, 3)
    track = sing(hymn, knowledge.tones, TrackOptions(count_in=0))
    sound = out / f"{stem}.wav"
    write_track(track, sound, {"title": formula})
    click.echo(describe(found.setting))
    for finding in found.findings:
        click.echo(f"{finding.level}: {finding.sentence} {finding.remedy}".rstrip())
    if not found.findings:
        click.echo("The row is in order.")
    click.echo(f"Heard in {sound}, seen in {', '.join(str(p) for p in pictures)}")
    if keep:
        click.echo(_keep(_parish(parish), found))
    elif changes:
        click.echo(f"To keep it, add --keep and --parish, or put this row into own/:\n\n"
                   f"{found.row_text}")  # fmt: skip


def _pitched(found: Audition, knowledge: Knowledge) -> Hymn:
    hymn = replace(found.setting.hymn, title=found.formula.id)
    singers = group_singers(knowledge.tones, "mixed")
    return replace(hymn, base=choose_base(hymn, knowledge.tones, singers).base)


def _keep(folder: ParishFolder, found: Audition) -> str:
    """Put a row into the parish's own file, in the place of one of the same id."""
    wrong = [f for f in found.findings if f.level == "wrong"]
    if wrong:
        raise ChantError(
            f"the row is not kept: {wrong[0].sentence}", remedy=wrong[0].remedy or "Mend it first."
        )
    path = folder.path / "own" / "formulas.toml"
    path.parent.mkdir(exist_ok=True)
    old = existing(path).read_text(encoding="utf-8") if path.exists() else ""
    if f'id = "{found.formula.id}"' in old:
        raise ChantError(
            f"{path} has a row “{found.formula.id}” already.",
            remedy="Change that row there, or take it out first.",
        )
    gap = "" if not old or old.endswith("\n\n") else "\n" if old.endswith("\n") else "\n\n"
    safefile.write_text(path, old + gap + found.row_text, keep=True)
    return f"Kept in {path}"
