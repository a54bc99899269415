"""One score, four readings: staff, neumes, letters, words.

When several readings are printed, each phrase begins a new line in all of them, and the lines of
one phrase form a *block* that a page keeps together: a singer of one reading sits beside a singer
of another and both are on the same phrase. A phrase that is wider than a line ends its lines at the
same notes in all readings, so that a *row* (one line of each) has the same words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from chantwright.engrave.lettered import letter_systems, word_systems
from chantwright.engrave.letters import ison_text
from chantwright.engrave.neumes.options import NeumeOptions
from chantwright.engrave.neumes.systems import systems as neume_systems
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.staff import System, lines
from chantwright.errors import ChantError, Where
from chantwright.score import Hymn, note_id, number
from chantwright.tones import Tones

__all__ = [
    "READINGS",
    "Block",
    "blocks",
    "check_readings",
    "neume_options",
    "readings_legend",
]

READINGS = ("staff", "neumes", "letters", "words")


@dataclass(frozen=True, slots=True)
class Block:
    """Lines that belong together on a page.

    Attributes
    ----------
    rows : tuple of tuple of (str, System)
        One line of each reading for the same words, in the order of the readings; where a reading
        needs more room than the others a row may hold two lines of it.
    rubric : str
        To be printed before it; never sung.
    verse_start : bool
        A new verse begins with it.
    phrases : tuple of str
        Ids of the phrases in it.
    """

    rows: tuple[tuple[tuple[str, System], ...], ...]
    rubric: str
    verse_start: bool
    phrases: tuple[str, ...]

    @property
    def systems(self) -> tuple[tuple[str, System], ...]:
        """Reading and line, row after row."""
        return tuple(line for row in self.rows for line in row)


def check_readings(readings: Sequence[str], where: Where | None = None) -> tuple[str, ...]:
    """Check the names of readings, in the order in which they are to stand.

    Parameters
    ----------
    readings : sequence of str
        Some of `READINGS`.
    where : Where, optional
        Where they were written, for the error.

    Raises
    ------
    ChantError
        If none is named, one is not known, or one is named twice.
    """
    where = where or Where()
    for index, reading in enumerate(readings):
        if reading not in READINGS:
            raise ChantError(
                f"“{reading}” is no way of writing a hymn that we print.",
                where=where,
                remedy=f"Choose among: {', '.join(READINGS)}.",
            )
        if reading in readings[:index]:
            raise ChantError(
                f"“{reading}” is named twice.", where=where, remedy="Name each reading once."
            )
    if not readings:
        raise ChantError(
            "nothing is named to print.",
            where=where,
            remedy=f"Name some of: {', '.join(READINGS)}.",
        )
    return tuple(readings)


def neume_options(staff: StaffOptions) -> NeumeOptions:
    """Options of the neumes that go with those of a staff."""
    return NeumeOptions(
        size_pt=min(28.0, max(9.0, staff.words_pt)),
        width_mm=staff.width_mm,
        script=staff.script,
        ison=staff.ison,
        black=staff.black,
        id_prefix=staff.id_prefix,
    )


def _draw(
    reading: str, hymn: Hymn, tones: Tones, staff: StaffOptions, neumes: NeumeOptions
) -> tuple[System, ...]:
    if reading == "staff":
        return lines(hymn, tones, staff)
    if reading == "neumes":
        return neume_systems(hymn, tones, neumes)
    if reading == "letters":
        return letter_systems(hymn, tones, replace(neumes, letters=neumes.letters or staff.letters))
    return word_systems(hymn, neumes)


def blocks(
    hymn: Hymn,
    tones: Tones,
    readings: Sequence[str] = ("staff",),
    staff: StaffOptions | None = None,
    neumes: NeumeOptions | None = None,
) -> tuple[Block, ...]:
    """Draw a hymn in one or several readings.

    Parameters
    ----------
    hymn : Hymn
        With its melody.
    tones : Tones
        Branches and scales.
    readings : sequence of str
        Some of `READINGS`, in the order in which they stand under each other.
    staff, neumes : options, optional
        Sizes and colours; those of the neumes follow the staff when left out.

    Returns
    -------
    tuple of Block
        With one reading a line each; with several a phrase each.

    Raises
    ------
    ChantError
        If a reading is not known or named twice, or the hymn cannot be printed.
    """
    check_readings(readings)
    staff = staff or StaffOptions()
    neumes = neumes or neume_options(staff)
    hymn = number(hymn)
    if len(readings) == 1:
        drawn = _draw(readings[0], hymn, tones, staff, neumes)
        return tuple(
            Block((((readings[0], s),),), s.rubric, s.verse_start, s.phrases) for s in drawn
        )
    staff, neumes = replace(staff, by_phrase=True), replace(neumes, by_phrase=True)
    drawn_as: dict[str, tuple[System, ...]] = {}
    # The widest reading is drawn first and says where lines end.
    for reading in sorted(readings, key=READINGS.index):
        # Each reading has ids of its own, so that a page may hold them all.
        mark = "" if reading == readings[0] else f"{reading}-"
        own_staff = replace(staff, id_prefix=mark + staff.id_prefix)
        own_neumes = replace(neumes, id_prefix=mark + neumes.id_prefix)
        drawn_as[reading] = _draw(reading, hymn, tones, own_staff, own_neumes)
        if not neumes.breaks:
            neumes = replace(neumes, breaks=frozenset(s.start for s in drawn_as[reading]))
    return _in_rows(hymn, readings, drawn_as, neumes.breaks)


def _in_rows(
    hymn: Hymn,
    readings: Sequence[str],
    drawn_as: Mapping[str, Sequence[System]],
    starts: frozenset[str],
) -> tuple[Block, ...]:
    """Put lines with the same words into rows, and the rows of a phrase into a block."""
    row_of: dict[str, int] = {}
    row = -1
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            for k in range(len(syllable.notes)):
                name = note_id(syllable, k)
                row += name in starts
                row_of[name] = row
    rows: dict[str, dict[int, list[tuple[str, System]]]] = {p.id: {} for p in hymn.phrases}
    for reading in readings:
        for system in drawn_as[reading]:
            found = rows[system.phrases[0]].setdefault(row_of[system.start], [])
            found.append((reading, system))
    out = []
    for index, phrase in enumerate(hymn.phrases):
        group = tuple(tuple(row_) for _, row_ in sorted(rows[phrase.id].items()))
        rubric = next((s.rubric for row_ in group for _, s in row_ if s.rubric), "")
        out.append(Block(group, rubric, phrase.verse_start and index > 0, (phrase.id,)))
    return tuple(out)


def readings_legend(readings: Sequence[str], staff: StaffOptions) -> tuple[str, ...]:
    """Sentences on how to read neumes, letters and marked words, for the last page."""
    out = []
    if "neumes" in readings:
        out.append(
            "The neumes are spelled by rules, many of them from memory: an experienced chanter "
            "should read them through. They count from the note of the signature. The sign after "
            "each phrase names the note that it closes on."
        )
        if staff.ison and "staff" not in readings:
            unison = ison_text("unison", script=staff.script)
            out.append(
                "The letters over the neumes are for those who hold the ison: keep that note until "
                "the next letter. In brackets: it goes on from the line before. "
                f"“{unison}” means join the melody."
            )
    if "letters" in readings:
        out.append(
            "Over the words stand the names of the notes: ’ is the octave above, _ the octave "
            "below. A dot is one more beat; notes over one line share a beat."
        )
    if "words" in readings:
        out.append("A stroke over the words marks a stressed syllable.")
    return tuple(out)
