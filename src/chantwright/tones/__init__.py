"""The eight tones and their branches, as data."""

from chantwright.tones.bends import LEVELS, bends
from chantwright.tones.load import load_tones
from chantwright.tones.model import Attraction, Branch, Group, Intonation, Style, Tone, Tones

__all__ = [
    "LEVELS",
    "Attraction",
    "Branch",
    "Group",
    "Intonation",
    "Style",
    "Tone",
    "Tones",
    "bends",
    "load_tones",
]
