"""Count what a chanter reading a setting would strike out, phrase by phrase.

Run: .venv/bin/python bench/setting_objections.py [--texts N] [--style hymn|middle] [--show N]
     [--branch BRANCH]

The setter is blind to most of these: they are read off the notes afterwards. A phrase counts once,
however much is wrong with it. What is struck out (from memory of how teachers correct settings):

same foot     three feet in a row on the same notes
one height    four stresses in a row with the same highest note
flat          more than five syllables in a row on one note
two leaps     two leaps of a third or more one after the other in the same direction
low stress    a stress a third or more below the weak syllable just before it
climb         three or more weak syllables that climb by step into a stress
leap left     a leap of a fourth or more, a further step the same way, and no turning back
far entry     a phrase that begins a fifth or more from the end of the one before
weak figure   two notes on a weak syllable inside a phrase (fast style only)
poor          nine syllables or more on three notes or fewer
same close    the same last three syllables, note for note, as one of the two phrases before
worn figure   the same four notes or more on two stresses of a phrase, or four of three phrases
same head     the same first four notes (middle style: six) as one of the two phrases before

Struck out as well, since hymns in tones 3, 6, 7 and 8 were read aloud (`LATER`); the figure without
these is printed beside, so that it compares with older ones:

light peak    a light or weak syllable higher than every main stress of the phrase
light leap    a leap of a fourth or more up to a light stress
weak leap     a leap of a fourth or more up to a weak syllable
rocking       six notes in a row that go to and fro between two (fast style only)
same turn     two figured stresses, one after the other, with the same notes (fast style only)
busy          four stresses in a row with two notes or more each (fast style only)
worn close    the same last three syllables, note for note, for the third time in the hymn
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from setting_texts import texts

from chantwright.score import Phrase, Syllable
from chantwright.setting import Setting, load_books, set_hymn, syllable_text
from chantwright.tones import load_tones

LATER = frozenset(
    ("light peak", "light leap", "weak leap", "rocking", "same turn", "busy", "worn close")
)
_FLAT = 5
_PEERS = 4
_FEET = 3


def _degrees(syllable: Syllable) -> tuple[int, ...]:
    return tuple(n.degree for n in syllable.notes)


def _feet(sung: Sequence[Syllable]) -> list[tuple[tuple[int, ...], ...]]:
    feet: list[list[tuple[int, ...]]] = []
    for syllable in sung:
        if syllable.stress == 1:
            feet.append([])
        if feet:
            feet[-1].append(_degrees(syllable))
    return [tuple(f) for f in feet]


def _runs(sung: Sequence[Syllable]) -> Iterator[str]:
    feet = _feet(sung)
    if any(len(set(feet[i : i + _FEET])) == 1 for i in range(len(feet) - _FEET + 1)):
        yield "same foot"
    tops = [max(_degrees(s)) for s in sung if s.stress == 1]
    if any(len(set(tops[i : i + _PEERS])) == 1 for i in range(len(tops) - _PEERS + 1)):
        yield "one height"
    run = 1
    for a, b in pairwise(sung):
        run = run + 1 if set(_degrees(a)) == set(_degrees(b)) and len(set(_degrees(a))) == 1 else 1
        if run > _FLAT:
            yield "flat"
            break
    if len(sung) >= 9 and len({d for s in sung for d in _degrees(s)}) <= 3:
        yield "poor"


def _leaps(sung: Sequence[Syllable]) -> Iterator[str]:
    notes = [d for s in sung for d in _degrees(s)]
    steps = [b - a for a, b in pairwise(notes)]
    if any(abs(a) >= 2 and abs(b) >= 2 and a * b > 0 for a, b in pairwise(steps)):
        yield "two leaps"
    three = zip(steps, steps[1:], [*steps[2:], 0], strict=False)
    if any(abs(a) >= 3 and a * b > 0 and a * c >= 0 for a, b, c in three):
        yield "leap left"


def _stresses(sung: Sequence[Syllable], *, middle: bool) -> Iterator[str]:
    for i, syllable in enumerate(sung):
        if syllable.stress != 1:
            continue
        weak = i and sung[i - 1].stress == 0
        if weak and max(_degrees(syllable)) <= _degrees(sung[i - 1])[-1] - 2:
            yield "low stress"
        before = [max(_degrees(s)) for s in sung[max(0, i - 3) : i] if s.stress == 0]
        climb = [*before, max(_degrees(syllable))]
        if len(before) == 3 and all(b > a for a, b in pairwise(climb)):
            yield "climb"
    if not middle and any(len(s.notes) > 1 and s.stress == 0 for s in sung[:-1]):
        yield "weak figure"


def _lights(sung: Sequence[Syllable]) -> Iterator[str]:
    main = [max(_degrees(s)) for s in sung if s.stress == 1]
    if main and max(d for s in sung for d in _degrees(s)) > max(main):
        yield "light peak"
    for a, b in pairwise(sung):
        if b.stress != 1 and _degrees(b)[0] - _degrees(a)[-1] >= 3:
            yield "light leap" if b.stress else "weak leap"


def _turns(sung: Sequence[Syllable]) -> Iterator[str]:
    notes = [d for s in sung for d in _degrees(s)]
    moves = [b for a, b in pairwise([None, *notes]) if a != b]
    back = [a == b for a, b in zip(moves, moves[2:], strict=False)]
    if any(all(back[i : i + 4]) for i in range(len(back) - 3)):
        yield "rocking"
    stresses = [_degrees(s) for s in sung if s.stress]
    if any(all(len(d) > 1 for d in stresses[i : i + 4]) for i in range(len(stresses) - 3)):
        yield "busy"
    figures = [d for d in stresses[:-1] if len(d) > 1]
    if any(a == b for a, b in pairwise(figures)):
        yield "same turn"


def _words(phrase: Phrase) -> list[str]:
    """Syllables without case and marks: “soul:” and “soul,” are the same word to sing."""
    return [s.text.lower().strip(" .,;:!?’'") for s in phrase.syllables]


def objections(phrase: Phrase, before: Sequence[Phrase], *, middle: bool = False) -> set[str]:
    """What is struck out in a phrase, given those sung before it."""
    sung = phrase.syllables
    found = {*_runs(sung), *_leaps(sung), *_stresses(sung, middle=middle), *_lights(sung)}
    if not middle:
        found.update(_turns(sung))
    if before:
        entry = sung[0].notes[0].degree - before[-1].syllables[-1].notes[-1].degree
        if abs(entry) >= 4:
            found.add("far entry")
    rich = [_degrees(s) for p in (*before[-2:], phrase) for s in p.syllables[:-1]]
    here = Counter(_degrees(s) for s in sung[:-1] if len(s.notes) >= 4)
    if any(n >= 2 or rich.count(figure) >= 4 for figure, n in here.items()):
        found.add("worn figure")
    words = _words(phrase)
    for other in before[-2:]:
        like = _words(other)
        tail = [_degrees(s) for s in sung[-3:]]
        if tail == [_degrees(s) for s in other.syllables[-3:]] and words[-2:] != like[-2:]:
            found.add("same close")
        size = 6 if middle else 4
        head = [d for s in sung for d in _degrees(s)][:size]
        told = [d for s in other.syllables for d in _degrees(s)][:size]
        if head == told and words[:2] != like[:2] and len(set(head)) > 1:
            found.add("same head")
    closes = [
        [_degrees(s) for s in p.syllables[-3:]] for p in before if _words(p)[-2:] != words[-2:]
    ]
    if closes.count([_degrees(s) for s in sung[-3:]]) >= 2:
        found.add("worn close")
    return found


def _line(phrase: Phrase) -> str:
    return " ".join(syllable_text(s) for s in phrase.syllables)


def told(setting: Setting, *, middle: bool) -> list[set[str]]:
    """What is struck out in each phrase of a setting."""
    phrases = setting.hymn.phrases
    return [objections(p, phrases[:i], middle=middle) for i, p in enumerate(phrases)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--texts", type=int, default=99)
    parser.add_argument("--style", choices=("hymn", "middle"), default="hymn")
    parser.add_argument("--tone", type=int, choices=range(1, 9))
    parser.add_argument("--branch", default="", help="one branch, such as t8.heirmologic_triphonic")
    parser.add_argument("--show", type=int, default=0, help="print so many phrases of each kind")
    args = parser.parse_args()
    tones, books = load_tones(), load_books()
    middle = args.style == "middle"
    every: Counter[str] = Counter()
    total = struck = older = 0
    only = args.tone or (int(args.branch[1]) if args.branch else 0)
    for tone in [only] if only else range(1, 9):
        kinds: Counter[str] = Counter()
        here = bad = old = 0
        for name, hymn in texts()[: args.texts]:
            branch = args.branch or (f"t{tone}.sticheraric" if middle else "")
            asked = replace(hymn, tone=tone, branch=branch)
            setting = set_hymn(asked, tones, books, count=1)[0]
            for phrase, figures, found in zip(
                setting.hymn.phrases, setting.figures, told(setting, middle=middle), strict=True
            ):
                here += 1
                bad += bool(found)
                old += bool(found - LATER)
                for kind in found:
                    kinds[kind] += 1
                    if kinds[kind] <= args.show:
                        print(f"  [{kind}] {name}: {_line(phrase)}")
                        print(f"      {' '.join(f.formula for f in figures)}")
        share = ", ".join(f"{k} {n}" for k, n in kinds.most_common())
        shares = f"{bad / here:.3f}; without the later kinds {old / here:.3f}"
        print(f"tone {tone}: {bad} of {here} phrases struck ({shares}): {share}")
        every += kinds
        total += here
        struck += bad
        older += old
    shares = f"{struck / total:.3f}; without the later kinds {older / total:.3f}"
    print(f"all: {struck} of {total} ({shares}): {dict(every.most_common())}")


if __name__ == "__main__":
    main()
