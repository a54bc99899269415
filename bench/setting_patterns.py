"""Set patterns of stress without words, and count those that come out dear or not at all.

Run: .venv/bin/python bench/setting_patterns.py [--each N] [--branches NAME ...]

Every pattern of one to seven syllables, and N random ones of each length up to 16, is set as a
medial, a full and a final phrase in every branch that has a book. A phrase that costs more than 5
has lost a stress or closes falsely.
"""

from __future__ import annotations

import argparse
import itertools
import random
from collections import Counter

from chantwright.errors import ChantError
from chantwright.setting import load_books
from chantwright.setting.account import account, sums
from chantwright.setting.codes import codes_of
from chantwright.setting.line import Frame
from chantwright.setting.phrase import best_lines
from chantwright.tones import load_tones

_DEAR = 5.0


def patterns(each: int) -> list[tuple[int, ...]]:
    luck = random.Random(1)
    found = [p for n in range(1, 8) for p in itertools.product((0, 1), repeat=n)]
    for n in range(8, 17):
        for _ in range(each):
            found.append(tuple(luck.choices((0, 1, 2), (60, 33, 7), k=n)))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=20)
    parser.add_argument("--branches", nargs="*")
    given = parser.parse_args()
    tones, books = load_tones(), load_books()
    asked = patterns(given.each)
    print(f"{len(asked)} patterns x 3 kinds of close; share that costs more than {_DEAR:g}")
    for name, book in books.books.items():
        if not book.role("open") or (given.branches and name not in given.branches):
            continue
        branch = tones.branch(name)
        prices = {w.id: w.price(branch.style) for w in books.weights.values()}
        frame = Frame(branch.base, False, (branch.base, *branch.dominating), branch.usual)
        dear = none = total = 0
        why: Counter[str] = Counter()
        for pattern in asked:
            for role in ("medial", "full", "final"):
                total += 1
                try:
                    best = best_lines(book, codes_of(pattern), [role], frame, prices)[role][0]
                except ChantError:
                    none += 1
                    continue
                if best.cost > _DEAR:
                    dear += 1
                    why[max(sums(account(best, prices)), key=lambda t: t[1])[0]] += 1
        book.memory.clear()
        told = ", ".join(f"{k} {n}" for k, n in why.most_common(3))
        print(f"{name:<28}{dear / total:>7.2%}  unset {none}  {told}", flush=True)


if __name__ == "__main__":
    main()
