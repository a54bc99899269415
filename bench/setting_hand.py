"""How near settings come to phrases that were set by hand before the setter saw them.

Run: .venv/bin/python bench/setting_hand.py

The phrases are in tests/setting/data/hand.toml: one person's choice, from memory.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "setting"))

from handset import Agreement, agreement, bare, hand_hymns

from chantwright.setting import load_books, set_hymn
from chantwright.setting.measure import thoughtless
from chantwright.tones import load_tones


def main() -> None:
    tones, books = load_tones(), load_books()
    names = ("first setting", "best of three", "thoughtless")
    totals = dict.fromkeys(names, Agreement())
    for tone, hand, shapes in hand_hymns():
        branch = tones.default_branch(tone)
        book = books.book(branch.id)
        found = set_hymn(bare(hand), tones, books, count=3)
        seeds = [thoughtless(bare(hand), book, branch.base, seed=n) for n in range(10)]
        own = Agreement()
        for place, (phrase, shape) in enumerate(zip(hand.phrases, shapes, strict=True)):
            told = [
                agreement(
                    phrase,
                    s.hymn.phrases[place],
                    shape,
                    book.formula(s.figures[place][-1].formula).shape,
                )
                for s in (*found, *seeds)
            ]
            totals["first setting"] += told[0]
            own += told[0]
            totals["best of three"] += max(told[:3], key=lambda a: (a.whole, a.close, a.near))
            for other in told[3:]:
                totals["thoughtless"] += other
        print(f"tone {tone}: " + ", ".join(f"{k} {v:.2f}" for k, v in own.shares().items()))
    for name in names:
        print(f"{name}: " + ", ".join(f"{k} {v:.2f}" for k, v in totals[name].shares().items()))


if __name__ == "__main__":
    main()
