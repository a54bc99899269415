"""How good a setting is, in figures that can fail.

The figures look only at the finished notes and the stresses of the words, never at the setter's
own prices. `thoughtless` makes the setting to compare with: formulas of the same book laid end to
end at random, in any way their counts allow, deaf to the stresses.

Figures
-------
on_strong
    Share of primary stresses that a formula sings in a stressed slot.
at_least_as_high
    Share of primary stresses at least as high as both neighbours (highest note of each; a
    neighbour that is itself a primary stress does not count against it).
strictly_as_high
    The same, but neighbouring primary stresses count as well.
valleys
    Primary stresses of one beat lower than both neighbours, for each hymn.
leaps
    Intervals wider than a fourth between notes of one phrase, for each hymn.
handled
    Share of pairs of adjacent primary stresses whose first is long (2 beats) or has two notes.
weak_held
    Share of weak syllables inside a phrase that are held 2 beats or more.
distinct
    Different formulas over formulas used.
flat
    Longest run of syllables on one and the same single note.

The figures and the gates set on them are our own; what they stand for (stress heard, no jumps, no
mechanical repeats) is common practice.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from chantwright.score import Hymn, Note, Phrase
from chantwright.setting.book import Book, Formula
from chantwright.setting.setter import Figure, Setting
from chantwright.setting.slots import layings, shortest

__all__ = ["Quality", "measure", "measure_hymn", "thoughtless"]


@dataclass(frozen=True, slots=True)
class Quality:
    """Counts over one or more settings; the shares are properties."""

    hymns: int = 0
    primaries: int = 0
    strong: int = 0
    high: int = 0
    strict: int = 0
    valley: int = 0
    leap: int = 0
    pairs: int = 0
    paired: int = 0
    weak: int = 0
    held: int = 0
    used: int = 0
    different: int = 0
    flat: int = 0

    def __add__(self, other: Quality) -> Quality:
        """Add the counts of two; the longest flat run is the longer one."""
        names = [n for n in self.__dataclass_fields__ if n != "flat"]
        sums = {n: getattr(self, n) + getattr(other, n) for n in names}
        return Quality(flat=max(self.flat, other.flat), **sums)

    @staticmethod
    def _share(part: int, whole: int, empty: float) -> float:
        return part / whole if whole else empty

    @property
    def on_strong(self) -> float:
        """Share of primary stresses in stressed slots."""
        return self._share(self.strong, self.primaries, 1.0)

    @property
    def at_least_as_high(self) -> float:
        """Share of primary stresses no lower than their weak neighbours."""
        return self._share(self.high, self.primaries, 1.0)

    @property
    def strictly_as_high(self) -> float:
        """Share of primary stresses no lower than any neighbour."""
        return self._share(self.strict, self.primaries, 1.0)

    @property
    def valleys(self) -> float:
        """Short primary stresses in a valley, for each hymn."""
        return self._share(self.valley, self.hymns, 0.0)

    @property
    def leaps(self) -> float:
        """Intervals wider than a fourth, for each hymn."""
        return self._share(self.leap, self.hymns, 0.0)

    @property
    def handled(self) -> float:
        """Share of adjacent stresses with a long or figured first."""
        return self._share(self.paired, self.pairs, 1.0)

    @property
    def weak_held(self) -> float:
        """Share of inner weak syllables that are held."""
        return self._share(self.held, self.weak, 0.0)

    @property
    def distinct(self) -> float:
        """Different formulas over formulas used."""
        return self._share(self.different, self.used, 1.0)

    def figures(self) -> dict[str, float]:
        """All figures by name."""
        return {
            "on_strong": self.on_strong,
            "at_least_as_high": self.at_least_as_high,
            "strictly_as_high": self.strictly_as_high,
            "valleys": self.valleys,
            "leaps": self.leaps,
            "handled": self.handled,
            "weak_held": self.weak_held,
            "distinct": self.distinct,
            "flat": float(self.flat),
        }


def _top(notes: Iterable[Note]) -> int:
    return max(n.degree for n in notes)


def _phrase(phrase: Phrase) -> Quality:
    syllables = phrase.syllables
    tops = [_top(s.notes) for s in syllables]
    end = len(syllables) - 1
    primaries = high = strict = valley = pairs = paired = weak = held = 0
    for place, syllable in enumerate(syllables):
        near = [p for p in (place - 1, place + 1) if 0 <= p <= end]
        if syllable.stress == 1:
            primaries += 1
            strict += all(tops[place] >= tops[p] for p in near)
            high += all(tops[place] >= tops[p] or syllables[p].stress == 1 for p in near)
            low = len(near) == 2 and all(tops[place] < tops[p] for p in near)
            valley += low and syllable.beats <= 1
            if place < end and syllables[place + 1].stress == 1:
                pairs += 1
                paired += syllable.beats >= 2 or len(syllable.notes) > 1
        elif syllable.stress == 0 and place < end:
            weak += 1
            held += syllable.beats >= 2
    line = [n.degree for s in syllables for n in s.notes]
    leap = sum(abs(b - a) > 3 for a, b in pairwise(line))
    flat = run = 0
    last: int | None = None
    for syllable in syllables:
        degree = syllable.notes[0].degree if len(syllable.notes) == 1 else None
        run = run + 1 if degree is not None and degree == last else int(degree is not None)
        last = degree
        flat = max(flat, run)
    return Quality(
        primaries=primaries,
        high=high,
        strict=strict,
        valley=valley,
        leap=leap,
        pairs=pairs,
        paired=paired,
        weak=weak,
        held=held,
        flat=flat,
    )


def measure_hymn(hymn: Hymn) -> Quality:
    """Measure the melody of a hymn, ours or the teacher's; formulas are not counted."""
    total = Quality(hymns=1)
    for phrase in hymn.phrases:
        if phrase.is_set:
            total += _phrase(phrase)
    return total


