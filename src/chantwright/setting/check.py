"""Look through the formula books for mistakes, and say them in the trade's words.

What is checked comes from the tones' own table (compass, cadence notes, finals) and from common
practice: a cadence holds its last syllable, no syllable leaps more than a fourth, the drone is
never a step away from a note on which everybody rests.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path

from chantwright.errors import ChantError
from chantwright.rows import CONFIDENCE, Rows, load_rows
from chantwright.setting.book import Book, Formula, book_rows, read_books
from chantwright.setting.check_style import CADENCES, missing, style_faults
from chantwright.setting.finding import doubt as _doubt
from chantwright.setting.finding import wrong as _wrong
from chantwright.setting.slots import Slot
from chantwright.tones import Branch, Finding, Tones, load_tones
from chantwright.tuning import degree_name

__all__ = ["check_books", "check_formula", "shape_of"]

_LEAP = 3


def shape_of(slots: Sequence[Slot]) -> str:
    """Return the shape of a cadence as its slots tell it; empty when they tell none."""
    kinds = [s.kind for s in slots]
    if "S" not in kinds:
        return "any"
    last = len(kinds) - 1 - kinds[::-1].index("S")
    after = sum(s.least for s in slots[last + 1 :])
    most_one = len(slots) - last - 1 <= 1
    if after == 0 and last == len(kinds) - 1:
        return "11" if last > 0 and kinds[last - 1] == "S" else "1"
    if after == 1 and most_one:
        return "10"
    return "100" if after >= 2 else ""


def _name(degrees: Iterable[int]) -> str:
    return ", ".join(degree_name(d) for d in degrees)


def _notes(formula: Formula, branch: Branch) -> Iterator[Finding]:
    low, high = branch.wide
    before: int | None = None
    for slot in formula.slots:
        inside: int | None = None
        for note in slot.notes:
            degree = note.degree
            if degree is None:
                before = inside = None
                continue
            if not low <= degree <= high:
                yield _wrong(
                    formula.row,
                    f"{degree_name(degree)} lies outside the compass of {branch.id} "
                    f"({degree_name(low)} to {degree_name(high)}).",
                    "Move the figure, or widen the branch's compass.",
                )
            if before is not None and abs(degree - before) > _LEAP:
                yield _wrong(
                    formula.row,
                    f"it leaps more than a fourth, from {degree_name(before)} to "
                    f"{degree_name(degree)}.",
                    "Fill the leap.",
                )
            if inside == degree:
                yield _doubt(
                    formula.row,
                    f"one syllable sings {degree_name(degree)} twice in a row.",
                    "Write one longer note.",
                )
            before = inside = degree
        yield from _beats(formula, slot)


def _beats(formula: Formula, slot: Slot) -> Iterator[Finding]:
    """Whether a syllable fills whole beats, and no long note begins between two of them."""
    at = Fraction(0)
    for note in slot.notes:
        if note.beats >= 1 and at.denominator != 1:
            yield _doubt(
                formula.row,
                "a note of a beat or more begins between two beats.",
                "Let notes of half a beat come in pairs.",
            )
            return
        at += note.beats
    if at.denominator != 1:
        yield _wrong(
            formula.row, f"a syllable lasts {at} beats.", "Fill whole beats: half beats in pairs."
        )


def _cadence(formula: Formula, branch: Branch) -> Iterator[Finding]:
    row, role, close = formula.row, formula.role, formula.cadence
    last = formula.slots[-1]
    if last.stretches or last.least == 0:
        yield _wrong(row, "its last slot may take no syllable or many.", "Let it take just one.")
    if last.beats < 2:
        yield _wrong(
            row,
            f"a cadence holds its last syllable; here it has {last.beats} beat(s).",
            "Give it at least 2 beats.",
        )
    kinds = {
        "medial": (branch.incomplete, "medial closes"),
        "full": (branch.complete, "full closes"),
        "final": (branch.final, "the end"),
        "long": (branch.final, "the end"),
        "vmed": ((*branch.incomplete, *branch.dominating), "medial closes"),
        "vfin": (branch.final, "the end"),
    }
    allowed, what = kinds[role]
    if close not in allowed:
        yield _wrong(
            row,
            f"it closes on {degree_name(close)}, but the tones' table for {branch.id} has "
            f"{_name(allowed)} for {what}.",
            "Close on one of those, or add the note to the branch.",
        )
    shape = shape_of(formula.slots)
    if not formula.shape:
        yield _wrong(row, "a cadence has no shape.", f"Write shape = “{shape}”.")
    elif formula.shape != shape and "any" not in (formula.shape, shape):
        yield _wrong(
            row,
            f"its shape is {formula.shape}, but its slots end as {shape or 'none we know'}.",
            "Correct the shape or the slots.",
        )


def _ison(formula: Formula, branch: Branch) -> Iterator[Finding]:
    if not formula.ison:
        return
    count = len(formula.slots)
    if len(formula.ison) not in (1, count):
        yield _wrong(
            formula.row,
            f"it has {count} slots but {len(formula.ison)} notes of ison.",
            "Write one for each slot, or one for all.",
        )
        return
    low, high = branch.wide
    for held in formula.ison:
        if not low - 7 <= held <= high:
            yield _wrong(formula.row, f"an ison on {degree_name(held)} lies too far away.")
    rests = formula.role in CADENCES
    if rests and (formula.ison[-1] - formula.cadence) % 7 in (1, 6):
        yield _wrong(
            formula.row,
            f"the ison {degree_name(formula.ison[-1])} lies a step away from "
            f"{degree_name(formula.cadence)}, on which everybody rests.",
            "Let the drone join or keep a consonant note.",
        )


def _formula(formula: Formula, branch: Branch) -> Iterator[Finding]:
    yield from _notes(formula, branch)
    if formula.role in CADENCES:
        yield from _cadence(formula, branch)
    yield from _ison(formula, branch)
    yield from style_faults(formula, branch)
    if formula.weight < 0:
        yield _wrong(formula.row, "its weight is below 0.", "Use 0 for the best-loved formula.")
    if formula.conf not in CONFIDENCE:
        yield _wrong(
            formula.row, f"“{formula.conf}” is not a confidence.", f"Use {', '.join(CONFIDENCE)}."
        )
    if not any(formula.src):
        yield _doubt(formula.row, "it names no source.", "Write src = “...”.")


def _against(book: Book, branch: Branch) -> Iterator[Finding]:
    """What a book says against the tones' table."""
    row = book.row
    if book.scale != branch.scale:
        yield _wrong(row, f"it is written in {book.scale}, but the branch sings in {branch.scale}.")
    if book.tone != branch.tone:
        yield _wrong(row, f"it says tone {book.tone}, but the branch is of tone {branch.tone}.")
    low, high = branch.wide
    for degree in book.reciting:
        if not low <= degree <= high:
            yield _wrong(row, f"it recites on {degree_name(degree)}, outside the compass.")
    lists = (
        ("medial", book.medial, branch.incomplete),
        ("full", book.full, branch.complete),
        ("final", book.final, branch.final),
    )
    for what, told, allowed in lists:
        for degree in sorted(set(told) - set(allowed)):
            yield _wrong(
                row,
                f"it lists {degree_name(degree)} for {what} closes, but the tones' table has "
                f"{_name(allowed)}.",
            )
        sung = {f.cadence for f in book.role(what)}
        for degree in sorted(sung - set(told)):
            yield _doubt(row, f"a {what} cadence closes on {degree_name(degree)}, unlisted here.")


