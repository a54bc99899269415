"""One measured figure, and how a bench tells its figures to the table.

A bench script that has figures to show offers ``figures(size)``, which yields `Figure` one by one;
`size` is ``usual`` or ``full``. The table (``bench/table.py``) runs each in a process of its own:

    python bench/figures.py booklet_speed usual rows.jsonl
"""

from __future__ import annotations

import importlib
import json
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

__all__ = ["FULL", "USUAL", "Figure", "clocked"]

USUAL, FULL = "usual", "full"


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure.

    Attributes
    ----------
    part : str
        Calendar, words, setting, print, sound, ear, pitch, pack, a year, or the program.
    what : str
        What was measured.
    value : float
    unit : str
        Such as "s of one core".
    most, least : float or None
        The limit that was promised.
    peer : str
        What a user would otherwise take, or the thoughtless way; measured in the same run.
    peer_value : float or None
        In the same unit.
    count : str
        How many of what.
    seed : str
        Where chance has a hand in it.
    """

    part: str
    what: str
    value: float
    unit: str = ""
    most: float | None = None
    least: float | None = None
    peer: str = ""
    peer_value: float | None = None
    count: str = ""
    seed: str = ""

    @property
    def ratio(self) -> float | None:
        """Ours to the peer's."""
        return self.value / self.peer_value if self.peer_value else None

    @property
    def kept(self) -> bool | None:
        """Whether the limit is kept; None where there is none."""
        if self.most is None and self.least is None:
            return None
        return (self.most is None or self.value <= self.most) and (
            self.least is None or self.value >= self.least
        )


def clocked(work: Callable[[], object], times: int = 1) -> float:
    """Return seconds of the processor that a piece of work takes, the best of some times."""
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def main() -> None:
    """Run one script and write its figures, each as soon as it is there."""
    name, size, out = sys.argv[1:]
    # The script imports this module by its name; run as a script, it has another one.
    sys.modules.setdefault("figures", sys.modules[__name__])
    script = importlib.import_module(name)
    with Path(out).open("a", encoding="utf-8") as file:
        for figure in script.figures(size):
            print(f"  {figure.what}: {figure.value:.4g} {figure.unit}", flush=True)
            file.write(json.dumps(asdict(figure)) + "\n")
            file.flush()


if __name__ == "__main__":
    main()
