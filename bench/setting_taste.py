"""How soon the setter learns which formulas a teacher likes.

Run: .venv/bin/python bench/setting_taste.py [--seeds 11 12 13 14] [--choices 30]

A teacher is simulated: of the openings, outlines and cadences of each kind he likes a third, drawn
by a seed, and of two settings he always takes the one with more of them. He chooses between the
first setting and another of one half of the texts; then the other half is set. Printed before and
after: the share of formulas used that he likes, and how often of two settings of an unseen text,
made without him, the cheaper one is the one he would take (those he likes alike are left out). A
teacher who tosses a coin is beside him: he must teach nothing.

The constants in `chantwright.setting.liking` are first guesses; they were not tuned.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from setting_texts import texts

from chantwright.score import Hymn
from chantwright.setting import (
    Book,
    Books,
    Setting,
    learn,
    load_books,
    manner,
    preferred,
    set_hymn,
    write_likings,
    write_taste,
)
from chantwright.tones import Tones, load_tones

_ROLES = ("open", "bridge", "medial", "full", "final")
_SITTING = 5
"""Choices between two loadings of the books."""
Taste = Callable[[Setting], float]


def liked(book: Book, luck: random.Random) -> frozenset[str]:
    """A third of the formulas of each kind."""
    return frozenset(
        f.id
        for role in _ROLES
        for f in luck.sample(book.role(role), k=max(1, len(book.role(role)) // 3))
    )


def share(done: Setting, loved: frozenset[str]) -> float:
    """Share of the formulas of a setting that the teacher likes."""
    used = [f.formula for part in done.figures for f in part]
    return sum(u in loved for u in used) / len(used)


def taught(
    hymns: list[Hymn],
    tones: Tones,
    taste: Taste,
    choices: int,
    luck: random.Random,
    *,
    formulas: bool = True,
) -> Books:
    """The books after so many choices, kept in a folder as for a parish."""
    with tempfile.TemporaryDirectory() as folder:
        likings, prices = Path(folder) / "likings.toml", Path(folder) / "prices.toml"
        books = load_books()
        for number in range(choices):
            found = set_hymn(hymns[number % len(hymns)], tones, books, count=4)
            if len(found) < 2:
                continue
            first, *others = found
            pair = sorted((first, luck.choice(others)), key=taste)
            if taste(pair[0]) == taste(pair[1]):
                continue
            left, taken = pair
            if formulas:
                write_likings(likings, preferred(taken, left))
            moved = learn(books, taken, left)
            if moved:
                write_taste(prices, moved, manner(taken))
            if number % _SITTING == _SITTING - 1:
                books = load_books([p for p in (likings, prices) if p.exists()])
        return load_books([p for p in (likings, prices) if p.exists()])


def told(
    hymns: list[Hymn], tones: Tones, before: Books, after: Books, loved: frozenset[str]
) -> tuple[float, float]:
    """Share of liked formulas in the first settings, and agreement over pairs."""
    shares, right, asked = [], 0, 0
    for hymn in hymns:
        shares.append(share(set_hymn(hymn, tones, after)[0], loved))
        pairs = set_hymn(hymn, tones, before, count=3)
        for a, b in pairwise(pairs):
            mine = [_cost(s, after) for s in (a, b)]
            his = [share(s, loved) for s in (a, b)]
            if his[0] != his[1] and mine[0] != mine[1]:
                asked += 1
                right += (mine[0] < mine[1]) == (his[0] > his[1])
    return sum(shares) / len(shares), right / max(1, asked)


def _cost(done: Setting, books: Books) -> float:
    """What a setting costs with other likings."""
    book = books.book(str(done.hymn.branch))
    more = sum(book.formula(f.formula).liking for part in done.figures for f in part)
    return done.cost + more


def main() -> None:
    parser = argparse.ArgumentParser(description="Learning which formulas a teacher likes.")
    parser.add_argument("--seeds", type=int, nargs="+", default=[11, 12, 13, 14])
    parser.add_argument("--choices", type=int, nargs="+", default=[3, 10, 30])
    parser.add_argument("--texts", type=int, default=10, help="unseen texts")
    given = parser.parse_args()
    tones, plain = load_tones(), load_books()
    rows: dict[str, list[tuple[float, float]]] = {}
    for seed in given.seeds:
        tone = 1 + seed % 8
        branch = tones.default_branch(tone, "heirmologic").id
        loved = liked(plain.book(branch), random.Random(seed))
        every = [replace(h, tone=tone) for _, h in texts()]
        random.Random(seed + 1000).shuffle(every)
        seen, unseen = every[: len(every) // 2], every[len(every) // 2 :][: given.texts]
        rows.setdefault("before", []).append(told(unseen, tones, plain, plain, loved))

        def his(done: Setting, loved: frozenset[str] = loved) -> float:
            return share(done, loved)

        for choices in given.choices:
            luck = random.Random(seed)
            after = taught(seen, tones, his, choices, luck)
            rows.setdefault(f"{choices} choices", []).append(
                told(unseen, tones, plain, after, loved)
            )
        most = max(given.choices)
        prices = taught(seen, tones, his, most, random.Random(seed), formulas=False)
        rows.setdefault(f"{most}, prices alone", []).append(
            told(unseen, tones, plain, prices, loved)
        )
        coin = random.Random(seed + 1)
        toss = taught(seen, tones, lambda _: coin.random(), most, random.Random(seed))  # noqa: B023
        rows.setdefault(f"{most}, by a coin", []).append(told(unseen, tones, plain, toss, loved))
    print(f"{'':<22} liked formulas used   pairs agreed   (each teacher)")
    for name, found in rows.items():
        used = sum(u for u, _ in found) / len(found)
        agreed = sum(a for _, a in found) / len(found)
        each = "  ".join(f"{u:.2f}/{a:.2f}" for u, a in found)
        print(f"{name:<22} {used:>19.2f} {agreed:>14.2f}   {each}")


if __name__ == "__main__":
    main()
