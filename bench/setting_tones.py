"""Name the tone of a setting from its degrees alone, the scale hidden.

Run: .venv/bin/python bench/setting_tones.py [--texts N] [--style heirmologic|sticheraric]

Each text (three verses of a psalm, King James) is set in the first branch of every tone. A plain
naive-Bayes classifier with add-one smoothing learns the settings of every second text, as groups of
one, two and three notes with the ends of phrases marked, and names the tone of the rest. It is told
twice: once with degrees counted from the base of the branch, so that neither pitch nor scale gives
the tone away; and once with nothing but the steps from note to note, so that base and compass
are hidden as well and only figures are left. The tables show which tones are taken for which.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from figures import FULL, Figure

from chantwright.score import Hymn, Phrase
from chantwright.setting import Setting, load_books, set_hymn
from chantwright.tones import load_tones
from chantwright.words import divide, psalm

_END = 99
Gram = tuple[int, ...]


def texts(count: int) -> list[Hymn]:
    """Every third psalm, three verses of each."""
    found = []
    for number in range(1, 151, 3):
        words = " ".join(psalm(f"{number}:1-3").verses)
        found.append(divide(Hymn(phrases=(Phrase(text=words),))))
        if len(found) == count:
            break
    return found


def _grams(lines: Sequence[Sequence[int]], size: int = 3) -> Iterator[Gram]:
    line = [n for part in lines for n in (_END, *part)] + [_END]
    for length in range(1, size + 1):
        for place in range(len(line) - length + 1):
            yield tuple(line[place : place + length])


def degrees(setting: Setting, base: int) -> list[Gram]:
    return list(
        _grams([[n.degree - base for s in p.syllables for n in s.notes] for p in _sung(setting)])
    )


def steps(setting: Setting, _base: int) -> list[Gram]:
    lines = [[n.degree for s in p.syllables for n in s.notes] for p in _sung(setting)]
    return list(_grams([[b - a for a, b in pairwise(line)] for line in lines]))


def _sung(setting: Setting) -> tuple[Phrase, ...]:
    return setting.hymn.phrases


def judge(
    settings: Sequence[tuple[int, int, Setting, int]], seen: Callable[..., list[Gram]]
) -> tuple[int, int]:
    """Name the tone of every second text; print the table, return how many rightly and of all."""
    told: dict[int, Counter[Gram]] = defaultdict(Counter)
    asked: list[tuple[int, list[Gram]]] = []
    for place, tone, setting, base in settings:
        if place % 2:
            asked.append((tone, seen(setting, base)))
        else:
            told[tone].update(seen(setting, base))
    kinds = len(set().union(*told.values())) + 1
    wholes = {tone: Counter(len(g) for g in c.elements()) for tone, c in told.items()}
    named: dict[int, Counter[int]] = defaultdict(Counter)
    for tone, found in asked:
        scores = {
            t: sum(math.log((c[g] + 1) / (wholes[t][len(g)] + kinds)) for g in found)
            for t, c in told.items()
        }
        named[tone][max(scores, key=lambda t: scores[t])] += 1
    right = sum(named[t][t] for t in named)
    print(f"{seen.__name__}: {right} of {len(asked)} named rightly ({right / len(asked):.1%})")
    print("tone " + "".join(f"{t:>4}" for t in range(1, 9)))
    for tone in sorted(named):
        print(f"{tone:>4} " + "".join(f"{named[tone][t]:>4}" for t in range(1, 9)))
    return right, len(asked)


def all_set(count: int, style: str) -> list[tuple[int, int, Setting, int]]:
    """Set texts in all eight tones."""
    tones, books = load_tones(), load_books()
    settings = []
    for place, hymn in enumerate(texts(count)):
        for tone in range(1, 9):
            branch = tones.default_branch(tone, style)
            done = set_hymn(replace(hymn, tone=tone, branch=branch.id), tones, books)[0]
            settings.append((place, tone, done, branch.base))
    return settings


def figures(size: str) -> Iterator[Figure]:
    """Yield how often the tone is named rightly; by chance it would be one in eight."""
    count = 48 if size == FULL else 24
    settings = all_set(count, "heirmologic")
    for what, seen in (("degrees from the base", degrees), ("steps alone", steps)):
        right, asked = judge(settings, seen)
        yield Figure("setting", f"tone named from {what}", right / asked, least=0.9,
                     peer="chance", peer_value=1 / 8,
                     count=f"{asked} of {count} texts x 8 tones, the other half learnt")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--texts", type=int, default=48)
    parser.add_argument("--style", default="heirmologic")
    given = parser.parse_args()
    settings = all_set(given.texts, given.style)
    print(f"{given.style}, {given.texts} texts x 8 tones, half learnt and half asked")
    judge(settings, degrees)
    judge(settings, steps)


if __name__ == "__main__":
    main()
