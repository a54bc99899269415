"""What a search remembers, kept out of the rounds of the collector of cycles.

A search over words that are new makes tens of thousands of small things that are remembered with
the book and hold no cycles: they are freed by counting references. Python's collector of cycles
knows nothing of that. It went over all of them whenever it thought fit, which was the whole of the
worst case: a setting that takes 15 ms took 90 to 230 ms when a full round fell into it, and longer
the more was remembered.

So it rests while a search runs, and after a search that made much it goes round once more, over
what is new since the last time, and sets all that lives aside for good (`gc.freeze`). What is set
aside is still freed when the last reference to it goes. The price: a cycle that lives at such a
moment and is dropped later stays in memory until the process ends.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["MUCH", "keeping"]

MUCH = 5_000
"""Objects made by one search from which they are set aside; a search in known words makes fewer."""


@contextmanager
def keeping() -> Iterator[None]:
    """Keep the collector still, and set aside what was made if it is much."""
    was = gc.isenabled()
    gc.disable()
    before = gc.get_count()[0]
    try:
        yield
    finally:
        if was:
            if gc.get_count()[0] - before > MUCH:
                gc.collect()
                gc.freeze()
            gc.enable()
