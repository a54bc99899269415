"""``convert``: a hymn to and from the files of other music programs."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from pathlib import Path

import click

from chantwright import safefile, words
from chantwright.cli.frame import existing
from chantwright.cli.options import folder_of, parish_option, tone_options
from chantwright.engrave import StaffOptions, to_mei, to_musicxml
from chantwright.errors import ChantError
from chantwright.parish import load_knowledge
from chantwright.score import Hymn, hymnfile
from chantwright.score.melody import to_hymn
from chantwright.score.midi import read_midi
from chantwright.score.musicxml import read_musicxml
from chantwright.tones import Tones
from chantwright.tuning import dump_kbm, dump_scl, keyboard_for

__all__ = ["convert_verb", "read_any"]

_XML = (".musicxml", ".xml", ".mxl")
_MIDI = (".mid", ".midi")
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
    '<rootfile full-path="score.musicxml"/></rootfiles></container>\n'
)
_EPOCH = (1980, 1, 1, 0, 0, 0)


def _packed(text: str) -> bytes:
    """Packed MusicXML; the same score gives the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as zipped:
        for name, content in (("META-INF/container.xml", _CONTAINER), ("score.musicxml", text)):
            row = zipfile.ZipInfo(name, _EPOCH)
            zipped.writestr(row, content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _scala(hymn: Hymn, tones: Tones, target: Path) -> None:
    branch = tones.branch(hymn.branch) if hymn.branch else tones.default_branch(hymn.tone or 0)
    scale = tones.scales[branch.scale]
    safefile.write_text(target, dump_scl(scale))
    if hymn.base is not None:
        keyboard = keyboard_for(scale, base_degree=hymn.base.degree, base_hz=hymn.base.hz)
        safefile.write_text(target.with_suffix(".kbm"), dump_kbm(keyboard))


def _writers(
    hymn: Hymn, tones: Tones, target: Path, options: StaffOptions
) -> dict[str, Callable[[], object]]:
    def xml() -> str:
        return to_musicxml(hymn, tones, options)

    return {
        ".txt": lambda: hymnfile.write(target, hymn),
        ".musicxml": lambda: safefile.write_text(target, xml()),
        ".xml": lambda: safefile.write_text(target, xml()),
        ".mxl": lambda: safefile.write_bytes(target, _packed(xml())),
        ".mei": lambda: safefile.write_text(target, to_mei(hymn, tones, options)),
        ".scl": lambda: _scala(hymn, tones, target),
    }


def read_any(
    path: Path, tones: Tones, overrides: tuple[Path, ...] = (), tone: int | None = None,
    branch: str | None = None, ni: str | None = None, part: int = 1,
) -> Hymn:  # fmt: skip
    """Read a hymn file, or a melody from MusicXML or MIDI with the stresses of its words.

    Raises
    ------
    ChantError
        If the file cannot be read; a hymn file is given a tone; another file is given none.
    """
    suffix = path.suffix.lower()
    if suffix in _XML or suffix in _MIDI:
        melody = read_musicxml(path, part=part) if suffix in _XML else read_midi(path)
        hymn = to_hymn(melody, tones, tone=tone, branch=branch, ni=ni, file=str(path))
        return words.accented(hymn, overrides)
    if tone is not None or branch is not None or ni is not None:
        raise ChantError(
            "a hymn file has its own tone.",
            remedy="Leave out --tone, --branch and --ni; they are for files of other programs.",
        )
    return hymnfile.read(path)


@click.command("convert", short_help="Take in or hand out the files of other music programs.")
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--ni", help="Staff letter that is ni; otherwise the last note is the final.")
@click.option("--part", type=click.IntRange(1, 99), default=1, help="Which part is the melody.")
@click.option("--exact", is_flag=True, help="Exact heights in MusicXML; few programs read them.")
@tone_options
@parish_option
def convert_verb(
    source: Path,
    target: Path,
    ni: str | None,
    part: int,
    exact: bool,
    tone: int | None,
    branch: str | None,
    parish: Path | None,
) -> None:
    """Turn SOURCE into TARGET; the endings of their names say what they are.

    Taken in: a hymn file (.txt), MusicXML (.musicxml .xml .mxl) and MIDI (.mid) with one line of
    melody. Handed out: .txt, .musicxml, .mxl, .mei, and the tone's scale for Scala (.scl, with
    .kbm when the hymn has its base).
    """
    folder = folder_of(parish)
    overrides = tuple(folder.overrides) if folder else ()
    tones = load_knowledge(overrides).tones
    hymn = read_any(existing(source), tones, overrides, tone, branch, ni, part)
    options = StaffOptions(accidentals="exact" if exact else "conventional")
    writers = _writers(hymn, tones, target, options)
    if target.suffix.lower() not in writers:
        raise ChantError(
            f"“{target.name}” does not end with a kind of file that is written here.",
            remedy=f"End it with one of: {', '.join(sorted(writers))}.",
        )
    if source.resolve() == target.resolve():
        raise ChantError("source and target are one file.", remedy="Give the target another name.")
    writers[target.suffix.lower()]()
    click.echo(f"Written to {target}")
