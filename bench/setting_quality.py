"""Print the quality figures of settings beside those of thoughtless tilings.

Run: .venv/bin/python bench/setting_quality.py [--texts N] [--no-patterns] [--no-alternatives]

Texts (`setting_texts`) are psalms of the King James Bible and a few of our own, divided by the
words package, set in the eight default branches. *Thoughtless* is a legal tiling by formulas of the
same books at random, deaf to the stresses. `chantwright.setting.measure` explains the figures.
"""

from __future__ import annotations

import argparse
import itertools
import random
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace

from figures import FULL, Figure
from setting_texts import texts

from chantwright.score import Hymn
from chantwright.setting import Books, Setting, load_books, set_hymn
from chantwright.setting.codes import codes_of
from chantwright.setting.line import Frame
from chantwright.setting.measure import Quality, measure, thoughtless
from chantwright.setting.phrase import best_lines
from chantwright.setting.setter import prices_of
from chantwright.tones import Tones, load_tones

_DEAR = 5.0


def patterns(luck: random.Random) -> list[tuple[int, ...]]:
    """Every pattern of up to seven syllables, and 60 at random of each length up to 16."""
    found = [p for n in range(1, 8) for p in itertools.product((0, 1), repeat=n)]
    for count in range(8, 17):
        found += [tuple(luck.choice((0, 1)) for _ in range(count)) for _ in range(60)]
    return found


def crowded(stress: tuple[int, ...]) -> bool:
    """Whether three stresses stand in a row, which English avoids."""
    return any(all(stress[i : i + 3]) for i in range(len(stress) - 2))


def unlike(a: Setting, b: Setting) -> bool:
    """Whether a third of the phrases are sung to other notes."""
    pairs = zip(a.hymn.phrases, b.hymn.phrases, strict=True)
    other = [[s.notes for s in p.syllables] != [s.notes for s in q.syllables] for p, q in pairs]
    return 3 * sum(other) >= len(other)


def told_of(
    hymns: Sequence[tuple[str, Hymn]], tones: Tones, books: Books, count: int
) -> tuple[dict[str, Quality], Quality, dict[int, list[bool]]]:
    """Measure settings and thoughtless tilings; those of six phrases; and whether ways differ."""
    totals = {"setter": Quality(), "thoughtless": Quality()}
    sixes = Quality()
    three: dict[int, list[bool]] = {tone: [] for tone in range(1, 9)}
    for _, hymn in hymns:
        for tone in range(1, 9):
            branch = tones.default_branch(tone)
            book = books.book(branch.id)
            found = set_hymn(replace(hymn, tone=tone), tones, books, count=count)
            told = measure(found[0], book)
            totals["setter"] += told
            if len(hymn.phrases) >= 6:
                sixes += told
            alike = [p for p in itertools.combinations(found, 2) if not unlike(*p)]
            three[tone].append(len(found) == count and not alike)
            totals["thoughtless"] += measure(thoughtless(hymn, book, branch.base, seed=tone), book)
    return totals, sixes, three


LIMITS = (
    ("on_strong", "primary stresses on strong places", "least", 0.98),
    ("at_least_as_high", "primary stresses as high as both neighbours", "least", 0.93),
    ("valleys", "primary stresses in a valley", "most", 0.0),
    ("leaps", "leaps over a fourth", "most", 0.0),
    ("handled", "neighbouring stresses told apart", "least", 0.9),
    ("weak_held", "weak syllables held inside a phrase", "most", 0.01),
)


def figures(size: str) -> Iterator[Figure]:
    """Yield the figures that have limits, beside those of a thoughtless tiling."""
    hymns = texts() if size == FULL else texts()[::8]
    totals, sixes, three = told_of(hymns, load_tones(), load_books(), 3)
    ours, theirs = totals["setter"].figures(), totals["thoughtless"].figures()
    told = f"{len(hymns)} texts x 8 tones"
    for name, what, sense, limit in LIMITS:
        yield Figure("setting", what, ours[name], **{sense: limit}, peer="thoughtless tiling",
                     peer_value=theirs[name], count=told, seed="1 to 8")  # fmt: skip
    yield Figure("setting", "distinct formulas, six phrases or more", sixes.distinct, least=0.65,
                 count=told)  # fmt: skip
    shares = [sum(v) / len(v) for v in three.values()]
    yield Figure("setting", "three ways unlike in a third, the poorest tone", min(shares),
                 count=told)  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--texts", type=int, default=99)
    parser.add_argument("--no-patterns", action="store_true")
    parser.add_argument("--no-alternatives", action="store_true")
    args = parser.parse_args()
    tones, books = load_tones(), load_books()
    hymns = texts()[: args.texts]
    started = time.process_time()
    totals, sixes, three = told_of(hymns, tones, books, 1 if args.no_alternatives else 3)
    spent = time.process_time() - started
    print(f"{len(hymns)} texts x 8 tones, {spent:.1f} s of one core")
    print(f"{'figure':<20}{'setter':>10}{'thoughtless':>14}")
    for name, value in totals["setter"].figures().items():
        print(f"{name:<20}{value:>10.3f}{totals['thoughtless'].figures()[name]:>14.3f}")
    print(f"distinct, six phrases or more: {sixes.distinct:.3f}")
    if not args.no_alternatives:
        shares = ", ".join(f"{t}: {sum(v) / len(v):.2f}" for t, v in three.items())
        print(f"three settings, every two unlike in a third of the phrases, by tone: {shares}")
    if args.no_patterns:
        return
    prices = prices_of(books)
    every = patterns(random.Random(1))
    print("stress patterns of 1 to 16 syllables: dearer than 5, all / without three in a row")
    for tone in range(1, 9):
        branch = tones.default_branch(tone)
        frame = Frame(branch.base, False, (branch.base, *branch.dominating), branch.usual)
        costs = []
        for stress in every:
            found_lines = best_lines(
                books.book(branch.id), codes_of(stress), ["medial", "full"], frame, prices
            )
            best = min(found_lines[r][0].cost for r in ("medial", "full"))
            costs.append((best > _DEAR, crowded(stress)))
        free = [dear for dear, full in costs if not full]
        share = sum(d for d, _ in costs) / len(costs)
        print(f"  tone {tone}: {share:.3f} / {sum(free) / len(free):.3f}  of {len(costs)}")


if __name__ == "__main__":
    main()
