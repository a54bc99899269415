"""Make the picture of a take in the docs: a verse sung with two kinds of mistake.

The singer is the one of the ear's tests, who shares no table with the program: his vou lies three
moria high, and one note is another than written. Run: python tools/heard_picture.py
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests" / "ear"))

import singer  # noqa: E402 (found on the path above)
import takes  # noqa: E402

from chantwright.ear.listening import ListenOptions, listen  # noqa: E402
from chantwright.ear.markings import draw  # noqa: E402
from chantwright.score import Hymn, Phrase, number  # noqa: E402
from chantwright.setting import load_books, set_hymn  # noqa: E402
from chantwright.tones import load_tones  # noqa: E402
from chantwright.words import divide  # noqa: E402

WORDS = (
    "Let my prayer be set forth before thee as incense; "
    "and the lifting up of my hands as the evening sacrifice."
)
VOU, HIGH, WRONG, BEAT = 22.0, 3.0, 16, 0.5


def main() -> None:
    """Set the verse, sing it, hear it, and write the picture of its second phrase."""
    tones = load_tones()
    text = Hymn(tone=1, tempo=round(60 / BEAT), phrases=(Phrase(text=WORDS),))
    hymn = number(set_hymn(divide(text), tones, load_books())[0].hymn)
    table = takes.place("diatonic")
    written = tuple(
        (n.degree, table[n.degree], float(n.beats), s.text if k == 0 else "", p)
        for p, phrase in enumerate(hymn.phrases)
        for s in phrase.syllables
        for k, n in enumerate(s.notes)
    )
    entries = [takes.Entry(i, w[1], w[2] * BEAT, w[3]) for i, w in enumerate(written)]
    entries[WRONG] = replace(entries[WRONG], moria=table[written[WRONG][0] - 1], planted="wrong")
    plan = takes.Plan(hymn, written, table, "diatonic", tuple(entries))
    manner = singer.Manner(sigma=0.6, timing=0.1, bend=((VOU, HIGH),))
    take, truth = takes.sing(plan, 2, manner=manner, scene=singer.Scene(snr=20.0))
    pa = truth.ni_hz * 2 ** (12 / 72)
    verdict = listen(hymn, take.samples, take.rate, tones, ListenOptions(base_hz=pa))
    drawing = draw(verdict)[1]
    (ROOT / "docs" / "pictures" / "heard.svg").write_text(drawing.svg, encoding="utf-8")
    print(*verdict.summary, *(f.text for f in verdict.findings), sep="\n")


if __name__ == "__main__":
    main()
