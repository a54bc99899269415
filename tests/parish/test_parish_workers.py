"""The same work by processes here, by workers elsewhere, and after a run that was killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from distributed import LocalCluster
from small_parish import DAY, HYMNS, small_parish

from chantwright.errors import ChantError
from chantwright.parish import open_folder, prepare
from chantwright.parish.workers import workers

KINDS = (".opus", ".mp3")


def made(parish: Path, out: Path, address: str = "") -> dict[str, bytes]:
    steps: list[tuple[str, int, int]] = []
    with workers(address) as pool:
        prepare(
            open_folder(parish), DAY, out, executor=pool,
            progress=lambda *step: steps.append(step),
        )  # fmt: skip
    recorded = [s for s in steps if s[0].startswith("recorded")]
    assert [s[1:] for s in recorded] == [(n, len(HYMNS)) for n in range(1, len(HYMNS) + 1)]
    return {
        str(p.relative_to(out)): p.read_bytes()
        for folder in ("recordings", "hymns")
        for p in sorted((out / folder).iterdir())
        if not p.name.startswith(".")  # a scrap of the file that was being written at the kill
    }


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes]]:
    folder = tmp_path_factory.mktemp("whole")
    parish = small_parish(folder / "parish")
    return parish, made(parish, folder / "out")


def test_workers_elsewhere_make_the_same_bytes(
    whole: tuple[Path, dict[str, bytes]], tmp_path: Path
) -> None:
    parish, wanted = whole
    assert len([n for n in wanted if n.endswith(KINDS)]) == 2 * len(HYMNS)
    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0",
        local_directory=str(tmp_path / "dask"),
    ) as cluster:  # fmt: skip
        found = made(parish, tmp_path / "out", cluster.scheduler_address)
    assert found.keys() == wanted.keys()
    assert [n for n in wanted if found[n] != wanted[n]] == []


def test_no_scheduler_is_told_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chantwright.parish.workers._WAIT", "1s")
    for address in ("tcp://127.0.0.1:9", "nonsense://x"):
        with pytest.raises(ChantError, match="no scheduler"), workers(address):
            pass


def test_a_killed_run_goes_on_where_it_stopped(
    whole: tuple[Path, dict[str, bytes]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish, wanted = whole
    store = tmp_path / "store"
    script = "from chantwright.cli import main; main()"
    words = ["prepare", DAY.isoformat(), "--parish", str(parish), "-o", str(tmp_path / "out")]
    run = subprocess.Popen(
        [sys.executable, "-c", script, *words],
        env={**os.environ, "CHANTWRIGHT_CACHE": str(store)},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    try:
        until = time.monotonic() + 120
        while not list(store.glob("*.mp3.json")):
            assert run.poll() is None, "it ended before it could be killed"
            assert time.monotonic() < until
            time.sleep(0.02)
    finally:
        os.killpg(run.pid, signal.SIGKILL)  # the run and its processes, which this test started
        run.wait()
    finished = {p: p.stat().st_mtime_ns for p in store.glob("*.json")}
    assert 0 < len(finished) < 2 * len(HYMNS)
    monkeypatch.setenv("CHANTWRIGHT_CACHE", str(store))
    assert made(parish, tmp_path / "out") == wanted
    # What was finished was taken as it was, the rest made; each file is kept once.
    assert {p: p.stat().st_mtime_ns for p in finished} == finished
    assert len(list(store.glob("*.json"))) == 2 * len(HYMNS)


def test_a_killed_process_costs_only_its_own_piece(
    whole: tuple[Path, dict[str, bytes]], tmp_path: Path
) -> None:
    parish, wanted = whole

    def kill_one(label: str, done: int, total: int) -> None:
        if label.startswith("recorded") and done == 1:
            for process in list(pool._processes.values()):  # type: ignore[attr-defined]
                process.kill()

    with (
        pytest.raises(ChantError, match="ended from outside, after 1 of 3") as told,
        workers() as pool,
    ):
        prepare(open_folder(parish), DAY, tmp_path / "out", executor=pool, progress=kill_one)
    assert "Run it again" in str(told.value)
    finished = list((tmp_path / "out" / "recordings").glob("[0-9]*.mp3"))
    assert finished
    for path in finished:  # no half of a file lies there under its name
        assert path.read_bytes() == wanted[f"recordings/{path.name}"]
