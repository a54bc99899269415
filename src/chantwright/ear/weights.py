"""The weights of the alignment, read from rows so that they can be seen and changed."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from chantwright.rows import load_rows

__all__ = ["load_weights"]


@lru_cache(maxsize=1)
def load_weights() -> Mapping[str, float]:
    """Return weight id -> value; see ``data/aligning.toml`` for what each one is."""
    rows = load_rows("chantwright.ear", ["aligning.toml"])["weight"]
    return {row_id: float(row["value"]) for row_id, row in rows.items()}
