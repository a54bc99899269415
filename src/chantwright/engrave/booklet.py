"""A booklet for the stand: cover, order of service, hymns, how to read it; as PDF.

The page is set by the template ``data/booklet.typ``. All words go to it as data, never as part of
the template, so nothing a user writes can be taken for a command. Files are written whole or not
at all.

References
----------
ISO 14289-1 (PDF/UA-1): the tagged kind of PDF that is made, with a title, a language, a heading
for each hymn and the words of each system as its text for screen readers.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from chantwright import safefile
from chantwright.engrave.alphabet import blanked, check_texts
from chantwright.engrave.folding import folded
from chantwright.engrave.forms import Form, FormName, form
from chantwright.engrave.heading import Heading, accidentals_legend, heading
from chantwright.engrave.neumes.options import NeumeOptions
from chantwright.engrave.neumes.signature import signature
from chantwright.engrave.options import FONT, Accidentals, Clef, Letters, Script, StaffOptions
from chantwright.engrave.pages import compiled, for_page
from chantwright.engrave.readings import Block, blocks, neume_options, readings_legend
from chantwright.engrave.staff import System, lines
from chantwright.errors import ChantError, Where
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = [
    "Booklet",
    "Entry",
    "booklet_pdf",
    "hymn_svg",
    "staff_options",
    "words_only_lines",
    "write_booklet",
]

Paper = Literal["a4", "letter"]
Progress = Callable[[str, int, int], None]

_INTONATION_SIZE = 0.8
_BETWEEN = 7.0
"""Millimetres between the systems of a slide."""
_READING, _ROW = 2.0, 4.5
"""Millimetres between the readings of a row, and between the rows of a phrase."""
_TALL = 0.4
"""Part of a page over which a phrase may be parted between its rows."""

_KINDS = {"hymn": "a hymn", "note": "an item of the order", "section": "a service"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One item of the order.

    Attributes
    ----------
    kind : str
        hymn: sung, with music or with words alone. note: a line of the order without music (read,
        or its words not yet found). section: a service begins.
    title : str
        As printed.
    hymn : Hymn or None
        For a hymn.
    tone_text : str
        Tone as the order names it; empty takes it from the hymn.
    item_text : str
        What it is in the service, such as “Troparion”; for a section its date.
    rubric : str
        Printed in red under the heading: who sings, what is done.
    """

    kind: Literal["hymn", "note", "section"]
    title: str
    hymn: Hymn | None = None
    tone_text: str = ""
    item_text: str = ""
    rubric: str = ""


@dataclass(frozen=True, slots=True)
class Booklet:
    """What to print.

    Attributes
    ----------
    title, subtitle, parish, service, date_text, tone_text : str
        For the cover and the running head.
    entries : tuple of Entry
        In order.
    paper : str
        a4 or letter.
    form : str
        pages, folded (half sheets to be stapled), slides (16:9) or phone.
    large : bool
        Large print: words of 18 points and more.
    black : bool
        Black only, for photocopiers.
    letters, script, accidentals, clef
        As in `StaffOptions`.
    readings : tuple of str
        How hymns are written: some of `chantwright.engrave.readings.READINGS`, in their order on
        the page. With several, the lines of a phrase are kept together.
    overrides : tuple of Path
        Parish files whose rows on neumes win over ours.
    notes : tuple of str
        Sentences printed on the last page, before our own on how to read the music.
    language : str
        Language of the headings, a BCP 47 tag.
    """

    title: str
    subtitle: str = ""
    parish: str = ""
    service: str = ""
    date_text: str = ""
    tone_text: str = ""
    entries: tuple[Entry, ...] = ()
    paper: Paper = "a4"
    form: FormName = "pages"
    large: bool = False
    black: bool = False
    letters: Letters | None = "byzantine"
    script: Script = "latin"
    accidentals: Accidentals = "conventional"
    clef: Clef = "treble"
    readings: tuple[str, ...] = ("staff",)
    overrides: tuple[Path, ...] = ()
    notes: tuple[str, ...] = ()
    language: str = "en"


