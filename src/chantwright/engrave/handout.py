"""A handout: one page that puts a tone into a learner's hand.

The ladder of the scale to its true size, the facts of the tone, the intonation, and the first
phrases of a hymn to know by heart, as many as the page holds.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from chantwright import safefile
from chantwright.engrave.alphabet import check_texts
from chantwright.engrave.heading import heading
from chantwright.engrave.ladder import Ladder, ladder
from chantwright.engrave.options import FONT, Accidentals, Letters, Script, StaffOptions
from chantwright.engrave.pages import PAPERS, compiled, for_page
from chantwright.engrave.staff import lines
from chantwright.errors import ChantError
from chantwright.score import Hymn, walk
from chantwright.tones import Branch, Tones
from chantwright.tuning import degree_name

__all__ = ["Handout", "handout_pdf", "write_handout"]

_TALLEST = 128.0
"""Millimetres; a wide compass is drawn to a smaller measure, which the page then states."""
_MEASURES = (1.6, 1.4, 1.2, 1.0, 0.8)


@dataclass(frozen=True, slots=True)
class Handout:
    """What stands on a handout.

    Attributes
    ----------
    model : Hymn
        A hymn of the tone to know by heart, with its melody.
    parish : str
        Named at the foot.
    paper : str
        a4 or letter.
    black : bool
        Black only.
    letters, script, accidentals
        As in `StaffOptions`.
    """

    model: Hymn
    parish: str = ""
    paper: str = "a4"
    black: bool = False
    letters: Letters | None = "byzantine"
    script: Script = "latin"
    accidentals: Accidentals = "conventional"


def _names(degrees: tuple[int, ...]) -> str:
    names = [degree_name(d).rstrip("_'").capitalize() for d in degrees]
    return ", ".join(dict.fromkeys(names))


def _facts(branch: Branch) -> list[str]:
    out = [f"The melody ends on {_names(branch.final)}, and the ison keeps it."]
    if branch.ison_base not in branch.final:
        out = [
            f"The melody ends on {_names(branch.final)}; "
            f"the ison keeps {_names((branch.ison_base,))}."
        ]
    dwelt = tuple(d for d in branch.dominating if d not in branch.final)
    if dwelt:
        out.append(f"It likes to dwell on {_names(dwelt)}.")
    if branch.incomplete:
        out.append(f"Half closes: {_names(branch.incomplete)}.")
    return out


def _fitting(branch: Branch, tones: Tones, model: Hymn, *, black: bool) -> Ladder:
    """The ladder in the largest measure that leaves room for the music."""
    sung = sorted({note.degree for _, _, _, note in walk(model)})
    drawn = [
        ladder(branch, tones, mm_per_morion=measure, black=black, sung=sung)
        for measure in _MEASURES
    ]
    return next((d for d in drawn if d.height_mm <= _TALLEST), drawn[-1])


def handout_pdf(handout: Handout, tones: Tones) -> bytes:
    """Set a handout: always one page.

    Raises
    ------
    ChantError
        If the model has no melody or names no tone, the paper is not known, or a text has a letter
        that no font has.
    """
    model = handout.model
    if not model.is_set:
        raise ChantError(
            f"“{model.title}” has no melody yet.", remedy="Set it first: chantwright set"
        )
    if handout.paper not in PAPERS:
        raise ChantError(
            f"“{handout.paper}” is no paper we print on.",
            remedy=f"Choose one of: {', '.join(PAPERS)}.",
        )
    check_texts(
        [("the title of the hymn", model.title), ("the name of the parish", handout.parish)]
    )
    width, height = PAPERS[handout.paper]
    options = StaffOptions(
        letters=handout.letters,
        script=handout.script,
        accidentals=handout.accidentals,
        width_mm=width - 36,
        staff_mm=6.2,
        words_pt=12.0,
        black=handout.black,
    )
    found = heading(model, tones, options)
    branch = (
        tones.branch(model.branch)
        if model.branch
        else tones.default_branch(model.tone or 0, model.style or "heirmologic")
    )
    drawn = _fitting(branch, tones, model, black=handout.black)
    data: dict[str, Any] = {
        "paper": {"a4": "a4", "letter": "us-letter"}[handout.paper],
        "font": FONT,
        "black": handout.black,
        "tone": found.tone,
        "greek": found.greek,
        "branch": branch.title,
        "facts": _facts(branch),
        "pitch": list(found.facts),
        "ladder": {
            "svg": drawn.svg,
            "width": drawn.width_mm,
            "words": drawn.words,
            "measure": f"{drawn.mm_per_morion:g}",
        },
        "intonation": None,
        "title": model.title,
        "sources": list(found.sources),
        "parish": handout.parish,
        "language": model.language.split("-")[0] or "en",
        "systems": [],
    }
    if found.intonation is not None:
        small = replace(options, width_mm=options.width_mm - drawn.width_mm - 6)
        data["intonation"] = {
            "words": found.intonation_words,
            "systems": [
                {"svg": s.svg, "width": s.width_mm, "words": s.words}
                for s in lines(found.intonation, tones, small)
            ],
        }
    # What the page holds beneath the ladder; the rest of the hymn is in the booklet.
    room = height - 36 - drawn.height_mm - 40
    drawn_lines = lines(model, tones, options)
    for system in drawn_lines:
        room -= system.height_mm + 4
        if room < 0:
            break
        data["systems"].append({"svg": system.svg, "width": system.width_mm, "words": system.words})
    data["whole"] = len(data["systems"]) == len(drawn_lines)
    return compiled("handout.typ", "handout", json.dumps(for_page(data), ensure_ascii=False))


def write_handout(handout: Handout, path: str | Path, tones: Tones) -> Path:
    """Set a handout and write it as PDF, whole or not at all.

    Errors are those of `handout_pdf` and of a file that cannot be written.
    """
    target = Path(path)
    safefile.write_bytes(target, handout_pdf(handout, tones))
    return target
