"""The places worked out for line breaking, held against those of a drawn endless line."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hymns_for_print import DENSE, GREEK, PSALM, phrase

from chantwright.engrave import StaffOptions, lines
from chantwright.engrave.drawing import cut, note_heads, staff_right
from chantwright.engrave.events import sheet
from chantwright.engrave.forms import FORMS, form
from chantwright.engrave.mei import Part, document
from chantwright.engrave.metrics import draw
from chantwright.engrave.natural import natural
from chantwright.engrave.staff import _engraver
from chantwright.score import Hymn, hymnfile
from chantwright.tones import load_tones

TONES = load_tones()
FLATS = replace(PSALM, tone=2, branch="t2.heirmologic_hard")
HALVES = Hymn(
    tone=1, phrases=(phrase("O:1*1/2 sing:3*1/2 un-to:4*1/2|4*1/2 God:5*3 our:4*4 strength:1*2"),)
)
# Psalm 33:22 and 33:1 (King James): the second verse fits into 170 mm by a hair, or not.
BRIM = hymnfile.loads("""tone: 4
branch: t4.heirmologic_legetos

Let thy mer-cy, O Lord, be up-on us, |
notes: vou vou ga:.5+vou:.5 pa vou di di di ke:2 di:2
ison: vou . . . . . . . . .
ac-cord-ing as we hope in thee. |||
notes: vou di di di ga ke:.5+di:.5 ga ga+vou+pa+vou:4
ison: vou . . . . . . .

Re-joice in the Lord, O ye right-eous: |
notes: vou ga:.5+di:.5 di di ke di ga ga:.5+di:.5 di:2
ison: vou . . . . . . . .
for praise is come-ly for the up-right. |||
notes: vou ga:.5+vou:.5 pa vou vou vou ga di:.5+ga:.5+pa vou:4
ison: vou . . . . . . . .
""")
HYMNS = {
    "brim": BRIM, "psalm": PSALM, "dense": DENSE, "greek": GREEK, "flats": FLATS, "flags": HALVES,
}  # fmt: skip
CHOICES: list[dict[str, Any]] = [
    {},
    {"letters": None, "clef": "men"},
    {"letters": "western", "clef": "bass"},
    {"accidentals": "none"},
]


@pytest.mark.parametrize("choice", CHOICES, ids=str)
@pytest.mark.parametrize("name", HYMNS)
@pytest.mark.parametrize("kind", FORMS)
def test_notes_stand_where_the_engraver_puts_them(
    kind: str, name: str, choice: dict[str, Any]
) -> None:
    page = form(kind)
    options = StaffOptions(
        width_mm=page.room, staff_mm=page.staff_mm, words_pt=page.words_pt, **choice
    )
    music = sheet(HYMNS[name], TONES, options)
    whole = document(music, options, [Part(0, len(music.events))])
    (system,) = cut(draw(whole, _engraver(options, 1e6, endless=True))[0])
    heads = note_heads(system.body)
    drawn = [heads[e.id][0] for e in music.events] + [staff_right(system.body)]
    found = natural(music, options)
    ours = [*found.xs, found.end]
    # Any stretch as long as a line may be off by one part in fifty.
    width = options.width_mm / options.space_mm * 180
    for i in range(len(drawn)):
        for j in range(i + 1, len(drawn)):
            if drawn[j] - drawn[i] <= width:
                assert ours[j] - ours[i] == pytest.approx(drawn[j] - drawn[i], abs=0.02 * width)
    assert ours[0] == pytest.approx(drawn[0], abs=20)


@pytest.mark.parametrize("name", HYMNS)
def test_a_line_that_just_fits_is_not_broken_by_the_engraver(name: str) -> None:
    """At one of these widths a line is all but full, or a little more than that."""
    long = replace(HYMNS[name], phrases=HYMNS[name].phrases[-2:])
    music = sheet(long, TONES, StaffOptions())
    needs = natural(music, StaffOptions()).end * StaffOptions().space_mm / 180
    for part in (0.98, 0.995, 1.0, 1.002, 1.004, 1.008, 1.012, 1.02):
        found = lines(long, TONES, StaffOptions(width_mm=needs * part))
        assert all(system.width_mm <= needs * part + 0.2 for system in found)
    full = lines(HYMNS[name], TONES, StaffOptions(width_mm=170.0))
    assert all(system.width_mm <= 170.2 for system in full)


@pytest.mark.parametrize("width", [90.0, 120.0, 170.0])
@pytest.mark.parametrize("name", HYMNS)
def test_lines_are_filled_and_the_last_of_a_verse_is_not_stretched(name: str, width: float) -> None:
    options = StaffOptions(width_mm=width)
    found = lines(HYMNS[name], TONES, options)
    music = sheet(HYMNS[name], TONES, options)
    places = natural(music, options)
    at = {e.id: x for e, x in zip(music.events, places.xs, strict=True)}
    starts = [at[s.start] for s in found] + [places.end]
    unit = options.space_mm / 180
    for number, system in enumerate(found):
        needs = (places.xs[0] + starts[number + 1] - starts[number]) * unit
        after = found[number + 1] if number + 1 < len(found) else None
        last = after is None or after.verse_start or bool(after.rubric)
        if abs(system.width_mm - width) < 0.2:
            assert needs < width * 1.03
            assert width / needs < (1.25 if last else 1.6)
        else:  # ragged: as wide as it needs, and only where filling would part the notes too far
            assert system.width_mm < needs * 1.02
            assert width / needs > (1.1 if last else 1.5)