def staff_options(booklet: Booklet) -> StaffOptions:
    """Options of the staff that suit a booklet's paper and print.

    Raises
    ------
    ChantError
        If the paper or the form is not known.
    """
    return _staff(booklet, form(booklet.form, booklet.paper, large=booklet.large))


def _staff(booklet: Booklet, page: Form) -> StaffOptions:
    return StaffOptions(
        letters=booklet.letters,
        script=booklet.script,
        accidentals=booklet.accidentals,
        clef=booklet.clef,
        width_mm=page.room,
        staff_mm=page.staff_mm,
        words_pt=page.words_pt,
        black=booklet.black,
    )


def words_only_lines(hymn: Hymn) -> list[str]:
    """Words of a hymn as lines, one a phrase; an empty line before a new verse."""
    out: list[str] = []
    for phrase in hymn.phrases:
        if phrase.verse_start and out:
            out.append("")
        out.append(phrase.words)
    return out


def _verses(hymn: Hymn) -> list[list[str]]:
    out: list[list[str]] = [[]]
    for line in words_only_lines(hymn):
        if line:
            out[-1].append(line)
        else:
            out.append([])
    return [verse for verse in out if verse]


def hymn_svg(
    hymn: Hymn, tones: Tones, options: StaffOptions | None = None, *, id_prefix: str = ""
) -> list[str]:
    """Draw a hymn for a web page: one SVG a system, ids prefixed.

    Errors are those of `chantwright.engrave.staff.lines`.
    """
    options = replace(options or StaffOptions(), id_prefix=id_prefix)
    return [system.svg for system in lines(hymn, tones, options)]


def _neumes(options: StaffOptions, booklet: Booklet) -> NeumeOptions:
    """Options of the neumes; letters stand under them when no other reading has any."""
    alone = not {"staff", "letters"} & set(booklet.readings)
    return replace(
        neume_options(options),
        letters=booklet.letters if alone else None,
        overrides=booklet.overrides,
    )


def _draw(
    hymn: Hymn, tones: Tones, readings: tuple[str, ...], options: StaffOptions, booklet: Booklet
) -> tuple[Block, ...]:
    return blocks(hymn, tones, readings, options, _neumes(options, booklet))


def _blocks(block: Block, page: Form) -> list[dict[str, Any]]:
    """What a page keeps whole: a block, or its rows one by one where it is tall.

    Only the first line of each is told to a screen reader in words.
    """
    rows = [list(row) for row in block.rows]
    height = sum(_height(row) for row in rows) + _ROW * (len(rows) - 1)
    apart = page.name == "slides" or height > _TALL * page.depth
    out = []
    for k, group in enumerate([[row] for row in rows] if apart else [rows]):
        pictures = [line for row in group for line in row]
        lead, first = pictures[0]
        tall = sum(_height(row) for row in group) + _ROW * (len(group) - 1)
        # On a slide nothing goes on to the next one: what is too tall is made smaller.
        scale = min(1.0, page.depth / tall) if page.name == "slides" else 1.0
        out.append(
            {
                "svg": first.svg,
                "width": first.width_mm * scale,
                "height": tall * scale,
                "words": first.words,
                "rubric": block.rubric if k == 0 else "",
                "verse": block.verse_start and k == 0,
                "goes_on": k > 0,
                "more": [
                    {"svg": s.svg, "width": s.width_mm * scale, "words": r, "row": r == lead}
                    for r, s in pictures[1:]
                ],
            }
        )
    return out


def _height(row: Sequence[tuple[str, System]]) -> float:
    return sum(system.height_mm for _, system in row) + _READING * (len(row) - 1)


