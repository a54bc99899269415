"""Notes, range, ison, free singing and melodies taken down, on synthetic singing.

The singer's scales are written out from the table of the Patriarchal Musical Committee (1881) in
tests/ear/singer.py, not taken from the program. The hymn below is ours.
"""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from singer import Drone, Manner, Scene, drone, free_tune, places, sing

from chantwright.ear.compass import take_compass
from chantwright.ear.contour import Contour
from chantwright.ear.holding import IsonSpan, ison_spans, judge_holding
from chantwright.ear.naming import name_singing
from chantwright.ear.stretches import stretches
from chantwright.ear.takedown import beat_of, count_beats, take_down
from chantwright.ear.trace import trace
from chantwright.errors import ChantError
from chantwright.score import hymnfile
from chantwright.tones import load_tones

RATE = 16_000
TONES = load_tones()

HYMN = """tone: 1

Keep thy lamp a-light, O heart, ||
notes: pa vou ga di di ga vou:2
ison: pa . . . . . .
for the Bride-groom com-eth soon. |||
notes: vou ga vou+pa ni pa vou+ni pa:4
ison: ni . . . pa . .
"""


def sung_hymn(beat: float = 0.5, seed: int = 3, sigma: float = 0.8) -> tuple[Contour, float]:
    hymn, ladder = hymnfile.loads(HYMN), places("diatonic", -2, 7)
    notes: list[tuple[float | None, float, str]] = []
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            for i, note in enumerate(syllable.notes):
                where = ladder[note.degree] - ladder[1]
                notes.append((where, float(note.beats) * beat, "" if i else syllable.text))
        notes.append((None, 0.5, ""))
    take = sing(notes, 150.0, seed=seed, manner=Manner(sigma=sigma), scene=Scene(snr=25))
    return trace(take.samples, RATE), take.base


def test_stretches_are_the_notes_that_were_sung() -> None:
    tune = [
        (0.0, 0.5, "ma"),
        (12.0, 0.5, ""),
        (12.0, 0.5, "na"),
        (22.0, 0.5, "so"),
        (0.0, 0.9, "te"),
    ]
    take = sing(tune, 160.0, seed=8, scene=Scene(snr=30), manner=Manner(scoops=0))
    found = stretches(trace(take.samples, RATE))
    assert len(found) == 5
    for note, truth in zip(found, take.notes, strict=True):
        assert abs(note.moria - 72 * np.log2(truth.hz)) < 1.0
        assert abs(note.start - truth.start) < 0.09
    assert [n.begins for n in found][1:3] == ["step", "dip"]


def test_a_range_is_taken_inside_the_held_notes() -> None:
    ladder = [0.0, -12.0, -22.0, -30.0, None, 0.0, 12.0, 22.0, 30.0, 42.0]
    take = sing([(m, 1.0, "a") for m in ladder], 200.0, seed=4, voice="alto", scene=Scene(snr=25))
    compass = take_compass(trace(take.samples, RATE))
    assert compass.sure
    assert compass.lowest_hz == pytest.approx(200 * 2 ** (-30 / 72), rel=0.01)
    assert compass.highest_hz == pytest.approx(200 * 2 ** (42 / 72), rel=0.01)
    # A tone inside either end (common practice): nobody is pushed.
    assert compass.low_hz == pytest.approx(200 * 2 ** (-18 / 72), rel=0.01)
    assert compass.high_hz == pytest.approx(200 * 2 ** (30 / 72), rel=0.01)


def test_a_slide_is_no_range() -> None:
    slide = [(float(m), 0.1, "") for m in range(-30, 50)]
    take = sing(slide, 160.0, seed=3, manner=Manner(vibrato=0, scoops=0), scene=Scene(snr=25))
    with pytest.raises(ChantError, match="held long enough"):
        take_compass(trace(take.samples, RATE))


def test_a_held_ison_is_judged() -> None:
    spans = (IsonSpan(0.4, 5.4, 0), IsonSpan(5.4, 9.4, -12), IsonSpan(9.4, 13.4, 0))
    late = [(0.0, 5.1, "e"), (-12.0, 4.9, ""), (0.0, 3.5, "")]  # 0.1 and 1.0 seconds late
    take = sing(late, 150.0, seed=2, manner=Manner(drift=-9, vibrato=5), scene=Scene(snr=25))
    held = judge_holding(trace(take.samples, RATE), spans, base_hz=150.0)
    assert held.drift == pytest.approx(-9, abs=2)
    assert held.offset == pytest.approx(0, abs=0.8)
    assert held.unsteadiness < 1.2
    assert [c.at for c in held.late] == [9.4]
    assert held.late[0].late == pytest.approx(1.0, abs=0.15)


