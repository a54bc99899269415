"""Which formulas the teacher likes: tallies of what he took and what he left.

Of two settings he takes one. Every formula that only the taken one has was *taken*, every formula
that only the other has was *left*; a formula belongs to one tone and one place of the phrase, so it
is weighed against its fellows. From both counts comes a discount or a surcharge on the formula's
price,

    -MOST * (taken - left) / n * n**2 / (n**2 + FIRM**2),    n = taken + left,

small after one choice, half of what it can be after `FIRM` that agree, and nothing where he takes
it as often as he leaves it (a mean shrunk towards 0, the more the less was seen; our own formula).

The tallies are kept as plain ``[[liking]]`` rows in a file of the parish folder. Delete a row to
forget it. Where the teacher's own formula row writes a ``weight``, that is his word, and nothing
learnt is laid over it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.rows import parse_toml

__all__ = [
    "FIRM",
    "MOST",
    "learnt_rows",
    "liking",
    "preferred",
    "read_likings",
    "unreadable",
    "write_likings",
]

MOST = 1.2
"""What a formula can become cheaper or dearer at most."""
FIRM = 3.0
"""Choices after which half of it is reached."""

_FORGET = "Mend that line, or delete the file to forget what was learnt."
_HEAD = """\
# Formulas that you took, and that you left, when you chose between two settings. The more often you
# take one the sooner it is used. Delete this file to forget them all, or a row to forget one; a
# weight in a formula row of your own wins over them.
"""

Tally = tuple[int, int]
"""How often a formula was taken and left."""


class _Sung(Protocol):
    """A setting, as far as it matters here."""

    @property
    def figures(self) -> Sequence[Sequence[_Used]]: ...


class _Used(Protocol):
    @property
    def formula(self) -> str: ...


def liking(taken: int, left: int) -> float:
    """What choices add to the price of a formula: below 0 for one that was taken more often."""
    seen = taken + left
    if not seen:
        return 0.0
    return -MOST * (taken - left) / seen * seen**2 / (seen**2 + FIRM**2)


def preferred(taken: _Sung, left: _Sung) -> dict[str, Tally]:
    """Count one choice.

    Parameters
    ----------
    taken, left : Setting
        Two settings of the same words; the teacher took the first.

    Returns
    -------
    dict of str to (int, int)
        For each formula that only one of the two has in some phrase, (1, 0) or (0, 1).
    """
    sums: dict[str, int] = {}
    for mine, other in zip(taken.figures, left.figures, strict=True):
        own, theirs = {f.formula for f in mine}, {f.formula for f in other}
        for name in own ^ theirs:
            sums[name] = sums.get(name, 0) + (1 if name in own else -1)
    return {name: (int(n > 0), int(n < 0)) for name, n in sorted(sums.items()) if n}


def learnt_rows(path: Path, table: str) -> list[dict[str, Any]]:
    """Rows of a table in a file of what was learnt; none where there is no file.

    Raises
    ------
    ChantError
        If the file cannot be read, or a row has no id.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return []
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(f"it cannot be read ({exc}).", where=Where(str(path))) from None
    try:
        rows = parse_toml(text, Where(str(path))).get(table, [])
        return [{**row, "id": str(row["id"])} for row in rows]
    except ChantError as exc:
        raise ChantError(exc.what, where=exc.where, remedy=_FORGET) from None
    except (KeyError, TypeError, AttributeError, ValueError) as exc:
        raise unreadable(path, exc) from None


def unreadable(path: Path, exc: Exception) -> ChantError:
    """The error that a file of what was learnt is not as it was written."""
    return ChantError(
        f"it cannot be read ({exc}).",
        where=Where(str(path)),
        remedy=_FORGET,
    )


def read_likings(path: Path) -> dict[str, Tally]:
    """Read the tallies: formula -> how often taken and left; empty where there is no file.

    Raises
    ------
    ChantError
        If the file is not what `write_likings` writes.
    """
    try:
        rows = learnt_rows(path, "liking")
        return {r["id"]: (int(r.get("taken", 0)), int(r.get("left", 0))) for r in rows}
    except (TypeError, ValueError) as exc:
        if isinstance(exc, ChantError):
            raise
        raise unreadable(path, exc) from None


def write_likings(path: Path, more: Mapping[str, Tally]) -> None:
    """Add tallies to those of the file.

    Parameters
    ----------
    path : Path
        Such as ``own/likings.toml`` in the parish folder; made where it is missing. The version
        before stays beside it.
    more : mapping
        From `preferred`.
    """
    rows = read_likings(path)
    for name, (taken, left) in more.items():
        before = rows.get(name, (0, 0))
        rows[name] = (before[0] + taken, before[1] + left)
    out = [_HEAD]
    for name, (taken, left) in sorted(rows.items()):
        out.append(
            f'[[liking]]\nid = "{name}"\ntaken = {taken}\nleft = {left}\nconf = "low"\n'
            f'src = "learnt from your choices ({taken + left})"\n'
        )
    safefile.write_text(path, "\n".join(out), keep=True)
