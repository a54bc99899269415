"""The words of a hymn file as one text again, marks and all, as the teacher wrote them."""

from __future__ import annotations

from chantwright.score import Cadence, Hymn

__all__ = ["source_text"]

_BARS: dict[Cadence | None, str] = {None: "", "medial": " |", "full": " ||", "final": " |||"}


def source_text(hymn: Hymn) -> str:
    """Write out the words of a hymn, ready for `read_words`.

    Parameters
    ----------
    hymn : Hymn
        Divided or not.

    Returns
    -------
    str
        A line a phrase, with its bar where it has one; a blank line before a verse; rubrics in
        braces.
    """
    lines: list[str] = []
    for phrase in hymn.phrases:
        if phrase.verse_start and lines:
            lines.append("")
        lines += [f"{{{line}}}" for line in phrase.rubric.split("\n") if line]
        lines.append(f"{phrase.words}{_BARS.get(phrase.cadence, ' |||')}")
    return "\n".join(lines)
