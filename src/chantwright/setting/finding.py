"""What a look through the books finds, pointed at the row it is about."""

from __future__ import annotations

from chantwright.rows import Row
from chantwright.tones import Finding

__all__ = ["doubt", "wrong"]


def wrong(row: Row, sentence: str, remedy: str = "") -> Finding:
    """Make a finding that must be mended before the row is sung."""
    return Finding("wrong", row.where, f"“{row.id}”: {sentence}", remedy)


def doubt(row: Row, sentence: str, remedy: str = "") -> Finding:
    """Make a finding that a chanter should look at."""
    return Finding("doubtful", row.where, f"“{row.id}”: {sentence}", remedy)
