"""A few of the kills of bench/saves_killed.py, at moments that differ from run to run."""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path

import pytest

from chantwright.parish import copy_demo
from chantwright.web.desk import Desk

BENCH = Path(__file__).parents[2] / "bench" / "saves_killed.py"


@pytest.mark.parametrize("wait", [0.0, 0.03, 0.11])
def test_a_killed_save_loses_nothing(
    tmp_path: Path, wait: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(BENCH.parent))  # it tells its figures by a module beside it
    spec = importlib.util.spec_from_file_location("saves_killed", BENCH)
    assert spec is not None
    assert spec.loader is not None
    bench = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bench)
    parish = copy_demo(tmp_path / "parish")
    _, found = bench.killed(parish, wait, set())
    assert found >= 1


def test_scraps_of_a_killed_save_are_no_hymns(tmp_path: Path) -> None:
    parish = copy_demo(tmp_path / "parish")
    whole = {p.name for p in (parish / "hymns").iterdir()}
    names = (".lord-i-cry.x7f_2abc.txt", ".lord-i-cry.x7f_2abd~", ".lord-i-cry.now_2abc.txt",
             ".mine.txt", "._lord-i-cry.txt")  # fmt: skip
    for name in names:
        (parish / "hymns" / name).write_text("title: half a")
        if "now" not in name:
            os.utime(parish / "hymns" / name, (0, 0))
    desk = Desk.open(parish)
    try:
        assert set(desk.hymns()) == whole
        # Old scraps are swept away; what is being written, or is somebody's own, is left alone.
        assert {p.name for p in (parish / "hymns").iterdir()} == {*whole, *names[2:]}
    finally:
        desk.close()
