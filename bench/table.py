"""Run every bench that has figures, one after the other, and write docs/benchmarks.md.

    python bench/table.py              # everything, about a quarter of an hour on two quiet cores
    python bench/table.py --size full  # the long runs
    python bench/table.py print_speed year   # some scripts alone; prints, and writes nothing

Each script runs in a process of its own. Where one fails, the table says so and the others go on.
Times are seconds of the processor unless a row says otherwise, so that other work on the machine
counts for little; a ratio is taken against something that was measured in the same run.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from datetime import datetime
from importlib import metadata
from pathlib import Path

from figures import FULL, USUAL, Figure

from chantwright import __version__, safefile

HERE = Path(__file__).resolve().parent
PAGE = HERE.parent / "docs" / "benchmarks.md"
SCRIPTS = (
    "program_start",
    "almanac_years",
    "words_figures",
    "setting_speed",
    "setting_quality",
    "setting_tones",
    "setting_rhythm",
    "pitch_choice",
    "print_speed",
    "neume_writing",
    "voice_tuning",
    "voice_words",
    "ear_f0",
    "ear_align",
    "pack_week",
    "saves_killed",
    "server_killed",
    "year",
)
LIBRARIES = (
    "numpy", "scipy", "verovio", "typst", "soundfile", "soxr", "onnxruntime", "hibari-tts",
    "swift-f0", "librosa", "pyworld", "python-dateutil", "pyphen", "pocketsphinx", "dask",
)  # fmt: skip


def run(script: str, size: str, folder: Path) -> tuple[list[Figure], str]:
    """Run one script; return its figures, and what went wrong, if anything."""
    rows = folder / f"{script}.jsonl"
    rows.touch()
    started = time.monotonic()
    print(f"== {script}", flush=True)
    done = subprocess.run(
        [sys.executable, str(HERE / "figures.py"), script, size, str(rows)],
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    found = [Figure(**json.loads(row)) for row in rows.read_text("utf-8").splitlines()]
    print(f"   {time.monotonic() - started:.0f} s by the clock", flush=True)
    if done.returncode == 0:
        return found, ""
    told = done.stderr.strip().splitlines() or [f"it ended with {done.returncode}"]
    print("   FAILED: " + told[-1], flush=True)
    return found, told[-1]


def number(value: float | None) -> str:
    """Write a number with three figures."""
    if value is None:
        return ""
    if value == 0 or abs(value) >= 1000:
        return f"{value:.0f}"
    return f"{value:.3g}"


def row(figure: Figure) -> str:
    """Write a line of the table."""
    limits = [f"≤ {number(figure.most)}"] if figure.most is not None else []
    limits += [f"≥ {number(figure.least)}"] if figure.least is not None else []
    peer = f"{figure.peer}: {number(figure.peer_value)}" if figure.peer else ""
    kept = {True: "yes", False: "**no**", None: ""}[figure.kept]
    seed = f"; seeds {figure.seed}" if figure.seed else ""
    cells = (
        figure.part, figure.what, f"{number(figure.value)} {figure.unit}".strip(),
        " ".join(limits), kept, peer, number(figure.ratio), figure.count + seed,
    )  # fmt: skip
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def processor() -> str:
    """Name of the processor, where the system tells it."""
    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
        return next(x.split(":")[1].strip() for x in text.splitlines() if "model name" in x)
    except (OSError, StopIteration):
        return platform.processor() or platform.machine()


def versions() -> str:
    """Versions of the libraries that have a hand in the figures."""
    out = []
    for library in LIBRARIES:
        try:
            out.append(f"{library} {metadata.version(library)}")
        except metadata.PackageNotFoundError:
            out.append(f"{library} not installed")
    return ", ".join(out)


def page(
    figures: list[Figure], failed: dict[str, str], size: str, load: float, alone: list[str]
) -> str:
    """Write the page; `alone` names the scripts where not all were run."""
    missed = [f for f in figures if f.kept is False]
    lines = [
        "# Benchmarks",
        "",
        "Written by `make bench`; do not edit by hand. `make bench SIZE=full` runs the long ones.",
        "Times are seconds of the processor unless a row says otherwise. *Ratio* is our figure to "
        "that of the peer beside it, measured in the same run.",
        "",
        f"* Date: {datetime.now().astimezone():%Y-%m-%d %H:%M %Z}; size: {size}",
        f"* Machine: {processor()}, {os.cpu_count()} cores, {platform.system()} "
        f"{platform.release()}; {load:.1f} processes at work when it began",
        f"* chantwright {__version__}, Python {platform.python_version()}, {versions()}",
        f"* {len(figures)} figures; limits kept: "
        f"{sum(f.kept is True for f in figures)}, missed: {len(missed)}",
        "",
    ]
    if alone:
        lines.insert(-1, f"* Not everything was measured: {', '.join(alone)} alone")
    for script, what in failed.items():
        lines += [f"* **Not measured to the end: bench/{script}.py** ({what})"]
    if failed:
        lines.append("")
    lines += [
        "| part | what | ours | limit | kept | peer | ratio | counts |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
        *map(row, figures),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run, print and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scripts", nargs="*", choices=[*SCRIPTS, []])
    parser.add_argument("--size", choices=(USUAL, FULL), default=USUAL)
    parser.add_argument("--out", type=Path, help="the page [docs/benchmarks.md]")
    asked = parser.parse_args()
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0
    started = time.monotonic()
    figures: list[Figure] = []
    failed: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as folder:
        for script in asked.scripts or SCRIPTS:
            found, trouble = run(script, asked.size, Path(folder))
            figures += found
            if trouble:
                failed[script] = trouble
    text = page(figures, failed, asked.size, load, asked.scripts)
    print(f"\n{text}\n{time.monotonic() - started:.0f} seconds by the clock")
    if asked.out or not asked.scripts:
        out = asked.out or PAGE
        safefile.write_text(out, text)
        print(f"Written to {out}")
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
