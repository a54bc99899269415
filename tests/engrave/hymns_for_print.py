"""Hymns for the print tests, written as short lines: words, and notes under each syllable."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from chantwright.score import Base, Cadence, Hymn, Ison, Note, Phrase, Place, Syllable


def syllables(line: str, ison: Ison = 1) -> tuple[Syllable, ...]:
    """Read ``Bless-ed:1|1,2*1/2 man:3``: syllables by -, their notes by |, a note's beats by *."""
    out = []
    for word in line.split():
        text, _, sung = word.partition(":")
        parts = text.split("-")
        for i, (part, notes) in enumerate(zip(parts, sung.split("|"), strict=True)):
            place: Place = "middle"
            if len(parts) == 1:
                place = "single"
            elif i == 0:
                place = "begin"
            elif i == len(parts) - 1:
                place = "end"
            made = []
            for note in notes.split(","):
                degree, _, beats = note.partition("*")
                made.append(Note(int(degree), Fraction(beats or "1")))
            out.append(Syllable(part, place, notes=tuple(made), ison=ison))
    return tuple(out)


def phrase(line: str, cadence: Cadence = "medial", ison: Ison = 1) -> Phrase:
    return Phrase(syllables(line, ison), cadence=cadence)


PSALM = Hymn(
    title="Blessed is the man",
    tone=1,
    branch="t1.heirmologic",
    tempo=120,
    base=Base(1, 146.83),
    words_source="Psalm 1, King James",
    melody_kind="rule",
    phrases=(
        phrase("Bless-ed:1|1 is:1 the:2 man:3,4*1/2,3*1/2,2*2"),
        phrase("that:1 walk-eth:3|3 not:3 in:3 the:3 coun-sel:4|3 of:2 the:2 un-god-ly,:1|2|1*2"),
        phrase("nor:1 stand-eth:3|3 in:3 the:3 way:3 of:4 sin-ners,:3,2|1*2", "full", 4),
        phrase("nor:1 sit-teth:3|3 in:3 the:3 seat:3*1/2,4*1/2 of:2 the:2 scorn-ful.:1,2,3,2|1*3"),
        replace(
            phrase("But:1 his:3 de-light:3|3 is:3 in:3 the:3 law:4 of:3 the:2 Lord;:1*2"),
            verse_start=True,
            rubric="Left choir",
        ),
        phrase(
            "and:1 in:3 his:3 law:3 doth:3 he:3 med-i-tate:4|3|3 day:2 and:2 night.:2,1,0,1*5",
            "final",
            "unison",
        ),
    ),
)

DENSE = Hymn(
    title="Dense",
    tone=1,
    phrases=(
        phrase(
            "Through-out:1|2 the:3 strengths:4 length-ened:3*1/2,4*1/2|5 "
            "thought-ful-ly:4*1/2|3*1/2|2 a:1 stretched:2*1/2 "
            "I:3*1/2 wrought,:4 scratched:5*1/4,4*1/4,3*1/2 O:1"
        ),
        phrase(
            "straight-way:1|2 i-o-ta:3*1/2|4*1/2|3 all:2 breadths:1*1/2 a:0*1/2 wrenched.:1",
            "final",
        ),
    ),
)

GREEK = Hymn(
    title="Κύριε ἐκέκραξα",
    tone=8,
    language="grc",
    phrases=(
        phrase(
            "Κύ-ρι-ε:4|5|5 ἐ-κέ-κρα-ξα:5|6*1/4,7*1/4,6*1/2|5|4 πρὸς:4*3/4,5*1/4 σέ,:3 "
            "εἰ-σά-κου-σόν:4|4|5*2|4 μου.:1*8",
            "final",
        ),
    ),
)
