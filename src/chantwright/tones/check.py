"""A look through everything known of scales and tones: what contradicts itself or the trade.

*wrong* is what cannot be: steps that do not add up, a close outside the compass, an attraction that
reaches the next note, a name that leads nowhere. *doubtful* is what a chanter should look at.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TypeVar

from chantwright.errors import ChantError
from chantwright.rows import PARISH, Row, Rows, load_rows
from chantwright.tones.branch_faults import (
    attraction_faults,
    branch_faults,
    intonation_faults,
    tone_faults,
    usage_faults,
)
from chantwright.tones.finding import Finding, Level, of_error
from chantwright.tones.load import links, tone_rows
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
from chantwright.tones.row_faults import groundless, strangers
from chantwright.tones.scale_faults import colouring_faults, read_scales, scale_faults
from chantwright.tuning import load_sources

__all__ = ["Finding", "Level", "check"]

_FILES = ("notes.toml", "scales.toml", "sources.toml")
_TABLES = ("scale", "chroa", "accidental", "source")
_OTHERS: Mapping[str, Callable[[Row], object]] = {
    "style": read_style,
    "group": read_group,
    "listening": read_limit,
    "usage": read_usage,
}
_T = TypeVar("_T")


def _all_rows(paths: tuple[Path, ...]) -> Rows:
    tuning = load_rows("chantwright.tuning", _FILES, overrides=paths, tables=_TABLES)
    return {**tuning, **tone_rows(paths)}


def _read(
    table: dict[str, Row], reader: Callable[[Row], _T], found: list[Finding]
) -> dict[str, _T]:
    """Make what can be made of a table; the rest are findings."""
    made: dict[str, _T] = {}
    for key, row in table.items():
        try:
            made[key] = reader(row)
        except ChantError as exc:
            finding = of_error(exc)
            near = difflib.get_close_matches(key, [k for k in table if k != key], 1, 0.8)
            if row.origin == PARISH and near and set(row.values) == {"id", *row.own_fields}:
                finding = Finding(
                    "wrong",
                    finding.where,
                    finding.sentence,
                    f"{finding.remedy} Or did you mean to change our row “{near[0]}”?".strip(),
                )
            found.append(finding)
    return made


def check(overrides: Iterable[Path] = ()) -> list[Finding]:
    """Look through scales, colourings and tones, ours with the parish's rows over them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files.

    Returns
    -------
    list of Finding
        Wrong ones first; empty when everything is in order.
    """
    paths = tuple(overrides)
    try:
        rows = _all_rows(paths)
        sources = load_sources(paths)
    except ChantError as exc:
        return [of_error(exc)]
    found = [*strangers(paths, rows, _all_rows(())), *groundless(rows, sources)]
    scales, broken = read_scales(rows)
    found += broken
    for key, scale in scales.items():
        found += scale_faults(rows["scale"][key], scale)
    found += colouring_faults(rows, scales)
    branches = _read(rows["branch"], read_branch, found)
    tones = _read(rows["tone"], read_tone, found)
    intonations = _read(rows["intonation"], read_intonation, found)
    attractions = _read(rows["attraction"], read_attraction, found)
    for table, reader in _OTHERS.items():
        _read(rows[table], reader, found)
    found += [of_error(e) for e in links(rows, rows["scale"])]
    for key, branch in branches.items():
        found += branch_faults(rows["branch"][key], branch, scales, intonations, attractions)
    for key, intonation in intonations.items():
        found += intonation_faults(rows["intonation"][key], intonation)
    for key, rule in attractions.items():
        found += attraction_faults(rows["attraction"][key], rule)
    found += tone_faults(rows["tone"], tones, branches)
    for row in rows["usage"].values():
        found += usage_faults(row, branches)
    return sorted(dict.fromkeys(found), key=lambda f: f.level == "doubtful")
