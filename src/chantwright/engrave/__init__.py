"""Print: staff, neumes and letters as SVG, staff as MEI, and booklets as PDF."""

from chantwright.engrave.booklet import (
    Booklet,
    Entry,
    booklet_pdf,
    hymn_svg,
    words_only_lines,
    write_booklet,
)
from chantwright.engrave.neumes import NeumeOptions, from_neumes, to_neumes
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.pitch import pitch_name, pitch_words
from chantwright.engrave.readings import READINGS, Block, blocks
from chantwright.engrave.staff import System, lines, systems, to_mei

__all__ = [
    "READINGS",
    "Block",
    "Booklet",
    "Entry",
    "NeumeOptions",
    "StaffOptions",
    "System",
    "blocks",
    "booklet_pdf",
    "from_neumes",
    "hymn_svg",
    "lines",
    "pitch_name",
    "pitch_words",
    "systems",
    "to_mei",
    "to_neumes",
    "words_only_lines",
    "write_booklet",
]
