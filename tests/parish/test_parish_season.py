"""A season: made once, found again, whatever ends a process; and one bad text stops nothing."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from datetime import date, timedelta
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner
from distributed import Client, LocalCluster
from season_parish import FIRST, LAST, SATURDAYS, made_in, season_parish, times_in

from chantwright.almanac import week
from chantwright.cli import main
from chantwright.errors import ChantError
from chantwright.parish import found_folder, open_folder, weekend_folder
from chantwright.parish.season import Season, prepare_season, weekends
from chantwright.parish.workers import Refilled, workers
from chantwright.web import write_page

Steps = list[tuple[str, int, int]]
# Two hymns in each of three tones, and the communion hymn in tone 1 whatever the week.
WORDS = 2 * 3 + 1


def quiet(label: str, done: int, total: int) -> None:
    pass


@contextmanager
def one_thread() -> Iterator[Executor]:
    with ThreadPoolExecutor(1) as pool:
        yield pool


@contextmanager
def cluster_in(folder: Path) -> Iterator[LocalCluster]:
    """Two workers in processes of their own."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address="127.0.0.1:0",
        local_directory=str(folder), silence_logs=50,
    ) as cluster:  # fmt: skip
        yield cluster


def run(
    parish: Path,
    out: Path,
    opened: Callable[[], AbstractContextManager[Executor]] = one_thread,
    progress: Callable[[str, int, int], None] = quiet,
    last: date = LAST,
) -> Season:
    return prepare_season(
        open_folder(parish), FIRST, last, out, workers=opened, progress=progress,
        as_in=FIRST, suffixes=(".opus",), page=write_page,
    )  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Season]:
    folder = tmp_path_factory.mktemp("season")
    parish = season_parish(folder / "parish")
    return parish, folder / "out", run(parish, folder / "out")


@pytest.mark.parametrize("step", range(14))
def test_a_weekend_lies_under_its_saturday_whatever_day_it_is_made_on(
    step: int, tmp_path: Path
) -> None:
    day = date(2026, 11, 22) + timedelta(step)  # from a Sunday on
    found_folder(tmp_path / "p", "One")
    folder = open_folder(tmp_path / "p")
    first = week(day)[0].civil_date  # of great vespers, as the almanac has it
    assert weekend_folder(folder, day) == tmp_path / "p" / "ready" / first.isoformat()
    assert first in weekends(first, first)  # as a season names it


def test_weekends_are_saturdays() -> None:
    # By any calendar: 28 November 2026 is a Saturday.
    assert weekends(date(2026, 11, 25), date(2026, 12, 12)) == SATURDAYS
    assert len(weekends(date(2026, 9, 1), date(2027, 8, 31))) == 52
    with pytest.raises(ChantError, match="no Saturday"):
        weekends(date(2026, 11, 29), date(2026, 12, 4))


def test_what_is_the_same_is_made_once_and_found_again(whole: tuple[Path, Path, Season]) -> None:
    parish, out, season = whole
    assert season.days == SATURDAYS
    assert season.troubles == ()
    assert len(list((out / "made" / "set").glob("*.txt"))) == WORDS
    sounds = len(list((out / "made" / "sound").glob("*.opus")))
    assert WORDS <= sounds <= WORDS + 2  # the communion hymn may stand at several bases
    assert season.made == WORDS + sounds + len(SATURDAYS)
    for day in SATURDAYS:
        folder = out / day.isoformat()
        assert (folder / "booklet.pdf").read_bytes().startswith(b"%PDF")
        page = (folder / "index.html").read_text(encoding="utf-8")
        names = [p.name for p in (folder / "recordings").glob("*.opus")]
        assert len(names) == 3
        assert all(name in page for name in names)
        lists = (folder / "recordings").glob("*.m3u8")
        listed = {line for m in lists for line in m.read_text().splitlines() if line[0] != "#"}
        assert listed == set(names)
    before = made_in(out)
    again = run(parish, out, opened=pytest.fail)
    assert (again.made, again.kept, again.missing) == (0, len(SATURDAYS), season.missing)
    assert made_in(out) == before