def _slides(systems: list[dict[str, Any]], depth: float) -> list[int]:
    """How many systems stand on each slide: as many as fit, and the last ones evenly shared."""
    out: list[int] = []
    used = 0.0
    for system in systems:
        tall = system["height"] + _BETWEEN
        if not out or used + tall > depth + _BETWEEN:
            out.append(0)
            used = 0.0
        out[-1] += 1
        used += tall
    if len(out) > 1 and out[-1] == 1 and out[-2] > 2:
        out[-2:] = [out[-2] - 1, 2]
    return out


def _heading(
    found: Heading,
    hymn: Hymn,
    tones: Tones,
    options: StaffOptions,
    booklet: Booklet,
    sung: dict[Hymn, System],
) -> dict[str, Any]:
    small = sign = ""
    width = sign_width = 0.0
    if found.intonation is not None:
        reading = next((r for r in booklet.readings if r != "words"), "letters")
        # Hymns of one tone have the same intonation, but for its title.
        key = replace(found.intonation, title="")
        if key not in sung:
            sung[key] = _draw(key, tones, (reading,), options, booklet)[0].systems[0][1]
        system = sung[key]
        small, width = system.svg, system.width_mm
    if "neumes" in booklet.readings and found.tone:
        mode = signature(hymn, tones, _neumes(staff_options(booklet), booklet))
        sign, sign_width = mode.svg, mode.width_mm
    return {
        "signature": sign,
        "signature_width": sign_width,
        "signature_words": f"Signature: {found.tone}",
        "tone": found.tone,
        "greek": found.greek,
        "facts": list(found.facts),
        "marks": found.marks,
        "intonation": small,
        "intonation_width": width,
        "intonation_words": found.intonation_words,
    }


def _entry(
    entry: Entry,
    tones: Tones,
    options: StaffOptions,
    booklet: Booklet,
    page: Form,
    sung: dict[Hymn, System],
) -> dict[str, Any]:
    data: dict[str, Any] = {
        "kind": entry.kind,
        "title": entry.title,
        "tone": entry.tone_text,
        "item": entry.item_text,
        "rubric": entry.rubric,
        "systems": [],
        "words": [],
        "head": None,
        "slides": [],
        "sources": [],
    }
    hymn = entry.hymn
    if entry.kind != "hymn" or hymn is None:
        return data
    small = replace(
        options,
        staff_mm=options.staff_mm * _INTONATION_SIZE,
        words_pt=options.words_pt * _INTONATION_SIZE,
    )
    found = heading(hymn, tones, options)
    data["head"] = _heading(found, hymn, tones, small, booklet, sung)
    data["tone"] = entry.tone_text or found.tone
    data["sources"] = list(found.sources)
    if hymn.is_set:
        drawn = _draw(hymn, tones, booklet.readings, options, booklet)
        data["systems"] = [part for block in drawn for part in _blocks(block, page)]
    else:
        data["words"] = _verses(hymn)
    data["slides"] = _slides(data["systems"], page.depth)
    return data


def _texts(entry: Entry) -> list[tuple[str, str]]:
    """What a booklet says of an entry in words that somebody wrote, and what each text is."""
    out = [
        (f"the title of {_KINDS[entry.kind]}", entry.title),
        ("its tone", entry.tone_text),
        ("its place in the service", entry.item_text),
        ("its rubric", entry.rubric),
    ]
    if entry.hymn is not None:
        out += [("a rubric of the hymn", p.rubric) for p in entry.hymn.phrases]
        out += [("the source of its words", entry.hymn.words_source)]
        out += [("the source of its melody", entry.hymn.melody_source)]
        if not entry.hymn.is_set:
            out += [("its words", p.words) for p in entry.hymn.phrases]
    return out


