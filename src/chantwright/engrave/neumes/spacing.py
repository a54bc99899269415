"""How clusters and words share a line: natural places, line ends, filled lines.

A line is a row of *slots*: clusters with the words that begin under them, rests, martyriai. Each
slot stands as far to the left as its ink and its words allow; a filled line shares what is left
over among the gaps, more of it between words than inside a syllable. Lengths are in 1/1000 of the
size of the neumes.

References
----------
Line ends: `chantwright.engrave.breaking`. Words centred under a single neume and begun under the
first of several: as in `chantwright.engrave.lyrics`.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from chantwright.engrave.breaking import Place, break_lines
from chantwright.engrave.events import Event
from chantwright.engrave.mei import LETTER_SIZE
from chantwright.engrave.metrics import text_width
from chantwright.engrave.neumes.cluster import Cluster
from chantwright.engrave.neumes.options import NeumeOptions

__all__ = ["Slot", "breaks", "cut", "fill", "letters_of", "natural", "words_of"]

_PUNCTUATION = ",.;:!?·’”)"
_WORD, _HYPHEN, _LETTER = 0.36, 0.5, 0.3  # ems of room; a little over that of the drawing
_GAP = {"melisma": 100.0, "syllable": 140.0, "word": 180.0, "mark": 190.0}
_WEIGHT = {"melisma": 1.0, "syllable": 1.5, "word": 2.0, "mark": 2.5}


@dataclass(frozen=True, slots=True)
class Slot:
    """One thing on the line.

    Attributes
    ----------
    cluster : Cluster
        Its ink.
    events : tuple of Event
        Notes sung to it; empty for a rest or a martyria.
    first, stop : int
        Numbers of its notes in the hymn (`first` up to, not with, `stop`).
    text_left, text_right : float
        Ends of the words that begin here, from the left edge of the base; equal when none do.
    kind : str
        What begins here: phrase, word, syllable, note; or mark for rests and martyriai.
    joined : bool
        The words that begin here go on in the next syllable.
    low_left, low_right : float
        Ends of the letters under the words.
    """

    cluster: Cluster
    events: tuple[Event, ...]
    first: int
    stop: int
    text_left: float
    text_right: float
    kind: str
    joined: bool
    low_left: float = 0.0
    low_right: float = 0.0


def words_of(
    cluster: Cluster, events: Sequence[Event], several: bool, size: float
) -> tuple[float, float]:
    """Ends of the words that begin under a cluster, from the left edge of its base."""
    for k, event in enumerate(events):
        if event.first:
            left, width = cluster.heads[min(k, len(cluster.heads) - 1)]
            text = event.syllable.text
            full = text_width(text) * size
            if several:
                return left, left + full
            core = text_width(text.rstrip(_PUNCTUATION)) * size
            start = left + width / 2 - core / 2
            return start, start + full
    return 0.0, 0.0


def letters_of(cluster: Cluster, events: Sequence[Event], size: float) -> tuple[float, float]:
    """Ends of the letters of a cluster's notes, side by side and centred under it."""
    if not any(e.letter for e in events):
        return 0.0, 0.0
    own = LETTER_SIZE * size
    room = sum(text_width(e.letter) for e in events) * own + _LETTER * own * (len(events) - 1)
    left, width = cluster.heads[0]
    centre = left + width / 2
    return centre - room / 2, centre + room / 2


def _gap(before: Slot, slot: Slot) -> str:
    if slot.kind == "mark" or before.kind == "mark":
        return "mark"
    if slot.kind in ("phrase", "word"):
        return "word"
    return "syllable" if slot.kind == "syllable" else "melisma"


