"""How saves bear being killed: a process that saves without rest is ended with SIGKILL.

It saves everything a parish owns in turn (`saving`): a hymn file as the editor does, a change that
is taken back, a plan by its page, the learnt prices among the parish's own rows, results with the
day of practice that follows from them, a kept recording, a backup, and the practice pack by its
writer. Each kind is killed in turn, at a moment drawn from the whole length of such a save. Each
time everything must be whole and no older than the last save that was told to be done, and the
version before, where one is kept, must be whole too. At the end all scraps must be swept away.

    python bench/saves_killed.py [TIMES]
"""

from __future__ import annotations

import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from figures import FULL, Figure
from saving import KINDS, Nursery, new_parish, nursery

from chantwright import safefile


@dataclass(slots=True)
class Killer:
    """Kills savers in one parish, and remembers what was told and how long saves take."""

    parish: Path
    children: Nursery
    draw: random.Random
    done: Counter[str] = field(default_factory=Counter)
    begun: Counter[str] = field(default_factory=Counter)
    longest: dict[str, float] = field(default_factory=dict)
    midway: Counter[str] = field(default_factory=Counter)

    def _heard(self, line: str, since: dict[str, float]) -> str:
        """Note what a line tells; return it without the number."""
        word, number, *rest = f"{line} ".split(" ", 2)
        if word not in ("begin", "done"):
            return word
        name, now = rest[0].strip(), time.monotonic()
        if word == "begin":
            self.begun[name], since[name] = int(number), now
        else:
            self.done[name] = int(number)
            took = now - since[name]
            self.longest[name] = max(took, self.longest.get(name, 0.0))
        return f"{word} {name}"

    def _wait(self, wanted: str, since: dict[str, float]) -> None:
        """Listen until something is told; a child that ends by itself has met a fault."""
        while (heard := self._heard(self.children.said(), since)) != wanted:
            assert heard != "failed", "a save ended in the error above"

    def kill(self, name: str) -> None:
        """Kill a process that saves this kind of thing, and look at all that there is.

        Raises
        ------
        AssertionError
            If something is not whole, or older than was told.
        """
        child, since = self.children.bear("save", self.parish, name), dict[str, float]()
        try:
            self._wait(f"begin {name}", since)
            if name not in self.longest:  # one whole save first
                self._wait(f"done {name}", since)
                self._wait(f"begin {name}", since)
            time.sleep(self.draw.uniform(0.0, self.longest[name]))
        finally:
            os.kill(child, signal.SIGKILL)  # it is not buried before all was heard
            self._wait("gone", since)
        self.midway[name] += any(self.begun[kind] > self.done[kind] for kind in KINDS)
        for kind, how in KINDS.items():
            told, found = self.done[kind], how.found(self.parish)
            assert found in (told, max(told, self.begun[kind])), (kind, told, found)
            self.done[kind] = self.begun[kind] = found


def scraps(parish: Path) -> list[Path]:
    """What saves that were cut off have left."""
    return [p for p in parish.rglob(".*") if safefile.is_scrap(p.name)]


def run(parish: Path, cache: Path, times: int, seed: int) -> tuple[Killer, int]:
    """Kill so many times; return the killer, and how many scraps were left and swept away."""
    with nursery(cache) as children:
        killer = Killer(parish, children, random.Random(seed))
        names = list(KINDS)
        for number in range(times):
            killer.kill(names[number % len(names)])
    left = len(scraps(parish))
    swept = sum(safefile.sweep(Path(folder), older=0.0) for folder, _, _ in os.walk(parish))
    assert (swept, scraps(parish)) == (left, [])
    return killer, left


def figures(size: str) -> Iterator[Figure]:
    """Yield what was lost; any loss ends the run."""
    times = 200 if size == FULL else 40
    main(times)
    yield Figure("saves", "lost when killed while saving", 0, most=0, count=f"{times} kills",
                 seed="50")  # fmt: skip


def main(times: int) -> None:
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        parish = new_parish(Path(folder) / "parish")
        killer, left = run(parish, Path(folder) / "cache", times, 50)
    for name in KINDS:
        print(f"{name:18} {killer.done[name]:5} saves, {killer.midway[name]:3} kills midway, "
              f"longest {killer.longest.get(name, 0.0):.2f} s")  # fmt: skip
    print(f"killed {times} times in {time.monotonic() - started:.0f} s: nothing lost; "
          f"{left} scraps left behind and swept away")  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
