"""Byzantine neumes: a hymn written in the reformed notation, read back, and drawn."""

from chantwright.engrave.neumes.model import Neume, NeumeLine, NeumeScore, Sign, Sung
from chantwright.engrave.neumes.options import NeumeOptions
from chantwright.engrave.neumes.reading import (
    from_neumes,
    neume_text,
    read_neumes,
    steps_and_beats,
)
from chantwright.engrave.neumes.score import to_neumes
from chantwright.engrave.neumes.systems import systems
from chantwright.engrave.neumes.tables import Tables, load_tables

__all__ = [
    "Neume",
    "NeumeLine",
    "NeumeOptions",
    "NeumeScore",
    "Sign",
    "Sung",
    "Tables",
    "from_neumes",
    "load_tables",
    "neume_text",
    "read_neumes",
    "steps_and_beats",
    "systems",
    "to_neumes",
]
