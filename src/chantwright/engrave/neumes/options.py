"""What printed neumes look like: sizes, letters, colours.

Sizes are in millimetres on paper; word sizes in points (1/72 inch).
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from chantwright.engrave.options import MM_PER_PT, Letters, Script, StaffOptions
from chantwright.errors import ChantError

__all__ = ["NeumeOptions"]


@dataclass(frozen=True, slots=True)
class NeumeOptions:
    """Options of the neumes.

    Attributes
    ----------
    size_pt : float
        Size of the words, 9 to 28 points.
    ratio : float
        Size of the neumes' font to that of the words. An oligon is about half of it wide.
    width_mm : float
        Longest line.
    letters : str or None
        Second line under the words: byzantine (Pa Vou Ga), western (re mi fa) or none.
    script : str
        Letters in latin or greek script.
    ison : bool
        Whether the drone's letters stand over the neumes.
    black : bool
        Black only, for photocopiers.
    justify : bool
        Whether lines are filled.
    by_phrase : bool
        Whether each phrase begins a new line.
    breaks : frozenset of str
        Ids of notes, without a prefix, with which a new line begins too.
    id_prefix : str
        Put before every id in the drawing.
    overrides : tuple of Path
        Parish files whose rows win over ours.
    """

    size_pt: float = 12.5
    ratio: float = 3.0
    width_mm: float = 170.0
    letters: Letters | None = None
    script: Script = "latin"
    ison: bool = True
    black: bool = False
    justify: bool = True
    by_phrase: bool = False
    breaks: frozenset[str] = frozenset()
    id_prefix: str = ""
    overrides: tuple[Path, ...] = ()

    def __post_init__(self) -> None:
        for name, low, high in (("size_pt", 9, 28), ("ratio", 2.0, 4.0), ("width_mm", 40, 2000)):
            value = getattr(self, name)
            if not low <= value <= high:
                raise ChantError(
                    f"{name} is {value:g}.", remedy=f"Choose between {low} and {high}."
                )

    @property
    def unit_mm(self) -> float:
        """Size of a drawing unit: 1/1000 of the neumes' font."""
        return self.size_pt * self.ratio * MM_PER_PT / 1000

    @property
    def words(self) -> float:
        """Size of the words in drawing units."""
        return 1000 / self.ratio

    def staff(self) -> StaffOptions:
        """The options that words and letters share with the staff."""
        return StaffOptions(
            letters=self.letters,
            script=self.script,
            accidentals="none",
            ison=self.ison,
            black=self.black,
            id_prefix=self.id_prefix,
        )
