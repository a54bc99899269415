"""The words of a hymn file as one text again, marks and all, as the teacher wrote them."""

from __future__ import annotations

from chantwright.score import Cadence, Hymn, Phrase

__all__ = ["divided_line", "source_text"]

_BARS: dict[Cadence | None, str] = {None: "", "medial": " |", "full": " ||", "final": " |||"}
_STROKES = {
    0: "",
    1: "\N{MODIFIER LETTER VERTICAL LINE}",
    2: "\N{MODIFIER LETTER LOW VERTICAL LINE}",
}


def divided_line(phrase: Phrase) -> str:
    """Write a phrase with hyphens between syllables and a stroke before the stressed ones."""
    line = ""
    for syllable in phrase.syllables:
        new_word = syllable.place in ("single", "begin")
        line += (" " if new_word and line else "" if new_word else "-") + (
            _STROKES[syllable.stress] + syllable.text
        )
    return line


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
