"""Work that ends its process, among work that does not."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path

import pytest

from chantwright.errors import ChantError
from chantwright.parish.errands import Errand, carry_out


def good(path: Path) -> None:
    path.touch()


def bad(path: Path) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def broken(path: Path) -> None:
    raise RuntimeError("no such thing")


@contextmanager
def pool() -> Iterator[Executor]:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as opened:
        yield opened


def test_work_that_kills_is_given_up_and_the_rest_is_done(tmp_path: Path) -> None:
    calls = [good, good, bad, good, broken, good]
    work = [Errand(f"{n}", f"work {n}", call, (tmp_path / f"{n}",)) for n, call in enumerate(calls)]
    ends: dict[str, ChantError | None] = {}
    waiting = iter(work)
    carry_out(pool, lambda: next(waiting, None), lambda e, error: ends.update({e.name: error}))
    assert {p.name for p in tmp_path.iterdir()} == {"0", "1", "3", "5"}
    assert set(ends) == {"0", "1", "2", "3", "4", "5"}
    assert "again and again" in str(ends.pop("2"))
    assert "fault of chantwright" in str(ends.pop("4"))
    assert set(ends.values()) == {None}


def test_where_every_process_is_killed_it_is_said_and_ends(tmp_path: Path) -> None:
    work = iter([Errand(f"{n}", f"work {n}", bad, (tmp_path,)) for n in range(50)])
    with pytest.raises(ChantError, match="every process"):
        carry_out(pool, lambda: next(work, None), lambda e, error: None)


def test_what_stands_is_not_done_again(tmp_path: Path) -> None:
    """A pool that breaks may have finished more than it could tell."""
    stands = tmp_path / "0"
    work = iter([Errand("0", "work", both, (stands,), stands)])
    ends: list[ChantError | None] = []
    carry_out(pool, lambda: next(work, None), lambda e, error: ends.append(error))
    assert ends == [None]
    assert stands.read_text() == "once"


def both(path: Path) -> None:
    path.write_text("once" if not path.exists() else "twice")
    os.kill(os.getpid(), signal.SIGKILL)
