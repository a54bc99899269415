"""A page that links everything that was made for a weekend: order, music, words, recordings.

One static HTML file beside the booklet; it works from a folder, with no server and no network.
Pictures are drawn by `chantwright.engrave`; text goes through Jinja2's escaping.
"""

from __future__ import annotations

import base64
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from chantwright import safefile
from chantwright.engrave import StaffOptions, blocks, pitch_name
from chantwright.parish import Piece, Prepared, staff_look, tone_text
from chantwright.score import Hymn
from chantwright.tones import Tones
from chantwright.tuning import degree_name

__all__ = ["write_page"]

_MIME = {".opus": "audio/ogg; codecs=opus", ".mp3": "audio/mpeg", ".flac": "audio/flac"}


# A narrow cut, so that the words stay readable on a telephone held upright.
WIDTH_MM, WORDS_PT = 100.0, 15.0


@dataclass(frozen=True, slots=True)
class _Picture:
    source: str
    percent: float
    said: str


@dataclass(frozen=True, slots=True)
class _Sound:
    name: str
    kind: str
    mime: str


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    item: str
    note: str
    title: str = ""
    tone: str = ""
    base: str = ""
    words: tuple[str, ...] = ()
    pictures: tuple[_Picture, ...] = ()
    sounds: tuple[_Sound, ...] = ()
    hymn_file: str = ""


def _picture(svg: str) -> str:
    # An image element keeps any script that might hide in a picture from running.
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _pictures(
    hymn: Hymn, tones: Tones, readings: tuple[str, ...], options: StaffOptions
) -> tuple[_Picture, ...]:
    """The lines of a hymn; with several readings those of a phrase follow each other."""
    return tuple(
        _Picture(
            _picture(system.svg),
            min(100.0, round(100 * system.width_mm / WIDTH_MM, 1)),
            f"{reading}: {system.words}",
        )
        for block in blocks(hymn, tones, readings, options)
        for reading, system in block.systems
    )


def _line(piece: Piece, tones: Tones, readings: tuple[str, ...], options: StaffOptions) -> _Line:
    if piece.singable is None:
        return _Line(piece.same_as, piece.item, piece.note)
    hymn = piece.singable.hymn
    base = ""
    if hymn.base is not None:
        name, cents = pitch_name(hymn.base.hz)
        off = f" {cents:+.0f} cents" if abs(cents) >= 0.5 else ""
        base = f"{degree_name(hymn.base.degree).capitalize()} = {name}{off}"
    tone = tone_text(hymn, tones)
    sounds = tuple(
        _Sound(name, Path(name).suffix[1:], _MIME.get(Path(name).suffix, "audio/wav"))
        for name in piece.recordings
    )
    return _Line(
        piece.number,
        piece.item,
        piece.note,
        hymn.title,
        tone,
        base,
        tuple(p.words for p in hymn.phrases),
        _pictures(hymn, tones, readings, options),
        sounds,
        piece.hymn_file,
    )


def write_page(prepared: Prepared, tones: Tones) -> Path:
    """Write ``index.html`` into the folder of what was made.

    Parameters
    ----------
    prepared : Prepared
        From `chantwright.parish.prepare`.
    tones : Tones
        For names and for drawing.

    Returns
    -------
    Path
        The page.
    """
    environment = Environment(
        loader=PackageLoader("chantwright.web"),
        autoescape=select_autoescape(("html",)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    folder = prepared.folder
    options = staff_look(folder, width_mm=WIDTH_MM, words_pt=WORDS_PT)
    sessions = [
        {
            "title": session.title,
            "date": f"{session.civil_date:%A} {session.civil_date.day} {session.civil_date:%B %Y}",
            "reasons": [r.sentence for r in session.day.reasons] if session.day else [],
            "questions": list(session.day.open_questions) if session.day else [],
            "lines": [_line(piece, tones, folder.readings, options) for piece in session.pieces],
        }
        for session in prepared.sessions
    ]
    html = environment.get_template("week.html").render(
        parish=folder,
        sessions=sessions,
        missing=prepared.missing,
        warnings=prepared.warnings,
        booklet=prepared.booklet.name,
    )
    path = prepared.out / "index.html"
    safefile.write_text(path, html)
    return path