def test_a_changed_plan_changes_its_own_week_alone(tmp_path: Path) -> None:
    parish = season_parish(tmp_path / "parish")
    run(parish, tmp_path / "out", last=SATURDAYS[1])
    plan = parish / "services" / "2026-12-06-liturgy.txt"
    plan.write_text(re.sub("communion: .*", "communion:", plan.read_text()))
    other = made_in(tmp_path / "out")
    season = run(parish, tmp_path / "out", last=SATURDAYS[1])
    assert (season.made, season.troubles) == (1, ())  # pages alone; all hymns were sung before
    after = made_in(tmp_path / "out")
    first = SATURDAYS[0].isoformat()
    assert {n: b for n, b in after.items() if n.startswith(first)} == {
        n: b for n, b in other.items() if n.startswith(first)
    }
    assert [n for n in other if "praise" in n and not n.startswith(first)]
    assert not [n for n in after if "praise" in n and not n.startswith(first)]


def test_a_feast_without_a_tone_takes_no_hymns_of_an_ordinary_week(tmp_path: Path) -> None:
    # Common practice: nothing of the Octoechos on Palm Sunday, 25 April 2027 by any Pascha table.
    parish = season_parish(tmp_path / "parish")
    palms = date(2027, 4, 24)
    season = prepare_season(
        open_folder(parish), palms, palms, tmp_path / "out", workers=one_thread, progress=quiet,
        as_in=FIRST, suffixes=(), page=write_page,
    )  # fmt: skip
    assert (season.days, season.troubles) == ((palms,), ())
    plan = (parish / "services" / "2027-04-24-great-vespers.txt").read_text()
    assert "lord-i-cry:\n" in plan
    assert "cry.txt" not in plan
    assert (tmp_path / "out" / "2027-04-24" / "index.html").is_file()


def test_what_is_wrong_with_one_text_stops_nothing(tmp_path: Path) -> None:
    parish = season_parish(tmp_path / "parish")
    second, third = (d.isoformat() for d in SATURDAYS[1:])
    head = "service: great-vespers\ndate: {}\n\n"
    (parish / "hymns" / "bad.txt").write_text("title: Bad\nbranch: t9.none\n\nO Lord.\n")
    (parish / "services" / f"{second}-great-vespers.txt").write_text(
        head.format(second) + "lord-i-cry: bad.txt\nsimeon: gone.txt\napolytikion: stone.txt\n"
    )
    (parish / "services" / f"{third}-great-vespers.txt").write_text(head.format(third) + "no colon")
    words = ["prepare", "--from", FIRST.isoformat(), "--to", LAST.isoformat(), "--as-in",
             FIRST.isoformat(), "--parish", str(parish), "--processes", "1"]  # fmt: skip
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 1
    assert "2 weekends in " in told.stdout
    lines = told.stderr.partition("Not made")[2].splitlines()[1:]
    assert len(lines) == 3
    for line, day, parts in zip(
        lines, (second, second, third),
        (["bad.txt", "t9.none"], ["gone.txt", "line 5"], ["great-vespers.txt, line 4", "colon"]),
        strict=True,
    ):  # fmt: skip
        assert line.strip().startswith(day)
        assert all(part in line for part in parts), line
        assert line.endswith((".", ".txt"))
    out = parish / "ready"
    made = {p.name for p in (out / second / "hymns").iterdir()}
    assert made == {"01-the-stone.txt", "02-praise.txt"}
    assert (out / FIRST.isoformat() / "index.html").is_file()
    # Mended, it is made with the same command, and nothing else is made again.
    (parish / "hymns" / "bad.txt").write_text("title: Good\n\nO Lord.\n")
    for day in (second, third):
        plan = parish / "services" / f"{day}-great-vespers.txt"
        plan.write_text(re.sub("(simeon: gone.txt|no colon)\n?", "", plan.read_text()))
    before = times_in(out / "made")
    assert CliRunner().invoke(main, words).exit_code == 0
    after = times_in(out / "made")
    assert {name: after[name] for name in before} == before
    assert "01-good.txt" in {p.name for p in (out / second / "hymns").iterdir()}