def booklet_pdf(
    booklet: Booklet,
    tones: Tones,
    progress: Progress | None = None,
    leave: Callable[[ChantError], None] | None = None,
) -> bytes:
    """Set a booklet.

    Parameters
    ----------
    booklet : Booklet
        What to print.
    tones : Tones
        Branches, scales and intonations.
    progress : callable, optional
        Called with a label, steps done and steps in all.
    leave : callable, optional
        Told of each entry that cannot be printed; the booklet then says so in its place and holds
        all others.

    Returns
    -------
    bytes
        PDF, tagged.

    Raises
    ------
    ChantError
        If an option is not known, a text of the cover has a letter that no font has, or, without
        `leave`, an entry cannot be printed; names the entry.
    """
    cover = [
        ("the title of the booklet", booklet.title),
        ("the subtitle of the booklet", booklet.subtitle),
        ("the name of the parish", booklet.parish),
        ("the name of the service", booklet.service),
        ("the date", booklet.date_text),
        ("the tone of the booklet", booklet.tone_text),
        *(("a note at its end", note) for note in booklet.notes),
    ]
    check_texts(cover)
    page = form(booklet.form, booklet.paper, large=booklet.large)
    options = _staff(booklet, page)
    entries = []
    sung: dict[Hymn, System] = {}
    total = len(booklet.entries) + 1
    for done, entry in enumerate(booklet.entries, start=1):
        try:
            check_texts(_texts(entry))
            entries.append(_entry(entry, tones, options, booklet, page, sung))
        except ChantError as exc:
            where = exc.where if exc.where.file else replace(exc.where, file=entry.title)
            error = ChantError(exc.what, where=where, remedy=exc.remedy)
            if leave is None:
                raise error from None
            leave(error)
            said = blanked(f"Not printed: {error.what} {error.remedy}")
            note = Entry("note", blanked(entry.title), rubric=said)
            entries.append(_entry(note, tones, options, booklet, page, sung))
        if progress is not None:
            progress(f"drew {entry.title}", done, total)
    data = {
        "title": booklet.title or "Hymns",
        "subtitle": booklet.subtitle,
        "parish": booklet.parish,
        "service": booklet.service,
        "date": booklet.date_text,
        "running": _shortened(
            booklet.service or booklet.title, round(page.room / page.text_pt * 4.5)
        ),
        "running_date": _shortened(booklet.date_text, 36) if page.width > 100 else "",
        "tone": booklet.tone_text,
        "form": page.name,
        "width": page.width,
        "height": page.height,
        "margin": page.margin,
        "room": page.room,
        "size": page.text_pt,
        "guide": page.guide,
        "words_size": options.words_pt,
        "black": booklet.black,
        "language": booklet.language.split("-")[0] or "en",
        "font": FONT,
        "notes": list(booklet.notes),
        "legend": [
            *(accidentals_legend(options) if "staff" in booklet.readings else ()),
            *readings_legend(booklet.readings, options),
        ],
        "entries": entries,
    }
    pdf = compiled("booklet.typ", "booklet", json.dumps(for_page(data), ensure_ascii=False))
    if page.name == "folded":
        pdf = folded(pdf)
    if progress is not None:
        progress("set the pages", total, total)
    return pdf


def _shortened(text: str, limit: int) -> str:
    """The first line's worth of a text."""
    text = " ".join(text.split())
    return text if len(text) <= limit else text[: limit - 1].rstrip() + "…"


def write_booklet(
    booklet: Booklet,
    path: str | Path,
    tones: Tones,
    progress: Progress | None = None,
    leave: Callable[[ChantError], None] | None = None,
) -> Path:
    """Set a booklet and write it as PDF, whole or not at all.

    Parameters
    ----------
    booklet : Booklet
        What to print.
    path : str or Path
        The PDF; its folder must exist.
    tones : Tones
        Branches, scales and intonations.
    progress, leave : callable, optional
        As in `booklet_pdf`.

    Returns
    -------
    Path
        `path`.

    Raises
    ------
    ChantError
        If a hymn cannot be printed or the file cannot be written.
    """
    target = Path(path)
    if target.parent and not target.parent.is_dir():
        raise ChantError(
            "the folder for the booklet does not exist.",
            where=Where(str(target.parent)),
            remedy="Make the folder first, or choose another.",
        )
    safefile.write_bytes(target, booklet_pdf(booklet, tones, progress, leave))
    return target
