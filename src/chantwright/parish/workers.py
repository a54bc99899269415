"""Who does the work: this computer's own processes, or workers elsewhere.

Whatever renders many things takes a standard `concurrent.futures.Executor`. Here one is opened: a
pool of processes, or, with the address of a dask.distributed scheduler, that scheduler's workers.

Workers elsewhere must have the same version of this program and see the same folders under the
same names (a shared disk). A scheduler asks nobody who they are and runs what it is sent, so it
belongs on a network that is yours alone.

References
----------
Python documentation, "concurrent.futures"; Dask documentation, "Client.get_executor".
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import get_context

from chantwright.errors import ChantError, Where

__all__ = ["workers"]

_AGAIN = 2  # a piece of work whose worker died is given to another so many times
_WAIT = "15s"
_FIRST = 4  # processes opened at once; more come with more work


def _open() -> None:
    """Load what a recording needs."""
    import chantwright.parish.whole  # noqa: F401, PLC0415 (it is the worker that is to load it)


@contextmanager
def workers(address: str = "") -> Iterator[Executor]:
    """Give an executor, and close it at the end.

    Parameters
    ----------
    address : str
        Of a dask.distributed scheduler, such as ``tcp://127.0.0.1:8786``; empty for processes on
        this computer.

    Raises
    ------
    ChantError
        If the scheduler is not reached, or dask.distributed is not installed.
    """
    if not address:
        with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
            for _ in range(min(os.cpu_count() or 1, _FIRST)):
                pool.submit(_open)  # while the hymns are still being set
            yield pool
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
    with client, client.get_executor(retries=_AGAIN, pure=False) as pool:
        yield pool
