from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from chantwright.errors import ChantError
from chantwright.parish import Singer
from chantwright.parish.comfort import comfort_picture
from chantwright.parish.pitch import base_costs, choice_at, fits_at
from chantwright.parish.service_bases import choose_service_bases, kin, load_kinship
from chantwright.score import Base, Hymn, Note, Phrase, Syllable
from chantwright.tones import load_tones

TONES = load_tones()
KINSHIP = load_kinship()
BRANCHES = ("t1.heirmologic", "t4.heirmologic_legetos", "t8.heirmologic")


def hymn(branch: str, degrees: list[int]) -> Hymn:
    syllables = tuple(Syllable("la", notes=(Note(d, Fraction(1)),), ison=d) for d in degrees)
    return Hymn("t", branch=branch, tone=TONES.branch(branch).tone, phrases=(Phrase(syllables),))


hymns = st.builds(
    hymn, st.sampled_from(BRANCHES), st.lists(st.integers(0, 7), min_size=2, max_size=6)
)
people = st.lists(
    st.builds(
        lambda voice, low, span: Singer("x", voice, low, low * 2 ** (span / 12)),
        st.sampled_from(["man", "woman", "child"]),
        st.floats(80, 300),
        st.integers(5, 18),
    ),
    min_size=1,
    max_size=4,
)


@settings(deadline=None, max_examples=40)
@given(st.lists(hymns, min_size=1, max_size=5), people)
def test_no_choice_is_better(service: list[Hymn], singers: list[Singer]) -> None:
    found = choose_service_bases(service, TONES, singers, grid_cents=200)
    names = [str(h.branch) for h in service]
    branches = sorted(set(names))
    whole = sum(float(h.beats) for h in service)
    grid = np.array([])
    sums: dict[str, np.ndarray] = {}
    for h in service:
        grid, costs = base_costs(h, TONES, singers, 200)
        sums[str(h.branch)] = sums.get(str(h.branch), 0) + costs * float(h.beats) / whole
    # Brute force over every base of every branch.
    least = min(
        sum(float(sums[b][i]) for b, i in zip(branches, way, strict=True))
        + KINSHIP.price
        * sum(
            not kin(grid[way[branches.index(a)]], grid[way[branches.index(b)]], KINSHIP)
            for a, b in itertools.pairwise(names)
            if a != b
        )
        for way in itertools.product(range(len(grid)), repeat=len(branches))
        if len(branches) < 3 or all(abs(i - way[0]) < 9 for i in way)
    )
    assert found.cost <= least + 1e-9
    assert len(found.bases) == len(service)
    for name in branches:
        assert len({b.hz for b, n in zip(found.bases, names, strict=True) if n == name}) == 1


@pytest.mark.parametrize(
    ("step", "related"),
    [(0, True), (500, True), (700, True), (-500, True), (-700, True), (1200, True), (1700, True),
     (200, False), (300, False), (600, False), (100, False)],
)  # fmt: skip
def test_fourths_fifths_and_octaves_are_kin(step: float, related: bool) -> None:
    # In equal temperament a fourth is 500 cents and a fifth 700 (common practice).
    assert kin(-300, -300 + step, KINSHIP) is related


def test_a_parish_says_what_is_kin(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[kin]]\nid = "third"\ncents = 400\n[[strangers]]\nid = "strangers"\nprice = 0.5\n'
    )
    found = load_kinship([own])
    assert kin(0, 400, found)
    assert kin(0, 800, found)
    assert not kin(0, 400, KINSHIP)
    assert kin(0, 500, found)  # our rows stay
    assert (found.price, found.near) == (0.5, KINSHIP.near)
    for wrong in (
        '[[kin]]\nid = "fourth"\ncents = "far"\n',
        '[[strangers]]\nid = "strangers"\nprice = -1\n',
    ):
        own.write_text(wrong)
        with pytest.raises(ChantError, match=r"own.toml, line 1.*is not a number"):
            load_kinship([own])


def test_a_dear_kinship_is_not_bought() -> None:
    service = [hymn(BRANCHES[0], [1, 3, 1]), hymn(BRANCHES[2], [0, 4, 0])]
    singers = [Singer("x", "man", 100, 220)]
    free = choose_service_bases(service, TONES, singers, kinship=replace(KINSHIP, price=0))
    bound = choose_service_bases(service, TONES, singers, kinship=replace(KINSHIP, price=100))
    assert bound.strangers == 0
    assert free.cost <= bound.cost + 1e-9


def test_the_choice_says_what_it_costs_whom() -> None:
    tune = hymn(BRANCHES[0], [1, 8, 1])
    singers = [Singer("Bass", "man", 82, 165), Singer("Anna", "woman", 196, 392)]
    choice = choice_at(tune, TONES, singers, 146.83)
    assert choice.base == Base(1, 146.83)
    assert any("Bass" in w for w in choice.warnings)


def test_picture_of_comfort_names_everybody_and_stays_inside() -> None:
    tune = hymn(BRANCHES[0], [1, 4, 8, 1])
    pitched = Hymn(**{**{k: getattr(tune, k) for k in tune.__slots__}, "base": Base(1, 146.83)})
    singers = [Singer("Bass <&>", "man", 82, 165), Singer("Anna", "woman", 196, 392)]
    svg = comfort_picture(pitched, TONES, singers, fits_at(pitched, TONES, singers, 146.83))
    root = etree.fromstring(svg.encode())
    width = float(root.get("width"))
    assert "Bass <&>" in "".join(root.itertext())
    for mark in root.iter("{*}rect"):
        assert float(mark.get("x")) >= 0
        assert float(mark.get("x")) + float(mark.get("width")) <= width
    assert comfort_picture(tune, TONES, singers, ()) == ""


def test_nobody_to_sing_is_told() -> None:
    with pytest.raises(ChantError, match="nobody"):
        choose_service_bases([hymn(BRANCHES[0], [1, 2])], TONES, [])
