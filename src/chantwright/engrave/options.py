"""What a printed staff looks like: sizes, letters, accidentals, clef.

Sizes are in millimetres on paper; word sizes in points (1/72 inch).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from chantwright.errors import ChantError

__all__ = ["FONT", "Accidentals", "Clef", "Letters", "Script", "StaffOptions"]

FONT = "Libertinus Serif"
"""Text font: it comes with the compiler of the booklet and has polytonic Greek."""

Letters = Literal["byzantine", "western"]
Script = Literal["latin", "greek"]
Accidentals = Literal["exact", "conventional", "none"]
Clef = Literal["treble", "men", "bass"]

_CHOICES: dict[str, tuple[object, ...]] = {
    "letters": ("byzantine", "western", None),
    "script": ("latin", "greek"),
    "accidentals": ("exact", "conventional", "none"),
    "clef": ("treble", "men", "bass"),
}
MM_PER_PT = 25.4 / 72


@dataclass(frozen=True, slots=True)
class StaffOptions:
    """Options of the staff.

    Attributes
    ----------
    letters : str or None
        Second line under the notes: byzantine (Pa Vou Ga), western (re mi fa) or none.
    script : str
        Letters in latin or greek script.
    accidentals : str
        conventional: the nearest sharps and flats. exact: the same, and the moria that remain as
        a small number over the note. none: plain notes.
    clef : str
        treble; men: treble sounding an octave lower; bass: an octave and more lower.
    width_mm : float
        Longest line.
    staff_mm : float
        From the lowest staff line to the highest.
    words_pt : float
        Size of the words.
    ison : bool
        Whether the drone's letters stand above the staff.
    slurs : bool
        Whether a slur joins the notes of one syllable.
    black : bool
        Black only, for photocopiers.
    id_prefix : str
        Put before every id in the drawing, so that several hymns can stand on one page.
    by_phrase : bool
        Whether each phrase begins a new line.
    """

    letters: Letters | None = "byzantine"
    script: Script = "latin"
    accidentals: Accidentals = "conventional"
    clef: Clef = "treble"
    width_mm: float = 170.0
    staff_mm: float = 7.0
    words_pt: float = 12.5
    ison: bool = True
    slurs: bool = True
    black: bool = False
    id_prefix: str = ""
    by_phrase: bool = False

    def __post_init__(self) -> None:
        for name, allowed in _CHOICES.items():
            if getattr(self, name) not in allowed:
                words = ", ".join("none" if a is None else str(a) for a in allowed)
                raise ChantError(
                    f"“{getattr(self, name)}” is not a choice for {name}.",
                    remedy=f"Choose one of: {words}.",
                )
        for name, low, high in (("width_mm", 40, 2000), ("staff_mm", 3, 20), ("words_pt", 5, 48)):
            value = getattr(self, name)
            if not low <= value <= high:
                raise ChantError(
                    f"{name} is {value:g}.", remedy=f"Choose between {low} and {high}."
                )

    @property
    def space_mm(self) -> float:
        """From one staff line to the next."""
        return self.staff_mm / 4

    @property
    def words_spaces(self) -> float:
        """Size of the words in staff spaces."""
        return self.words_pt * MM_PER_PT / self.space_mm
