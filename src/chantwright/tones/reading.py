"""One row, one thing: branches, tones, intonations and the like made of their rows.

A missing field, or one of a wrong kind, is a `ChantError` that names the row; `load` stops at the
first, `check` collects them all.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from chantwright.rows import Row
from chantwright.tones.model import (
    Attraction,
    Branch,
    Group,
    Intonation,
    Limit,
    Style,
    Tone,
    Toned,
)
from chantwright.tuning import fields

__all__ = [
    "read_attraction",
    "read_branch",
    "read_group",
    "read_intonation",
    "read_limit",
    "read_style",
    "read_tone",
    "read_usage",
]

_ISON = 'Write it as: ison = { base = "pa", at = { di = "di" } }'


def _held(row: Row) -> tuple[int, dict[int, int | Literal["unison"]]]:
    """Degree of the simple ison, and what the moving ison holds at each close."""
    ison = row["ison"]
    at = ison.get("at", {}) if isinstance(ison, dict) else None
    if not isinstance(at, dict) or "base" not in ison:
        raise row.error("“ison” must give a base note and a table “at”.", _ISON)
    held: dict[int, int | Literal["unison"]] = {}
    for close, note in at.items():
        degree = fields.as_degree(row, "ison", close)
        held[degree] = "unison" if note == "unison" else fields.as_degree(row, "ison", note)
    return fields.as_degree(row, "ison", ison["base"]), held


def _filled(row: Row, key: str) -> tuple[int, ...]:
    found = fields.degrees(row, key)
    if not found:
        raise row.error(f"“{key}” names no note.", f'Write it as: {key} = ["pa"]')
    return found


def read_branch(row: Row) -> Branch:
    """Make a branch of its row."""
    return Branch(
        id=row.id,
        tone=fields.whole(row, "tone"),
        style=fields.text(row, "style"),
        scale=fields.text(row, "scale"),
        base=fields.degree(row, "base"),
        dominating=_filled(row, "dominating"),
        incomplete=fields.degrees(row, "incomplete"),
        complete=fields.degrees(row, "complete"),
        final=_filled(row, "final"),
        usual=fields.pair(row, "usual"),
        wide=fields.pair(row, "wide"),
        attractions=fields.texts(row, "attractions"),
        ison_base=_held(row)[0],
        ison_at=_held(row)[1],
        intonation=fields.text(row, "intonation"),
        exists=fields.text(row, "exists", "low"),
        conf=row.conf,
        src=row.src,
        origin=row.origin,
    )


def read_tone(row: Row) -> Tone:
    """Make a tone of its row."""
    return Tone(
        n=fields.whole(row, "n"),
        english=fields.texts(row, "english"),
        greek=fields.text(row, "greek"),
        arabic=fields.text(row, "arabic"),
        ethos=fields.text(row, "ethos"),
        martyria=fields.texts(row, "martyria"),
        signature_note=fields.degree(row, "signature_note"),
        conf=row.conf,
        src=row.src,
    )


def _notes(row: Row, key: str) -> tuple[Toned, ...]:
    out: list[Toned] = []
    for item in fields.items(row, key):
        if not isinstance(item, list) or len(item) != 3 or not isinstance(item[0], str):
            raise row.error(
                f"“{key}” must be a list of syllable, note and beats.",
                f'Write it as: {key} = [["a", "pa", 1], ["nes", "pa", 2]]',
            )
        beats = fields.as_number(row, key, item[2])
        if beats <= 0:
            raise row.error(f"“{key}” has a note without beats.", "Give every note 1 beat or more.")
        out.append((item[0], fields.as_degree(row, key, item[1]), beats))
    if not out:
        raise row.error(f"“{key}” has no notes.", f'Write it as: {key} = [["a", "pa", 1]]')
    return tuple(out)


def read_intonation(row: Row) -> Intonation:
    """Make an intonation of its row."""
    return Intonation(
        id=row.id,
        syllables=fields.text(row, "syllables"),
        scale=fields.text(row, "scale"),
        short=_notes(row, "short"),
        long=_notes(row, "long"),
        conf=row.conf,
        src=row.src,
    )


def read_attraction(row: Row) -> Attraction:
    """Make an attraction of its row."""
    size = fields.number(row, "moria")
    sizes = fields.numbers(row, "range") if "range" in row.values else (size, size)
    if len(sizes) != 2:
        raise row.error("“range” must be a smallest and a largest size.", "Write: range = [2, 6]")
    for key, word in (("cancel", "unless_above"), ("octaves", "all"), ("level", "beginner")):
        if row.get(key, word) != word:
            raise row.error(
                f"“{key}” is “{row[key]}”.", f'Write {key} = "{word}", or leave the line out.'
            )
    return Attraction(
        id=row.id,
        note=fields.degree(row, "note"),
        moria=size,
        to=fields.degree(row, "to") if "to" in row.values else None,
        when=fields.texts(row, "when"),
        unless_above=row.get("cancel") == "unless_above",
        range=(sizes[0], sizes[1]),
        conf=row.conf,
        src=row.src,
        every_octave=row.get("octaves") == "all",
        for_beginners=row.get("level") == "beginner",
    )


def read_style(row: Row) -> Style:
    """Make a style of its row."""
    tempi = fields.numbers(row, "chronos_bpm")
    tempo = fields.whole(row, "chronos_default")
    if len(tempi) != 2 or not 0 < tempi[0] <= tempo <= tempi[1]:
        raise row.error(
            "its tempo must lie between the slowest and the fastest.",
            "Write: chronos_bpm = [80, 120] and chronos_default = 100",
        )
    few, many = 1, 2
    if "notes_per_syllable" in row.values:
        counts = fields.numbers(row, "notes_per_syllable")
        if len(counts) != 2 or not 1 <= counts[0] <= counts[1]:
            raise row.error(
                "“notes_per_syllable” must be the fewest and the most.",
                "Write: notes_per_syllable = [1, 2]",
            )
        few, many = int(counts[0]), int(counts[1])
    return Style(row.id, tempo, (int(tempi[0]), int(tempi[1])), row.conf, row.src, (few, many))


def _pitches(row: Row, key: str) -> tuple[float, float]:
    found = fields.numbers(row, key)
    if len(found) != 2 or not 0 < found[0] <= found[1]:
        raise row.error(
            f"“{key}” must be a lowest and a highest pitch in Hz.", f"Write: {key} = [110, 294]"
        )
    return float(found[0]), float(found[1])


def read_group(row: Row) -> Group:
    """Make a group of singers of its row."""
    low, high = _pitches(row, "ni_hz")
    ni = float(fields.number(row, "ni_default_hz"))
    if not low <= ni <= high:
        raise row.error(
            f"its ni of {ni:g} Hz lies outside {low:g} to {high:g} Hz.",
            "Bring ni_default_hz inside ni_hz.",
        )
    return Group(row.id, (low, high), ni, _pitches(row, "comfortable_hz"), row.conf, row.src)


def read_limit(row: Row) -> Limit:
    """Make a limit of listening of its row, given in moria or in cents."""
    if "moria" in row.values:
        size: Fraction = fields.number(row, "moria")
    else:
        size = fields.number(row, "cents") * Fraction(72, 1200)
    if size <= 0:
        raise row.error("it must be larger than nothing.", "Write: moria = 3")
    return Limit(row.id, size, row.conf, row.src)


def read_usage(row: Row) -> Row:
    """Return a usage row that names its kind of hymn, and a branch or a style."""
    fields.text(row, "kind")
    fields.text(row, "branch" if "branch" in row.values else "style")
    return row
