"""A season of the demonstration's texts: planned, set, printed and sung, by one process and by two.

Every Saturday Vespers, Sunday Orthros part and Liturgy, each in the tone of its week, as
``chantwright prepare --from ... --to ... --as-in ...`` makes them: by one process, by two, and by
two workers of a dask.distributed cluster on this computer; then once more with everything there.
The folders of all three are compared file by file. Seconds are by the clock: run it on a quiet
machine.

    python bench/year.py --weeks 52              # the whole year
    python bench/year.py --weeks 52 --two-alone  # by two processes alone, then again
    python bench/year.py --weeks 4 --paper-only
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import AbstractContextManager
from datetime import date, timedelta
from functools import partial
from pathlib import Path

from distributed import LocalCluster
from figures import FULL, Figure

from chantwright.parish import copy_demo, demo_date, open_folder
from chantwright.parish.season import Season, prepare_season
from chantwright.parish.workers import workers
from chantwright.web import write_page

FIRST = date(2026, 9, 5)
# Dask has its workers give every large array back to the system at once, and then ask for it anew.
KEPT = {"MALLOC_TRIM_THRESHOLD_": str(1 << 28), "MALLOC_MMAP_THRESHOLD_": str(1 << 25)}
Opener = Callable[[], AbstractContextManager[Executor]]


def told(label: str, done: int, total: int) -> None:
    """Show a line that is rewritten, or a line for each weekend where nobody watches."""
    if sys.stderr.isatty():
        print(f"\r\033[K{done}/{total}  {label}", end="", file=sys.stderr)
    elif label.startswith("laid out"):
        print(f"    {done}/{total}  {label}", file=sys.stderr, flush=True)


def run(
    parish: Path, weeks: int, out: Path, opened: Opener, kinds: tuple[str, ...]
) -> tuple[Season, float]:
    """Prepare a season; return it and the seconds it took by the clock."""
    start = time.perf_counter()
    season = prepare_season(
        open_folder(parish), FIRST, FIRST + timedelta(7 * weeks - 1), out, workers=opened,
        progress=told, as_in=demo_date(parish), suffixes=kinds, page=write_page,
    )  # fmt: skip
    return season, time.perf_counter() - start


def unlike(first: Path, second: Path) -> int:
    """Count files of the weekends that are not the same in both folders."""
    names = {
        p.relative_to(o)
        for o in (first, second)
        for p in o.glob("20*/**/*")
        if p.is_file() and not p.name.startswith(".") and p.suffix != ".pdf"  # it has its own date
    }
    return sum(
        not ((first / n).is_file() and (second / n).is_file())
        or (first / n).read_bytes() != (second / n).read_bytes()
        for n in names
    )


def measured(weeks: int, *, kinds: tuple[str, ...], two_alone: bool = False) -> Iterator[Figure]:
    """Yield times, speed-ups, the share of a second run, and differences."""
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder)
        parish = copy_demo(where / "parish")
        season, two = run(parish, weeks, where / "two", partial(workers, count=2), kinds)
        counts = count_of(season, where / "two")
        name = f"{weeks} weekends"
        yield Figure("a year", "troubles", len(season.troubles), most=0, count=counts)
        yield Figure("a year", f"{name} by two processes", two, "s by the clock", count=counts)
        _, again = run(parish, weeks, where / "two", partial(workers, count=2), kinds)
        yield Figure("a year", "the same again", again / two, "of the first time", most=0.05,
                     count=counts)  # fmt: skip
        if two_alone:
            return
        _, one = run(parish, weeks, where / "one", partial(workers, count=1), kinds)
        yield Figure("a year", "two processes as fast as one", one / two, "times", least=1.7,
                     count=counts)  # fmt: skip
        os.environ.update(KEPT)
        with LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1",
            dashboard_address="127.0.0.1:0", local_directory=str(where / "own"), silence_logs=50,
        ) as cluster:  # fmt: skip
            opened = partial(workers, cluster.scheduler_address)
            _, dask = run(parish, weeks, where / "dask", opened, kinds)
        yield Figure("a year", "two dask workers as fast as one process", one / dask, "times",
                     least=1.7, count=counts)  # fmt: skip
        different = unlike(where / "one", where / "two") + unlike(where / "one", where / "dask")
        yield Figure("a year", "files that differ between the three", different, most=0,
                     count=counts)  # fmt: skip


def count_of(season: Season, out: Path) -> str:
    """Say how much was made."""
    sets, sounds = (len(list((out / "made" / n).glob(g)))
                    for n, g in (("set", "*.txt"), ("sound", "*.json")))  # fmt: skip
    return f"{len(season.days)} weekends, {sets} hymns set, {sounds} sung, each once"


def figures(size: str) -> Iterator[Figure]:
    """Yield the figures of four weekends, or of a whole year."""
    yield from measured(52 if size == FULL else 4, kinds=(".opus", ".mp3"))


def main() -> None:
    """Print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weeks", type=int, default=2)
    parser.add_argument("--two-alone", action="store_true", help="two processes, and again")
    parser.add_argument("--paper-only", action="store_true", help="no recordings")
    asked = parser.parse_args()
    kinds = () if asked.paper_only else (".opus", ".mp3")
    for figure in measured(asked.weeks, kinds=kinds, two_alone=asked.two_alone):
        print(f"{figure.what}: {figure.value:.3g} {figure.unit} ({figure.count})", flush=True)


if __name__ == "__main__":
    main()
