"""Pascha, tone of the week, eothinon and the shape of the services.

Conventions: dates are civil unless a name says otherwise; the liturgical day begins at Vespers on
the evening before. Calendars are ``new``, ``old``, ``gregorian``; practices ``greek``, ``slavic``,
``romanian``. Every value is a proposal, with its reason, until the priest confirms it. Rules and
sources: docs/almanac.md.
"""

from chantwright.almanac.count import eothinon, liturgical_date, nominal_tone
from chantwright.almanac.dates import check_range, long_date, ordinal, parse_date, short_date
from chantwright.almanac.day import parish_services, service_day, service_days, week
from chantwright.almanac.decisions import decide
from chantwright.almanac.ical import Served, ical_json, to_ical
from chantwright.almanac.items import items, psalm_kjv
from chantwright.almanac.knowledge import Almanac, check, load_almanac
from chantwright.almanac.model import FeastDay, Question, Reason, ServiceDay, SungItem
from chantwright.almanac.own import left_out
from chantwright.almanac.pascha import (
    CALENDARS,
    StyleDate,
    last_pascha,
    next_pascha,
    pascha,
    style_date,
)
from chantwright.almanac.points import Known, Point, points, points_json, points_text
from chantwright.almanac.report import text, to_json
from chantwright.almanac.yearbook import Difference, as_rows, compare

__all__ = [
    "CALENDARS",
    "Almanac",
    "Difference",
    "FeastDay",
    "Known",
    "Point",
    "Question",
    "Reason",
    "Served",
    "ServiceDay",
    "StyleDate",
    "SungItem",
    "as_rows",
    "check",
    "check_range",
    "compare",
    "decide",
    "eothinon",
    "ical_json",
    "items",
    "last_pascha",
    "left_out",
    "liturgical_date",
    "load_almanac",
    "long_date",
    "next_pascha",
    "nominal_tone",
    "ordinal",
    "parish_services",
    "parse_date",
    "pascha",
    "points",
    "points_json",
    "points_text",
    "psalm_kjv",
    "service_day",
    "service_days",
    "short_date",
    "style_date",
    "text",
    "to_ical",
    "to_json",
    "week",
]
