"""A booklet of 40 hymns: our time and memory beside verovio and typst alone on the same input.

    python bench/booklet_speed.py [hymns] [rounds]

What a user would otherwise do: load the same MEI into verovio, draw its pages as SVG, and have
typst put those pictures into a PDF. Ours sets the line ends, words, letters, drone, headings,
intonations and order besides. Times are of the processor (this process alone), both warm, the
better of the rounds; the goals are 5 seconds and a ratio of 1.5. Memory is the highest of a process
that only makes the booklet, started anew; the goal is 400 MB. Neumes are told too: they have no
such peer.
"""

from __future__ import annotations

import json
import random
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import typst
import verovio
from figures import FULL, Figure

from chantwright.engrave import Booklet, Entry, booklet_pdf, to_mei
from chantwright.score import Base, Hymn, Note, Phrase, Place, Syllable
from chantwright.tones import load_tones

TONES = load_tones()
HYMNS = 40
WORDS = [
    "Bless", "the", "Lord", "O", "my", "soul", "and", "all", "that", "is", "with-in", "me", "bless",
    "his", "ho-ly", "name", "let", "ev-ery-thing", "hath", "breath", "praise", "who", "heav-ens",
]  # fmt: skip


def hymn(source: random.Random, number: int) -> Hymn:
    """A hymn of eight phrases that walks about its tone, with melismas and long endings."""
    tone = number % 8 + 1
    branch = TONES.default_branch(tone)
    degree = branch.base
    phrases = []
    for at in range(8):
        syllables: list[Syllable] = []
        while len(syllables) < 13:
            parts = source.choice(WORDS).split("-")
            for k, part in enumerate(parts):
                place: Place = "single"
                if len(parts) > 1:
                    place = "begin" if k == 0 else "end" if k == len(parts) - 1 else "middle"
                notes = []
                for _ in range(source.choice((1, 1, 1, 2, 3))):
                    step = source.choice((-1, 0, 1))
                    degree = max(branch.wide[0], min(branch.wide[1], degree + step))
                    notes.append(Note(degree, Fraction(1, source.choice((1, 1, 1, 2)))))
                syllables.append(Syllable(part, place, notes=tuple(notes), ison=branch.base))
        last = syllables[-1]
        syllables[-1] = Syllable(
            last.text, last.place, notes=(Note(branch.base, Fraction(2)),), ison=last.ison
        )
        cadence = "final" if at == 7 else "full" if at % 3 == 2 else "medial"
        phrases.append(Phrase(tuple(syllables), cadence=cadence))
    return Hymn(
        title=f"Hymn {number + 1}", tone=tone, branch=branch.id, tempo=120,
        base=Base(branch.base, 150.0), phrases=tuple(phrases),
    )  # fmt: skip


def booklet(count: int, readings: tuple[str, ...] = ("staff",)) -> Booklet:
    """The booklet of the bench; the same every time."""
    source = random.Random(40)
    hymns = [hymn(source, n) for n in range(count)]
    entries = tuple(Entry("hymn", h.title, h) for h in hymns)
    return Booklet("Forty hymns", entries=entries, readings=readings)


def alone(meis: list[str]) -> bytes:
    """Verovio draws the pages, typst puts them into a PDF: nothing of ours."""
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {"pageWidth": 1700, "pageHeight": 2570, "scale": 50, "footer": "none", "header": "none"}
    )
    pages = []
    for mei in meis:
        toolkit.loadData(mei)
        pages += [toolkit.renderToSVG(n + 1) for n in range(toolkit.getPageCount())]
    page = '#set page("a4", margin: 20mm)\n#for s in json(bytes(sys.inputs.d)) '
    page += '[#image(bytes(s), format: "svg", width: 100%) #pagebreak(weak: true)]'
    return typst.compile(page.encode(), sys_inputs={"d": json.dumps(pages)})


def best(work: Callable[[], object], rounds: int) -> float:
    """Least processor time of some rounds, in seconds; once before, to be warm."""
    work()
    found = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def main(count: int, rounds: int) -> None:
    """Print the figures."""
    verovio.enableLog(verovio.LOG_OFF)
    book = booklet(count)
    hymns = [e.hymn for e in book.entries if e.hymn is not None]
    notes = sum(len(s.notes) for h in hymns for p in h.phrases for s in p.syllables)
    meis = [to_mei(h, TONES) for h in hymns]
    ours = best(lambda: booklet_pdf(book, TONES), rounds)
    peer = best(lambda: alone(meis), rounds)
    print(f"{count} hymns, {notes} notes")
    print(f"booklet in staff     {ours:6.2f} s of the processor (goal 5)")
    print(f"verovio and typst    {peer:6.2f} s")
    print(f"ratio                {ours / peer:6.2f} (goal 1.5)")
    for readings in (("neumes",), ("staff", "neumes")):
        other = booklet(count, readings)
        spent = best(lambda b=other: booklet_pdf(b, TONES), 1)
        print(f"{' and '.join(readings):20s} {spent:6.2f} s")
    command = [sys.executable, __file__, str(count), "memory"]
    print(subprocess.run(command, check=True, capture_output=True, text=True).stdout, end="")


def figures(size: str) -> Iterator[Figure]:
    """Yield time beside the peer, and memory."""
    verovio.enableLog(verovio.LOG_OFF)
    count, rounds = HYMNS, 3 if size == FULL else 2
    book = booklet(count)
    meis = [to_mei(e.hymn, TONES) for e in book.entries if e.hymn is not None]
    ours, peer = best(lambda: booklet_pdf(book, TONES), rounds), best(lambda: alone(meis), rounds)
    told, seed = f"{count} hymns of 8 phrases", "40"
    yield Figure("print", "a booklet of staff notation", ours, "s", most=5,
                 peer="verovio and typst alone", peer_value=peer, count=told,
                 seed=seed)  # fmt: skip
    yield Figure("print", "the same, against verovio and typst alone", ours / peer, "times",
                 most=1.5, count=told, seed=seed)  # fmt: skip
    command = [sys.executable, __file__, str(count), "memory"]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    most = max(float(m) for m in re.findall(r"\d+", said.split("MB")[0]))
    yield Figure("print", "memory at most, three booklets in a row", most, "MB", most=400,
                 count=told, seed=seed)  # fmt: skip


def memory(count: int) -> None:
    """Make the booklet three times and tell the most memory that this process has had each time."""
    book = booklet(count)
    most = []
    for _ in range(3):
        size = len(booklet_pdf(book, TONES))
        # Not by getrusage, which counts the process that started this one.
        found = re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())
        most.append(int(found[1]) / 1024 if found else 0.0)
    said = ", ".join(f"{m:.0f}" for m in most)
    print(f"memory, three times  {said} MB (goal 400); PDF of {size / 1e6:.2f} MB")


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    if sys.argv[2:] == ["memory"]:
        memory(number)
    else:
        main(number, int(sys.argv[2]) if len(sys.argv) > 2 else 3)
