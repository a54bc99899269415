"""Lines of a printed page, with what is red and what is raised, turned into our notation.

Service books print in red what is not sung. So red words become rubrics in braces, with these
exceptions: a red initial of a black word is sung, and so are red signs and figures, which are
marks and verse numbers; and where nearly everything is red, colour means nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from chantwright.words.text import Change

__all__ = ["Line", "Run", "is_red", "lines_text"]

MOSTLY = 0.8
_SIGNS = "VRvr"
"""Single letters that are headings (verse, refrain) where they are red."""
_RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")


@dataclass(frozen=True, slots=True)
class Run:
    """Letters of one colour and height."""

    text: str
    red: bool = False
    raised: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """A line as printed; `gap` says that there is room above it."""

    runs: tuple[Run, ...]
    gap: bool = False

    @property
    def text(self) -> str:
        """Its letters."""
        return "".join(r.text for r in self.runs)


def is_red(red: int, green: int, blue: int) -> bool:
    """Whether a colour (each part 0..255) is a printer's red."""
    return red >= 110 and green <= 0.6 * red and blue <= 0.6 * red


def lines_text(lines: Sequence[Line]) -> tuple[str, tuple[Change, ...]]:
    """Write lines out.

    Parameters
    ----------
    lines : sequence of Line
        From the top.

    Returns
    -------
    str, tuple of Change
        Our notation, and every rubric that was made.
    """
    changes: list[Change] = []
    letters = [(c, r.red) for line in lines for r in line.runs for c in r.text if c.isalpha()]
    red = sum(own for _, own in letters)
    if red and red > MOSTLY * len(letters):
        lines = [replace(x, runs=tuple(replace(r, red=False) for r in x.runs)) for x in lines]
        note = "nearly all words are red, so colour is not taken as a sign"
        changes.append(Change("red words", "red", "red", 1, 1, note))
    out: list[str] = []
    for line in lines:
        if line.gap and out and out[-1]:
            out.append("")
        out.append(_written(_joined(line.runs), len(out) + 1, changes))
    return "\n".join(out).strip("\n"), tuple(changes)


def _joined(runs: Iterable[Run]) -> list[Run]:
    """Put neighbours of the same colour together; white space takes the colour before it."""
    found: list[Run] = []
    for run in runs:
        if not run.text:
            continue
        last = found[-1] if found else None
        same = last is not None and (run.red, run.raised) == (last.red, last.raised)
        blank = not run.text.strip() and not run.raised
        if last is not None and (same or (blank and not last.raised)):
            found[-1] = replace(last, text=last.text + run.text)
        else:
            found.append(run)
    return found


def _written(runs: Sequence[Run], number: int, changes: list[Change]) -> str:
    text, loose = "", False
    for k, run in enumerate(runs):
        body = run.text.translate(_RAISED) if run.raised else run.text
        if loose:
            body = body.lstrip()
        loose = False
        if not run.red:
            text += body
            continue
        after = runs[k + 1].text[:1] if k + 1 < len(runs) else ""
        head, middle, tail = _parted(body, text[-1:].isalpha(), after.isalpha())
        for part in (head, tail):
            if any(map(str.isalpha, part)):
                note = "red, but part of a word that is sung"
                place = len(text) + (len(head + middle) if part is tail else 0) + 1
                changes.append(Change("red letter", part, part, number, place, note))
        words = " ".join(middle.split())
        if not any(map(str.isalpha, words)) or (len(words) == 1 and words not in _SIGNS):
            text += body
            continue
        rubric = "{" + words.replace("{", "").replace("}", "") + "}"
        text = f"{text}{head}".rstrip()
        text += f" {rubric} " if text else f"{rubric} "
        note = "printed in red, not sung"
        changes.append(Change("red words", words, rubric, number, len(text) - len(rubric), note))
        text += tail
        loose = not tail
    return text.rstrip()


def _parted(body: str, joins_before: bool, joins_after: bool) -> tuple[str, str, str]:
    """Part off the letters of red words that belong to black words around them."""
    head = body.split(maxsplit=1)[0] if joins_before and body[:1].strip() else ""
    rest = body[len(head) :]
    tail = rest.rsplit(maxsplit=1)[-1] if joins_after and rest[-1:].strip() else ""
    return head, rest[: len(rest) - len(tail)], tail
