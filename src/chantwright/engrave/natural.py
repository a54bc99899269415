"""Where the notes of a hymn stand on an endless line, worked out before anything is drawn.

The staff engraver's own spacing is worked out here: each note has the room of its length, an
accidental or a bar adds its own, and words and letters push notes apart. So line ends are chosen
without drawing the hymn twice. The tests hold the places against those of a drawn endless line.

The unit is the drawing's: 1/180 of a staff space. All numbers were measured from what the engraver
draws with the options of `chantwright.engrave.staff`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from chantwright.engrave.events import Event, Sheet
from chantwright.engrave.mei import LETTER_SIZE, bar, groups, marks
from chantwright.engrave.metrics import text_width
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.values import Value, values

__all__ = ["SPACE", "Natural", "natural"]

SPACE = 180.0
"""Drawing units in a staff space."""

_ROOM = {
    (1, 0): 900.0, (1, 1): 1130.0, (2, 0): 610.0, (2, 1): 770.0, (4, 0): 420.0, (4, 1): 520.0,
}  # fmt: skip
"""Room of a note value; shorter ones have the room of their head, dot and flag."""
_HEAD, _DOT, _FLAG = 316.0, 126.0, 90.0
_ACCIDENTAL = {"f": 187.0, "n": 158.0, "s": 186.0, "ff": 324.0, "x": 230.0}
_BAR = {"invis": 180.0, "single": 193.0, "dbl": 292.0, "end": 355.0}
_BAR_SPACE = 180.0
"""Room of a bar, and the part of it that is the space after it."""
_CLEF = {"treble": 825.0, "men": 825.0, "bass": 859.0}
"""First note on a line without a signature."""
_SIGNATURE = 141.0
_SIGN = 180.0
"""Room of a signature, and of each sign in it."""
_WORD_GAP, _LEAD = 0.4, 0.2205
"""Room after a word, and how far words begin before their note, in ems."""
_HYPHEN = 0.0016625
"""Room of a hyphen against the square of the size of the words."""
_LEEWAY = 270.0
"""How far words may move to the left, where there is room, before they push the next note."""
_OVER = 80.0
"""How far the room after the last word may stand over the end of the staff."""
_LARGEST = 720.0
"""The engraver knows no larger words, in drawing units to the em."""


@dataclass(frozen=True, slots=True)
class Natural:
    """Places on the endless line.

    Attributes
    ----------
    xs : tuple of float
        Left edge of each note's head.
    end : float
        Right end of the staff.
    """

    xs: tuple[float, ...]
    end: float


class _Row:
    """One row of words or letters: what was put last, and how far it can still move left."""

    def __init__(self, lead: float) -> None:
        self.lead = lead
        self.at = 0
        self.until = 0.0
        self.leeway = 0.0
        self.empty = True

    def push(self, xs: list[float], i: int, width: float) -> float:
        """Put a text under note `i`; return how far it pushed that note and all after it.

        The notes between this text and the one before take their share of the push.
        """
        left = xs[i] - self.lead
        pushed = 0.0
        if not self.empty:
            overlap = self.until - left
            moved = min(max(0.0, overlap), self.leeway)
            pushed = max(0.0, overlap - moved)
            span = xs[i] - xs[self.at]
            for k in range(self.at + 1, i):
                xs[k] += pushed * (xs[k] - xs[self.at]) / span
            self.leeway = min(_LEEWAY, max(0.0, left + pushed - self.until + moved))
        xs[i] += pushed
        self.at, self.until, self.empty = i, left + pushed + width, False
        return pushed


def _room(value: Value, flag: bool, accidental: str | None) -> float:
    """From a note to the next, which may have an accidental."""
    least = _HEAD + (_DOT if value.dots else 0.0) + (_FLAG if flag else 0.0)
    if accidental:
        least += _ACCIDENTAL[accidental] + (_FLAG if flag else 0.0)
    return max(_ROOM.get((value.dur, value.dots), 0.0), least)


def natural(sheet: Sheet, options: StaffOptions) -> Natural:
    """Work out where the notes of a hymn stand when nothing ends a line.

    Parameters
    ----------
    sheet : Sheet
        The hymn.
    options : StaffOptions
        Sizes, letters, clef.

    Returns
    -------
    Natural

    Raises
    ------
    ChantError
        If a length cannot be written as note values.
    """
    events = sheet.events
    size = min(_LARGEST, options.words_spaces * SPACE)
    printed = marks(events, sheet) if options.accidentals != "none" else [None] * len(events)
    flagged = {i for kind, i, _ in groups(events) if kind == "note" and events[i].note.beats < 1}
    signs = len(sheet.signature)
    head = _CLEF[options.clef] + (_SIGNATURE + _SIGN * signs if signs else 0.0)
    x = head + _ACCIDENTAL.get(printed[0] or "", 0.0)
    xs: list[float] = []
    for i, event in enumerate(events):
        xs.append(x)
        after = printed[i + 1] if i + 1 < len(events) else None
        parts = values(event.note.beats, event.syllable.text)
        for part in parts[:-1]:
            x += _room(part, i in flagged, None)
        if not event.ends:
            x += _room(parts[-1], i in flagged, after)
            continue
        x += _room(parts[-1], i in flagged, None)
        if event.phrase.rest > 0:
            x += sum(_room(v, False, None) for v in values(event.phrase.rest))
        x += _BAR[bar(event, sheet)] + _ACCIDENTAL.get(after or "", 0.0)
    tail = x - _BAR_SPACE - xs[-1]
    over = _push(xs, events, size)
    return Natural(tuple(xs), max(xs[-1] + tail, over - _OVER))


def _push(xs: list[float], events: Sequence[Event], size: float) -> float:
    """Move notes apart where their words need it, then where their letters do; in place.

    Returns the right end of the last word or letter, with the room after it.
    """
    row, shift = _Row(_LEAD * size), 0.0
    for i, event in enumerate(events):
        xs[i] += shift
        syllable = event.syllable
        if event.first and syllable.text:
            joined = syllable.place in ("begin", "middle")
            gap = _HYPHEN * size * size if joined else _WORD_GAP * size
            shift += row.push(xs, i, text_width(syllable.text) * size + gap)
    over = row.until
    row, shift = _Row(_LEAD * size), 0.0
    for i, event in enumerate(events):
        xs[i] += shift
        if event.letter:
            wide = text_width(event.letter) * size * LETTER_SIZE
            shift += row.push(xs, i, wide + _WORD_GAP * size)
    return max(over + shift, row.until)
