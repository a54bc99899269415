"""Data for the pages: hymns, phrases and sounds as plain values, so that templates only lay out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from chantwright.engrave import READINGS, StaffOptions, pitch_words
from chantwright.engrave.readings import blocks
from chantwright.parish import LETTERS, ParishFolder, tone_text
from chantwright.parish.folder import SCRIPTS
from chantwright.score import Hymn, Phrase, hymnfile, note_id
from chantwright.tones import Tones
from chantwright.tuning import degree_name
from chantwright.web.kept import Kept

__all__ = [
    "CUTS",
    "READINGS",
    "STAND_CUTS",
    "Line",
    "NoteView",
    "PhraseView",
    "Score",
    "day_text",
    "hymn_link",
    "score",
    "width_mm",
]

CUTS = {"narrow": 80.0, "wide": 176.0}
"""Widths of the two cuts in millimetres: a phone held upright, and everything else."""
STAND_CUTS = {"narrow": 80.0, "wide": 176.0, "broad": 250.0, "band": 340.0}
"""Widths from which the stand takes the one that fills its page with the largest music."""
_WIDTHS = CUTS | STAND_CUTS
_OF_READING = {("narrow", "neumes"): 72.0}
"""Over neumes the letters of the ison are smaller: a narrower cut makes them large enough."""
_WORDS_PT = {"narrow": 13.5}
_USUAL_PT = 13.0


@dataclass(frozen=True, slots=True)
class Line:
    """A drawn line: its SVG, and how much of the page's width it takes (0 to 100)."""

    svg: str
    percent: float


@dataclass(frozen=True, slots=True)
class NoteView:
    """A note as the editor shows it."""

    id: str
    name: str
    beats: str
    syllable: str


@dataclass(frozen=True, slots=True)
class PhraseView:
    """A phrase as the editor shows it."""

    id: str
    words: str
    cadence: str
    notes: tuple[NoteView, ...]


@dataclass(frozen=True, slots=True)
class Score:
    """A hymn drawn for a page.

    Attributes
    ----------
    title, tone, base : str
        As said over it.
    reading : str
        One of `READINGS`.
    cuts : dict of str to tuple of Line
        The same music in each width.
    phrases : tuple of PhraseView
        For the editor.
    """

    title: str
    tone: str
    base: str
    reading: str
    cuts: dict[str, tuple[Line, ...]]
    phrases: tuple[PhraseView, ...]


_before: Kept[tuple[Line, ...]] = Kept(400)
"""Lines that were drawn before; a service at the stand is some sixty of them."""


def day_text(day: date) -> str:
    """A day as people say it: "Sunday 29 November"."""
    return f"{day:%A} {day.day} {day:%B}"


def hymn_link(name: str) -> str:
    """Address of a hymn's page."""
    return f"/hymn/{quote(name)}"


def width_mm(cut: str, reading: str) -> float:
    """Width of a cut in millimetres."""
    return _OF_READING.get((cut, reading), _WIDTHS[cut])


def _phrase(phrase: Phrase) -> PhraseView:
    return PhraseView(
        phrase.id,
        phrase.words,
        phrase.cadence or "",
        tuple(
            NoteView(note_id(s, i), degree_name(n.degree), str(n.beats), s.text if i == 0 else "")
            for s in phrase.syllables
            for i, n in enumerate(s.notes)
        ),
    )


def _drawn(
    hymn: Hymn, tones: Tones, reading: str, folder: ParishFolder, cut: str, prefix: str
) -> tuple[Line, ...]:
    width = width_mm(cut, reading)
    options = StaffOptions(
        letters=LETTERS[folder.letters],
        script=SCRIPTS[folder.script],
        width_mm=width,
        words_pt=_WORDS_PT.get(cut, _USUAL_PT),
        id_prefix=f"{prefix}{cut}.",
    )

    def drawn() -> tuple[Line, ...]:
        return tuple(
            Line(system.svg, min(100.0, round(100 * system.width_mm / width, 1)))
            for block in blocks(hymn, tones, (reading,), options)
            for _, system in block.systems
        )

    key = (hymnfile.dumps(hymn), reading, folder.letters, folder.script, cut, prefix)
    return _before.get(key, tones, drawn)


def score(
    hymn: Hymn,
    tones: Tones,
    folder: ParishFolder,
    *,
    reading: str = "staff",
    cuts: Sequence[str] = tuple(CUTS),
    prefix: str = "",
) -> Score:
    """Draw a hymn for a page.

    Parameters
    ----------
    hymn : Hymn
        Set and pitched.
    tones : Tones
        For names and for drawing.
    folder : ParishFolder
        For the letters.
    reading : str
        One of `READINGS`.
    cuts : sequence of str
        Of `CUTS` or `STAND_CUTS`.
    prefix : str
        Before every id, where several hymns stand on one page.

    Raises
    ------
    ChantError
        If the hymn cannot be drawn.
    """
    base = ""
    if hymn.base is not None:
        name = degree_name(hymn.base.degree).capitalize()
        base = f"{name} sounds as {pitch_words(hymn.base.hz)}"
    return Score(
        hymn.title,
        tone_text(hymn, tones),
        base,
        reading,
        {cut: _drawn(hymn, tones, reading, folder, cut, prefix) for cut in cuts},
        tuple(_phrase(p) for p in hymn.phrases),
    )
