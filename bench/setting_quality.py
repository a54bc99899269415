"""Print the quality figures of settings beside those of thoughtless tilings.

Run: .venv/bin/python bench/setting_quality.py [--texts N]

Texts are psalms of the King James Bible, divided by the words package, set in the
eight default branches.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

from chantwright.score import Hymn, Phrase
from chantwright.setting import load_books, set_hymn
from chantwright.setting.measure import Quality, measure, thoughtless
from chantwright.tones import load_tones
from chantwright.words import divide

TEXTS = (
    "Lord, I cry unto thee: make haste unto me; give ear unto my voice, when I cry unto thee. "
    "Let my prayer be set forth before thee as incense; and the lifting up of my hands as the "
    "evening sacrifice.",
    "I will bless the Lord at all times: his praise shall continually be in my mouth. My soul "
    "shall make her boast in the Lord: the humble shall hear thereof, and be glad.",
    "Have mercy upon me, O God, according to thy lovingkindness: according unto the multitude "
    "of thy tender mercies blot out my transgressions. Wash me throughly from mine iniquity, "
    "and cleanse me from my sin.",
    "O sing unto the Lord a new song; for he hath done marvellous things: his right hand, and "
    "his holy arm, hath gotten him the victory.",
    "Bless the Lord, O my soul: and all that is within me, bless his holy name. Bless the "
    "Lord, O my soul, and forget not all his benefits.",
    "Out of the depths have I cried unto thee, O Lord. Lord, hear my voice: let thine ears be "
    "attentive to the voice of my supplications. If thou, Lord, shouldest mark iniquities, O "
    "Lord, who shall stand? But there is forgiveness with thee, that thou mayest be feared.",
    "O Lord, how manifold are thy works! in wisdom hast thou made them all: the earth is full "
    "of thy riches. I will sing unto the Lord as long as I live: I will sing praise to my God "
    "while I have my being.",
    "Lift up your heads, O ye gates; and be ye lift up, ye everlasting doors; and the King of "
    "glory shall come in. Who is this King of glory? The Lord strong and mighty, the Lord "
    "mighty in battle.",
    "O clap your hands, all ye people; shout unto God with the voice of triumph. For the Lord "
    "most high is terrible; he is a great King over all the earth.",
    "I will lift up mine eyes unto the hills, from whence cometh my help. My help cometh from "
    "the Lord, which made heaven and earth.",
    "The heavens declare the glory of God; and the firmament sheweth his handywork. Day unto "
    "day uttereth speech, and night unto night sheweth knowledge.",
    "The Lord is my shepherd; I shall not want. He maketh me to lie down in green pastures: "
    "he leadeth me beside the still waters.",
)


def divided(text: str) -> Hymn:
    return divide(Hymn(phrases=(Phrase(text=text),)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--texts", type=int, default=len(TEXTS))
    count = parser.parse_args().texts
    tones, books = load_tones(), load_books()
    hymns = [divided(text) for text in TEXTS[:count]]
    totals = {"setter": Quality(), "thoughtless": Quality()}
    started = time.perf_counter()
    for hymn in hymns:
        for tone in range(1, 9):
            branch = tones.default_branch(tone)
            book = books.book(branch.id)
            setting = set_hymn(replace(hymn, tone=tone), tones, books)[0]
            totals["setter"] += measure(setting, book)
            random = thoughtless(hymn, book, branch.base, seed=tone)
            totals["thoughtless"] += measure(random, book)
    spent = time.perf_counter() - started
    names = list(totals["setter"].figures())
    print(f"{len(hymns)} texts x 8 tones, {spent:.1f} s")
    print(f"{'figure':<20}{'setter':>10}{'thoughtless':>14}")
    for name in names:
        print(
            f"{name:<20}{totals['setter'].figures()[name]:>10.3f}"
            f"{totals['thoughtless'].figures()[name]:>14.3f}"
        )


if __name__ == "__main__":
    main()
