"""Names of notes as they are printed under and over the staff.

The staff already shows the octave, so the printed letters leave its marks out.
"""

from __future__ import annotations

from functools import cache

from chantwright.engrave.options import Letters, Script
from chantwright.rows import load_rows
from chantwright.score import UNISON, Ison
from chantwright.tuning import degree_name

__all__ = ["ison_text", "letter"]

_MARKS = "'’_,"


@cache
def _table(table: str, row: str) -> dict[str, object]:
    rows = load_rows("chantwright.engrave", ["letters.toml"])
    return dict(rows[table][row].values)


def letter(degree: int, letters: Letters = "byzantine", script: Script = "latin") -> str:
    """Printed name of a degree, such as ``Pa``, ``re`` or ``Πα``.

    Parameters
    ----------
    degree : int
        Step number, ni = 0.
    letters : str
        byzantine or western.
    script : str
        latin or greek.
    """
    if letters == "western":
        if script == "greek":
            names = _table("letters", "western.greek")["names"]
            assert isinstance(names, list)
            return str(names[degree % 7])
        return degree_name(degree, "western").strip(_MARKS)
    name = degree_name(degree, "greek" if script == "greek" else "english").strip(_MARKS)
    return name[:1].upper() + name[1:]


def ison_text(ison: Ison, letters: Letters = "byzantine", script: Script = "latin") -> str:
    """What stands above the staff for the drone holders."""
    if ison is None:
        return str(_table("signs", script)["silent"])
    if ison == UNISON:
        return str(_table("signs", script)["unison"])
    return letter(ison, letters, script)
