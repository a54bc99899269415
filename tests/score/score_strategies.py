"""Hymns of every legal kind, for property tests.

Words are drawn from ordinary text, from Greek and Slavonic with combining marks, and from the
signs the hymn file itself uses, so that every escape is met often.
"""

from __future__ import annotations

import string
from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from hypothesis import strategies as st

from chantwright.score import (
    CADENCES,
    ENDINGS,
    MELODY_SOURCES,
    UNISON,
    Base,
    Hymn,
    Note,
    Phrase,
    Place,
    Syllable,
    number,
)

LINE_BREAKS = "\n\r\v\f\x1c\x1d\x1e\x85\u2028\u2029"

T = TypeVar("T")

TRICKY = (
    "title: x", "Tone:", "notes:", "notes: pa", "note:", "ison: .", "stress:1", "ids:", "rest:",
    "scale:", "cadence: long", "words from: me", "melody kind:", "titel:", "base:", "#", "# a", "{",
    "{Verse}", "}", "|", "||", "|||", "||||", "\\", "\\\\", "a\\", "\\|", " \\ ", "-", "--", "---",
    "loving-kindness", "-a", "a-", "a--", "·", "'", "Lord,", "thee:", "Κύριε", "ἐκέκραξα",
    "α\u0313\u0301", "Гдⷭ҇и", "\u0301", "\ufeff", "\u00a0", "\u200b", "\t", "  ", "a b", " a", "a ",
    "א", "🎵", "\x00", "Lord, I cry: make haste", "ké·pha", "~", "*", "/", "//", "1", "0", ".",
    "unison", "none",
)  # fmt: skip

line = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"], exclude_characters=LINE_BREAKS), max_size=12),
    st.text("\\|-# {}:'+()._ aé", max_size=8),
    st.lists(st.sampled_from(TRICKY), min_size=1, max_size=3).map(" ".join),
    st.lists(st.sampled_from(TRICKY), min_size=1, max_size=3).map("".join),
)
"""One line of text, empty or blank lines among them."""

words = line.filter(lambda text: bool(text.strip()))
names = st.text(string.ascii_letters + string.digits + ".-_\\|#{é", min_size=1, max_size=12)
ids = st.from_regex(r"\A[A-Za-z][A-Za-z0-9_.-]{0,5}\Z")
degrees = st.integers(-14, 21)
fractions = st.one_of(
    st.sampled_from([Fraction(n, d) for d in (1, 2, 3, 4, 5, 6, 8) for n in (1, 2, 3, 5, 7)]),
    st.fractions(Fraction(1, 10_000), 999, max_denominator=10_000),
)
bends = st.one_of(
    st.just(Fraction(0)),
    st.sampled_from([Fraction(-4), Fraction(2), Fraction(-3, 2), Fraction(1, 3)]),
    st.fractions(-72, 72, max_denominator=10_000),
)
notes = st.builds(Note, degrees, st.one_of(st.just(Fraction(1)), fractions), bends)
isons = st.one_of(st.none(), st.just(UNISON), degrees)


def _places(length: int) -> list[Place]:
    if length == 1:
        return ["single"]
    middle: list[Place] = ["middle"] * (length - 2)
    return ["begin", *middle, "end"]


@st.composite
def divided(draw: st.DrawFn, *, set_throughout: bool = False) -> tuple[Syllable, ...]:
    """Draw syllables that make one to four whole words."""
    lengths = draw(st.lists(st.integers(1, 4), min_size=1, max_size=4))
    has_notes = set_throughout or draw(st.booleans())
    has_ison, has_stress = draw(st.booleans()), draw(st.booleans())
    out: list[Syllable] = []
    for length in lengths:
        for place in _places(length):
            some = st.lists(notes, min_size=1 if set_throughout else 0, max_size=3).map(tuple)
            out.append(
                Syllable(
                    draw(words),
                    place,
                    draw(st.integers(0, 2)) if has_stress else 0,
                    draw(some) if has_notes else (),
                    draw(isons) if has_ison else None,
                )
            )
    return tuple(out)


@st.composite
def phrases(draw: st.DrawFn, *, set_throughout: bool = False) -> Phrase:
    """Draw a phrase, divided or not."""
    is_divided = set_throughout or draw(st.booleans())
    return Phrase(
        syllables=draw(divided(set_throughout=set_throughout)) if is_divided else (),
        text="" if is_divided else draw(words),
        cadence=draw(st.sampled_from([None, *CADENCES])),
        scale=draw(st.none() | names),
        rubric=draw(st.just("") | st.lists(line, max_size=3).map("\n".join)),
        verse_start=draw(st.booleans()),
        rest=draw(st.just(Fraction(0)) | fractions),
        remarks=tuple(draw(st.just([]) | st.lists(line, max_size=2))),
        same_as=draw(st.sampled_from(["", "", "p1", "refrain"])),
        peak=draw(st.just("") | words.filter(lambda w: w.split() == [w])),
    )


def _some(draw: st.DrawFn, values: st.SearchStrategy[T]) -> T | None:
    return draw(st.none() | values)


@st.composite
def hymns(draw: st.DrawFn, *, set_throughout: bool = False, min_phrases: int = 0) -> Hymn:
    """Draw a numbered hymn, with plain ids or with ids as edits leave them."""
    hymn = Hymn(
        title=draw(st.just("") | line),
        tone=_some(draw, st.integers(1, 8)),
        branch=_some(draw, names),
        style=_some(draw, st.sampled_from(["heirmologic", "sticheraric", "papadic"])),
        language=draw(st.sampled_from(["en", "grc", "zh-Hant"]) | names),
        tempo=_some(draw, st.integers(1, 999)),
        base=_some(draw, st.builds(Base, degrees, st.floats(1, 20_000))),
        ending=draw(st.sampled_from(ENDINGS)),
        intonation=_some(draw, names),
        words_source=draw(st.just("") | line),
        melody_source=draw(st.just("") | line),
        melody_kind=_some(draw, st.sampled_from(MELODY_SOURCES)),
        remarks=tuple(draw(st.just([]) | st.lists(line, max_size=2))),
        phrases=tuple(
            draw(st.lists(phrases(set_throughout=set_throughout), min_size=min_phrases, max_size=4))
        ),
    )
    if draw(st.booleans()):
        return number(hymn)
    return number(_with_odd_ids(draw, hymn))


def _with_odd_ids(draw: st.DrawFn, hymn: Hymn) -> Hymn:
    """Give some phrases and syllables ids of their own, each once."""
    likely: st.SearchStrategy[str] = st.sampled_from(
        ["p1", "p2", "p3", "p1s1", "p1s2", "p2s1", "p2s1x1", "p2x1"]
    )
    pool = draw(st.lists(likely | ids, unique=True, max_size=12))

    def take() -> str:
        return pool.pop() if draw(st.booleans()) and pool else ""

    out = []
    for phrase in hymn.phrases:
        phrase_id = take()
        syllables = tuple(replace(s, id=take()) for s in phrase.syllables)
        out.append(replace(phrase, id=phrase_id, syllables=syllables))
    return replace(hymn, phrases=tuple(out))
