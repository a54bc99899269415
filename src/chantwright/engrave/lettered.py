"""Two readings without notation: letters over the words, and words with their stresses.

Letters: each note by its name, a dot after it for each further beat, a line under notes that share
one beat; ``’`` marks the octave above the middle one, ``_`` the octave below. How a beat is shared
is not told: that is for the neumes and the staff. Words: undivided, a stroke over each stressed
syllable.
"""

from __future__ import annotations

import re
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace

from chantwright.engrave.events import Event, Sheet, check_letters, sheet
from chantwright.engrave.lyrics import SVG, add, draw_words, text
from chantwright.engrave.metrics import text_width
from chantwright.engrave.neumes.cluster import Cluster
from chantwright.engrave.neumes.options import NeumeOptions
from chantwright.engrave.neumes.spacing import Slot, breaks, cut, fill, natural, words_of
from chantwright.engrave.neumes.systems import Canvas, spoken_words, written_kind
from chantwright.engrave.printable import printable
from chantwright.engrave.staff import System
from chantwright.score import Hymn, Phrase, Syllable, note_id, number
from chantwright.tones import Tones

__all__ = ["letter_systems", "note_words", "word_systems"]

_VOWELS = re.compile(r"[aeiouyαεηιουω]+", re.IGNORECASE)
_LETTER = 0.86
_STRETCH = 1.35


