"""How hymns look on paper: readings, letters, script, accidentals, form, paper, size, ink.

The settings stand in the parish file (`ParishFolder`); what is asked for in a command or on a page
wins over them. Everything that makes a booklet comes here, so that a setting holds everywhere.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

from chantwright.engrave import Booklet, FormName, StaffOptions
from chantwright.engrave.forms import form
from chantwright.parish.folder import (
    ACCIDENTALS,
    LETTERS,
    PAPERS,
    SCRIPTS,
    ParishFolder,
    check_setting,
)

__all__ = ["LOOK", "dressed", "staff_look", "with_look"]

LOOK = ("readings", "letters", "script", "accidentals", "paper", "form", "size", "ink")
"""Settings of the parish file that say how hymns look."""


def with_look(folder: ParishFolder, **given: Any) -> ParishFolder:
    """Take over what was asked for: the same parish with other settings of its look.

    Parameters
    ----------
    folder : ParishFolder
        The parish.
    **given
        Values for some of `LOOK`; None and an empty value leave a setting as it is. Under neumes
        or words alone letters stand only when they are asked for.

    Raises
    ------
    ChantError
        If a value is none of its choices, or form and size do not go together.
    """
    asked = {key: value for key, value in given.items() if value not in (None, (), [], "")}
    if unknown := set(asked) - set(LOOK):
        raise TypeError(f"no setting of the look: {sorted(unknown)}")
    checked = {
        key: check_setting(key, list(value) if isinstance(value, tuple) else value)
        for key, value in asked.items()
    }
    alone = "readings" in checked and not {"staff", "letters"} & set(checked["readings"])
    if alone and "letters" not in checked:
        checked["letters"] = "none"
    made = replace(folder, **checked)
    form(made.form, made.paper, large=made.size == "large")  # refuses what does not go together
    return made


def dressed(booklet: Booklet, folder: ParishFolder) -> Booklet:
    """Give a booklet the look of a parish, and the parish's own rows on neumes."""
    return replace(
        booklet,
        readings=folder.readings,
        letters=LETTERS[folder.letters],
        script=SCRIPTS[folder.script],
        accidentals=ACCIDENTALS[folder.accidentals],
        paper=PAPERS[folder.paper],
        form=cast(FormName, folder.form),
        large=folder.size == "large",
        black=folder.ink == "black",
        overrides=folder.overrides,
    )


def staff_look(folder: ParishFolder, *, width_mm: float, words_pt: float) -> StaffOptions:
    """Options of the staff for drawing a parish's hymns outside a booklet.

    Parameters
    ----------
    folder : ParishFolder
        The parish.
    width_mm : float
        Longest line.
    words_pt : float
        Size of the words.
    """
    return StaffOptions(
        letters=LETTERS[folder.letters],
        script=SCRIPTS[folder.script],
        accidentals=ACCIDENTALS[folder.accidentals],
        width_mm=width_mm,
        words_pt=words_pt,
    )
