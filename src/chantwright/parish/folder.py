"""The parish folder: plain files that the teacher owns.

Layout
------
``parish.toml`` (name, calendar, practice and the like), ``singers.toml`` (ranges), ``hymns/``
(hymn files, with or without melody), ``services/`` (service plans), ``own/`` (rows that win over
ours: tones, formulas, feasts, spellings), ``earlier/`` (what hymn files held before they were
changed), ``ready/`` (what was made). Only ``parish.toml`` is needed.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from chantwright import safefile
from chantwright.engrave.booklet import Paper
from chantwright.engrave.forms import FORMS
from chantwright.engrave.options import Accidentals, Letters, Script
from chantwright.engrave.readings import check_readings
from chantwright.errors import ChantError, Where
from chantwright.rows import parse_toml

__all__ = [
    "ACCIDENTALS",
    "EARLIER",
    "INKS",
    "LETTERS",
    "PAPERS",
    "PARISH_FILE",
    "RECORDS_FILE",
    "RECORDS_SETTING",
    "SCRIPTS",
    "SIZES",
    "ParishFolder",
    "check_setting",
    "open_folder",
]

PARISH_FILE = "parish.toml"
EARLIER = "earlier"
"""Folder of what hymn files held before."""
RECORDS_FILE = "records.sqlite"
"""Records of singers, where they are kept in the parish folder."""
RECORDS_SETTING = "CHANTWRIGHT_RECORDS"
"""Setting that names another database, such as a PostgreSQL server."""

LETTERS: Mapping[str, Letters | None] = {
    "byzantine": "byzantine",
    "western": "western",
    "none": None,
}
PAPERS: Mapping[str, Paper] = {"a4": "a4", "letter": "letter"}
SCRIPTS: Mapping[str, Script] = {"latin": "latin", "greek": "greek"}
ACCIDENTALS: Mapping[str, Accidentals] = {
    "conventional": "conventional",
    "exact": "exact",
    "none": "none",
}
SIZES = ("usual", "large")
INKS = ("red", "black")
"""Rubrics and marks in red, or everything in black for photocopiers."""

_CHOICES: Mapping[str, tuple[str, ...]] = {
    "calendar": ("new", "old", "gregorian"),
    "practice": ("greek", "slavic", "romanian"),
    "letters": tuple(LETTERS),
    "script": tuple(SCRIPTS),
    "accidentals": tuple(ACCIDENTALS),
    "paper": tuple(PAPERS),
    "form": FORMS,
    "size": SIZES,
    "ink": INKS,
    "ison": ("simple", "moving"),
    "group": ("men", "women", "children", "mixed"),
}


@dataclass(frozen=True, slots=True)
class ParishFolder:
    """What a parish folder says about its parish.

    Attributes
    ----------
    path : Path
        The folder.
    name, place : str
        As printed on a booklet's cover.
    calendar : str
        new, old or gregorian.
    practice : str
        greek, slavic or romanian.
    letters : str
        Solfege letters under the notes: byzantine, western or none.
    readings : tuple of str
        How hymns are written: some of staff, neumes, letters, words, in their order on the page.
    script : str
        Letters in latin or greek script.
    accidentals : str
        Sharps and flats on the staff: conventional, exact or none.
    paper : str
        a4 or letter.
    form : str
        pages, folded, slides or phone.
    size : str
        usual or large print.
    ink : str
        red for rubrics and marks, or everything black.
    ison : str
        simple or moving.
    group : str
        Who sings, where there is no singers file: men, women, children or mixed.
    zone : str
        Time zone by name, such as America/Chicago; empty takes the usual one.
    """

    path: Path
    name: str = ""
    place: str = ""
    calendar: str = "new"
    practice: str = "greek"
    letters: str = "byzantine"
    readings: tuple[str, ...] = ("staff",)
    script: str = "latin"
    accidentals: str = "conventional"
    paper: str = "a4"
    form: str = "pages"
    size: str = "usual"
    ink: str = "red"
    ison: str = "simple"
    group: str = "mixed"
    zone: str = ""
    overrides: tuple[Path, ...] = field(default=())

    @property
    def hymns(self) -> Path:
        """Folder of the hymn files."""
        return self.path / "hymns"

    @property
    def earlier(self) -> Path:
        """Folder of what hymn files held before they were changed (`chantwright.parish.trail`)."""
        return self.path / EARLIER

    @property
    def services(self) -> Path:
        """Folder of the service plans."""
        return self.path / "services"

    @property
    def singers_file(self) -> Path | None:
        """The singers file, where there is one."""
        path = self.path / "singers.toml"
        return path if path.is_file() else None


_KEYS = tuple(f.name for f in fields(ParishFolder) if f.name not in ("path", "overrides"))


def _readings(value: Any, where: Where) -> tuple[str, ...]:
    """Read ``"staff, neumes"`` or ``["staff", "neumes"]``."""
    parts = value.split(",") if isinstance(value, str) else value
    if not isinstance(parts, list) or not all(isinstance(part, str) for part in parts):
        raise ChantError(
            "“readings” must be text.",
            where=where,
            remedy='Write it in quotes: readings = "staff, neumes"',
        )
    return check_readings([part.strip() for part in parts if part.strip()], where)


def check_setting(key: str, value: Any, where: Where | None = None) -> Any:
    """Check a setting of the parish file.

    Parameters
    ----------
    key : str
        Its name, an attribute of `ParishFolder`.
    value : object
        As written.
    where : Where, optional
        Where it was written, for the error.

    Returns
    -------
    str or tuple of str
        The value; readings as a tuple.

    Raises
    ------
    ChantError
        If it is none of its choices.
    """
    where = where or Where()
    if key == "readings":
        return _readings(value, where)
    if not isinstance(value, str):
        raise ChantError(
            f"“{key}” must be text.", where=where, remedy=f'Write it in quotes: {key} = "..."'
        )
    allowed = _CHOICES.get(key)
    if allowed and value not in allowed:
        raise ChantError(
            f"“{value}” is no choice for “{key}”.",
            where=where,
            remedy=f"Choose one of: {', '.join(allowed)}.",
        )
    if key == "zone" and value:
        try:
            ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ChantError(
                f"there is no time zone called “{value}”.",
                where=where,
                remedy="Write it like Europe/Athens or America/New_York.",
            ) from None
    return value


def open_folder(path: Path) -> ParishFolder:
    """Read a parish folder.

    Parameters
    ----------
    path : Path
        The folder.

    Returns
    -------
    ParishFolder
        Its settings, and its own data files in alphabetical order (later ones win).

    Raises
    ------
    ChantError
        If there is no such folder, no ``parish.toml``, or a setting in it is not understood.
    """
    if not path.is_dir():
        raise ChantError(
            "there is no such parish folder.",
            where=Where(str(path)),
            remedy="Check the name, or make one with: chantwright found " + str(path),
        )
    file = path / PARISH_FILE
    try:
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise ChantError(
            f"this folder has no {PARISH_FILE}.",
            where=Where(str(path)),
            remedy=f"Make one with: chantwright found {path}",
        ) from None
    except (OSError, UnicodeDecodeError) as exc:
        raise ChantError(f"it cannot be read ({exc}).", where=Where(str(file))) from None
    given = parse_toml(text, Where(str(file)))
    lines = text.splitlines()
    settings: dict[str, Any] = {}
    for key, value in given.items():
        number = next((i for i, ln in enumerate(lines, 1) if ln.split("=")[0].strip() == key), 0)
        where = Where(str(file), number)
        if key not in _KEYS:
            near = difflib.get_close_matches(key, _KEYS, 1)
            hint = f"Did you mean “{near[0]}”?" if near else f"It knows: {', '.join(_KEYS)}."
            raise ChantError(f"“{key}” is not a setting.", where=where, remedy=hint)
        settings[key] = check_setting(key, value, where)
    own = safefile.finished(path / "own", "*.toml")
    return ParishFolder(path=path, overrides=own, **settings)
