"""The forms a booklet is printed in, with their measures.

``pages`` for the stand, ``folded`` for a stapled booklet of half sheets, ``slides`` for a
projector, ``phone`` for a small screen, where each hymn is one page as long as it needs. Sizes
are in millimetres, type in points.

References
----------
Words on a phone: 16 px at a width of 360 px, the least size most readers manage (common practice);
the phone page is 90 mm wide, so that is 11.3 points on it. A projector's picture is 16:9.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from chantwright.engrave.pages import PAPERS
from chantwright.errors import ChantError

__all__ = ["FORMS", "Form", "FormName", "form"]

FormName = Literal["pages", "folded", "slides", "phone"]
FORMS: tuple[FormName, ...] = ("pages", "folded", "slides", "phone")


@dataclass(frozen=True, slots=True)
class Form:
    """Measures of a page.

    Attributes
    ----------
    name : str
        One of `FORMS`.
    width, height, margin : float
        Millimetres.
    text_pt, words_pt : float
        Sizes of the text and of the words under the music.
    staff_mm : float
        From the lowest staff line to the highest.
    guide : bool
        Whether the page on how to read it is printed.
    """

    name: FormName
    width: float
    height: float
    margin: float
    text_pt: float
    words_pt: float
    staff_mm: float
    guide: bool = True

    @property
    def depth(self) -> float:
        """Height that music may take on a page or, under its title, on a slide, millimetres."""
        return self.height - 2 * self.margin - (10 if self.name == "slides" else 4)

    @property
    def room(self) -> float:
        """Width of a line of music, millimetres."""
        return self.width - 2 * self.margin


def _paper(paper: str) -> tuple[float, float]:
    if paper not in PAPERS:
        raise ChantError(
            f"“{paper}” is no paper we print on.",
            remedy=f"Choose one of: {', '.join(PAPERS)}.",
        )
    return PAPERS[paper]


def form(name: str, paper: str = "a4", *, large: bool = False) -> Form:
    """Measures of a form.

    Parameters
    ----------
    name : str
        One of `FORMS`.
    paper : str
        a4 or letter, for pages and folded.
    large : bool
        Large print: words of 18 points and more. For pages only.

    Raises
    ------
    ChantError
        If the form or the paper is not known, or large print is asked of another form.
    """
    width, height = _paper(paper)
    if large and name != "pages":
        raise ChantError(
            f"large print and {name} do not go together.",
            remedy="Choose one of them.",
        )
    if name == "pages":
        if large:
            return Form("pages", width, height, 17.0, 15.0, 18.5, 9.0)
        return Form("pages", width, height, 20.0, 11.0, 12.5, 6.6)
    if name == "folded":
        return Form("folded", height / 2, width, 12.0, 9.5, 11.0, 5.6)
    if name == "slides":
        return Form("slides", 254.0, 142.9, 12.0, 16.0, 26.0, 10.5, guide=False)
    if name == "phone":
        return Form("phone", 90.0, 180.0, 4.0, 11.5, 12.5, 6.0)
    raise ChantError(
        f"“{name}” is no form we print in.", remedy=f"Choose one of: {', '.join(FORMS)}."
    )
