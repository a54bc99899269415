"""How long two centuries of full day records take, beside dateutil's Pascha alone.

Both are measured in the same run, in seconds of the processor (what other programs do does not
count) and by the clock on the wall. Every record is made from an empty cache.

Run: python bench/almanac_years.py
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import date, timedelta

from dateutil.easter import EASTER_ORTHODOX, easter
from figures import Figure

from chantwright.almanac import service_day

DAYS = 73_000
GOAL = 2.0  # seconds of the processor
FIRST = date(1900, 1, 1)


def measured(run: Callable[[], int]) -> tuple[int, float, float]:
    """Return a result, seconds of the processor and seconds by the clock."""
    wall, cpu = time.perf_counter(), time.process_time()
    result = run()
    return result, time.process_time() - cpu, time.perf_counter() - wall


def records(service: str, calendar: str) -> Callable[[], int]:
    """Make a run over all days; it counts the days that have a tone."""

    def run() -> int:
        return sum(
            service_day(FIRST + timedelta(step), service, calendar=calendar).tone is not None
            for step in range(DAYS)
        )

    return run


def paschas() -> int:
    """Reckon Pascha once for each day."""
    return sum(
        easter((FIRST + timedelta(step)).year, EASTER_ORTHODOX).month for step in range(DAYS)
    )


KINDS = (("orthros", "new"), ("orthros", "old"), ("great-vespers", "new"))


def figures(_size: str) -> Iterator[Figure]:
    """Yield the times of two centuries of day records."""
    _, theirs, _ = measured(paschas)
    service_day(FIRST, "orthros")  # the rows are read once
    for service, calendar in KINDS:
        _, ours, _ = measured(records(service, calendar))
        yield Figure(
            "calendar", f"full day records, {service}, {calendar} calendar", ours, "s",
            most=GOAL, peer="dateutil's Pascha alone", peer_value=theirs, count=f"{DAYS} days",
        )  # fmt: skip


def main() -> None:
    """Measure and print."""
    _, theirs, wall = measured(paschas)
    print(f"{DAYS} times dateutil's Pascha alone: {theirs:.2f} s ({wall:.2f} s by the clock)")
    service_day(FIRST, "orthros")  # the rows are read once
    missed = False
    for service, calendar in KINDS:
        sung, ours, wall = measured(records(service, calendar))
        missed = missed or ours >= GOAL
        print(
            f"{DAYS} full day records ({service}, {calendar} calendar): {ours:.2f} s "
            f"({wall:.2f} s by the clock), {ours / theirs:.0f} times dateutil; "
            f"{sung} days have a tone"
        )
    print(f"goal {GOAL:.0f} s: {'missed' if missed else 'reached'}")


if __name__ == "__main__":
    main()