def test_a_worker_that_is_killed_costs_its_own_piece_alone(
    whole: tuple[Path, Path, Season], tmp_path: Path
) -> None:
    parish, wanted, season = whole
    steps: Steps = []
    finished: dict[str, int] = {}
    pools: list[Refilled] = []

    @contextmanager
    def opened() -> Iterator[Executor]:
        with workers(count=1) as pool:
            assert isinstance(pool, Refilled)
            pools.append(pool)
            yield pool

    def kill_one(label: str, done: int, total: int) -> None:
        steps.append((label, done, total))
        if done in (2, WORDS + 2):
            finished.update(times_in(tmp_path / "out" / "made"))
            for process in pools[-1].processes():
                os.kill(process, signal.SIGKILL)

    again = run(parish, tmp_path / "out", opened, kill_one)
    assert again.troubles == ()
    assert again.made == season.made
    assert len({label for label, *_ in steps if label.startswith("laid out")}) == len(SATURDAYS)
    after = times_in(tmp_path / "out" / "made")
    assert finished
    assert {name: after[name] for name in finished} == finished
    assert made_in(tmp_path / "out") == made_in(wanted)


def test_a_worker_elsewhere_that_is_killed_is_replaced(
    whole: tuple[Path, Path, Season], tmp_path: Path
) -> None:
    parish, wanted, season = whole
    killed: list[int] = []
    with cluster_in(tmp_path / "dask") as cluster, Client(cluster, set_as_default=False) as client:

        def kill_one(label: str, done: int, total: int) -> None:
            if done == WORDS and not killed:
                killed.extend(client.run(os.getpid).values())
                os.kill(killed[0], signal.SIGKILL)

        again = run(parish, tmp_path / "out", partial(workers, cluster.scheduler_address), kill_one)
    assert len(killed) == 2
    assert again.troubles == ()
    assert again.made == season.made
    assert made_in(tmp_path / "out") == made_in(wanted)


def test_a_run_that_is_killed_goes_on_where_it_stopped(
    whole: tuple[Path, Path, Season], tmp_path: Path
) -> None:
    killed_and_run_again(whole, tmp_path, ["--processes", "1"], lambda: None)


def test_a_run_by_workers_elsewhere_that_is_killed_goes_on_where_it_stopped(
    whole: tuple[Path, Path, Season], tmp_path: Path
) -> None:
    with cluster_in(tmp_path / "dask") as cluster, Client(cluster, set_as_default=False) as client:

        def at_rest() -> None:
            # A worker ends the piece it is at, though nobody waits for it any more.
            until = time.monotonic() + 120
            while any(client.run(lambda dask_worker: len(dask_worker.state.executing)).values()):
                assert time.monotonic() < until
                time.sleep(0.1)

        address = ["--workers", cluster.scheduler_address]
        killed_and_run_again(whole, tmp_path, address, at_rest)


def killed_and_run_again(
    whole: tuple[Path, Path, Season], tmp_path: Path, by: list[str], at_rest: Callable[[], None]
) -> None:
    """Kill a run once it has sung something, and run it again: nothing is made a second time."""
    parish, wanted, season = whole
    store = tmp_path / "out" / "made"
    script = "from chantwright.cli import main; main()"
    words = ["prepare", "--from", FIRST.isoformat(), "--to", LAST.isoformat(), "--as-in",
             FIRST.isoformat(), "--parish", str(parish), "-o", str(tmp_path / "out"),
             *by]  # fmt: skip
    driver = subprocess.Popen(
        [sys.executable, "-c", script, *words], stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    try:
        until = time.monotonic() + 120
        while not list(store.glob("sound/*.json")):
            assert driver.poll() is None, "it ended before it could be killed"
            assert time.monotonic() < until
            time.sleep(0.02)
    finally:
        driver.kill()
        driver.wait()
    # Nobody is left at work for it: its processes end by themselves.
    while True:
        try:
            os.killpg(driver.pid, 0)
        except ProcessLookupError:
            break
        assert time.monotonic() < until
        time.sleep(0.05)
    at_rest()
    finished = times_in(store)
    assert WORDS < len(finished) < season.made
    told = CliRunner().invoke(main, words)
    assert told.exit_code == 0, told.output
    done = re.search(r"(\d+) pieces of work done", told.stdout)
    assert done is not None
    after = times_in(store)
    assert {name: after[name] for name in finished} == finished
    assert int(done[1]) == len(after) - len(finished) + len(SATURDAYS)
    assert {n for n in made_in(tmp_path / "out") if n.endswith(".opus")} == {
        n for n in made_in(wanted) if n.endswith(".opus")
    }
