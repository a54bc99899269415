"""The parish folder, its service plans and its pitch."""

from chantwright.parish.folder import LETTERS, PAPERS, ParishFolder, open_folder
from chantwright.parish.founding import copy_demo, demo_date, found_folder
from chantwright.parish.look import LOOK, dressed, staff_look, with_look
from chantwright.parish.order import Piece, Session, gather
from chantwright.parish.paper import tone_text, weekend_booklet
from chantwright.parish.pitch import Fit, PitchChoice, choose_base, choose_common_base
from chantwright.parish.plan import Plan, PlanLine, read_plan, write_plan
from chantwright.parish.ranges import singers_of
from chantwright.parish.singable import (
    Knowledge,
    Singable,
    load_knowledge,
    make_singable,
    set_words,
    with_tone,
)
from chantwright.parish.singers import Singer, group_singers, note_hz, read_singers
from chantwright.parish.whole import Prepared, prepare, weekend_folder

__all__ = [
    "LETTERS",
    "LOOK",
    "PAPERS",
    "Fit",
    "Knowledge",
    "ParishFolder",
    "Piece",
    "PitchChoice",
    "Plan",
    "PlanLine",
    "Prepared",
    "Session",
    "Singable",
    "Singer",
    "choose_base",
    "choose_common_base",
    "copy_demo",
    "demo_date",
    "dressed",
    "found_folder",
    "gather",
    "group_singers",
    "load_knowledge",
    "make_singable",
    "note_hz",
    "open_folder",
    "prepare",
    "read_plan",
    "read_singers",
    "set_words",
    "singers_of",
    "staff_look",
    "tone_text",
    "weekend_booklet",
    "weekend_folder",
    "with_look",
    "with_tone",
    "write_plan",
]
