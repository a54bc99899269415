"""One case after the other: what was given, how it ended, and whether anything was lost.

Reference
---------
B. Miller and others, "An empirical study of the reliability of UNIX utilities", CACM 33 (1990):
random input, and no ending but a clean one allowed.
"""

from __future__ import annotations

import random
import signal
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

from fuzz_drawn import DRAWN, drawn_values
from fuzz_files import FILES
from fuzz_ground import Ground, difference

from chantwright.errors import ChantError

LONGEST = 10.0
"""Seconds of this process's own work; what takes longer counts as hung."""
ACCEPTED, REFUSED, CRASHED, HUNG, CHANGED = "accepted", "refused", "crashed", "hung", "changed"
ENDS = (REFUSED, ACCEPTED, CRASHED, HUNG, CHANGED)
KINDS = (*FILES, *DRAWN)
_ASKED = ("addresses", "commands")
"""Kinds that may ask for a change of the parish's own files."""
_UNCLEAR = ("Traceback", "Error(", "object at 0x", "NoneType", "<class")


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a case ended: one of `ENDS`, and what was said or which lines led there."""

    kind: str
    number: int
    end: str
    said: str = ""


class _TooLongError(BaseException):
    """Raised by the alarm; no handler of ours takes it for an error of a file."""


@contextmanager
def limit(seconds: float) -> Iterator[None]:
    """Stop what takes longer."""

    def stop(_signal: int, _frame: Any) -> None:
        raise _TooLongError

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def shares(count: int, kinds: Sequence[str] = KINDS) -> dict[str, int]:
    """How many cases each kind has of so many in all, at least one."""
    weights = {k: (FILES[k] if k in FILES else DRAWN[k])[0] for k in kinds}
    total = sum(weights.values())
    return {k: max(1, round(count * w / total)) for k, w in weights.items()}


@cache
def _values(kind: str, start: int, count: int) -> list[Any]:
    return drawn_values(kind, start, count)


def run(ground: Ground, kind: str, start: int, number: int, count: int) -> Outcome:
    """Run one case.

    Parameters
    ----------
    ground : Ground
        Where it takes place; put back to what it was afterwards.
    kind : str
        One of `KINDS`.
    start : int
        Seed of the whole run.
    number, count : int
        Which case of how many of its kind.
    """
    ground.fresh()
    before = ground.owned()
    end, said = ACCEPTED, ""
    values = _values(kind, start, count) if kind in DRAWN else []
    draw = random.Random(f"{start} {kind} {number}")
    try:
        with limit(LONGEST):
            if kind in DRAWN:
                DRAWN[kind][2](ground, values[number % len(values)])
            else:
                FILES[kind][1](ground, draw)
    except ChantError as exc:
        end, said = REFUSED, str(exc)
        if any(u in said for u in _UNCLEAR) or not said.strip():
            end, said = CRASHED, f"refused without a sentence: {said}"
    except _TooLongError:
        end, said = HUNG, traceback.format_exc()
    except BaseException as exc:
        if isinstance(exc, KeyboardInterrupt):
            raise
        end, said = CRASHED, traceback.format_exc()
    lost = difference(before, ground.owned(), asked=kind in _ASKED)
    ground.put_back(before)
    return Outcome(kind, number, CHANGED, lost) if lost else Outcome(kind, number, end, said)


def table(outcomes: Sequence[Outcome]) -> str:
    """A line a kind: how many cases, and how they ended."""
    rows = [f"{'kind':16}{'cases':>7}" + "".join(f"{e:>10}" for e in ENDS)]
    for kind in (*KINDS, ""):
        own = [o for o in outcomes if o.kind == kind or not kind]
        if own:
            counts = "".join(f"{sum(o.end == e for o in own):>10}" for e in ENDS)
            rows.append(f"{kind or 'together':16}{len(own):>7}{counts}")
    return "\n".join(rows)
