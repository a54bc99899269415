"""What each style asks of its formulas, and what a book must have.

Fast books have one foot or two to a formula. Middle (sticheraric) books have pictures of up to
seven syllables: a stress takes 2 to 4 beats and 2 to 6 notes, a weak syllable one or two notes. A
long ending begins on the last real stress and its last note is held 4 to 8 beats. Psalm verses
close by the last accent, or on the last four syllables whatever their accents.

All of it is common practice; that medieval psalmody laid its closes on a fixed count of last
syllables is in Strunk's and Troelsgård's writings on psalmody.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from chantwright.setting.book import Book, Formula, fits_after
from chantwright.setting.finding import doubt, wrong
from chantwright.setting.slots import shortest
from chantwright.tones import Branch, Finding
from chantwright.tuning import degree_name

__all__ = ["CADENCES", "missing", "style_faults"]

CADENCES = ("medial", "full", "final", "long", "vmed", "vfin")
_HYMN = ("medial", "full", "final", "long")
_SHAPES = ("1", "10", "100", "11")
_PICTURE = 7
_CURSIVE = 4


def _after(formula: Formula, branch: Branch) -> Iterator[Finding]:
    after = formula.after
    if after is None:
        return
    if formula.role in CADENCES:
        yield wrong(formula.row, "nothing follows a cadence.", "Take needs_after out.")
    low, high = branch.wide
    for degree in sorted(after.degrees):
        if not low <= degree <= high:
            yield wrong(
                formula.row,
                f"it waits for {degree_name(degree)}, outside the compass of {branch.id}.",
            )


def _long(formula: Formula) -> Iterator[Finding]:
    row, slots = formula.row, formula.slots
    stresses = [i for i, s in enumerate(slots) if s.kind == "S"]
    if len(stresses) > 1 + (formula.shape == "11"):
        yield wrong(
            row,
            "a long ending begins on the last stress, and this one holds an earlier one.",
            "Leave the words before it to the setter.",
        )
    if stresses and any(len(s.notes) > 1 for s in slots[: stresses[0]]):
        yield wrong(row, "the words before a long ending stay syllabic.", "Use w*=@ before it.")
    end = slots[-1].notes[-1].beats
    if not 4 <= end <= 8:
        yield wrong(
            row,
            f"its last note is held {end} beats.",
            "Hold the end 4 to 8 beats.",
        )


def _middle(formula: Formula) -> Iterator[Finding]:
    """What the middle style asks, beside the plain filler."""
    row, slots = formula.row, formula.slots
    if formula.role == "picture":
        if any(s.stretches for s in slots):
            yield wrong(row, "a picture is fixed, and this one stretches.", "Leave out * and +.")
        most = sum(s.most or 1 for s in slots)
        if most > _PICTURE:
            yield wrong(row, f"it covers {most} syllables.", f"Keep to {_PICTURE}.")
    for slot in slots[:-1] if formula.role in CADENCES else slots:
        count = len(slot.notes)
        if slot.kind == "S" and not (2 <= slot.beats <= 4 and count <= 6):
            yield wrong(
                row,
                f"a stress has {slot.beats} beat(s) and {count} notes.",
                "Give it 2 to 4 beats and no more than 6 notes.",
            )
        if slot.kind == "w" and (count > 2 or slot.beats > 2):
            yield wrong(
                row, f"a weak syllable has {count} notes, {slot.beats} beats.", "Give it 1 or 2."
            )


def style_faults(formula: Formula, branch: Branch) -> Iterator[Finding]:
    """Yield what a formula does against its role and style."""
    yield from _after(formula, branch)
    if formula.role == "long":
        yield from _long(formula)
    middle = branch.style == "sticheraric"
    if formula.role == "picture" and not middle:
        yield wrong(
            formula.row,
            "pictures belong to the middle style.",
            "Write it as a bridge, or give it to a sticheraric book.",
        )
    if middle and formula.role in ("open", "picture", "medial", "full", "final"):
        yield from _middle(formula)


def _shapes(book: Book, roles: tuple[str, ...]) -> Iterator[Finding]:
    for role in roles:
        found = {f.shape for f in book.role(role)}
        for shape in _SHAPES:
            if shape not in found:
                yield wrong(
                    book.row, f"it has no {role} cadence of shape {shape}.", "Add a formula row."
                )
        if found and all(shortest(f.slots) > 1 for f in book.role(role)):
            yield wrong(
                book.row,
                f"no {role} cadence can be sung on a single syllable.",
                "Add one such as w*=@ S=...",
            )


def _finals(book: Book) -> Iterator[Finding]:
    strong = [f for f in book.role("final") if f.shape == "1"]
    if len(strong) < 3:
        yield doubt(
            book.row,
            "it has fewer than three finals for a strong end.",
            "English ends on a stress very often: add one.",
        )
    worn = Counter(tuple(n.degree for n in f.slots[-1].notes) for f in strong)
    if strong and max(worn.values()) > 3 and max(worn.values()) * 2 > len(strong):
        yield doubt(
            book.row,
            "most of its strong finals end with the same notes.",
            "Vary the end.",
        )
    for role in ("full", "final"):
        if not any(_broad(f) for f in book.role(role)):
            yield doubt(
                book.row,
                f"no {role} cadence of shape 100 has the foot of 2 + 1 + 1 beats.",
                "Add one such as w*=@ S=ga:2 w=vou w=pa:2.",
            )


def _broad(formula: Formula) -> bool:
    """Whether it ends with a stress of two beats or more and two weak slots, the first of one."""
    tail = formula.slots[-3:]
    return (
        [s.kind for s in tail] == ["S", "w", "w"]
        and tail[0].notes[0].beats == 2
        and tail[1].beats == 1
    )


def _heads(formula: Formula, held: int | None) -> Iterator[tuple[int | None, float, bool]]:
    """First syllables a formula may have: degree, beats, and whether it is sung as a stress."""
    for slot in formula.slots:
        degree = slot.notes[0].degree
        yield held if degree is None else degree, float(slot.beats), slot.kind == "S"
        if slot.least:
            return


def _waiting(book: Book) -> Iterator[Finding]:
    """Formulas whose condition no other formula can meet."""
    for formula in (f for g in book.formulas.values() for f in g if f.after is not None):
        following = (
            head
            for role, group in book.formulas.items()
            if role not in ("open", "vopen")
            for other in group
            for head in _heads(other, formula.end)
        )
        if not any(
            degree is not None and fits_after(formula, degree, beats, strong=strong)
            for degree, beats, strong in following
        ):
            yield wrong(
                formula.row,
                "no formula of its book can follow it.",
                "Loosen needs_after, or add a formula that begins so.",
            )


def _verses(book: Book) -> Iterator[Finding]:
    for role in ("vopen", "vfoot"):
        if not book.role(role):
            yield wrong(book.row, f"it has no formula of the role {role}.", "Add a formula row.")
    yield from _shapes(book, ("vmed", "vfin"))
    cursive = [f for f in book.role("vfin") if f.shape == "any"]
    if not any(
        len(f.slots) > _CURSIVE and all(s.kind == "a" and s.least for s in f.slots[-_CURSIVE:])
        for f in cursive
    ):
        yield doubt(
            book.row,
            "it has no close on the last four syllables whatever their accents.",
            "Add one such as w*=@ a=ga a=vou a=ni a=pa:3.",
        )


def missing(book: Book, branch: Branch) -> Iterator[Finding]:
    """Yield what a book lacks."""
    verses = any(book.role(r) for r in ("vopen", "vfoot", "vmed", "vfin"))
    if verses or branch.style == "verses":
        yield from _verses(book)
    yield from _waiting(book)
    if branch.style == "verses":
        return
    for role in ("open", "bridge", *(["picture"] if branch.style == "sticheraric" else [])):
        if not book.role(role):
            yield wrong(book.row, f"it has no formula of the role {role}.", "Add a formula row.")
    yield from _shapes(book, _HYMN)
    yield from _finals(book)
    heads = [f for f in (*book.role("open"), *book.role("picture")) if f.slots[0].kind == "S"]
    if len(heads) < 3:
        yield doubt(
            book.row,
            "fewer than three of its formulas can begin a phrase on a stress.",
            "English phrases often do: add an opening such as S=di w=ga w*=ga.",
        )
