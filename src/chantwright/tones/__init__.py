"""The eight tones and their branches, as data."""

from chantwright.tones.bends import LEVELS, bends
from chantwright.tones.check import Finding, check
from chantwright.tones.load import load_tones
from chantwright.tones.model import (
    Attraction,
    Branch,
    Group,
    Intonation,
    Limit,
    Style,
    Tone,
    Tones,
)

__all__ = [
    "LEVELS",
    "Attraction",
    "Branch",
    "Finding",
    "Group",
    "Intonation",
    "Limit",
    "Style",
    "Tone",
    "Tones",
    "bends",
    "check",
    "load_tones",
]