def natural(slots: Sequence[Slot], size: float) -> tuple[list[float], float]:
    """Places of the slots on a line that is not filled.

    Parameters
    ----------
    slots : sequence of Slot
        Of one line.
    size : float
        Size of the words.

    Returns
    -------
    xs : list of float
        Left edges of the bases.
    width : float
        Width of the line.
    """
    xs: list[float] = []
    ink = words = low = 0.0
    before: Slot | None = None
    joined = False
    for slot in slots:
        left = -slot.cluster.left
        x = left if before is None else ink + _GAP[_gap(before, slot)] + left
        has_words = slot.text_right > slot.text_left
        if has_words:
            gap = 0.0 if words == 0.0 else (_HYPHEN if joined else _WORD) * size
            x = max(x, words + gap - slot.text_left)
        if slot.low_right > slot.low_left:
            gap = _LETTER * LETTER_SIZE * size if low else 0.0
            x = max(x, low + gap - slot.low_left)
            low = x + slot.low_right
        xs.append(x)
        ink = x + slot.cluster.right
        if has_words:
            words, joined = x + slot.text_right, slot.joined
        before = slot
    tail = 0.5 * size if joined else 0.0
    return xs, max(ink, words + tail, low)


def fill(
    slots: Sequence[Slot], xs: Sequence[float], natural_width: float, width: float
) -> list[float]:
    """Share what is left of a line among its gaps.

    Returns
    -------
    list of float
        Left edges of the bases; the last slot ends at the end of the line.
    """
    room = width - natural_width
    if room <= 0 or len(slots) < 2:
        return list(xs)
    weights = [_WEIGHT[_gap(a, b)] for a, b in itertools.pairwise(slots)]
    step = room / sum(weights)
    out, moved = [xs[0]], 0.0
    for x, weight in zip(xs[1:], weights, strict=True):
        moved += weight * step
        out.append(x + moved)
    return out


def breaks(slots: Sequence[Slot], options: NeumeOptions) -> frozenset[int]:
    """Places of the slots with which a new line has to begin.

    A slot of two notes is not parted: when its second note should begin a line, the next slot does.
    """
    out: set[int] = set()
    late = False
    for place, slot in enumerate(slots):
        if not slot.events:
            continue
        begins = slot.events[0]
        must = begins.must_break or (options.by_phrase and begins.starts)
        if place and (must or late or begins.id in options.breaks):
            out.add(place)
        late = any(event.id in options.breaks for event in slot.events[1:])
    return frozenset(out)


def cut(
    slots: Sequence[Slot], size: float, width: float, must: Collection[int]
) -> list[list[Slot]]:
    """Choose where lines end.

    Parameters
    ----------
    slots : sequence of Slot
        Of the whole hymn.
    size, width : float
        Size of the words and longest line.
    must : collection of int
        Places of the slots with which a new line has to begin.

    Returns
    -------
    list of list of Slot
        One list a line; a rest or a martyria never begins one.
    """
    xs, end = natural(slots, size)
    starts = [i for i, s in enumerate(slots) if s.kind != "mark"]
    words: dict[str, list[int]] = {}
    for i in starts:
        if slots[i].kind in ("phrase", "word"):
            words.setdefault(slots[i].events[-1].phrase.id, []).append(i)
    places = []
    for i in starts:
        slot = slots[i]
        edge = 0
        if slot.kind == "word":
            all_words = words[slot.events[-1].phrase.id]
            at = all_words.index(i)
            edge = min(at - 1, len(all_words) - at - 1)
        # What stands left of the base (a vareia, the words) belongs to the slot.
        reach = min(slot.cluster.left, slot.text_left, slot.low_left)
        # One word of a phrase alone on a line is as bad as a divided word.
        kind = "syllable" if slot.kind == "word" and edge == 0 else slot.kind
        places.append(Place(i, xs[i] + reach, kind, edge, i in must))
    # Words may reach a little further left on a line of their own, and a hyphen further right.
    head = 0.6 * size
    lines = break_lines(places, end, head, width)
    out = [list(slots[line.start : line.stop]) for line in lines[:-1]]
    out.append(list(slots[lines[-1].start :]))
    return out
