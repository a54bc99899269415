"""Print: staff notation as SVG and MEI, and booklets as PDF."""

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
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.pitch import pitch_name, pitch_words
from chantwright.engrave.staff import System, lines, systems, to_mei

__all__ = [
    "FORMS",
    "Booklet",
    "Entry",
    "FormName",
    "Handout",
    "Ladder",
    "StaffOptions",
    "System",
    "booklet_pdf",
    "handout_pdf",
    "hymn_svg",
    "ladder",
    "lines",
    "pitch_name",
    "pitch_words",
    "systems",
    "to_mei",
    "to_musicxml",
    "words_only_lines",
    "write_booklet",
    "write_handout",
]
