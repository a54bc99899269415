"""What the ear says, as rows: limits, sizes in words, sentences, and what to practise next.

Every word the singer reads stands in ``data/verdict.toml``; a parish's own rows win.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from chantwright.rows import Row, Rows, load_rows

__all__ = ["Speech", "load_speech"]

_TABLES = ("limit", "hold", "size", "part", "sentence", "practise")


@dataclass(frozen=True, slots=True, eq=False)
class Speech:
    """All rows of the verdict."""

    rows: Rows

    def limit(self, name: str) -> float:
        """Number of the judgement."""
        return float(self.rows["limit"][name]["value"])

    def hold(self, *, known: bool) -> float:
        """Smallest error of a single note that the ear stands by, in moria."""
        return float(self.rows["hold"]["known" if known else "unknown"]["value"])

    def size(self, moria: float) -> str:
        """Words for an amount."""
        return self._worded("size", abs(moria))

    def part(self, share: float) -> str:
        """Words for a part of a whole."""
        return self._worded("part", share)

    def _worded(self, table: str, amount: float) -> str:
        rows = sorted(self.rows[table].values(), key=lambda r: float(r["up_to"]))
        fitting = (r for r in rows if amount <= float(r["up_to"]))
        return str(next(fitting, rows[-1])["words"])

    def say(self, name: str, **values: Any) -> str:
        """Fill in a sentence.

        Raises
        ------
        ChantError
            If the row asks for a value that this sentence has not.
        """
        return _filled(self.rows["sentence"][name], values)

    def practise(self) -> tuple[Row, ...]:
        """What to practise, most urgent first."""
        return tuple(self.rows["practise"].values())

    def advice(self, row: Row, **values: Any) -> str:
        """Fill in what to practise."""
        return _filled(row, values)


def _filled(row: Row, values: dict[str, Any]) -> str:
    try:
        return str(row["text"]).format(**values)
    except (KeyError, IndexError, ValueError, AttributeError, TypeError):
        names = ", ".join(f"{{{v}}}" for v in values) or "nothing"
        raise row.error(
            "its text asks for a value it cannot have.", f"It may use: {names}."
        ) from None


def load_speech(overrides: Iterable[Path] = ()) -> Speech:
    """Read the rows, ours with the parish's laid over them."""
    return Speech(
        load_rows("chantwright.ear", ["verdict.toml"], overrides=overrides, tables=_TABLES)
    )
