"""Words set to the formulas of a tone."""

from chantwright.setting.book import Book, Books, Formula, load_books
from chantwright.setting.check import check_books
from chantwright.setting.intonation import intonation_notes
from chantwright.setting.ison import ISON_LEVELS, lay_ison
from chantwright.setting.report import describe, syllable_text, to_json
from chantwright.setting.setter import STYLES, Figure, Setting, set_hymn
from chantwright.setting.slots import Slot, SlotNote, format_slots, parse_slots

__all__ = [
    "ISON_LEVELS",
    "STYLES",
    "Book",
    "Books",
    "Figure",
    "Formula",
    "Setting",
    "Slot",
    "SlotNote",
    "check_books",
    "describe",
    "format_slots",
    "intonation_notes",
    "lay_ison",
    "load_books",
    "parse_slots",
    "set_hymn",
    "syllable_text",
    "to_json",
]
