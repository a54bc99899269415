"""Formula books: the melodic formulas of each branch, as rows.

A ``[[book]]`` row is one branch of one tone; its ``id`` is the branch's own (``t1.heirmologic``).
A ``[[formula]]`` row belongs to a book and is one old figure: an opening, a bridge (one foot of
plain filler), or a cadence. ``[[weight]]`` rows are the prices of the setter, ``[[light]]`` rows
the small words that never take a stress of their own. A parish file with rows of the same shape
wins row by row.

Conventions
-----------
Roles
    ``open``; ``bridge``; ``picture``; the cadences ``medial``, ``full``, ``final``, ``long``. Psalm
    verses have their own: ``vopen``, ``vfoot``, ``vmed``, ``vfin``. Pictures are the fixed groups
    of the middle style; where a book has them, a bridge stands only at the head of a phrase.
Shape of a cadence
    What follows the last stress: ``1`` nothing, ``10`` one weak syllable, ``100`` two or more,
    ``11`` two stresses side by side at the end; ``any`` asks for nothing.
What must follow
    A formula may stand only where the next syllable suits it (``needs_after``; published
    composition lessons have such conditions). Its words: ``stress`` or ``weak``, ``held`` (two
    beats or more), and note names, of which the next syllable must begin on one.

References
----------
Keying formulas to cadence note and last accents is common practice; so Wellesz, *A History of
Byzantine Music and Hymnography* (the chapter on formulas), and the published handbooks of formulas.
The notes of our rows are from memory of common practice, as each row says.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from chantwright.errors import ChantError
from chantwright.rows import Row, Rows, load_rows
from chantwright.score import Note
from chantwright.setting.slots import Slot, SlotNote, parse_slots, shortest
from chantwright.tuning import degree_name, parse_degree

__all__ = [
    "CADENCE_ROLES",
    "ROLES",
    "SHAPES",
    "VERSE_ROLES",
    "After",
    "Book",
    "Books",
    "Formula",
    "Weight",
    "book_rows",
    "fits_after",
    "load_books",
    "read_books",
]

CADENCE_ROLES = ("medial", "full", "final", "long")
VERSE_ROLES = ("vopen", "vfoot", "vmed", "vfin")
ROLES = ("open", "bridge", "picture", *CADENCE_ROLES, *VERSE_ROLES)
SHAPES = ("1", "10", "100", "11", "any")
_FILES = (
    *(f"tone{n}.toml" for n in range(1, 9)),
    *(f"middle{n}.toml" for n in range(1, 9)),
    "verses.toml",
    "weights.toml",
)
_GROUP = 4
"""Notes on one syllable from which they are heard as a group."""
_TABLES = ("book", "formula", "weight", "light")


@dataclass(frozen=True, slots=True)
class After:
    """What a formula asks of the syllable that follows it.

    Attributes
    ----------
    strong : bool or None
        Whether it must be sung as a stress (or must not be); None asks for nothing.
    held : bool
        Whether it must last two beats or more.
    degrees : frozenset of int
        Degrees on one of which it must begin; empty asks for nothing.
    """

    strong: bool | None = None
    held: bool = False
    degrees: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Formula:
    """One formula.

    Attributes
    ----------
    id, book, role, shape : str
        As in its row; `shape` is empty for openings and bridges.
    slots : tuple of Slot
        What it asks of the syllables.
    weight : float
        Its own price; 0 for what comes first to a chanter's mind.
    ison : tuple of int
        Degree for the drone holders under each slot; empty leaves it to the rules of the ison.
    conf, src, origin : str, tuple of str, str
        How sure we are, from where, ours or the parish's.
    figure : str
        Its outline without pitch.
    lengths : tuple of float
        Beats of a syllable in each slot.
    written : tuple of (tuple of Note or None)
        Notes of each slot; None where a slot holds the note just sung.
    row : Row
        The row itself, for messages.
    after : After or None
        What must follow it; None when anything may.
    names : tuple of str
        What an ear remembers of it: its outline, and every group of four notes or more on one
        syllable, at its pitch.
    """

    id: str
    book: str
    role: str
    shape: str
    slots: tuple[Slot, ...]
    weight: float
    ison: tuple[int, ...]
    conf: str
    src: tuple[str, ...]
    origin: str
    figure: str
    lengths: tuple[float, ...]
    written: tuple[tuple[Note, ...] | None, ...]
    row: Row = field(compare=False, repr=False)
    after: After | None = None
    names: tuple[str, ...] = ()

    @property
    def start(self) -> int | None:
        """First degree written; None where it begins on the note just sung."""
        return self.slots[0].notes[0].degree

    @property
    def end(self) -> int | None:
        """Last degree written."""
        return self.slots[-1].notes[-1].degree

    @property
    def cadence(self) -> int:
        """Degree it closes on (a cadence always writes it)."""
        end = self.end
        return 0 if end is None else end


def fits_after(formula: Formula, first: int, beats: float, *, strong: bool) -> bool:
    """Whether a syllable may follow a formula.

    Parameters
    ----------
    formula : Formula
        The formula before.
    first : int
        Degree on which the next syllable begins.
    beats : float
        Length of the next syllable.
    strong : bool
        Whether it is sung as a stress.
    """
    after = formula.after
    if after is None:
        return True
    return (
        after.strong in (None, strong)
        and (beats >= 2 or not after.held)
        and (not after.degrees or first in after.degrees)
    )


def _written(slot: Slot) -> tuple[Note, ...] | None:
    """Notes of a slot, unless they depend on what was sung before."""
    notes = [Note(n.degree, n.beats) for n in slot.notes if n.degree is not None]
    return tuple(notes) if len(notes) == len(slot.notes) else None


def _outline(slots: Sequence[Slot]) -> str:
    """Outline without pitch: two formulas with the same outline sound like one moved."""
    written = [n.degree for s in slots for n in s.notes if n.degree is not None]
    anchor = written[-1] if written else 0

    def one(note: SlotNote) -> str:
        place = "@" if note.degree is None else str(note.degree - anchor)
        return f"{place}:{note.beats}"

    return " ".join(f"{s.kind}{'+'.join(one(n) for n in s.notes)}" for s in slots)


def _group(slot: Slot) -> str:
    """Notes of a syllable at their pitch, the last without its length, which may be held."""
    return "+".join(f"{n.degree}:{n.beats}" for n in slot.notes[:-1]) + f"+{slot.notes[-1].degree}"


@dataclass(frozen=True, slots=True)
class Book:
    """The formulas of one branch.

    Attributes
    ----------
    id : str
        The branch.
    tone : int
        1 to 8.
    scale : str
        Scale its figures were written for.
    reciting : tuple of int
        Degrees on which words may be recited.
    medial, full, final : tuple of int
        Degrees on which each kind of cadence closes, the first the usual one.
    formulas : mapping of str to tuple of Formula
        Role -> formulas, in the order of the file.
    conf, src : str, tuple of str
        How sure we are, from where.
    """

    id: str
    tone: int
    scale: str
    reciting: tuple[int, ...]
    medial: tuple[int, ...]
    full: tuple[int, ...]
    final: tuple[int, ...]
    formulas: Mapping[str, tuple[Formula, ...]]
    conf: str
    src: tuple[str, ...]
    row: Row = field(compare=False, repr=False)
    memory: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)

    def role(self, name: str) -> tuple[Formula, ...]:
        """Formulas of a role; empty when there are none."""
        return self.formulas.get(name, ())

    def formula(self, name: str) -> Formula:
        """One formula by its id."""
        for group in self.formulas.values():
            for formula in group:
                if formula.id == name:
                    return formula
        raise ChantError(f"the book {self.id} has no formula “{name}”.")


@dataclass(frozen=True, slots=True)
class Weight:
    """A named price of the setter.

    Attributes
    ----------
    id : str
        Name shown in reports.
    value, verses, middle : float
        Price in fast hymns, in psalm verses, and in the middle (sticheraric) style.
    text : str
        What is being paid for, in the trade's words.
    """

    id: str
    value: float
    verses: float
    text: str
    middle: float

    def price(self, style: str) -> float:
        """Price in a style; of hymns when the style has none of its own."""
        return {"verses": self.verses, "sticheraric": self.middle}.get(style, self.value)


@dataclass(frozen=True, slots=True)
class Books:
    """All books, the prices and the light words.

    Attributes
    ----------
    books : mapping of str to Book
        By branch.
    weights : mapping of str to Weight
        By name.
    light : frozenset of str
        Words that are never promoted to a stress.
    """

    books: Mapping[str, Book]
    weights: Mapping[str, Weight]
    light: frozenset[str]

    def book(self, branch: str) -> Book:
        """Return the book of a branch.

        Raises
        ------
        ChantError
            If there is none; names the branches that have one.
        """
        if branch not in self.books:
            raise ChantError(
                f"there is no formula book for “{branch}”.",
                remedy=f"Choose a branch that has one ({', '.join(self.books)}), "
                "or write the melody yourself.",
            )
        return self.books[branch]


def _degrees(row: Row, key: str, default: tuple[str, ...] = ()) -> tuple[int, ...]:
    raw = row.get(key, default)
    if not isinstance(raw, str | list | tuple):
        raise row.error(f"“{key}” is no row of notes.", f'Write for example {key} = ["di", "ga"]')
    words = raw.split() if isinstance(raw, str) else raw
    try:
        return tuple(parse_degree(str(w)) for w in words)
    except ChantError as exc:
        raise row.error(f"{key}: {exc.what}", exc.remedy) from None


def _number(row: Row, key: str, default: float) -> float:
    value = row.get(key, default)
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise row.error(f"“{key}” is not a number.", f"Write for example {key} = 0.5")
    return float(value)


def _after(row: Row) -> After | None:
    words = str(row.get("needs_after", "")).split()
    if not words:
        return None
    notes = [w for w in words if w not in ("stress", "weak", "held")]
    try:
        degrees = frozenset(parse_degree(w) for w in notes)
    except ChantError as exc:
        raise row.error(
            f"needs_after: {exc.what}", "Use stress, weak, held, or note names such as di ga."
        ) from None
    if "stress" in words and "weak" in words:
        raise row.error("needs_after asks for a stress and a weak syllable.", "Keep one of them.")
    strong = True if "stress" in words else False if "weak" in words else None
    return After(strong, "held" in words, degrees)


def _formula(row: Row) -> Formula:
    role, shape = str(row["role"]), str(row.get("shape", ""))
    if role not in ROLES:
        raise row.error(f"“{role}” is not a role.", f"Use one of {', '.join(ROLES)}.")
    if shape and shape not in SHAPES:
        raise row.error(f"“{shape}” is not a shape.", f"Use one of {', '.join(SHAPES)}.")
    slots = parse_slots(row["slots"], row.where)
    end = slots[-1].notes[-1].degree
    if role not in ("open", "bridge", "vopen", "vfoot") and end is None:
        raise row.error(
            "a cadence must write its last note.", "Put a note name instead of @ in its last slot."
        )
    for key, got in (("start", slots[0].notes[0].degree), ("end", end)):
        told = row.get(key)
        old = "slots" in row.own_fields and key not in row.own_fields
        if told is None or old:  # the parish wrote new slots over our row: our start is void
            continue
        same = told == "@" if got is None else told != "@" and _degrees(row, key) == (got,)
        if not same:
            name = "@" if got is None else degree_name(got)
            raise row.error(
                f"it says {key} = {told}, but its slots {key} on {name}.",
                "Correct one of the two.",
            )
    if shortest(slots) == 0:
        raise row.error(
            "it can cover no syllable at all.", "Leave one slot without ? or *, so that it sings."
        )
    return Formula(
        row.id,
        str(row["book"]),
        role,
        shape,
        slots,
        _number(row, "weight", 0.0),
        _degrees(row, "ison"),
        row.conf,
        row.src,
        row.origin,
        _outline(slots),
        tuple(float(s.beats) for s in slots),
        tuple(_written(s) for s in slots),
        row,
        _after(row),
        (_outline(slots), *sorted({_group(s) for s in slots if len(s.notes) >= _GROUP})),
    )


def _book(row: Row, formulas: Mapping[str, Sequence[Formula]]) -> Book:
    tone = row["tone"]
    if not isinstance(tone, int) or not 1 <= tone <= 8:
        raise row.error(f"“{tone}” is not a tone.", "Write tone = 1 to tone = 8.")
    return Book(
        row.id,
        tone,
        str(row["scale"]),
        _degrees(row, "reciting"),
        _degrees(row, "medial"),
        _degrees(row, "full"),
        _degrees(row, "final"),
        {role: tuple(found) for role, found in formulas.items()},
        row.conf,
        row.src,
        row,
    )


def read_books(rows: Rows) -> tuple[Books, list[ChantError]]:
    """Make books of rows; rows that cannot be read are left out and told."""
    wrong: list[ChantError] = []
    grouped: dict[str, dict[str, list[Formula]]] = {b: {} for b in rows.get("book", {})}
    for row in rows.get("formula", {}).values():
        if row.get("off", False):
            continue
        try:
            formula = _formula(row)
            if formula.book not in grouped:
                raise row.error(
                    f"it belongs to the book “{formula.book}”, which does not exist.",
                    f"Use one of {', '.join(grouped)}, or add a [[book]] row.",
                )
        except ChantError as exc:
            wrong.append(exc)
            continue
        grouped[formula.book].setdefault(formula.role, []).append(formula)
    books: dict[str, Book] = {}
    for name, row in rows.get("book", {}).items():
        try:
            books[name] = _book(row, grouped[name])
        except ChantError as exc:
            wrong.append(exc)
    weights: dict[str, Weight] = {}
    for name, row in rows.get("weight", {}).items():
        try:
            value = _number(row, "value", 0.0)
            verses = _number(row, "verses", value)
            middle = _number(row, "middle", value)
        except ChantError as exc:
            wrong.append(exc)
            continue
        weights[name] = Weight(name, value, verses, str(row.get("text", "")), middle)
    return Books(books, weights, frozenset(rows.get("light", {}))), wrong


def book_rows(overrides: Iterable[Path] = ()) -> Rows:
    """Read the rows of all books, the parish's laid over ours."""
    return load_rows("chantwright.setting", _FILES, overrides=overrides, tables=_TABLES)


def load_books(overrides: Iterable[Path] = ()) -> Books:
    """Load our formula books and lay the parish's rows over them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files; a formula row with ``off = true`` is taken out.

    Returns
    -------
    Books

    Raises
    ------
    ChantError
        If a row cannot be read; names the file, the line and the row.
    """
    books, wrong = read_books(book_rows(overrides))
    if wrong:
        raise wrong[0]
    return books
