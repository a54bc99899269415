"""How long the command takes to say what it can, beside Python with click alone.

Run: python bench/program_start.py
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections.abc import Iterator

from figures import Figure

VERBS = ("week", "set", "prepare", "hear")


def spent(*words: str) -> float:
    """Seconds of the processor of a process, the best of three."""
    best = float("inf")
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return best


def figures(_size: str) -> Iterator[Figure]:
    """Yield the times of ``--help``, of the program and of some verbs."""
    bare = spent("-c", "import click")
    peer = "Python and click"
    yield Figure(
        "program", "chantwright --help", spent("-m", "chantwright", "--help"), "s",
        most=0.6, peer=peer, peer_value=bare, count="best of 3",
    )  # fmt: skip
    for verb in VERBS:
        took = spent("-m", "chantwright", verb, "--help")
        yield Figure(
            "program", f"chantwright {verb} --help", took, "s", peer=peer, peer_value=bare,
            count="best of 3",
        )  # fmt: skip


if __name__ == "__main__":
    for figure in figures("usual"):
        print(f"{figure.what}: {figure.value:.2f} s, {figure.ratio:.1f} times {figure.peer}")
