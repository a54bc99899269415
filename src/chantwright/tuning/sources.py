"""Where knowledge comes from: the id of a source and the book, paper or custom behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from chantwright.rows import load_rows
from chantwright.tuning import fields

__all__ = ["load_sources"]


def load_sources(overrides: Iterable[Path] = ()) -> Mapping[str, str]:
    """Load every source named by the rows of tuning and tones.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files; their ``[[source]]`` rows are added.

    Returns
    -------
    mapping of str to str
        Id -> the source in words, and how much of it was seen.
    """
    rows = load_rows("chantwright.tuning", ["sources.toml"], overrides=overrides, tables=["source"])
    return {key: fields.text(row, "text") for key, row in rows["source"].items()}
