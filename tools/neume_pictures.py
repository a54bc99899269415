"""Make the pictures of the page on neumes: `python tools/neume_pictures.py`.

A booklet page with staff and neumes of the same phrases, and a page of neumes alone, from a psalm
set by rule.
"""

from __future__ import annotations

from pathlib import Path

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


def main() -> None:
    """Write both pictures."""
    knowledge = load_knowledge(())
    people = the_singers(knowledge.tones, None, None, None)
    for name, readings, tone in (
        ("neumes-page.png", ("staff", "neumes"), 1),
        ("neumes-alone.png", ("neumes",), 8),
    ):
        hymn = in_tone(hymnfile.loads(WORDS), tone, None, knowledge.tones, None)
        hymn = make_singable(hymn, knowledge, people, ison="simple").hymn
        entry = Entry("hymn", hymn.title, hymn)
        booklet = Booklet(title="Psalms", entries=(entry,), readings=readings, letters=None)
        page = pypdfium2.PdfDocument(booklet_pdf(booklet, knowledge.tones))[2]
        image = page.render(scale=1.5).to_pil()
        lowest = (
            image.convert("L")
            .point(lambda v: 255 * (v < 250))
            .crop((0, 0, image.width, round(image.height * 0.93)))
            .getbbox()[3]
        )
        image = image.crop((0, 40, image.width, lowest + 25))
        image.quantize(256).save(PICTURES / name, optimize=True)


if __name__ == "__main__":
    main()
