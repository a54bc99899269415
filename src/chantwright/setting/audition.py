"""One formula row tried on words: set with it, checked in the trade's words, ready to be heard.

The row is one of a book, or one of a book with its slots changed, or a new one. Nothing of ours is
ever written: a row worth keeping goes into a file of the parish folder as the text of
`Audition.row_text`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from chantwright.errors import ChantError, Where
from chantwright.rows import PARISH, Row, Rows
from chantwright.score import Hymn, Phrase, Syllable
from chantwright.score.model import Cadence
from chantwright.setting.book import VERSE_ROLES, Books, Formula, read_books
from chantwright.setting.check import check_formula
from chantwright.setting.setter import Setting, set_hymn
from chantwright.tones import Finding, Tones

__all__ = ["Audition", "audition", "changed_rows"]

_WANTED = -20.0
"""Price of the formula on trial, so that the setter surely takes it where it fits."""


@dataclass(frozen=True, slots=True)
class Audition:
    """A formula on trial.

    Attributes
    ----------
    formula : Formula
        As it was read.
    setting : Setting
        The words set with it; its own weight is not the row's.
    findings : tuple of Finding
        What is wrong or doubtful about it.
    row_text : str
        The row as it would stand in a parish file.
    """

    formula: Formula
    setting: Setting
    findings: tuple[Finding, ...]
    row_text: str


def changed_rows(rows: Rows, name: str, changes: Mapping[str, Any]) -> Rows:
    """Rows with one formula row changed or added.

    Parameters
    ----------
    rows : Rows
        From `chantwright.setting.book.book_rows`.
    name : str
        Id of the row.
    changes : mapping
        Fields to lay over it.
    """
    formulas = dict(rows.get("formula", {}))
    old = formulas.get(name)
    values = {**(old.values if old is not None else {"id": name}), **changes}
    own = tuple(dict.fromkeys((*(old.own_fields if old is not None else ()), *changes)))
    where = old.where if old is not None else Where("(the row on trial)")
    origin = PARISH if changes or old is None else old.origin
    formulas[name] = Row("formula", name, values, origin, where, own)
    return {**rows, "formula": formulas}


def _row_text(row: Row) -> str:
    """A row as TOML."""
    out = ["[[formula]]", f'id = "{row.id}"']
    for key in ("book", "role", "shape", "slots", "needs_after", "ison", "weight", "conf", "src"):
        value = row.values.get(key)
        if value in (None, ""):
            continue
        if isinstance(value, list | tuple):
            value = " ".join(str(v) for v in value)
        if isinstance(value, str):
            escaped = value.replace("\\", "\\\\").replace('"', '\\"')
            value = f'"{escaped}"'
        out.append(f"{key} = {value}")
    return "\n".join(out) + "\n"


def _with_price(books: Books, formula: Formula, weight: float) -> Books:
    """Books in which one formula has another price, with nothing remembered."""
    book = books.book(formula.book)
    formulas = {
        role: tuple(replace(f, weight=weight) if f.id == formula.id else f for f in group)
        for role, group in book.formulas.items()
    }
    fresh = replace(book, formulas=formulas, memory={})
    return replace(books, books={**books.books, book.id: fresh})


def audition(
    rows: Rows, name: str, words: Phrase, tones: Tones, *, changes: Mapping[str, Any] | None = None
) -> Audition:
    """Try a formula on words.

    Parameters
    ----------
    rows : Rows
        All rows, the parish's laid over ours.
    name : str
        Id of the formula, an old one or a new one.
    words : Phrase
        Divided; it is set as one phrase.
    tones : Tones
        The tones.
    changes : mapping, optional
        Fields of the row to change, such as ``slots``.

    Returns
    -------
    Audition

    Raises
    ------
    ChantError
        If there is no such row and no changes make one, the row cannot be read, or the formula
        cannot be laid on these words.
    """
    if name not in rows.get("formula", {}) and not changes:
        raise ChantError(
            f"there is no formula “{name}”.",
            remedy="Name a row of a formula book, or give the slots of a new one.",
        )
    tried = changed_rows(rows, name, changes or {})
    books, wrong = read_books(tried)
    if wrong:
        raise next((e for e in wrong if f"“{name}”" in e.what), wrong[0])
    row = tried["formula"][name]
    if row.get("off", False):
        raise ChantError(f"the formula “{name}” is switched off.", where=row.where)
    formula = books.book(str(row["book"])).formula(name)
    hymn = _around(formula, words)
    found = set_hymn(
        hymn,
        tones,
        _with_price(books, formula, _WANTED),
        style="verses" if formula.role in VERSE_ROLES else None,
        ending="long" if formula.role == "long" else None,
    )[0]
    found = replace(
        found,
        hymn=replace(found.hymn, phrases=found.hymn.phrases[:1]),
        figures=found.figures[:1],
        terms=found.terms[:1],
        plan=found.plan[:1],
        answers=found.answers[:1],
    )
    if all(f.formula != name for part in found.figures for f in part):
        raise ChantError(
            f"the formula “{name}” cannot be laid on these words.",
            where=Where(word=words.words[:40]),
            remedy=f"Its slots are “{row['slots']}”: give words whose stresses suit them.",
        )
    findings = tuple(check_formula(formula, tones.branch(formula.book)))
    return Audition(formula, found, findings, _row_text(row))


def _around(formula: Formula, words: Phrase) -> Hymn:
    """The words, and an Amen after them where the formula does not stand at the end of a hymn."""
    cadence: Cadence | None = {"vmed": "medial", "medial": "medial", "full": "full"}.get(
        formula.role
    )  # type: ignore[assignment]
    first = replace(words, cadence=cadence, id="")
    if cadence is None:
        return Hymn(branch=formula.book, phrases=(first,))
    amen = Phrase((Syllable("A", "begin"), Syllable("men", "end", 1)))
    return Hymn(branch=formula.book, phrases=(first, amen))
