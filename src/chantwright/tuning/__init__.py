"""Tuning: moria, cents and Hz; scales, their repetition, and Scala files."""

from chantwright.tuning.names import NAMINGS, degree_name, parse_degree
from chantwright.tuning.scale import (
    CENTS_PER_MORION,
    Scale,
    anchored,
    by_ratio,
    hz,
    load_scales,
    retuned,
)

__all__ = [
    "CENTS_PER_MORION",
    "NAMINGS",
    "Scale",
    "anchored",
    "by_ratio",
    "degree_name",
    "hz",
    "load_scales",
    "parse_degree",
    "retuned",
]
