"""A few of the kills of bench/saves_killed.py, at moments that differ from run to run."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from importlib import import_module
from pathlib import Path

import pytest

from chantwright import safefile
from chantwright.parish import copy_demo
from chantwright.web.desk import Desk

BENCH = Path(__file__).parents[2] / "bench"


def test_a_killed_save_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(BENCH))
    saves_killed, saving = import_module("saves_killed"), import_module("saving")
    parish = saving.new_parish(tmp_path / "parish")
    times = len(saving.KINDS)
    killer, _ = saves_killed.run(parish, tmp_path / "cache", times, random.randrange(10**6))
    assert all(killer.done[name] >= 1 for name in saving.KINDS)


def test_a_killed_server_loses_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(BENCH))
    browsers, cut_off = import_module("server_killed").run(tmp_path, 2, random.randrange(10**6))
    assert cut_off
    assert min(browsers.answered.values()) >= 2


_SAVING = """
import sys
from chantwright import safefile
with safefile.writing(sys.argv[1]) as temporary:
    print(temporary.name, flush=True)
    sys.stdin.readline()
"""


def test_scraps_of_a_killed_save_are_no_hymns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish = copy_demo(tmp_path / "parish")
    whole = {p.name for p in (parish / "hymns").iterdir()}
    own = (".mine.txt", "._lord-i-cry.txt")
    for name in (".lord-i-cry.saving-x7f_2abc.txt", ".lord-i-cry.saving-x7f_2abd~", *own):
        (parish / "hymns" / name).write_text("title: half a")
    (parish / "ready" / "practice").mkdir(parents=True)
    scrap = parish / "ready" / "practice" / ".sw.saving-x7f_2abc.js"
    scrap.write_text("half")
    clock = time.time
    monkeypatch.setattr(time, "time", lambda: clock() + 7200)
    with subprocess.Popen(
        [sys.executable, "-c", _SAVING, str(parish / "hymns" / "lord-i-cry.txt")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as other:  # fmt: skip
        assert other.stdout is not None
        held = other.stdout.readline().strip()
        assert safefile.is_scrap(held)
        desk = Desk.open(parish)
        try:
            assert set(desk.hymns()) == whole
            # Old scraps are swept away; what another program is writing, or is somebody's own, is
            # left alone.
            there = {p.name for p in (parish / "hymns").iterdir()}
            assert there == {*whole, *own, held}
            assert not scrap.exists()
        finally:
            desk.close()
            other.kill()
