"""The knowledge of the neumes, read from its data files.

Every table is rows with a source and a confidence; a parish file may replace single rows. Rows of
conditions are turned into tests once, so that a long hymn is quick.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from chantwright.engrave.neumes.model import Sign
from chantwright.rows import Row, Rows, load_rows

__all__ = ["FILES", "TABLES", "Condition", "Form", "Part", "Rule", "Tables", "load_tables", "sign"]

FILES = ("signs.toml", "steps.toml", "times.toml", "rules.toml", "marks.toml")
TABLES = (
    "neume_sign",
    "neume_step",
    "neume_part",
    "neume_length",
    "neume_time",
    "neume_part_place",
    "neume_quality",
    "neume_form",
    "neume_pair",
    "neume_quality_place",
    "martyria",
    "phthora",
    "genus",
    "mode_sign",
    "tempo_sign",
)
PLACES = ("base", "joined", "right", "above", "above_left", "above_right", "below", "before")
Facts = Mapping[str, Any]
Condition = Callable[[Facts], bool]


def sign(text: str) -> Sign:
    """Read a sign such as ``kentema.right``."""
    name, _, place = text.partition(".")
    return Sign(name, place or "base")


def _one(key: str, wanted: Any) -> Condition:
    if key.endswith("_min"):
        name = key.removesuffix("_min")
        return lambda f: f[name] is not None and f[name] >= wanted
    if key.endswith("_max"):
        name = key.removesuffix("_max")
        return lambda f: f[name] is not None and f[name] <= wanted
    if isinstance(wanted, list):
        choice = tuple(wanted)
        return lambda f: f[key] in choice
    return lambda f: bool(f[key] == wanted)


@dataclass(frozen=True, slots=True)
class Rule:
    """A row with its conditions."""

    row: Row
    tests: tuple[Condition, ...]

    def holds(self, facts: Facts) -> bool:
        """Whether all conditions hold."""
        return all(test(facts) for test in self.tests)

    @classmethod
    def of(cls, row: Row, known: frozenset[str]) -> Rule:
        """Make a rule of a row; an unknown condition is an error that names the row."""
        when = row.get("when", {})
        if not isinstance(when, dict):
            raise row.error("“when” is not a table.", "Write it as: when = { step = 1 }")
        for key in when:
            plain = key.removesuffix("_min").removesuffix("_max")
            if plain not in known:
                raise row.error(
                    f"there is no condition “{key}”.", f"Conditions: {', '.join(sorted(known))}."
                )
        return cls(row, tuple(_one(k, v) for k, v in when.items()))


@dataclass(frozen=True, slots=True)
class Form:
    """How a number of steps is written: its signs, and the steps of each note in it."""

    id: str
    steps: tuple[int, ...]
    signs: tuple[Sign, ...]
    implied: str


@dataclass(frozen=True, slots=True)
class Part:
    """A sign of a shared beat: the lengths of the notes in it, and where they begin."""

    id: str
    parts: tuple[Fraction, ...]
    starts: tuple[Fraction, ...]


FACTS = frozenset(
    {
        "step", "fresh", "stressed", "weak", "beats", "added", "shared", "run", "next_step",
        "next_fresh", "next_same", "next_shared", "next_quality", "came", "before_stress",
        "after_next_step", "after_next_shared", "quality", "base", "compound", "sign",
        "before_base", "before_quality",
        "second_step", "second_fresh", "second_added", "second_sign", "second_shared",
        "second_quality",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tables:
    """All tables of the neumes.

    Attributes
    ----------
    rows : Rows
        As read.
    forms : mapping
        Form id -> form.
    by_signs : mapping
        Signs of quantity -> form.
    parts, by_starts : mapping
        Signs of shared beats by name, and by where the notes in the beat begin.
    time, part_place, quality, form, pair : tuple of Rule
        Rules in order.
    """

    rows: Rows
    forms: Mapping[str, Form]
    by_signs: Mapping[tuple[Sign, ...], Form]
    parts: Mapping[str, Part]
    by_starts: Mapping[tuple[Fraction, ...], Part]
    time: tuple[Rule, ...]
    part_place: tuple[Rule, ...]
    quality: tuple[Rule, ...]
    form: tuple[Rule, ...]
    pair: tuple[Rule, ...]

    def kind(self, name: str) -> str:
        """Kind of a sign: quantity, time, part, slow, quality, rest or accent; empty if unknown."""
        row = self.rows["neume_sign"].get(name)
        return str(row["kind"]) if row is not None else ""


def _fractions(row: Row, key: str) -> tuple[Fraction, ...]:
    try:
        return tuple(Fraction(str(p)) for p in row[key])
    except (ValueError, ZeroDivisionError):
        raise row.error(f"“{key}” are not fractions.", 'Write them as: ["1/2", "1/2"]') from None


def _signs(row: Row, rows: Rows) -> tuple[Sign, ...]:
    found = tuple(sign(str(s)) for s in row["signs"])
    for one in found:
        if one.name not in rows["neume_sign"] or one.place not in PLACES:
            raise row.error(
                f"there is no sign “{one}”.", f"Places are: {', '.join(PLACES)}; see signs.toml."
            )
    return found


def _rules(rows: Rows, table: str) -> tuple[Rule, ...]:
    return tuple(Rule.of(r, FACTS) for r in rows[table].values() if not r.get("off", False))


@lru_cache(maxsize=8)
def load_tables(overrides: tuple[Path, ...] = ()) -> Tables:
    """Read the tables, a parish's rows laid over ours.

    Parameters
    ----------
    overrides : tuple of Path
        Parish files, later ones winning.

    Raises
    ------
    ChantError
        If a file or a row cannot be used; names it.
    """
    rows = load_rows("chantwright.engrave.neumes", FILES, overrides=overrides, tables=TABLES)
    forms = {}
    for row in rows["neume_step"].values():
        steps = tuple(int(s) for s in row["steps"])
        forms[row.id] = Form(row.id, steps, _signs(row, rows), str(row.get("implied", "")))
    by_signs: dict[tuple[Sign, ...], Form] = {}
    for form in forms.values():
        if form.signs in by_signs:
            raise rows["neume_step"][form.id].error(
                f"it is written just as “{by_signs[form.signs].id}”.",
                "Two numbers of steps may not look alike; change a sign or a place.",
            )
        by_signs[form.signs] = form
    parts = {}
    for row in rows["neume_part"].values():
        lengths = _fractions(row, "parts")
        if sum(lengths) != 1:
            raise row.error("its parts do not add up to one beat.", "Mend the fractions.")
        starts = tuple(sum(lengths[: i + 1], Fraction(0)) for i in range(len(lengths) - 1))
        parts[row.id] = Part(row.id, lengths, starts)
    return Tables(
        rows,
        forms,
        by_signs,
        parts,
        {p.starts: p for p in parts.values()},
        _rules(rows, "neume_time"),
        _rules(rows, "neume_part_place"),
        _rules(rows, "neume_quality"),
        _rules(rows, "neume_form"),
        _rules(rows, "neume_pair"),
    )
