"""Much work handed to an executor, whatever happens to the processes that do it.

A process that is ended from outside (by the system, for want of memory; by somebody's hand) breaks
a pool of processes. Then a new one is opened, and what was not finished is handed over again. Where
a pool breaks with nothing finished at all, pieces of work are handed over one by one, so that it
shows which of them ends its process; that one is given up, and the others are done.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    wait,
)
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from chantwright.errors import ChantError

__all__ = ["Errand", "carry_out"]

_AHEAD = 64  # handed over at a time
_TRUST = 8  # done one by one, after which many are handed over again
_ENOUGH = 3  # given up one after the other, after which it cannot be the work

Fetch = Callable[[], "Errand | None"]
Finish = Callable[["Errand", ChantError | None], None]


@dataclass(frozen=True, slots=True)
class Errand:
    """A piece of work.

    Attributes
    ----------
    name : str
        No two are called the same.
    label : str
        For the eye, when it is done.
    call : callable
        Does it; must be known by its name to a worker.
    given : tuple
        What it is called with.
    stands : Path or None
        The file that is written last: where it stands, the work is done.
    """

    name: str
    label: str
    call: Callable[..., None]
    given: tuple[Any, ...]
    stands: Path | None = None


def carry_out(
    workers: Callable[[], AbstractContextManager[Executor]], fetch: Fetch, finish: Finish
) -> None:
    """Have all work done.

    Parameters
    ----------
    workers : callable
        Opens an executor; called again where it was broken, and not at all where there is
        nothing to do.
    fetch : callable
        Gives the next piece of work, or None where there is none for the time being.
    finish : callable
        Called with each piece that is done and None, or with what is wrong. More work may be
        there to fetch after it.

    Raises
    ------
    ChantError
        If no executor can be opened, or every process is ended from outside.
    """
    again: deque[Errand] = deque()

    def following() -> Errand | None:
        while again:
            errand = again.popleft()
            if errand.stands is None or not errand.stands.is_file():
                return errand
            finish(errand, None)  # only the word of it was lost
        return fetch()

    ahead, given_up = _AHEAD, 0
    while (errand := following()) is not None:
        again.appendleft(errand)
        with workers() as pool:
            done = _Round(pool, following, finish, again, ahead)
            done.run()
        given_up = 0 if done.good else given_up + done.given_up
        if given_up >= _ENOUGH:
            raise ChantError(
                "every process that is opened for the work is ended from outside.",
                remedy="Most likely there is no memory left. Close other programs and run it "
                "again: what is finished is taken as it is.",
            )
        ahead = _AHEAD if done.good else 1


@dataclass(slots=True)
class _Round:
    """Work with one executor, until all is done or the executor is broken."""

    pool: Executor
    following: Fetch
    finish: Finish
    again: deque[Errand]
    ahead: int
    good: int = 0
    given_up: int = 0
    broken: bool = False

    def run(self) -> None:
        """Hand work over and take its ends."""
        running: dict[Future[None], Errand] = {}
        try:
            while not self.broken:
                self._hand_over(running)
                if not running:
                    return
                for job in wait(running, return_when=FIRST_COMPLETED).done:
                    self._take(job, running.pop(job))
                if self.good >= _TRUST:
                    self.ahead = _AHEAD
            for job in [j for j in running if j.done()]:
                self._take(job, running.pop(job))
        finally:
            for job, errand in running.items():
                job.cancel()
                self.again.append(errand)

    def _hand_over(self, running: dict[Future[None], Errand]) -> None:
        while len(running) < self.ahead and (errand := self.following()) is not None:
            try:
                running[self.pool.submit(errand.call, *errand.given)] = errand
            except BrokenExecutor:
                self.again.appendleft(errand)
                self.broken = True
                return

    def _take(self, job: Future[None], errand: Errand) -> None:
        try:
            job.result()
        except (BrokenExecutor, CancelledError):
            self.broken = True
            if self.ahead > 1:
                self.again.append(errand)
                return
            self.given_up += 1
            error: ChantError | None = _ended(errand)
        except ChantError as exc:
            error = exc
        except Exception as exc:
            error = _fault(errand, exc)
        else:
            error = None
        self.good += not self.broken
        self.finish(errand, error)


def _fault(errand: Errand, exc: Exception) -> ChantError:
    if type(exc).__name__ == "KilledWorker":  # of dask.distributed, which tried it several times
        return _ended(errand)
    return ChantError(
        f"“{errand.label}” failed by a fault of chantwright, not of yours "
        f"({type(exc).__name__}: {exc}).",
        remedy="Everything else was made.",
    )


def _ended(errand: Errand) -> ChantError:
    return ChantError(
        f"the process that was at work on “{errand.label}” was ended from outside, again and "
        "again.",
        remedy="Most likely there was no memory left. Close other programs and run it again.",
    )