def note_words(event: Event) -> str:
    """A note in letters: its name, its octave, a dot for each beat past the first begun."""
    octave = event.note.degree // 7
    marks = "’" * octave if octave > 0 else "_" * -octave
    beats = event.note.beats
    more = max(0, -(-beats.numerator // beats.denominator) - 1)
    return event.letter + marks + "·" * min(more, 12)


def _slots(drawn: Sheet, size: float) -> list[Slot]:
    counts: dict[str, int] = {}
    for event in drawn.events:
        counts[event.syllable.id] = counts.get(event.syllable.id, 0) + 1
    out = []
    for at, event in enumerate(drawn.events):
        wide = text_width(note_words(event)) * size * _LETTER
        box = Cluster((), ((0.0, wide),), 0.0, wide, 0.0, 0.0)
        left, right = words_of(box, (event,), counts[event.syllable.id] > 1, size)
        joined = event.first and event.syllable.place in ("begin", "middle")
        out.append(Slot(box, (event,), at, at + 1, left, right, written_kind(event), joined))
    return out


def _shared(events: Sequence[Event]) -> list[tuple[int, int]]:
    """First and last note of each group that shares a beat."""
    out: list[tuple[int, int]] = []
    at = events[0].note.beats * 0
    for k, event in enumerate(events):
        if k and at.denominator != 1:
            if out and out[-1][1] == k - 1:
                out[-1] = (out[-1][0], k)
            else:
                out.append((k - 1, k))
        at += event.note.beats
        if event.ends:  # each phrase is counted from its own first beat
            at = at * 0
    return out


def letter_systems(
    hymn: Hymn, tones: Tones, options: NeumeOptions | None = None
) -> tuple[System, ...]:
    """Draw a hymn as solfege letters over its words, one system after the other.

    Parameters and errors are those of `chantwright.engrave.neumes.systems`; letters are byzantine
    when the options name none.
    """
    options = options or NeumeOptions()
    if options.letters is None:
        options = replace(options, letters="byzantine")
    staff = options.staff()
    drawn = sheet(hymn, tones, staff)
    check_letters(drawn.hymn)
    size = options.words
    width = options.width_mm / options.unit_mm
    slots_ = _slots(drawn, size)
    lines = cut(slots_, size, width, breaks(slots_, options))
    out = []
    for index, slots in enumerate(lines):
        xs, wide = natural(slots, size)
        if options.justify and wide < width <= wide * _STRETCH and index + 1 < len(lines):
            xs, wide = fill(slots, xs, wide, width), width
        events = [e for s in slots for e in s.events]
        heads = {
            options.id_prefix + e.id: (x, s.cluster.right)
            for s, x, e in zip(slots, xs, events, strict=True)
        }
        canvas = Canvas.new("l", black=options.black)
        high = 0.95 * size * _LETTER
        group = ET.SubElement(canvas.root, f"{SVG}g", {"class": "letters"})
        for event in events:
            name = options.id_prefix + event.id
            letters = note_words(event)
            x = heads[name][0]
            add(group, [text(x, high, size * _LETTER, letters, id=name, class_="letter")])
        for first, last in _shared(events):
            left = heads[options.id_prefix + events[first].id]
            right = heads[options.id_prefix + events[last].id]
            start = left[0] + left[1] * (0.5 if "·" in note_words(events[first]) else 0.0)
            box = {"x": start, "y": high + 0.2 * size, "width": right[0] + right[1] - start}
            numbers = {k: f"{v:.0f}" for k, v in box.items()} | {"height": f"{0.05 * size:.0f}"}
            ET.SubElement(group, f"{SVG}rect", {"class": "beat"} | numbers)
        words = ET.SubElement(canvas.root, f"{SVG}g", {"class": "words"})
        baseline = high + 1.3 * size
        add(words, draw_words(events, heads, staff, baseline, size, wide))
        out.append(
            _system(canvas, events[0].phrase, events, (wide, baseline + 0.3 * size), options)
        )
    return tuple(out)


def _system(
    canvas: Canvas,
    phrase: Phrase,
    events: Sequence[Event],
    box: tuple[float, float],
    options: NeumeOptions,
) -> System:
    spoken = spoken_words(events)
    starts = events[0].starts
    return System(
        svg=canvas.finish(box[0], box[1], spoken),
        width_mm=box[0] * options.unit_mm,
        height_mm=box[1] * options.unit_mm,
        words=spoken,
        rubric=phrase.rubric if starts else "",
        verse_start=starts and phrase.verse_start,
        phrases=tuple(dict.fromkeys(e.phrase.id for e in events)),
        start=events[0].id,
    )


def _notes(word: Sequence[Syllable]) -> list[str]:
    return [note_id(s, i) for s in word for i in range(len(s.notes))]


def _rows(
    phrase: Phrase, size: float, width: float, marked: frozenset[str]
) -> list[list[list[Syllable]]]:
    """The words of a phrase in rows that fit, a word being its syllables.

    A row ends too where one of the marked notes begins, or with the word that it stands in.
    """
    words: list[list[Syllable]] = []
    for syllable in phrase.syllables:
        if not words or syllable.place in ("single", "begin"):
            words.append([])
        words[-1].append(syllable)
    rows: list[list[list[Syllable]]] = [[]]
    used = 0.0
    late = False
    for word in words:
        wide = sum(text_width(s.text) for s in word) * size
        first, *others = _notes(word) or [""]
        full = used + 0.25 * size + wide > width
        if rows[-1] and (full or late or first in marked):
            rows.append([])
            used = 0.0
        used += wide + (0.25 * size if rows[-1] else 0.0)
        rows[-1].append(word)
        late = not marked.isdisjoint(others)
    return rows


def word_systems(hymn: Hymn, options: NeumeOptions | None = None) -> tuple[System, ...]:
    """Draw the words of a hymn, a stroke over each stressed syllable; no melody is needed.

    Phrases whose words are not divided are left out: their stresses are not known.

    Raises
    ------
    ChantError
        If a letter has no font.
    """
    options = options or NeumeOptions()
    hymn = number(hymn)
    check_letters(hymn)
    size = options.words * 1.1
    width = options.width_mm / options.unit_mm
    out = []
    for index, phrase in enumerate(hymn.phrases):
        if not phrase.syllables:
            continue
        for row_index, row in enumerate(_rows(phrase, size, width, options.breaks)):
            canvas = Canvas.new("w", black=options.black)
            baseline = 1.25 * size
            said = ["".join(printable(s.text) for s in word) for word in row]
            wides = [sum(text_width(printable(s.text)) for s in word) * size for word in row]
            room = text_width(" ") * size
            x = sum(wides) + room * (len(wides) - 1)
            # Words of right-to-left letters follow each other leftwards from the right end.
            backwards = _is_backwards("".join(said))
            at = x if backwards else 0.0
            for word, wide in zip(row, wides, strict=True):
                left = at - wide if backwards else at
                _word(canvas.root, word, (left, left + wide, baseline), size, options)
                at += -(wide + room) if backwards else wide + room
            spoken = " ".join(said)
            out.append(
                System(
                    svg=canvas.finish(x, baseline + 0.3 * size, spoken),
                    width_mm=x * options.unit_mm,
                    height_mm=(baseline + 0.3 * size) * options.unit_mm,
                    words=spoken,
                    rubric=printable(phrase.rubric) if row_index == 0 else "",
                    verse_start=row_index == 0 and phrase.verse_start and index > 0,
                    phrases=(phrase.id,),
                    start=next(iter(_notes(row[0])), ""),
                )
            )
    return tuple(out)


def _is_backwards(text: str) -> bool:
    """Whether the first letter that has a direction runs from right to left (UAX 9, rule P2)."""
    kinds = (unicodedata.bidirectional(c) for c in text)
    return next((k for k in kinds if k in ("L", "R", "AL")), "L") != "L"


def _word(
    parent: ET.Element,
    word: Sequence[Syllable],
    place: tuple[float, float, float],
    size: float,
    options: NeumeOptions,
) -> None:
    """Write a word between two ends on its baseline, a stroke over each stressed syllable."""
    left, right, baseline = place
    line = ET.SubElement(
        parent,
        f"{SVG}text",
        {"x": f"{left:.0f}", "y": f"{baseline:.0f}", "font-size": f"{size:.0f}"},
    )
    backwards = _is_backwards("".join(s.text for s in word))
    at = 0.0
    for syllable in word:
        name = {"id": options.id_prefix + syllable.id, "class": "syl"}
        plain = printable(syllable.text)
        ET.SubElement(line, f"{SVG}tspan", name).text = plain
        if syllable.stress == 1:
            off = at + _nucleus(plain) * size
            _stroke(parent, right - off if backwards else left + off, baseline - 0.86 * size, size)
        at += text_width(plain) * size


def _nucleus(syllable: str) -> float:
    """Middle of the first vowels of a syllable, in ems from its left edge; else of its letters."""
    plain = "".join(unicodedata.normalize("NFD", c)[0] for c in syllable)
    found = _VOWELS.search(plain, 1 if plain[:1] in "yY" else 0)
    if found is None:
        return text_width(syllable) / 2
    return text_width(syllable[: found.start()]) + text_width(found[0]) / 2


def _stroke(parent: ET.Element, x: float, y: float, size: float) -> None:
    """Draw an acute stroke, its foot at (x, y)."""
    a, b, c = 0.07 * size, 0.1 * size, 0.26 * size
    path = f"M{x - a:.0f} {y:.0f}L{x + b:.0f} {y - c:.0f}L{x + 2.2 * b:.0f} {y - c:.0f}Z"
    ET.SubElement(parent, f"{SVG}path", {"class": "stress", "d": path})
