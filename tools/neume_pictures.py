"""Make the pictures of the pages on print and neumes: `python tools/neume_pictures.py`.

Pages of booklets of a psalm set by rule: staff and neumes of the same phrases, neumes alone, large
print, a slide, a phone, letters and words in black.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pypdfium2

from chantwright.cli.options import in_tone, the_singers
from chantwright.engrave import Booklet, Entry, booklet_pdf
from chantwright.parish import load_knowledge, make_singable
from chantwright.score import hymnfile

PICTURES = Path(__file__).resolve().parents[1] / "docs" / "pictures"
WORDS = """\
title: Out of the depths
words from: Psalm 130, King James

Out of the depths have I cried unto thee, O Lord.
Lord, hear my voice:
let thine ears be attentive to the voice of my supplications.
If thou, Lord, shouldest mark iniquities, O Lord, who shall stand?
But there is forgiveness with thee, that thou mayest be feared.
I wait for the Lord, my soul doth wait, and in his word do I hope.
"""


TALLEST = 1.75
KINDS: dict[str, tuple[int, dict[str, Any]]] = {
    # name: tone, what the booklet is given
    "neumes-page.png": (1, {"readings": ("staff", "neumes"), "letters": None}),
    "neumes-alone.png": (2, {"readings": ("neumes",), "letters": None}),
    "print-large.png": (4, {"large": True}),
    "print-slide.png": (6, {"form": "slides", "readings": ("staff",)}),
    "print-phone.png": (3, {"form": "phone", "readings": ("neumes", "letters")}),
    "print-black.png": (5, {"black": True, "readings": ("letters", "words"), "script": "greek"}),
}


def main() -> None:
    """Write the pictures."""
    knowledge = load_knowledge(())
    people = the_singers(knowledge.tones, None, None, None)
    for name, (tone, given) in KINDS.items():
        hymn = in_tone(hymnfile.loads(WORDS), tone, None, knowledge.tones, None)
        hymn = make_singable(hymn, knowledge, people, ison="simple").hymn
        entry = Entry("hymn", hymn.title, hymn)
        booklet = Booklet(title="Psalms", entries=(entry,), **given)
        page = pypdfium2.PdfDocument(booklet_pdf(booklet, knowledge.tones))[0]
        image = page.render(scale=1.5).to_pil()
        if given.get("form") != "slides":
            body = image.crop((0, 0, image.width, round(image.height * 0.93)))
            lowest = body.convert("L").point(lambda v: 255 * (v < 250)).getbbox()[3]
            image = image.crop((0, 0, image.width, min(lowest + 25, round(TALLEST * image.width))))
        image.quantize(64).save(PICTURES / name, optimize=True)


if __name__ == "__main__":
    main()
