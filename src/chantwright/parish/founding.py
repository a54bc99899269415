"""Founding a parish folder, and the invented parish of the demonstration."""

from __future__ import annotations

import shutil
from datetime import date
from importlib import resources
from pathlib import Path

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.parish.folder import PARISH_FILE
from chantwright.parish.plan import read_plan

__all__ = ["copy_demo", "demo_date", "found_folder"]

_SETTINGS = """\
# Settings of your parish. Delete a line to take the usual value.
name = {name}
calendar = "new"        # new, old or gregorian
practice = "greek"      # greek, slavic or romanian
readings = "staff"      # staff, neumes, letters, words; several: "staff, neumes"
letters = "byzantine"   # under the notes: byzantine (pa vou ga), western (re mi fa) or none
script = "latin"        # of these letters: latin or greek
accidentals = "conventional"   # or exact (with the moria), or none
paper = "a4"            # a4 or letter
form = "pages"          # pages, folded, slides or phone
size = "usual"          # usual or large print
ink = "red"             # red for rubrics and marks, or everything black
ison = "simple"         # simple or moving
group = "mixed"         # men, women, children or mixed; used until singers have ranges
zone = ""               # time zone of the calendar file, such as "America/Chicago"
"""


def found_folder(path: Path, name: str = "") -> tuple[Path, ...]:
    """Make a parish folder.

    Parameters
    ----------
    path : Path
        New folder, or an existing one without a ``parish.toml``.
    name : str
        Name of the parish.

    Returns
    -------
    tuple of Path
        What was made.

    Raises
    ------
    ChantError
        If there is a parish in it already.
    """
    settings = path / PARISH_FILE
    if settings.exists():
        raise ChantError("there is a parish in this folder already.", where=Where(str(settings)))
    made = [settings]
    for part in ("hymns", "services", "own"):
        (path / part).mkdir(parents=True, exist_ok=True)
        made.append(path / part)
    quoted = '"' + name.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'
    safefile.write_text(settings, _SETTINGS.format(name=quoted))
    return tuple(made)


def copy_demo(path: Path) -> Path:
    """Copy the invented parish of the demonstration into a folder.

    Files that are there already stay as the reader has changed them.

    Parameters
    ----------
    path : Path
        The parish folder to make.

    Returns
    -------
    Path
        The same folder.
    """
    with resources.as_file(resources.files("chantwright.parish") / "data" / "demo") as source:
        for file in sorted(source.rglob("*")):
            target = path / file.relative_to(source)
            if file.is_dir():
                target.mkdir(parents=True, exist_ok=True)
            elif not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(file, target)
    return path


def demo_date(parish: Path) -> date:
    """Civil date of the demonstration's first plan."""
    return min(read_plan(p).civil_date for p in (parish / "services").glob("*.txt"))
