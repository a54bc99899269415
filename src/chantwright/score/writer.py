"""From a hymn to the text of a hymn file; every hymn has exactly one."""

from __future__ import annotations

from fractions import Fraction

from chantwright.score.header import write_header
from chantwright.score.model import Hymn, Ison, Phrase, number
from chantwright.score.tokens import guard, write_fraction, write_group, write_words
from chantwright.score.validate import validate
from chantwright.tuning import degree_name

__all__ = ["write_hymn"]

_MARKS = {"medial": " |", "full": " ||", "final": " |||", "long": " |||"}


def _remark(text: str) -> str:
    return f"# {text}" if text else "#"


def _rubric(text: str) -> str:
    body = "".join(f"\\{c}" if c in "\\}" else c for c in text)
    inner = text.strip()
    if text != inner:
        # Blanks at the ends are the teacher's own: a backslash before each.
        head = len(text) - len(text.lstrip())
        tail = len(text) - len(text.rstrip()) if inner else 0
        middle = body[head : len(body) - tail]
        body = "".join(f"\\{c}" for c in text[:head]) + middle
        body += "".join(f"\\{c}" for c in text[len(text) - tail :])
    return f"{{{body}}}"


def _isons(phrase: Phrase) -> str:
    out: list[str] = []
    held: Ison = None
    for i, syllable in enumerate(phrase.syllables):
        ison = syllable.ison
        if i and ison == held:
            out.append(".")
        elif ison is None:
            out.append("none")
        else:
            out.append(ison if isinstance(ison, str) else degree_name(ison))
        held = ison
    return " ".join(out)


def _stresses(phrase: Phrase) -> str:
    out = ""
    for syllable in phrase.syllables:
        if out and syllable.place in ("single", "begin"):
            out += " "
        out += str(syllable.stress)
    return out


def _ids(phrase: Phrase, place: int) -> str:
    own = [
        "." if s.id == f"{phrase.id}s{j}" else s.id for j, s in enumerate(phrase.syllables, start=1)
    ]
    if any(name != "." for name in own):
        return " ".join([phrase.id, *own])
    return "" if phrase.id == f"p{place}" else phrase.id


def _phrase(phrase: Phrase, place: int) -> list[str]:
    lines = [_remark(r) for r in phrase.remarks]
    if phrase.rubric:
        lines += [_rubric(line) for line in phrase.rubric.split("\n")]
    mark = _MARKS.get(phrase.cadence or "", "")
    syllables = phrase.syllables
    if not syllables:
        lines.append(guard(phrase.text, words=True) + mark)
    else:
        lines.append(write_words(syllables) + mark)
        is_noted = any(s.notes for s in syllables)
        is_held = any(s.ison is not None for s in syllables)
        if is_noted:
            lines.append("notes: " + " ".join(write_group(s.notes) for s in syllables))
        if is_held:
            lines.append("ison: " + _isons(phrase))
        if any(s.stress for s in syllables) or not (is_noted or is_held):
            lines.append("stress: " + _stresses(phrase))
    if phrase.scale:
        lines.append("scale: " + guard(phrase.scale))
    if phrase.rest:
        lines.append("rest: " + write_fraction(Fraction(phrase.rest)))
    if phrase.cadence == "long":
        lines.append("cadence: long")
    if phrase.same_as:
        lines.append("same as: " + phrase.same_as)
    if phrase.peak:
        lines.append("peak: " + guard(phrase.peak))
    if ids := _ids(phrase, place):
        lines.append("ids: " + ids)
    return lines


def write_hymn(hymn: Hymn) -> str:
    """Write a hymn file; see `chantwright.score.hymnfile.dumps`."""
    validate(hymn)
    hymn = number(hymn)
    head = write_header(hymn)
    lines = list(head)
    for place, phrase in enumerate(hymn.phrases, start=1):
        if place == 1 and head:
            lines.append("")
        if phrase.verse_start:
            lines.append("")
        lines += _phrase(phrase, place)
    return "".join(f"{line}\n" for line in lines)
