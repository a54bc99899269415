from __future__ import annotations

import os
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hymns_for_print import DENSE, GREEK, PSALM
from lxml import etree

from chantwright.engrave import StaffOptions, to_mei
from chantwright.engrave.events import sheet
from chantwright.score import Hymn
from chantwright.tones import load_tones

TONES = load_tones()
HYMNS = [PSALM, DENSE, GREEK]


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_an_independent_reader_finds_every_pitch_length_and_syllable(hymn: Hymn) -> None:
    # music21 (registry) reads MEI with code of its own.
    music21: Any = pytest.importorskip("music21")
    score = music21.converter.parseData(
        to_mei(hymn, TONES, StaffOptions(letters=None)), format="mei"
    )
    heard = [
        (
            n.pitch.step.lower(), int(n.pitch.alter), n.pitch.octave, Fraction(n.quarterLength),
            (n.lyric or "").strip("-"),
        )
        for n in score.stripTies().recurse().notes
    ]  # fmt: skip
    wanted = [
        (
            e.spelling.step, e.spelling.alteration, e.spelling.octave, e.note.beats,
            e.syllable.text if e.first else "",
        )
        for e in sheet(hymn, TONES, StaffOptions()).events
    ]  # fmt: skip
    assert heard == wanted


@pytest.mark.parametrize("hymn", HYMNS, ids=lambda h: h.title)
def test_valid_by_the_published_schema(hymn: Hymn) -> None:
    # MEI 5.1 schema of the Music Encoding Initiative (mei-basic.rng, mei-CMN.rng or mei-all.rng).
    # No registry package carries it, so it is asked for by name; without it what it says of our
    # elements is checked in test_engrave_mei_facts.py, and this check says that it was not made.
    named = os.environ.get("CHANTWRIGHT_MEI_SCHEMA", "")
    if not named or not Path(named).is_file():
        pytest.skip("NOT CHECKED: set CHANTWRIGHT_MEI_SCHEMA to the MEI 5.1 schema (.rng)")
    schema = etree.RelaxNG(etree.parse(named))
    schema.validate(etree.fromstring(to_mei(hymn, TONES).encode()))
    assert not list(schema.error_log)
