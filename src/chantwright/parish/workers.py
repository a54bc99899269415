"""Who does the work: this computer's own processes, or workers elsewhere.

Whatever renders many things takes a standard `concurrent.futures.Executor`. Here one is opened: a
pool of processes, or, with the address of a dask.distributed scheduler, that scheduler's workers.
Where a worker is ended from outside, what is finished stays finished and the rest is given to
others; dask does so itself, and `Refilled` does it for processes. Processes end when the program
that opened them is gone, however it was ended.

Workers elsewhere must have the same version of this program and see the same folders under the
same names (a shared disk). A scheduler asks nobody who they are and runs what it is sent, so it
belongs on a network that is yours alone.

References
----------
Python documentation, "concurrent.futures"; Dask documentation, "Client.get_executor".
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context, parent_process
from typing import Any, ParamSpec, TypeVar

from chantwright.errors import ChantError, Where

__all__ = ["Refilled", "workers"]

_P = ParamSpec("_P")
_T = TypeVar("_T")

_AGAIN = 2  # a piece of work whose worker died is given to another so many times
_WAIT = "15s"
_FIRST = 4  # processes opened at once; more come with more work


def _open() -> None:
    """Load what a recording needs."""
    import chantwright.parish.whole  # noqa: F401, PLC0415 (it is the worker that is to load it)


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _begin() -> None:
    """Watch over the program that opened this process: killed, it cannot end it itself."""
    threading.Thread(target=_end_with_parent, daemon=True).start()


@dataclass(frozen=True, slots=True)
class _Work:
    """A piece of work, the promise that was given for it, and how often it was given out."""

    call: Callable[[], Any]
    promise: Future[Any]
    given: int = 1


class Refilled(Executor):
    """A pool of processes that is opened anew when one of them is ended from outside.

    Such an end breaks a standard pool, and with it all that was not finished; here that is given
    to a fresh pool. Work that is there when a pool breaks for the third time is given up, with the
    pool's own error: it may be what kills them.

    Parameters
    ----------
    count : int, optional
        How many processes; by default as many as there are cores.
    """

    def __init__(self, count: int | None = None) -> None:
        self._count = count
        self._turn = threading.RLock()
        self._pool: ProcessPoolExecutor | None = None
        self._closed = False

    def processes(self) -> tuple[int, ...]:
        """Ids of the processes that are open."""
        with self._turn:
            return tuple(getattr(self._pool, "_processes", None) or ())

    def submit(self, fn: Callable[_P, _T], /, *args: _P.args, **kwargs: _P.kwargs) -> Future[_T]:
        """Give work to a process.

        Raises
        ------
        RuntimeError
            If the pool is closed.
        """
        if self._closed:
            raise RuntimeError("this pool is closed")
        promise: Future[_T] = Future()
        promise.set_running_or_notify_cancel()
        self._give(_Work(partial(fn, *args, **kwargs), promise))
        return promise

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Close the pool; what is cancelled raises `CancelledError`."""
        with self._turn:
            self._closed = True
            pool = self._pool
        if pool is not None:
            pool.shutdown(wait=wait, cancel_futures=cancel_futures)

    def _give(self, work: _Work) -> None:
        with self._turn:
            try:
                pool = self._pool or self._fresh()
                given = pool.submit(work.call)
            except BrokenExecutor:  # it broke while it was asked
                pool = self._fresh()
                given = pool.submit(work.call)
        given.add_done_callback(partial(self._done, work, pool))

    def _fresh(self) -> ProcessPoolExecutor:
        self._pool = ProcessPoolExecutor(
            self._count, mp_context=get_context("spawn"), initializer=_begin
        )
        return self._pool

    def _done(self, work: _Work, pool: ProcessPoolExecutor, given: Future[Any]) -> None:
        if given.cancelled():
            work.promise.set_exception(CancelledError())
            return
        trouble = given.exception()
        if isinstance(trouble, BrokenExecutor) and work.given <= _AGAIN:
            with self._turn:
                if self._pool is pool:
                    self._pool = None
                if not self._closed:
                    self._give(replace(work, given=work.given + 1))
                    return
        if trouble is not None:
            work.promise.set_exception(trouble)
        else:
            work.promise.set_result(given.result())


@contextmanager
def workers(address: str = "", count: int | None = None) -> Iterator[Executor]:
    """Give an executor, and close it at the end.

    Parameters
    ----------
    address : str
        Of a dask.distributed scheduler, such as ``tcp://127.0.0.1:8786``; empty for processes on
        this computer.
    count : int, optional
        How many processes on this computer; by default as many as it has cores.

    Raises
    ------
    ChantError
        If the scheduler is not reached, or dask.distributed is not installed.
    """
    if not address:
        with Refilled(count) as pool:
            for _ in range(min(count or os.cpu_count() or 1, _FIRST)):
                pool.submit(_open)  # while the hymns are still being set
            try:
                yield pool
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)  # nobody waits for the rest
                raise
        return
    try:
        from distributed import Client  # noqa: PLC0415 (only where it is asked for)
    except ImportError:
        raise ChantError(
            "workers elsewhere need dask.distributed, which is not installed.",
            remedy='Install it with: pip install "chantwright[workers]"',
        ) from None
    try:
        client = Client(address, timeout=_WAIT, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as exc:
        raise ChantError(
            f"no scheduler of workers answers ({exc}).".replace("\n", " "),
            where=Where(address),
            remedy="Check the address and that it runs; without --workers this computer works.",
        ) from None
    with client, client.get_executor(retries=_AGAIN, pure=False) as elsewhere:
        yield elsewhere
