"""The teacher's taste: prices learnt from his choices between two settings.

Of two settings of the same words he takes one. What the one he leaves has more of is made dearer,
what the one he takes has more of is made cheaper, in proportion to the difference; no price falls
below 0 (a perceptron step on the counts of each price, projected). Nothing is learnt where the
prices put the chosen one ahead already by a clear margin.

What was learnt is kept as plain ``[[weight]]`` rows in a file of the parish folder, so that the
setter takes it up like any other row of the parish; the teacher can read, change or delete it.

References
----------
F. Rosenblatt, "The perceptron", Psychological Review 65 (1958). M. Collins, "Discriminative
training methods for hidden Markov models", EMNLP 2002: the step between two whole structures.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.rows import parse_toml
from chantwright.setting.account import account
from chantwright.setting.book import Books
from chantwright.setting.setter import Setting, prices_of

__all__ = ["MARGIN", "STEP", "amounts", "apart", "learn", "manner", "read_taste", "write_taste"]

STEP = 0.25
"""Length of one step, over all prices together."""
MARGIN = 0.5
"""A chosen setting that is cheaper by this much teaches nothing new."""

_HEAD = """\
# Prices learnt from your choices between two settings. They win over ours; delete this file to
# forget them all, or a row to forget one.
"""
_COUNT = re.compile(r"\((\d+)\)")
_FORGET = "Mend that line, or delete the file to forget what was learnt."


def amounts(setting: Setting, prices: Mapping[str, float]) -> dict[str, float]:
    """How many times each price was paid in a setting, whatever it costs.

    Parameters
    ----------
    setting : Setting
        From `set_hymn` or `set_phrase`.
    prices : mapping
        Any prices that name them all.
    """
    total: dict[str, float] = {}
    for planned in setting.plan:
        if planned.choice.line is not None:
            for paid in account(planned.choice.line, prices):
                if paid.name != "weight":
                    total[paid.name] = total.get(paid.name, 0.0) + paid.amount
        for name, amount in planned.amounts:
            total[name] = total.get(name, 0.0) + amount
    return total


_COLUMNS = {"verses": "verses", "sticheraric": "middle"}
_KEYS = ("value", "verses", "middle")


def manner(setting: Setting) -> str:
    """How a hymn was set: ``verses`` for psalm verses, else the style of its branch."""
    lines = [p.choice.line for p in setting.plan]
    if any(line is not None and line.frame.verses for line in lines):
        return "verses"
    return setting.hymn.style or "heirmologic"


def apart(first: Setting, other: Setting, books: Books) -> float:
    """How far two settings differ in what they pay for, whatever it costs; 0 teaches nothing."""
    prices = prices_of(books, manner(first))
    mine, others = amounts(first, prices), amounts(other, prices)
    names = {*mine, *others}
    return float(sum((mine.get(n, 0.0) - others.get(n, 0.0)) ** 2 for n in names) ** 0.5)


def learn(books: Books, taken: Setting, left: Setting, *, step: float = STEP) -> dict[str, float]:
    """Learn from one choice.

    Parameters
    ----------
    books : Books
        With the prices as they are.
    taken, left : Setting
        Two settings of the same words; the teacher took the first.
    step : float
        How far the prices move.

    Returns
    -------
    dict
        New value of each price that changed; empty where there is nothing to learn.
    """
    prices = prices_of(books, manner(taken))
    mine, other = amounts(taken, prices), amounts(left, prices)
    apart = {n: other.get(n, 0.0) - mine.get(n, 0.0) for n in sorted({*mine, *other})}
    if sum(prices[n] * d for n, d in apart.items()) >= MARGIN:
        return {}
    length = sum(d * d for d in apart.values()) ** 0.5
    if length == 0:
        return {}
    moved = {n: max(0.0, prices[n] + step * d / length) for n, d in apart.items() if d}
    return {n: round(v, 4) for n, v in moved.items() if abs(v - prices[n]) > 1e-9}


def read_taste(path: Path) -> dict[str, dict[str, float]]:
    """Read what was learnt: name -> prices by style and choices.

    Raises
    ------
    ChantError
        If the file is not what `write_taste` writes.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(f"it cannot be read ({exc}).", where=Where(str(path))) from None
    try:
        rows = parse_toml(text, Where(str(path))).get("weight", [])
        found = {}
        for row in rows:
            count = _COUNT.search(str(row.get("src", "")))
            kept = {k: float(row[k]) for k in _KEYS if k in row}
            found[str(row["id"])] = {**kept, "choices": float(count[1]) if count else 1.0}
    except ChantError as exc:
        raise ChantError(exc.what, where=exc.where, remedy=_FORGET) from None
    except (KeyError, TypeError, AttributeError, ValueError) as exc:
        raise ChantError(
            f"it cannot be read ({exc}).",
            where=Where(str(path)),
            remedy=_FORGET,
        ) from None
    return found


def write_taste(path: Path, learnt: Mapping[str, float], style: str = "heirmologic") -> None:
    """Lay newly learnt prices over those of the file, and write it.

    Parameters
    ----------
    path : Path
        Such as ``own/prices.toml`` in the parish folder; made where it is missing. The version
        before stays beside it.
    learnt : mapping
        From `learn`.
    style : str
        What they were learnt from; see `manner`.
    """
    rows = read_taste(path)
    for name, value in learnt.items():
        row = rows.setdefault(name, {"choices": 0.0})
        row[_COLUMNS.get(style, "value")] = value
        row["choices"] += 1
    out = [_HEAD]
    for name, row in sorted(rows.items()):
        count = int(row["choices"])
        out.append(f'[[weight]]\nid = "{name}"')
        out += [f"{key} = {row[key]:g}" for key in _KEYS if key in row]
        out.append(f'conf = "low"\nsrc = "learnt from your choices ({count})"\n')
    safefile.write_text(path, "\n".join(out), keep=True)
