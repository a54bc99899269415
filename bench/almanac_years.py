"""How long two centuries of full day records take, beside dateutil's Pascha alone.

Run: python bench/almanac_years.py
"""

from __future__ import annotations

import time
from datetime import date, timedelta

from dateutil.easter import EASTER_ORTHODOX, easter

from chantwright.almanac import service_day

DAYS = 73_000
GOAL = 2.0  # seconds


def main() -> None:
    """Measure and print."""
    first = date(1900, 1, 1)
    service_day(first, "orthros")  # the rows are read once
    start = time.perf_counter()
    sung = sum(
        service_day(first + timedelta(step), "orthros").tone is not None for step in range(DAYS)
    )
    ours = time.perf_counter() - start
    start = time.perf_counter()
    for step in range(DAYS):
        easter((first + timedelta(step)).year, EASTER_ORTHODOX)
    theirs = time.perf_counter() - start
    print(f"{DAYS} full day records (Orthros): {ours:.2f} s; {sung} days have a tone")
    print(f"{DAYS} times dateutil's Pascha alone: {theirs:.2f} s")
    print(f"goal {GOAL:.0f} s: {'reached' if ours < GOAL else 'missed'}")


if __name__ == "__main__":
    main()
