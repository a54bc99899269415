"""Read the tones from their rows, ours with the parish's over them."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

from chantwright.errors import ChantError
from chantwright.rows import Row, Rows, load_rows
from chantwright.tones.model import Tones
from chantwright.tones.reading import (
    read_attraction,
    read_branch,
    read_group,
    read_intonation,
    read_limit,
    read_style,
    read_tone,
    read_usage,
)
from chantwright.tuning import load_scales

__all__ = ["FILES", "TABLES", "links", "load_tones", "tone_rows"]

FILES = (
    "tones.toml",
    "branches.toml",
    "intonations.toml",
    "attractions.toml",
    "styles.toml",
    "usage.toml",
    "listening.toml",
)
TABLES = ("tone", "branch", "intonation", "attraction", "style", "group", "usage", "listening")


def tone_rows(overrides: Iterable[Path] = ()) -> Rows:
    """Return the rows of every table of the tones, the parish's laid over ours."""
    return load_rows("chantwright.tones", FILES, overrides=overrides, tables=TABLES)


def _link(row: Row, kind: str, name: Any, known: Iterable[object]) -> ChantError | None:
    names = [str(k) for k in known]
    if name is None or str(name) in names:
        return None  # a field that is missing is told by the reader of the row
    near = difflib.get_close_matches(str(name), names, 1, 0.5)
    remedy = f"Did you mean “{near[0]}”?" if near else f"Choose one of: {', '.join(names)}."
    return row.error(f"there is no {kind} “{name}”.", remedy)


def links(rows: Rows, scales: Iterable[str]) -> list[ChantError]:
    """Errors of rows that name another row which does not exist.

    Parameters
    ----------
    rows : Rows
        All tables of the tones.
    scales : iterable of str
        Ids of the scales.
    """
    scale_ids = tuple(scales)
    numbers = [r.get("n") for r in rows["tone"].values()]
    found: list[ChantError | None] = []
    for row in rows["branch"].values():
        if all(isinstance(n, int) for n in numbers):
            found.append(_link(row, "tone", row.get("tone"), numbers))
        found.append(_link(row, "style", row.get("style"), rows["style"]))
        found.append(_link(row, "scale", row.get("scale"), scale_ids))
        found.append(_link(row, "intonation", row.get("intonation"), rows["intonation"]))
        bends = row.get("attractions", [])
        for name in bends if isinstance(bends, list) else ():
            found.append(_link(row, "attraction", name, rows["attraction"]))
    found += [_link(r, "scale", r.get("scale"), scale_ids) for r in rows["intonation"].values()]
    for row in rows["usage"].values():
        if "branch" in row.values:
            found.append(_link(row, "branch", row["branch"], rows["branch"]))
        else:
            found.append(_link(row, "style", row.get("style"), rows["style"]))
    return [f for f in found if f is not None]


def load_tones(overrides: Iterable[Path] = ()) -> Tones:
    """Load tones, branches, scales and all that belongs to them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files; their rows win.

    Raises
    ------
    ChantError
        If a row is broken or names another that does not exist; names file, line and row.
    """
    own = tuple(overrides)
    return _plain() if not own else _load(own)


@lru_cache(maxsize=1)
def _plain() -> Tones:
    return _load(())


def _load(own: tuple[Path, ...]) -> Tones:
    rows = tone_rows(own)
    scales = load_scales(own)
    found = Tones(
        tones={t.n: t for t in map(read_tone, rows["tone"].values())},
        branches={k: read_branch(r) for k, r in rows["branch"].items()},
        scales=scales,
        intonations={k: read_intonation(r) for k, r in rows["intonation"].items()},
        styles={k: read_style(r) for k, r in rows["style"].items()},
        attractions={k: read_attraction(r) for k, r in rows["attraction"].items()},
        groups={k: read_group(r) for k, r in rows["group"].items()},
        usage={k: read_usage(r) for k, r in rows["usage"].items()},
        listening={k: read_limit(r) for k, r in rows["listening"].items()},
    )
    for error in links(rows, scales):
        raise error
    return found
