"""Tuning: moria, cents and Hz; scales, their repetition, and Scala files."""

from chantwright.tuning.colouring import (
    Accidental,
    Colouring,
    coloured,
    load_accidentals,
    load_colourings,
)
from chantwright.tuning.midi import pitch_bend
from chantwright.tuning.names import NAMINGS, degree_name, parse_degree
from chantwright.tuning.scala import (
    Keyboard,
    dump_kbm,
    dump_scl,
    key_hz,
    keyboard_for,
    load_kbm,
    load_scl,
)
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
    "Keyboard",
    "Scale",
    "anchored",
    "by_ratio",
    "coloured",
    "degree_name",
    "dump_kbm",
    "dump_scl",
    "hz",
    "key_hz",
    "keyboard_for",
    "load_accidentals",
    "load_colourings",
    "load_kbm",
    "load_scales",
    "load_scl",
    "load_sources",
    "parse_degree",
    "pitch_bend",
    "retuned",
]
