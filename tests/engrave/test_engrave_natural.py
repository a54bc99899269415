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
from chantwright.score import Hymn
from chantwright.tones import load_tones

TONES = load_tones()
FLATS = replace(PSALM, tone=2, branch="t2.heirmologic_hard")
HALVES = Hymn(
    tone=1, phrases=(phrase("O:1*1/2 sing:3*1/2 un-to:4*1/2|4*1/2 God:5*3 our:4*4 strength:1*2"),)
)
HYMNS = {"psalm": PSALM, "dense": DENSE, "greek": GREEK, "flats": FLATS, "flags": HALVES}
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


@pytest.mark.parametrize("hymn", [PSALM, DENSE, GREEK], ids=lambda h: h.title)
def test_lines_are_filled_and_the_last_of_a_verse_is_not_stretched(hymn: Hymn) -> None:
    options = StaffOptions(width_mm=120)
    found = lines(hymn, TONES, options)
    full = [s for s in found if s.width_mm == pytest.approx(120, abs=0.1)]
    assert len(full) >= len(found) / 2
    for system in found:
        assert system in full or system.width_mm <= 120 / 1.15
