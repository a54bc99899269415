"""Base pitch for a group, held against brute force and facts of the trade."""

from __future__ import annotations

import itertools
import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.parish import Singer, choose_base, choose_common_base, note_hz
from chantwright.score import Hymn, Note, Phrase, Syllable
from chantwright.tones import load_tones

TONES = load_tones()


def hymn(degrees: list[int], *, branch: str = "t1.heirmologic", ison: int | None = 1) -> Hymn:
    syllables = tuple(
        Syllable("la", notes=(Note(d, Fraction(1)),), ison=ison, stress=0) for d in degrees
    )
    return Hymn(title="t", tone=1, branch=branch, phrases=(Phrase(syllables),))


# Equal temperament at A4 = 440 Hz: published frequencies (ISO 16 and any table of note names).
@pytest.mark.parametrize(
    ("name", "hz"),
    [("A4", 440.0), ("C4", 261.6256), ("A2", 110.0), ("Bb3", 233.0819), ("F#4", 369.9944)],
)
def test_note_names(name: str, hz: float) -> None:
    assert math.isclose(note_hz(name), hz, abs_tol=5e-4)


@pytest.mark.parametrize("wrong", ["", "H2", "A", "loud", "A22x", "-3"])
def test_a_wrong_note_name_is_a_sentence(wrong: str) -> None:
    with pytest.raises(ChantError, match="not a note"):
        note_hz(wrong)


def brute(h: Hymn, singers: list[Singer]) -> float:
    """The least discomfort over the same grid, in plain Python and from the definition alone."""
    scale = TONES.scales["diatonic"]
    base_moria = scale.moria(1)
    pitches = [
        float(scale.moria(n.degree) - base_moria) * 100 / 6
        for p in h.phrases
        for s in p.syllables
        for n in s.notes
    ]
    isons = [
        float(scale.moria(s.ison) - base_moria) * 100 / 6
        for p in h.phrases
        for s in p.syllables
        if isinstance(s.ison, int)
    ]
    men = [s for s in singers if s.voice == "man"]

    def limits(s: Singer) -> tuple[float, float]:
        return 1200 * math.log2(s.low_hz / 440), 1200 * math.log2(s.high_hz / 440)

    def strain(values: list[float], base: float, s: Singer) -> float:
        low, high = limits(s)
        return sum((max(low - base - v, 0, base + v - high) / 100) ** 2 for v in values) / len(
            values
        )

    def cost(base: float, s: Singer) -> float:
        low, high = limits(s)
        middle = base + sum(pitches) / len(pitches)
        pull = ((middle - low - 0.55 * (high - low)) / 100) ** 2
        return strain(pitches, base, s) + 0.15 / 12 * pull

    best = math.inf
    for base in range(-3300, 201, 100):  # 65 to 494 Hz: the keyboard notes that are tried
        total = sum(
            min(cost(base + 1200 * k, s) for k in ((0, 1) if men and s.voice != "man" else (0,)))
            for s in singers
        ) / len(singers)
        holders = men or singers
        total += 0.3 * sum(strain(isons, base, s) for s in holders) / len(holders)
        best = min(best, total)
    return best


singers = st.lists(
    st.builds(
        lambda voice, low, width: Singer("x", voice, low, low * 2 ** (width / 12)),
        st.sampled_from(["man", "woman", "child"]),
        st.floats(80, 260),
        st.integers(5, 24),
    ),
    min_size=1,
    max_size=5,
)


@settings(deadline=None, max_examples=60)
@given(st.lists(st.integers(-2, 9), min_size=1, max_size=12), singers)
def test_it_finds_what_brute_force_finds(degrees: list[int], group: list[Singer]) -> None:
    h = hymn(degrees)
    found = choose_base(h, TONES, group)
    assert found.discomfort == pytest.approx(brute(h, group), rel=1e-9, abs=1e-9)


def test_nobody_leaves_the_range_unsaid() -> None:
    narrow = Singer("Narrow", "man", note_hz("C3"), note_hz("E3"))
    found = choose_base(hymn([0, 1, 2, 3, 4, 5, 6]), TONES, [narrow])
    fit = found.fits[0]
    assert fit.comfortable < 1
    assert any("Narrow" in sentence for sentence in found.warnings)


def test_women_sing_an_octave_above_men() -> None:
    # Common practice: mixed groups sing in octaves.
    man = Singer("M", "man", note_hz("A2"), note_hz("D4"))
    woman = Singer("W", "woman", note_hz("A3"), note_hz("D5"))
    found = choose_base(hymn([0, 1, 2, 3, 4, 5]), TONES, [man, woman])
    assert [f.octave for f in found.fits] == [0, 1]
    assert not found.warnings


def test_a_higher_written_tone_gets_a_lower_base_degree_pitch() -> None:
    # Common practice: the pitch follows the singers, not the note names, so the same line moved
    # up a fifth in the same scale steps (pa .. ke) keeps nearly the same sounding place.
    man = Singer("M", "man", note_hz("A2"), note_hz("D4"))
    low = choose_base(hymn([1, 2, 3, 4], ison=None), TONES, [man])
    high = choose_base(hymn([5, 6, 7, 8], ison=None, branch="t5.heirmologic"), TONES, [man])
    assert abs(math.log2(low.base.hz / high.base.hz)) * 12 <= 1.01


def test_without_a_melody_there_is_no_pitch() -> None:
    bare = Hymn(title="bare", branch="t1.heirmologic", phrases=(Phrase((Syllable("la"),)),))
    with pytest.raises(ChantError, match="no melody"):
        choose_base(bare, TONES, [Singer("M", "man", 110, 290)])
    with pytest.raises(ChantError, match="nobody"):
        choose_base(hymn([1]), TONES, [])


def test_order_of_singers_does_not_matter() -> None:
    group = [
        Singer("a", "man", 110, 290),
        Singer("b", "woman", 200, 500),
        Singer("c", "child", 230, 520),
    ]
    h = hymn([0, 1, 4, 3, 2, 1])
    answers = {choose_base(h, TONES, list(p)).base.hz for p in itertools.permutations(group)}
    assert len(answers) == 1


def test_hymns_of_one_branch_share_a_base_and_the_longer_weighs_more() -> None:
    # Common practice: neighbouring hymns of a tone keep their pitch, for the ison holders' sake.
    man = Singer("M", "man", note_hz("A2"), note_hz("D4"))
    low, high = hymn([0, 1, 0, 1]), hymn([5, 6, 7, 6] * 20)
    together = choose_common_base([low, high], TONES, [man])
    assert together[0].base == together[1].base
    alone = [choose_base(h, TONES, [man]).base.hz for h in (low, high)]
    assert min(alone) <= together[0].base.hz <= max(alone)
    assert abs(math.log(together[0].base.hz / alone[1])) < abs(
        math.log(together[0].base.hz / alone[0])
    )
    with pytest.raises(ChantError, match="different branches"):
        choose_common_base([low, hymn([5, 6], branch="t5.heirmologic")], TONES, [man])


def test_the_edges_of_the_grid_are_the_keyboards() -> None:
    # ISO 16: C2 = 65.4 Hz and B4 = 493.9 Hz are the first and last notes between 65 and 520 Hz
    # whose neighbours lie outside (B1 = 61.7, C5 = 523.3).
    high = Singer("H", "woman", note_hz("C6"), note_hz("D6"))
    low = Singer("L", "man", 51.0, 55.0)
    assert choose_base(hymn([1]), TONES, [high]).base.hz == pytest.approx(note_hz("B4"))
    assert choose_base(hymn([1]), TONES, [low]).base.hz == pytest.approx(note_hz("C2"))
