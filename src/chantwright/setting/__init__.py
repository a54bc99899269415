"""Words set to the formulas of a tone, or to the melody of a known hymn."""

from chantwright.setting.audition import Audition, audition
from chantwright.setting.book import Book, Books, Formula, load_books
from chantwright.setting.check import check_books
from chantwright.setting.intonation import intonation_notes
from chantwright.setting.ison import ISON_LEVELS, lay_ison
from chantwright.setting.liking import preferred, read_likings, write_likings
from chantwright.setting.melody import Fitted, PhraseFit, fit
from chantwright.setting.report import describe, syllable_text, to_json
from chantwright.setting.setter import STYLES, Figure, Setting, set_hymn, set_phrase
from chantwright.setting.slots import Slot, SlotNote, format_slots, parse_slots
from chantwright.setting.taking import Taken, rows_text, take
from chantwright.setting.taste import apart, learn, manner, read_taste, write_taste
from chantwright.setting.why import Reason, reasons, tell, why

__all__ = [
    "ISON_LEVELS",
    "STYLES",
    "Audition",
    "Book",
    "Books",
    "Figure",
    "Fitted",
    "Formula",
    "PhraseFit",
    "Reason",
    "Setting",
    "Slot",
    "SlotNote",
    "Taken",
    "apart",
    "audition",
    "check_books",
    "describe",
    "fit",
    "format_slots",
    "intonation_notes",
    "lay_ison",
    "learn",
    "load_books",
    "manner",
    "parse_slots",
    "preferred",
    "read_likings",
    "read_taste",
    "reasons",
    "rows_text",
    "set_hymn",
    "set_phrase",
    "syllable_text",
    "take",
    "tell",
    "to_json",
    "why",
    "write_likings",
    "write_taste",
]
