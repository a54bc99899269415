"""The same work by processes here, by workers elsewhere, and after a run that was killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from distributed import LocalCluster
from small_parish import DAY, HYMNS, small_parish

from chantwright.errors import ChantError
from chantwright.parish import open_folder, prepare
from chantwright.parish.workers import Refilled, workers

KINDS = (".opus", ".mp3")


def made(
    parish: Path, out: Path, address: str = "", then: Callable[[Executor], None] | None = None
) -> dict[str, bytes]:
    """Files of a run; `then` is done beside it."""
    steps: list[tuple[str, int, int]] = []
    with workers(address) as pool:
        beside = threading.Thread(target=then or (lambda _: None), args=(pool,))
        beside.start()
        prepare(
            open_folder(parish), DAY, out, executor=pool,
            progress=lambda *step: steps.append(step),
        )  # fmt: skip
        beside.join()
    recorded = [s for s in steps if s[0].startswith("recorded")]
    assert [s[1:] for s in recorded] == [(n, len(HYMNS)) for n in range(1, len(HYMNS) + 1)]
    return {
        str(p.relative_to(out)): p.read_bytes()
        for folder in ("recordings", "hymns")
        for p in sorted((out / folder).iterdir())
        if not p.name.startswith(".")  # a scrap of the file that was being written at the kill
    }


def kept(store: Path) -> dict[Path, int]:
    return {p: p.stat().st_mtime_ns for p in store.glob("[!.]*.json")}


def killing(store: Path, whom: Callable[[Executor], int]) -> tuple[Callable[[Executor], None], Any]:
    """Something that kills a process as soon as a first recording is kept; and what was kept."""
    finished: dict[Path, int] = {}

    def kill(pool: Executor) -> None:
        until = time.monotonic() + 120
        while not kept(store) and time.monotonic() < until:
            time.sleep(0.01)
        os.kill(whom(pool), signal.SIGKILL)
        finished.update(kept(store))

    return kill, finished


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes]]:
    folder = tmp_path_factory.mktemp("whole")
    parish = small_parish(folder / "parish")
    return parish, made(parish, folder / "out")


def test_workers_elsewhere_make_the_same_bytes_though_one_is_killed(
    whole: tuple[Path, dict[str, bytes]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish, wanted = whole
    assert len([n for n in wanted if n.endswith(KINDS)]) == 2 * len(HYMNS)
    store = tmp_path / "store"
    monkeypatch.setenv("CHANTWRIGHT_CACHE", str(store))
    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0",
        local_directory=str(tmp_path / "dask"),
    ) as cluster:  # fmt: skip
        kill, finished = killing(store, lambda _: int(cluster.workers[0].process.pid))
        found = made(parish, tmp_path / "out", cluster.scheduler_address, kill)
    assert found.keys() == wanted.keys()
    assert [n for n in wanted if found[n] != wanted[n]] == []
    lost_nothing(store, finished)


def lost_nothing(store: Path, finished: dict[Path, int]) -> None:
    """What was finished was taken as it was, the rest made; each file is kept once."""
    assert 0 < len(finished) < 2 * len(HYMNS)
    assert {p: t for p, t in kept(store).items() if p in finished} == finished
    assert len(kept(store)) == 2 * len(HYMNS)


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
    finished = kept(store)
    monkeypatch.setenv("CHANTWRIGHT_CACHE", str(store))
    assert made(parish, tmp_path / "out") == wanted
    lost_nothing(store, finished)


def test_a_killed_process_loses_nothing(
    whole: tuple[Path, dict[str, bytes]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish, wanted = whole
    store = tmp_path / "store"
    monkeypatch.setenv("CHANTWRIGHT_CACHE", str(store))

    def one(pool: Executor) -> int:
        assert isinstance(pool, Refilled)
        return pool.processes()[0]

    kill, finished = killing(store, one)
    assert made(parish, tmp_path / "out", then=kill) == wanted
    lost_nothing(store, finished)


def test_work_that_kills_every_process_is_given_up() -> None:
    with Refilled() as pool:
        with pytest.raises(BrokenExecutor):
            pool.submit(os.abort).result(120)
        assert pool.submit(abs, -3).result(120) == 3  # and the pool still works


def test_processes_end_with_the_program_that_opened_them() -> None:
    script = (
        "import time\n"
        "from chantwright.parish.workers import Refilled\n"
        "if __name__ == '__main__':\n"
        "    pool = Refilled()\n"
        "    pool.submit(abs, -3).result()\n"
        "    print(*pool.processes(), flush=True)\n"
        "    time.sleep(60)\n"
    )
    run = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
    assert run.stdout is not None
    try:
        opened = [int(word) for word in run.stdout.readline().split()]
    finally:
        run.kill()
        run.wait()
        run.stdout.close()
    assert opened
    until = time.monotonic() + 30
    while any(Path(f"/proc/{p}/stat").exists() and not gone(p) for p in opened):
        assert time.monotonic() < until, "a process outlives the program"
        time.sleep(0.05)


def gone(process: int) -> bool:
    """Whether a process has ended, and only waits for somebody to ask after it."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def test_a_run_in_which_processes_die_all_the_time_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    parish = small_parish(tmp_path / "parish")

    class Dying(ThreadPoolExecutor):
        def submit(self, *_: Any, **__: Any) -> Future[Any]:
            broken: Future[Any] = Future()
            broken.set_exception(BrokenExecutor())
            return broken

    with (
        pytest.raises(ChantError, match="ended from outside, after 0 of 3") as told,
        Dying() as pool,
    ):
        prepare(open_folder(parish), DAY, tmp_path / "out", executor=pool, progress=lambda *_: None)
    assert "Run it again" in str(told.value)
