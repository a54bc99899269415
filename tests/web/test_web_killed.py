"""A few of the kills of bench/saves_killed.py, at moments that differ from run to run."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from chantwright.parish import copy_demo
from chantwright.web.desk import Desk

BENCH = Path(__file__).parents[2] / "bench" / "saves_killed.py"


@pytest.mark.parametrize("wait", [0.0, 0.03, 0.11])
def test_a_killed_save_loses_nothing(tmp_path: Path, wait: float) -> None:
    spec = importlib.util.spec_from_file_location("saves_killed", BENCH)
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    parish = copy_demo(tmp_path / "parish")
    _, found = bench.killed(parish, wait)
    assert found >= 1


def test_scraps_of_a_killed_save_are_no_hymns(tmp_path: Path) -> None:
    parish = copy_demo(tmp_path / "parish")
    (parish / "hymns" / ".lord-i-cry.x7f.txt").write_text("title: half a")
    desk = Desk.open(parish)
    try:
        assert not [n for n in desk.hymns() if n.startswith(".")]
        assert len(desk.hymns()) == 19
    finally:
        desk.close()