def test_spans_of_an_ison_join_and_follow_the_tempo() -> None:
    spans = ison_spans(
        hymnfile.loads(HYMN), TONES.scales["diatonic"], base_degree=1, tempo=60, start=1.0
    )
    # ni lies a tone of 12 moria below pa (the Committee's table).
    assert [(s.start, s.end, s.moria) for s in spans] == [(1, 9, 0), (9, 14, -12), (14, 21, 0)]


@pytest.mark.parametrize("family", ["hard chromatic", "enharmonic"])
def test_free_singing_is_named_or_not_sure(family: str) -> None:
    take = free_tune(family, 21, stand_off=0.4, seconds=28)
    named = name_singing(trace(take.samples, RATE), TONES)
    assert named.family in (family, None)
    assert named.final_hz == pytest.approx(take.notes[-1].hz, rel=0.01)


def test_a_few_notes_name_nothing() -> None:
    take = sing([(0.0, 0.5, "ma"), (12.0, 0.5, "ne"), (0.0, 1.0, "so")], 150.0, seed=1)
    named = name_singing(trace(take.samples, RATE), TONES)
    assert named.family is None and not named.tones


@pytest.mark.parametrize("wobble", [0.0, 6.0, 25.0])
def test_an_ison_alone_has_one_note_and_no_scale(wobble: float) -> None:
    alone = 0.1 * drone(110.0, 40.0, seed=3, wobble=wobble, breathes=True)
    contour = trace(alone.astype(np.float32), RATE)
    named = name_singing(contour, TONES)
    assert named.one_note and named.family is None and not named.tones
    assert named.final_hz == pytest.approx(110.0, rel=0.02)
    tune = free_tune("diatonic", 21, stand_off=0.4, seconds=15)
    assert not name_singing(trace(tune.samples, RATE), TONES).one_note


def test_a_sung_hymn_is_taken_down() -> None:
    hymn = hymnfile.loads(HYMN)
    contour, base = sung_hymn()
    taken = take_down(contour, TONES, TONES.branch("t1.heirmologic"), words=hymn)
    assert taken.base_hz == pytest.approx(base, rel=0.02)
    assert taken.tempo == pytest.approx(120, rel=0.06)
    truth = [n.degree for p in hymn.phrases for s in p.syllables for n in s.notes]
    found = [n.degree for p in taken.hymn.phrases for s in p.syllables for n in s.notes]
    assert found == truth
    beats = [n.beats for p in taken.hymn.phrases for s in p.syllables for n in s.notes]
    right = [n.beats for p in hymn.phrases for s in p.syllables for n in s.notes]
    assert sum(a == b for a, b in zip(beats, right, strict=True)) >= len(right) - 2
    again = hymnfile.loads(hymnfile.dumps(taken.hymn))
    assert again.melody_kind == "sung" and again.is_set
    assert again.phrases[0].words == hymn.phrases[0].words


def test_without_words_it_is_written_on_la() -> None:
    contour, base = sung_hymn(seed=4)
    taken = take_down(contour, TONES, TONES.branch("t1.heirmologic"), base_hz=base, tempo=120)
    assert {s.text for p in taken.hymn.phrases for s in p.syllables} == {"la"}
    assert len(taken.hymn.phrases) == 2
    assert taken.tempo == pytest.approx(120)


def test_far_too_many_words_are_a_sentence() -> None:
    contour, _ = sung_hymn()
    many = hymnfile.loads("tone: 1\n\n" + "\n".join(HYMN.splitlines()[2:] * 4).replace("ison", "#"))
    with pytest.raises(ChantError, match="syllables"):
        take_down(contour, TONES, TONES.branch("t1.heirmologic"), words=many)


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.sampled_from([1, 1, 1, 2, 2, 4]), min_size=12, max_size=30).filter(
        lambda b: 1 in b and b.count(1) >= 4
    ),
    st.floats(0.4, 0.6),
    st.integers(0, 999),
)
def test_beats_are_counted_through_uneven_singing(
    values: list[int], beat: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    lengths = np.array(values) * beat * np.exp(0.04 * rng.normal(size=len(values)))
    found = beat_of(lengths, np.zeros(lengths.size, bool), 0.5)
    assert found == pytest.approx(beat, rel=0.08)
    counted = count_beats(lengths, found)
    assert sum(c == Fraction(v) for c, v in zip(counted, values, strict=True)) >= 0.9 * len(values)


def test_a_drone_beside_the_teacher_does_not_spoil_the_notes() -> None:
    tune = [
        (m, 0.6, s)
        for m, s in zip([0.0, 10.0, 18.0, 10.0, 0.0], ("ma", "ne", "so", "li", "a"), strict=True)
    ]
    take = sing(tune, 150.0, seed=6, scene=Scene(snr=30, drone=Drone(-72, -12)))
    found = stretches(trace(take.samples, RATE, drone="detect"))
    close = [min(abs(n.moria - 72 * np.log2(t.hz)) for n in found) for t in take.notes]
    assert max(close) < 1.0
