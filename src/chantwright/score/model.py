"""The score: a hymn of phrases, syllables and notes.

Conventions
-----------
A *degree* is an integer step number: ni = 0, pa = 1 ... zo = 6, ni' = 7, zo_ = -1. It holds no
tuning. *Beats* are exact fractions of the hymn's beat (one chronos). A *bend* is in moria, 72 to
the octave, added to the degree's own place in the scale. *Stress* follows the custom of
pronouncing dictionaries: 0 none, 1 primary, 2 secondary. An *ison* is the degree the drone
holders keep under a syllable, `UNISON` when they join the melody, or None when nothing is held.

Everything is frozen; an edit makes a new hymn (`chantwright.score.edit`). Syllables and phrases
carry ids; a note's id is its syllable's id and its place (`note_id`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

__all__ = [
    "CADENCES",
    "ENDINGS",
    "MELODY_SOURCES",
    "PLACES",
    "UNISON",
    "Base",
    "Cadence",
    "Hymn",
    "Ison",
    "Note",
    "Phrase",
    "Place",
    "Syllable",
    "note_id",
    "number",
    "walk",
]

UNISON: Literal["unison"] = "unison"
Ison = int | Literal["unison"] | None
Cadence = Literal["medial", "full", "final", "long"]
CADENCES: tuple[Cadence, ...] = ("medial", "full", "final", "long")
Place = Literal["single", "begin", "middle", "end"]
PLACES: tuple[Place, ...] = ("single", "begin", "middle", "end")
MelodySource = Literal["rule", "model", "written", "sung"]
MELODY_SOURCES: tuple[MelodySource, ...] = ("rule", "model", "written", "sung")
Ending = Literal["ordinary", "long"]
ENDINGS: tuple[Ending, ...] = ("ordinary", "long")


@dataclass(frozen=True, slots=True)
class Note:
    """One sung note.

    Attributes
    ----------
    degree : int
        Step number, ni = 0.
    beats : Fraction
        Length in beats, above 0.
    bend : Fraction
        Written attraction or accidental in moria; 0 when plain.
    """

    degree: int
    beats: Fraction = Fraction(1)
    bend: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Syllable:
    """One syllable of the words and the notes it is sung to.

    Attributes
    ----------
    text : str
        Letters with any punctuation that belongs to them ("thee,").
    place : str
        Where it stands in its word: single, begin, middle or end.
    stress : int
        0 none, 1 primary, 2 secondary.
    notes : tuple of Note
        Empty while the hymn is not set.
    ison : int, "unison" or None
        What the drone holders keep under it.
    id : str
        Stable name, such as ``p2s5``; see `number`.
    """

    text: str
    place: Place = "single"
    stress: int = 0
    notes: tuple[Note, ...] = ()
    ison: Ison = None
    id: str = ""

    @property
    def beats(self) -> Fraction:
        """Total length in beats."""
        return sum((n.beats for n in self.notes), Fraction(0))


@dataclass(frozen=True, slots=True)
class Phrase:
    """A line of words sung in one breath.

    Attributes
    ----------
    syllables : tuple of Syllable
        Divided words. Empty while the words are not divided yet.
    text : str
        The words as the teacher wrote them, marks and all. Kept only while `syllables` is empty.
    cadence : str or None
        medial, full, final or long; None leaves it to the setter.
    scale : str or None
        Scale that begins with this phrase, where it changes.
    rubric : str
        Printed in red before the phrase and never sung; several lines are parted by line ends.
    verse_start : bool
        A blank line stands before the phrase: a new verse or stanza begins.
    rest : Fraction
        Beats of silence after the phrase.
    id : str
        Stable name, such as ``p2``.
    remarks : tuple of str
        The teacher's comment lines that stand with this phrase; never printed, never sung.
    same_as : str
        Id of an earlier phrase whose music this one takes up; empty where the teacher marks none.
    peak : str
        Word of this phrase that is to be the highest of the hymn; empty where none is marked.
    """

    syllables: tuple[Syllable, ...] = ()
    text: str = ""
    cadence: Cadence | None = None
    scale: str | None = None
    rubric: str = ""
    verse_start: bool = False
    rest: Fraction = Fraction(0)
    id: str = ""
    remarks: tuple[str, ...] = ()
    same_as: str = ""
    peak: str = ""

    @property
    def is_set(self) -> bool:
        """Whether every syllable has at least one note."""
        return bool(self.syllables) and all(s.notes for s in self.syllables)

    @property
    def beats(self) -> Fraction:
        """Length in beats, without the rest after it."""
        return sum((s.beats for s in self.syllables), Fraction(0))

    @property
    def words(self) -> str:
        """The words as read aloud, undivided."""
        if not self.syllables:
            return self.text
        out = ""
        for syllable in self.syllables:
            if out and syllable.place in ("single", "begin"):
                out += " "
            out += syllable.text
        return out


@dataclass(frozen=True, slots=True)
class Base:
    """The sounding pitch of the tone's base: a degree and its frequency in Hz."""

    degree: int
    hz: float


