"""A parish with a few short hymns, for three weekends of different tones."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from chantwright.parish import found_folder

FIRST, LAST = date(2026, 11, 28), date(2026, 12, 12)
SATURDAYS = (date(2026, 11, 28), date(2026, 12, 5), date(2026, 12, 12))
VESPERS = "lord-i-cry: cry.txt\napolytikion: stone.txt\n"
LITURGY = "apolytikia: stone.txt\ncommunion: praise.txt (tone 1)\n"
HYMNS = {
    "cry.txt": ("Lord, I cry", "Lord, I cry unto thee."),
    "stone.txt": ("The stone", "The stone was rolled away."),
    "praise.txt": ("Praise", "Praise ye the Lord from the heavens."),
}


def season_parish(path: Path) -> Path:
    """Plans stand for the first weekend alone."""
    found_folder(path, "Three Weekends")
    for name, (title, words) in HYMNS.items():
        (path / "hymns" / name).write_text(f"title: {title}\n\n{words}\n", encoding="utf-8")
    for service, day, lines in (
        ("great-vespers", "2026-11-28", VESPERS),
        ("liturgy", "2026-11-29", LITURGY),
    ):
        plan = path / "services" / f"{day}-{service}.txt"
        plan.write_text(f"service: {service}\ndate: {day}\n\n{lines}", encoding="utf-8")
    return path


def made_in(out: Path) -> dict[str, bytes]:
    """Everything that lies in the folders of the weekends but the booklets."""
    return {
        p.relative_to(out).as_posix(): p.read_bytes()
        for day in SATURDAYS
        for p in sorted((out / day.isoformat()).rglob("*"))
        if p.is_file() and p.suffix != ".pdf" and not p.name.startswith(".")
    }


def times_in(store: Path) -> dict[str, int]:
    """When each finished piece of work was written: words that are set, hymns that are sung."""
    files = [*store.glob("set/*.txt"), *store.glob("sound/*.json")]
    return {p.name: p.stat().st_mtime_ns for p in files if not p.name.startswith(".")}
