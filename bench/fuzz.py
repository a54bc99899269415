"""How the tool bears abuse: damaged files and wild input of every kind, a clean ending each time.

Each case runs in a process that is replaced when it does not come back, with 10 seconds of work and
a limit to its memory. Prints a line a kind, then each distinct fault with the case that shows it.

    python bench/fuzz.py --cases 10000
    python bench/fuzz.py --kind "own rows" --cases 500 --seed 7
    python bench/fuzz.py --kind "own rows" --only 123 --of 500 --seed 7     (one case again)
"""

from __future__ import annotations

import argparse
import faulthandler
import multiprocessing
import os
import resource
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "abuse"))
os.environ["CHANTWRIGHT_CACHE"] = "off"

from fuzz_cases import CRASHED, HUNG, KINDS, LONGEST, REFUSED, Outcome, run, shares, table
from fuzz_ground import ground

_MEMORY = 6_000_000_000
_PATIENCE = 6 * LONGEST
Case = tuple[str, int, int, int]


def _work(pipe: Connection, folder: str) -> None:
    faulthandler.enable()
    warnings.simplefilter("error", RuntimeWarning)  # nobody is to read a library's warnings
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
    place = ground(Path(folder))
    pipe.send(None)
    while (case := pipe.recv()) is not None:
        pipe.send(run(place, *case))
    for end in place.at_end:
        end()


class _Worker:
    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="abuse-")
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=_work, args=(theirs, self._folder.name), daemon=True)
        self._process.start()
        theirs.close()
        self._pipe.recv()

    def run(self, case: Case) -> Outcome:
        kind, _, number, _ = case
        self._pipe.send(case)
        try:
            # The alarm inside counts work, and is deaf while a C library works.
            if self._pipe.poll(_PATIENCE):
                found = self._pipe.recv()
                assert isinstance(found, Outcome)
                return found
            said = HUNG, "deep inside a library"
        except EOFError:
            said = CRASHED, "the process died"
        self.close(kill=True)
        self.__init__()  # type: ignore[misc]
        return Outcome(kind, number, *said)

    def close(self, *, kill: bool = False) -> None:
        if kill:
            self._process.kill()
        else:
            self._pipe.send(None)
        self._process.join(10)
        self._folder.cleanup()


def _last(said: str) -> str:
    lines = [line.strip() for line in said.strip().splitlines()]
    ours = [line for line in lines if "/chantwright/" in line]
    return f"{lines[-1][:200] if lines else ''}  at {ours[-1] if ours else '?'}"


def _cases(args: argparse.Namespace) -> Iterator[Case]:
    kinds = tuple(args.kind) or KINDS
    if args.only is not None:
        yield kinds[0], args.seed, args.only, args.of
        return
    for kind, count in shares(args.cases, kinds).items():
        for number in range(count):
            yield kind, args.seed, number, count


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kind", action="append", default=[], choices=KINDS)
    parser.add_argument("--only", type=int, help="One case of a kind, by its number.")
    parser.add_argument("--of", type=int, default=100, help="Cases of its kind in that run.")
    args = parser.parse_args()
    started, outcomes = time.monotonic(), []
    worker = _Worker()
    for case in _cases(args):
        outcomes.append(worker.run(case))
        if args.only is not None:
            print(outcomes[-1].end, outcomes[-1].said, sep="\n")
        elif sys.stderr.isatty() or len(outcomes) % 250 == 0:
            print(f"\r{len(outcomes)} {case[0]:16}", end="", file=sys.stderr, flush=True)
    worker.close()
    print(f"\n{table(outcomes)}\nin {time.monotonic() - started:.0f} s, seed {args.seed}")
    faults: dict[str, list[Outcome]] = {}
    for found in outcomes:
        if found.end not in (REFUSED, "accepted"):
            faults.setdefault(f"{found.kind}: {found.end}: {_last(found.said)}", []).append(found)
    for name, found in faults.items():
        print(f"\n{len(found)} x {name}\n  case {found[0].number}\n{found[0].said[-900:]}")
    raise SystemExit(bool(faults))


if __name__ == "__main__":
    main()
