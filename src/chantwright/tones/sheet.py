"""What is known of the tones as tables that a chanter can read through and mark.

Tables are Markdown. Notes stand in any naming; a low or medium mark says how far a row is to be
trusted (see `chantwright.rows`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from chantwright.tones.model import Branch, Tones
from chantwright.tuning import degree_name

__all__ = ["attraction_sheet", "branch_sheet", "ison_sheet", "usage_sheet"]


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


def _names(degrees: Iterable[int], naming: str) -> str:
    return " ".join(degree_name(d, naming) for d in degrees)


def _compass(span: tuple[int, int], naming: str) -> str:
    return f"{degree_name(span[0], naming)} – {degree_name(span[1], naming)}"


def _plain(row_id: str) -> str:
    return row_id.replace("_", " ")


def branch_sheet(tones: Tones, *, naming: str = "english") -> str:
    """Return the branches: base, closes, compass, and how sure each is.

    Parameters
    ----------
    tones : Tones
        All tones, with a parish's own rows if there are any.
    naming : str
        One of `chantwright.tuning.NAMINGS`.

    Returns
    -------
    str
        A Markdown table, branches in the order of the tones.
    """

    def cells(branch: Branch) -> list[str]:
        return [
            f"`{branch.id}`",
            _plain(branch.scale),
            degree_name(branch.base, naming),
            _names(branch.dominating, naming),
            _names(branch.incomplete, naming),
            _names(branch.complete, naming),
            _names(branch.final, naming),
            _compass(branch.usual, naming),
            branch.exists,
            branch.conf if branch.origin == "chantwright" else "parish",
        ]

    head = ["branch", "scale", "base", "dominating", "half closes", "full closes", "final"]
    head += ["usual compass", "exists", "its notes"]
    ordered = sorted(tones.branches.values(), key=lambda b: b.tone)
    return _table(head, map(cells, ordered))


def ison_sheet(tones: Tones, *, naming: str = "english") -> str:
    """Return what the ison holds: always, and at which closes it moves.

    Parameters
    ----------
    tones, naming : Tones, str
        As for `branch_sheet`.
    """

    def at(branch: Branch) -> str:
        moves = [
            f"{degree_name(close, naming)}: "
            + (held if isinstance(held, str) else degree_name(held, naming))
            for close, held in branch.ison_at.items()
            if held != branch.ison_base
        ]
        return ", ".join(moves) or "stays"

    ordered = sorted(tones.branches.values(), key=lambda b: b.tone)
    rows = ([f"`{b.id}`", degree_name(b.ison_base, naming), at(b)] for b in ordered)
    return _table(["branch", "simple", "moving, at a close on"], rows)


def attraction_sheet(tones: Tones, *, naming: str = "english") -> str:
    """Return the attractions: which note, how much, when, and in which branches.

    Parameters
    ----------
    tones, naming : Tones, str
        As for `branch_sheet`.
    """
    moments = {
        "peak": "at a peak",
        "down": "passed going down",
        "lower_neighbour": "left from above and back",
        "rising_to": "rising to it",
    }
    rows = []
    for key, rule in tones.attractions.items():
        when = ", ".join(moments.get(w, w) for w in rule.when)
        size = f"{float(rule.moria):+g}"
        if rule.range[0] != rule.range[1]:
            size += f" ({float(rule.range[0]):g} to {float(rule.range[1]):g})"
        users = sum(key in b.attractions for b in tones.branches.values())
        to = "" if rule.to is None else f" towards {degree_name(rule.to, naming)}"
        note = f"{degree_name(rule.note, naming)}{to}"
        rows.append([f"`{key}`", note, size, when, str(users), rule.conf])
    return _table(["attraction", "note", "moria", "when", "branches", "sure"], rows)


def usage_sheet(tones: Tones) -> str:
    """Return which branch each kind of hymn takes, tone by tone, where it is not the plain one.

    Parameters
    ----------
    tones : Tones
        As for `branch_sheet`.
    """
    rows = []
    for row in tones.usage.values():
        tone = str(row.get("tone", "any"))
        to = f"`{row['branch']}`" if "branch" in row.values else str(row["style"])
        rows.append([str(row["kind"]), tone, to, row.conf])
    return _table(["kind of hymn", "tone", "branch or style", "sure"], rows)
