"""Print: staff, neumes and letters as SVG, staff as MEI, and booklets as PDF."""

from chantwright.engrave.booklet import (
    Booklet,
    Entry,
    booklet_pdf,
    hymn_svg,
    words_only_lines,
    write_booklet,
)
from chantwright.engrave.forms import FORMS, FormName
from chantwright.engrave.handout import Handout, handout_pdf, write_handout
from chantwright.engrave.ladder import Ladder, ladder
from chantwright.engrave.musicxml import to_musicxml
from chantwright.engrave.neumes import NeumeOptions, from_neumes, to_neumes
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.pitch import pitch_name, pitch_words
from chantwright.engrave.readings import READINGS, Block, blocks
from chantwright.engrave.staff import System, lines, systems, to_mei

__all__ = [
    "FORMS",
    "READINGS",
    "Block",
    "Booklet",
    "Entry",
    "FormName",
    "Handout",
    "Ladder",
    "NeumeOptions",
    "StaffOptions",
    "System",
    "blocks",
    "booklet_pdf",
    "from_neumes",
    "handout_pdf",
    "hymn_svg",
    "ladder",
    "lines",
    "pitch_name",
    "pitch_words",
    "systems",
    "to_mei",
    "to_musicxml",
    "to_neumes",
    "words_only_lines",
    "write_booklet",
    "write_handout",
]
