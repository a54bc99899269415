"""The page on the tones shows what the data says, and its example is a sound parish file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chantwright.tones import check, load_tones
from chantwright.tones.model import Tones
from chantwright.tones.sheet import attraction_sheet, branch_sheet, ison_sheet, usage_sheet
from chantwright.tuning import load_scales, parse_degree

PAGE = (Path(__file__).parents[2] / "docs" / "tones.md").read_text(encoding="utf-8")
TONES = load_tones()


@pytest.mark.parametrize("sheet", [branch_sheet, ison_sheet, attraction_sheet, usage_sheet])
def test_tables_on_the_page(sheet: object) -> None:
    assert callable(sheet)
    assert f"\n\n{sheet(TONES)}" in PAGE


def _example(tmp_path: Path) -> tuple[Path, Tones]:
    found = re.search(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert found
    path = tmp_path / "own.toml"
    path.write_text(found[1], encoding="utf-8")
    return path, load_tones([path])


def test_the_example_is_sound(tmp_path: Path) -> None:
    path, tones = _example(tmp_path)
    assert check([path]) == []
    assert parse_degree("ke") in tones.branch("t7.heirmologic").incomplete
    assert tones.intonations["t3"].conf == "medium"


def test_parish_rows_are_shown_as_such(tmp_path: Path) -> None:
    _, tones = _example(tmp_path)
    lines = [x for x in branch_sheet(tones).splitlines() if "`t7.heirmologic`" in x]
    assert len(lines) == 1
    assert "| di pa ke |" in lines[0]
    assert lines[0].endswith("| parish |")
    greek = branch_sheet(tones, naming="greek")
    assert "Δι Πα Κε" in greek
    assert len(greek.splitlines()) == len(tones.branches) + 2


def test_what_is_said_of_confidence() -> None:
    assert f"all {len(TONES.intonations)} note outlines" in PAGE
    low = {b.id for b in TONES.branches.values() if b.conf == "low"}
    expected = {f"t{n}.papadic" for n in (2, 3, 5, 6)} | {f"t{n}.verses" for n in (2, 5, 6)}
    expected |= {b.id for b in TONES.branches.values() if b.tone == 7 and b.style != "papadic"}
    assert low == expected | {"t5.heirmologic_pa"}


def test_steps_named_on_the_page() -> None:
    scales = load_scales()
    for words, name in (
        ("diatonic 12 10 8 from ni", "diatonic"),
        ("soft chromatic 8 14 8 12 from ni", "soft_chromatic"),
        ("hard chromatic 6 20 4 12 from pa", "hard_chromatic"),
        ("enharmonic 12 12 6 from ga", "enharmonic"),
    ):
        assert words in PAGE.replace("\n", " ")
        numbers = [int(n) for n in re.findall(r"\d+", words)]
        assert list(scales[name].steps[: len(numbers)]) == numbers
        assert scales[name].start == parse_degree(words.split()[-1])
