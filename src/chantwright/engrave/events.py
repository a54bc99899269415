"""What is printed, note by note: spelled pitch, letters, drone, marks of the phrase.

A hymn becomes one list of *events*, one for each sung note. Line breaking cuts the list; each cut
becomes a system.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from chantwright.engrave.alphabet import check_texts
from chantwright.engrave.letters import ison_text, letter
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.printable import printable
from chantwright.engrave.spelling import Spelling, moria_text, signature, spell
from chantwright.errors import ChantError, Where
from chantwright.score import Hymn, Note, Phrase, Syllable, note_id, number
from chantwright.tones import Branch, Tones
from chantwright.tuning import Scale

__all__ = ["Event", "Sheet", "branch_of", "check", "check_letters", "sheet"]


@dataclass(frozen=True, slots=True)
class Event:
    """One sung note as printed.

    Attributes
    ----------
    id : str
        The note's id in the score.
    phrase, syllable, note
        What it is in the score.
    first, last : bool
        First and last note of its syllable.
    starts, ends : bool
        First and last note of its phrase.
    spelling : Spelling
        Staff position and alteration.
    number : str
        Moria over the note, or empty.
    letter : str
        Solfege letter, or empty.
    drone : str
        What the drone holders keep here, in letters.
    moves : bool
        The drone changes here.
    verse_ends : bool
        The last note of a verse.
    """

    id: str
    phrase: Phrase
    syllable: Syllable
    note: Note
    first: bool
    last: bool
    starts: bool
    ends: bool
    spelling: Spelling
    number: str
    letter: str
    drone: str
    moves: bool
    verse_ends: bool

    @property
    def begins_word(self) -> bool:
        """Whether a word begins with this note."""
        return self.first and self.syllable.place in ("single", "begin")

    @property
    def must_break(self) -> bool:
        """Whether a new line has to begin here."""
        return self.starts and bool(self.phrase.verse_start or self.phrase.rubric)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A hymn ready to be printed.

    Attributes
    ----------
    hymn : Hymn
        With all ids.
    scale : Scale
        Of its branch.
    signature : tuple of (step, alteration)
        Key signature.
    events : tuple of Event
        In order.
    """

    hymn: Hymn
    scale: Scale
    signature: tuple[tuple[str, int], ...]
    events: tuple[Event, ...]


def branch_of(hymn: Hymn, tones: Tones) -> Branch:
    """Branch of a hymn: its own, or the usual one of its tone and style.

    Raises
    ------
    ChantError
        If the hymn names neither a branch nor a tone.
    """
    if hymn.branch:
        return tones.branch(hymn.branch)
    if hymn.tone is None:
        raise ChantError(
            f"the hymn “{hymn.title}” names no tone.",
            remedy="Add a line such as “tone: 4” at the head of its file.",
        )
    return tones.default_branch(hymn.tone, hymn.style or "heirmologic")


def _scale(tones: Tones, name: str, where: Where) -> Scale:
    if name not in tones.scales:
        raise ChantError(
            f"there is no scale “{name}”.",
            where=where,
            remedy=f"Scales are: {', '.join(sorted(tones.scales))}.",
        )
    return tones.scales[name]


def check(hymn: Hymn) -> None:
    """Check that a hymn can be printed with its melody; a phrase without one is an error."""
    if not hymn.phrases:
        raise ChantError(f"the hymn “{hymn.title}” has no words yet.", remedy="Write its words.")
    for phrase in hymn.phrases:
        if not phrase.is_set:
            raise ChantError(
                f"a phrase of “{hymn.title}” has no melody yet.",
                where=Where(word=phrase.words[:60]),
                remedy="Set the words first, or write the notes under them.",
            )


def check_letters(hymn: Hymn) -> None:
    """Check that there is a font for every letter of the words.

    Raises
    ------
    ChantError
        If there is none for one of them; names the syllable.
    """
    check_texts([("", s.text) for p in hymn.phrases for s in p.syllables])


def _printable(hymn: Hymn) -> Hymn:
    """The same hymn with every text freed of what no page can show."""
    phrases = []
    for phrase in hymn.phrases:
        syllables = tuple(replace(s, text=printable(s.text)) for s in phrase.syllables)
        phrases.append(replace(phrase, syllables=syllables, rubric=printable(phrase.rubric)))
    return replace(hymn, title=printable(hymn.title), phrases=tuple(phrases))


def sheet(hymn: Hymn, tones: Tones, options: StaffOptions) -> Sheet:
    """Make a hymn ready to be printed.

    Raises
    ------
    ChantError
        If a phrase has no melody, or the branch or a scale is not known.
    """
    check(hymn)
    hymn = number(_printable(hymn))
    scale = own = _scale(tones, branch_of(hymn, tones).scale, Where())
    degrees = [n.degree for p in hymn.phrases for s in p.syllables for n in s.notes]
    key = signature(own, degrees) if options.accidentals != "none" else ()
    out: list[Event] = []
    spelt: dict[tuple[str, int, Fraction], Spelling] = {}

    def spelling(of: Scale, degree: int, bend: Fraction = Fraction(0)) -> Spelling:
        key = (of.id, degree, bend)
        if key not in spelt:
            spelt[key] = spell(of, degree, bend)
        return spelt[key]

    held = ""
    for index, phrase in enumerate(hymn.phrases):
        if phrase.scale:
            scale = _scale(tones, phrase.scale, Where(word=phrase.words[:60]))
        after = hymn.phrases[index + 1] if index + 1 < len(hymn.phrases) else None
        verse_ends = after is None or after.verse_start
        count = len(phrase.syllables)
        for place, syllable in enumerate(phrase.syllables):
            # No drone at all is the silence before it first sets in; it is not printed.
            drone = ison_text(syllable.ison, options.letters or "byzantine", options.script)
            if syllable.ison is None and not held:
                drone = ""
            for i, note in enumerate(syllable.notes):
                last = i + 1 == len(syllable.notes)
                written = spelling(scale, note.degree, note.bend)
                plain = spelling(own, note.degree)
                extra = written.remainder + 6 * (written.alteration - plain.alteration)
                # The remainder that every such note of the scale has is told in the heading.
                shown = written.remainder if extra != plain.remainder else Fraction(0)
                exact = options.accidentals == "exact" and shown
                ends = last and place + 1 == count
                out.append(
                    Event(
                        id=note_id(syllable, i),
                        phrase=phrase,
                        syllable=syllable,
                        note=note,
                        first=i == 0,
                        last=last,
                        starts=place == 0 and i == 0,
                        ends=ends,
                        spelling=written,
                        number=moria_text(shown) if exact else "",
                        letter=letter(note.degree, options.letters, options.script)
                        if options.letters
                        else "",
                        drone=drone,
                        moves=i == 0 and drone != held,
                        verse_ends=ends and verse_ends,
                    )
                )
            held = drone
    return Sheet(hymn, own, key, tuple(out))