@dataclass(frozen=True, slots=True)
class Hymn:
    """A hymn, with or without its melody.

    Attributes
    ----------
    title : str
        As printed over the music.
    tone : int or None
        1 to 8.
    branch : str or None
        Branch of the tone, such as ``t1.heirmologic``.
    style : str or None
        heirmologic, sticheraric or papadic.
    language : str
        Language of the words: a BCP 47 tag such as ``en`` or ``grc``.
    tempo : int or None
        Beats a minute; None takes the style's own.
    base : Base or None
        Sounding pitch of the base; None until a pitch is chosen.
    ending : str
        ordinary or long: how the last phrase closes.
    intonation : str or None
        Intonation sung before the hymn; None takes the branch's own.
    words_source, melody_source : str
        Where the words and the melody come from, as printed.
    melody_kind : str or None
        rule, model, written or sung; None while there is no melody.
    remarks : tuple of str
        The teacher's comment lines.
    phrases : tuple of Phrase
        In order.
    """

    title: str = ""
    tone: int | None = None
    branch: str | None = None
    style: str | None = None
    language: str = "en"
    tempo: int | None = None
    base: Base | None = None
    ending: Ending = "ordinary"
    intonation: str | None = None
    words_source: str = ""
    melody_source: str = ""
    melody_kind: MelodySource | None = None
    remarks: tuple[str, ...] = ()
    phrases: tuple[Phrase, ...] = ()

    @property
    def is_set(self) -> bool:
        """Whether every phrase has its melody."""
        return bool(self.phrases) and all(p.is_set for p in self.phrases)

    @property
    def beats(self) -> Fraction:
        """Whole length in beats, rests included."""
        return sum((p.beats + p.rest for p in self.phrases), Fraction(0))


def note_id(syllable: Syllable, index: int) -> str:
    """Name of a note: its syllable's id, ``n``, and its place counted from 1."""
    return f"{syllable.id}n{index + 1}"


def number(hymn: Hymn) -> Hymn:
    """Give every phrase and syllable without an id a fresh one.

    A new hymn is numbered by place (``p1``, ``p1s1`` ...). Ids that are there already stay, and a
    fresh one never repeats an id in use.
    """
    taken = {p.id for p in hymn.phrases if p.id}
    taken |= {s.id for p in hymn.phrases for s in p.syllables if s.id}

    def fresh(wanted: str) -> str:
        name, extra = wanted, 0
        while name in taken:
            extra += 1
            name = f"{wanted}x{extra}"
        taken.add(name)
        return name

    phrases = []
    for i, phrase in enumerate(hymn.phrases, start=1):
        phrase_id = phrase.id or fresh(f"p{i}")
        syllables = tuple(
            s if s.id else replace(s, id=fresh(f"{phrase_id}s{j}"))
            for j, s in enumerate(phrase.syllables, start=1)
        )
        phrases.append(replace(phrase, id=phrase_id, syllables=syllables))
    return replace(hymn, phrases=tuple(phrases))


def walk(hymn: Hymn) -> Iterator[tuple[Phrase, Syllable, int, Note]]:
    """Every note in order, with its phrase, its syllable and its place in the syllable."""
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            for index, note in enumerate(syllable.notes):
                yield phrase, syllable, index, note
