"""How long a booklet of forty hymns takes, beside verovio and typst alone on the same notes.

The peer draws each hymn from the same MEI (made before, not counted) on pages as wide as ours with
its own line breaking, and sets its pictures one under the other: no cover, no headings, no words
measured, no lines chosen. Run: python bench/print_speed.py [hymns]
"""

from __future__ import annotations

import json
import re
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import typst
import verovio
from figures import FULL, Figure
from setting_texts import texts

from chantwright.engrave import Booklet, Entry, to_mei
from chantwright.engrave.booklet import booklet_pdf
from chantwright.score import Hymn
from chantwright.setting import load_books, set_hymn
from chantwright.tones import Tones, load_tones

HYMNS = 40
PLAIN = """#set page(paper: "a4", margin: 20mm)
#for picture in json(bytes(sys.inputs.pictures)) {
  image(bytes(picture), format: "svg", width: 100%)
}
"""
PAGE = {
    "adjustPageHeight": True, "breaks": "auto", "footer": "none", "header": "none",
    "pageHeight": 2970, "pageWidth": 2100, "scale": 60,
}  # fmt: skip


def forty(tones: Tones, count: int) -> list[Hymn]:
    """Psalms and texts of ours, set in all eight tones in turn."""
    books = load_books()
    return [
        set_hymn(replace(hymn, title=hymn.title or f"Hymn {n}", tone=n % 8 + 1), tones, books)[
            0
        ].hymn
        for n, (_, hymn) in enumerate(texts()[:count])
    ]


def alone(meis: list[str]) -> tuple[bytes, int]:
    """Draw with verovio and set with typst, and nothing else; return the PDF and the pictures."""
    toolkit = verovio.toolkit()
    verovio.enableLog(verovio.LOG_OFF)
    toolkit.setOptions(PAGE)
    pictures = []
    for mei in meis:
        toolkit.loadData(mei)
        pictures += [toolkit.renderToSVG(n + 1) for n in range(toolkit.getPageCount())]
    source = PLAIN.encode()
    pdf = typst.Compiler(
        source, sys_inputs={"pictures": json.dumps(pictures)}, ignore_system_fonts=True
    ).compile(format="pdf")
    assert isinstance(pdf, bytes)
    return pdf, len(pictures)


def most() -> float:
    """Most memory that this process has held, in MB.

    Not by getrusage where Linux tells it: that counts the process that started this one too.
    """
    status = Path("/proc/self/status")
    if status.is_file() and (found := re.search(r"VmHWM:\s+(\d+)", status.read_text())):
        return int(found[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def ours(hymns: list[Hymn], tones: Tones) -> bytes:
    """A booklet as `print` makes it."""
    entries = tuple(Entry(kind="hymn", title=h.title, hymn=h) for h in hymns)
    return booklet_pdf(Booklet(title="Forty hymns", entries=entries), tones)


def memory(count: int) -> float:
    """Most memory of a process that does nothing but set and print."""
    code = (
        "import sys; sys.path.insert(0, 'bench'); import print_speed as p; "
        f"t = p.load_tones(); p.ours(p.forty(t, {count}), t); print(p.most())"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(run.stdout)


def figures(size: str) -> Iterator[Figure]:
    """Yield time beside the peer, and memory."""
    count = 2 * HYMNS if size == FULL else HYMNS
    tones = load_tones()
    hymns = forty(tones, count)
    meis = [to_mei(h, tones) for h in hymns]
    ours(hymns[:1], tones)
    alone(meis[:1])
    spent: dict[str, float] = {}
    for name, work in (("ours", lambda: ours(hymns, tones)), ("alone", lambda: alone(meis))):
        start = time.process_time()
        work()
        spent[name] = time.process_time() - start
    told = f"{count} hymns, {sum(len(h.phrases) for h in hymns)} phrases"
    yield Figure(
        "print", "a booklet of staff notation", spent["ours"], "s", most=5.0 * count / HYMNS,
        peer="verovio and typst alone", peer_value=spent["alone"], count=told,
    )  # fmt: skip
    yield Figure(
        "print", "the same, against verovio and typst alone", spent["ours"] / spent["alone"],
        "times", most=1.5, count=told,
    )  # fmt: skip
    yield Figure("print", "memory at most, setting included", memory(count), "MB", most=400.0,
                 count=told)  # fmt: skip


def main() -> None:
    """Print."""
    for figure in figures(FULL if sys.argv[1:] == ["full"] else "usual"):
        print(f"{figure.what}: {figure.value:.2f} {figure.unit} {figure.peer_value or ''}")


if __name__ == "__main__":
    main()