def measure(setting: Setting, book: Book) -> Quality:
    """Measure a setting with its formulas.

    Parameters
    ----------
    setting : Setting
        The setting.
    book : Book
        The book it was set from.

    Returns
    -------
    Quality
        Counts; add several together for a whole.
    """
    ids = [f.formula for part in setting.figures for f in part]
    strong = 0
    for phrase, figures in zip(setting.hymn.phrases, setting.figures, strict=True):
        for figure in figures:
            formula = book.formula(figure.formula)
            covered = phrase.syllables[figure.first : figure.last + 1]
            if figure.slots:
                kinds = (formula.slots[i].kind for i in figure.slots)
                strong += sum(
                    s.stress == 1 and kind in ("S", "a")
                    for s, kind in zip(covered, kinds, strict=True)
                )
            else:
                strong += _on_strong(formula, [(s.stress, s.notes) for s in covered])
    return measure_hymn(setting.hymn) + Quality(
        strong=strong, used=len(ids), different=len(set(ids))
    )


def _on_strong(formula: Formula, covered: Sequence[tuple[int, tuple[Note, ...]]]) -> int:
    """Primary stresses in stressed slots, by the laying whose notes were sung."""
    best = 0
    for laying in layings(formula.slots, len(covered)):
        fits = all(
            len(formula.slots[i].notes) == len(notes)
            and all(
                slot.beats == note.beats and slot.degree in (None, note.degree)
                for slot, note in zip(formula.slots[i].notes, notes, strict=True)
            )
            for i, (_, notes) in zip(laying, covered, strict=True)
        )
        if fits:
            hits = sum(
                stress == 1 and formula.slots[i].kind in ("S", "a")
                for i, (stress, _) in zip(laying, covered, strict=True)
            )
            best = max(best, hits)
    return best


def _tile(
    book: Book, count: int, role: str, luck: random.Random
) -> list[tuple[Formula, tuple[int, ...]]]:
    """Lay formulas end to end on so many syllables, at random."""
    cadences = [f for f in book.role(role) if shortest(f.slots) <= count]
    while True:
        cadence = luck.choice(cadences)
        tail = luck.randint(shortest(cadence.slots), min(count, shortest(cadence.slots) + 3))
        laid = layings(cadence.slots, tail)
        if laid:
            break
    parts = [(cadence, luck.choice(laid))]
    left = count - tail
    head: list[tuple[Formula, tuple[int, ...]]] = []
    kinds = book.role("open")
    while left:
        fits = [f for f in kinds if shortest(f.slots) <= left] or [
            f for f in book.role("bridge") if shortest(f.slots) <= left
        ]
        formula = luck.choice(fits)
        size = luck.randint(shortest(formula.slots), min(left, shortest(formula.slots) + 3))
        ways = layings(formula.slots, size)
        kinds = book.role("bridge")
        if ways:
            head.append((formula, luck.choice(ways)))
            left -= size
    return head + parts


def thoughtless(hymn: Hymn, book: Book, base: int, seed: int) -> Setting:
    """Set a divided hymn by formulas at random, deaf to the stresses.

    Parameters
    ----------
    hymn : Hymn
        Divided.
    book : Book
        Formulas.
    base : int
        Degree before the first note.
    seed : int
        The same seed gives the same setting.

    Returns
    -------
    Setting
        Without ison, prices or report of terms.
    """
    luck = random.Random(seed)
    phrases = []
    figures = []
    held = base
    end = len(hymn.phrases) - 1
    for place, phrase in enumerate(hymn.phrases):
        role = "final" if place == end else luck.choice(("medial", "full"))
        syllables = []
        used = []
        at = 0
        for formula, laying in _tile(book, len(phrase.syllables), role, luck):
            used.append(Figure(formula.id, formula.role, at, at + len(laying) - 1, slots=laying))
            for index in laying:
                notes = []
                for note in formula.slots[index].notes:
                    held = held if note.degree is None else note.degree
                    notes.append(Note(held, note.beats))
                syllables.append(replace(phrase.syllables[at], notes=tuple(notes)))
                at += 1
        phrases.append(replace(phrase, syllables=tuple(syllables)))
        figures.append(tuple(used))
    done = replace(hymn, phrases=tuple(phrases))
    return Setting(done, tuple(figures), 0.0, ((),) * len(phrases))