def _twice(book: Book) -> Iterator[Finding]:
    """Rows that say the same."""
    for role, group in book.formulas.items():
        seen: dict[tuple[Slot, ...], str] = {}
        for formula in group:
            if formula.slots in seen:
                yield _doubt(
                    formula.row,
                    f"it is the same {role} as “{seen[formula.slots]}”.",
                    "Take one of them out.",
                )
            seen.setdefault(formula.slots, formula.id)


def _prices(rows: Rows) -> Iterator[Finding]:
    known = load_rows("chantwright.setting", ("weights.toml",), tables=("weight",))["weight"]
    for row in rows.get("weight", {}).values():
        if row.id not in known:
            yield _doubt(row, "the setter knows no such price.", "Check the spelling of its id.")
        for key in ("value", "verses", "middle"):
            value = row.get(key, 0)
            if isinstance(value, int | float) and value < 0:
                yield _wrong(row, f"its {key} is below 0.", "Prices are 0 or more.")


def check_books(overrides: Iterable[Path] = (), tones: Tones | None = None) -> list[Finding]:
    """Check the formula books, ours with the parish's rows over them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files.
    tones : Tones, optional
        The tones to check against; loaded with the same files when left out.

    Returns
    -------
    list of Finding
        Empty when everything is in order.
    """
    paths = tuple(overrides)
    try:
        rows = book_rows(paths)
        known = load_tones(paths) if tones is None else tones
    except ChantError as exc:
        return [Finding("wrong", exc.where, exc.what, exc.remedy)]
    books, wrong = read_books(rows)
    found = [Finding("wrong", e.where, e.what, e.remedy) for e in wrong]
    for name, book in books.books.items():
        branch = known.branches.get(name)
        if branch is None:
            found.append(_wrong(book.row, f"the tones have no branch “{name}”."))
            continue
        for group in book.formulas.values():
            for formula in group:
                found += _formula(formula, branch)
        found += [*missing(book, branch), *_against(book, branch), *_twice(book)]
    found += _prices(rows)
    return found


def check_formula(formula: Formula, branch: Branch) -> list[Finding]:
    """Check one formula against its branch."""
    return list(_formula(formula, branch))
