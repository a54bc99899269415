"""Tuning: moria, cents and Hz; scales, their repetition, and Scala files."""

from chantwright.tuning.colouring import (
    Accidental,
    Colouring,
    coloured,
    load_accidentals,
    load_colourings,
)
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
from chantwright.tuning.sources import load_sources

__all__ = [
    "CENTS_PER_MORION",
    "NAMINGS",
    "Accidental",
    "Colouring",
    "Scale",
    "anchored",
    "by_ratio",
    "coloured",
    "degree_name",
    "hz",
    "load_accidentals",
    "load_colourings",
    "load_scales",
    "load_sources",
    "parse_degree",
    "retuned",
]
