"""How long setting takes, on one core.

Run: .venv/bin/python bench/setting_speed.py

Seconds of processor time, so that other work on the machine does not count. *Warm* means that the
books are loaded and the same words were set before; *cold* that nothing is remembered. No library
does this job, so there is no ratio to one: the measure beside is the time to load the books.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from statistics import median

from figures import FULL, Figure
from setting_texts import texts

from chantwright.setting import load_books, set_hymn
from chantwright.tones import load_tones


def figures(size: str) -> Iterator[Figure]:
    """Yield the times that have limits; no library does this job."""
    tones, books = load_tones(), load_books()
    six = [h for _, h in texts() if len(h.phrases) == 6][: None if size == FULL else 4]
    warm = []
    for told in (replace(h, tone=tone) for h in six for tone in range(1, 9)):
        set_hymn(told, tones, books, count=3)
        started = time.process_time()
        set_hymn(told, tones, books, count=3)
        warm.append(1000 * (time.process_time() - started))
    told_count = f"{len(six)} texts x 8 tones"
    for what, value in (("median", median(warm)), ("worst", max(warm))):
        yield Figure("setting", f"six phrases, three ways, warm, {what}", value, "ms", most=50,
                     count=told_count)  # fmt: skip
    books = load_books()
    hymns = [replace(h, tone=t) for _, h in texts()[:25] for t in range(1, 9)]
    started = time.process_time()
    for told in hymns:
        set_hymn(told, tones, books, count=1)
    yield Figure("setting", "200 hymns, nothing remembered", time.process_time() - started, "s",
                 most=10, count=f"{len(hymns)} hymns")  # fmt: skip


def main() -> None:
    started = time.process_time()
    tones, books = load_tones(), load_books()
    print(f"tones and books loaded: {1000 * (time.process_time() - started):.0f} ms")
    six = [h for _, h in texts() if len(h.phrases) == 6]
    cold, warm = [], []
    for hymn in six:
        for tone in range(1, 9):
            told = replace(hymn, tone=tone)
            for into in (cold, warm):
                started = time.process_time()
                set_hymn(told, tones, books, count=3)
                into.append(time.process_time() - started)
    print(f"six phrases, three alternatives ({len(six)} texts x 8 tones):")
    for name, spent in (("first time", cold), ("warm", warm)):
        print(
            f"  {name:<10} median {1000 * median(spent):.0f} ms, worst {1000 * max(spent):.0f} ms"
        )
    for count in (1, 3):
        books = load_books()
        hymns = [replace(h, tone=t) for _, h in texts()[:25] for t in range(1, 9)]
        started = time.process_time()
        for told in hymns:
            set_hymn(told, tones, books, count=count)
        spent = time.process_time() - started
        print(f"{len(hymns)} hymns, {count} setting(s) each, cold: {spent:.1f} s")


if __name__ == "__main__":
    main()
