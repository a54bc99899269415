"""A parish with three hymns of very different length, for what must be done more than once."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from chantwright.parish import found_folder

DAY = date(2026, 11, 25)
HYMNS = {
    "short.txt": "Praise ye the Lord.",
    "middle.txt": "O praise the Lord, all ye nations.",
    "long.txt": "I will lift up mine eyes unto the hills, from whence cometh my help.",
}


def small_parish(path: Path) -> Path:
    found_folder(path, "Three Hymns")
    plan = ["service: lesson", "date: 2026-11-29", "title: Three hymns", ""]
    for name, words in HYMNS.items():
        head = f"title: {name.removesuffix('.txt')}\nwords from: Psalms, King James\ntone: 4\n\n"
        (path / "hymns" / name).write_text(head + words + "\n", encoding="utf-8")
        plan.append(f"Tone 4: {name}")
    (path / "services" / "2026-11-29-lesson.txt").write_text("\n".join(plan) + "\n")
    return path
