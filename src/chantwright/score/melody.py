"""A single line of melody as other programs write it, and the hymn it becomes.

A file of another program knows letters, octaves and lengths, but neither tones nor degrees. A
`Melody` holds what it says; `to_hymn` reads it in a tone.

Conventions
-----------
Heights are in moria above the middle c that a staff shows (72 to the octave, 6 to a semitone).
`step` is the staff position counted from that c (c = 0, d = 1 ... c' = 7), or None where the file
knows keys only, as MIDI does. Lengths are in beats: a quarter note is one beat.

A melody is laid on the degrees so that its last note is a final of the tone's branch; with
``ni`` given, that letter is ni instead (an octave up or down as the branch needs it).

References
----------
A tone ends on its final degree: common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from types import MappingProxyType
from typing import cast, get_args

from chantwright.errors import ChantError, Where
from chantwright.score.model import (
    MELODY_SOURCES,
    Base,
    Cadence,
    Hymn,
    Ison,
    Note,
    Phrase,
    Place,
    Syllable,
    number,
)
from chantwright.score.validate import HIGHEST, LOWEST, validate
from chantwright.tones import Branch, Tones
from chantwright.tuning import Scale, parse_degree

__all__ = ["BY_DEGREE", "EXACT", "KEYS", "Colon", "Melody", "Sung", "to_hymn"]

KEYS = (0, 12, 24, 30, 42, 54, 66)
"""Moria of c d e f g a b above c on a keyboard."""
_MISREAD = Fraction(7, 2)
"""Moria. A foreign file that departs less from the tone's own place means that place."""
_SEMITONE = 6
EXACT, BY_DEGREE = "exact", "by degree"
"""How a file of ours is tuned: by the heights of its notes, or by their staff steps alone."""


@dataclass(frozen=True, slots=True)
class Sung:
    """One note of a melody.

    Attributes
    ----------
    moria : Fraction
        Above the middle c of the staff.
    beats : Fraction
        Length.
    step : int or None
        Staff position from that c; None in a file of keys.
    text : str
        Syllable that begins here; empty when the last one goes on.
    place : str
        Where that syllable stands in its word.
    line : int
        Line of the file, 0 when it has none.
    id : str
        Id of the syllable in a file of ours, else empty.
    """

    moria: Fraction
    beats: Fraction
    step: int | None = None
    text: str = ""
    place: Place = "single"
    line: int = 0
    id: str = ""


@dataclass(frozen=True, slots=True)
class Colon:
    """Notes sung in one breath, and the silence after them in beats."""

    notes: tuple[Sung, ...]
    rest: Fraction = Fraction(0)
    rubric: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class Melody:
    """A single line of melody.

    Attributes
    ----------
    title : str
        As the file says.
    cola : tuple of Colon
        One for each phrase.
    facts : mapping of str to str
        What our own files say beside the notes: tone, branch, cadences and so on.
    tempo : int or None
        Beats a minute.
    words_source, melody_source : str
        Where words and melody come from.
    """

    title: str
    cola: tuple[Colon, ...]
    facts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    tempo: int | None = None
    words_source: str = ""
    melody_source: str = ""


def _branch(
    melody: Melody, tones: Tones, tone: int | None, branch: str | None, file: str
) -> Branch:
    if branch is not None:
        return tones.branch(branch)
    if tone is not None:
        return tones.default_branch(tone)
    own = melody.facts.get("branch", "")
    if own in tones.branches:
        return tones.branches[own]
    number_text = melody.facts.get("tone", "")
    if number_text in map(str, tones.tones):
        return tones.default_branch(int(number_text), melody.facts.get("style") or "heirmologic")
    raise ChantError(
        "the file does not say which tone the melody is in.",
        where=Where(file),
        remedy="Say it: --tone 4, or --branch with a branch of the tone.",
    )


def _origin(
    melody: Melody, branch: Branch, scale: Scale, ni: str | None, notes: list[Sung]
) -> tuple[int, Fraction]:
    """Step and moria of ni as the file writes it."""
    last = notes[-1]
    if ni is not None:
        letter = "cdefgab".find(ni.strip().lower()[:1] or "?")
        if letter < 0 or len(ni.strip()) != 1:
            raise ChantError(
                f"“{ni}” is no letter of the staff.", remedy="Name one of c d e f g a b."
            )
        height = Fraction(KEYS[letter])
        middle = (branch.usual[0] + branch.usual[1]) / 2
        place = sum((n.moria * n.beats for n in notes), Fraction(0)) / sum(n.beats for n in notes)
        octave = round((float(place - height) - float(scale.moria(round(middle)))) / 72)
        return letter + 7 * octave, height + 72 * octave
    if melody.facts.get("tuning"):
        return 0, Fraction(0)
    best: tuple[float, int, Fraction] | None = None
    for final in branch.final:
        moria = last.moria - scale.moria(final)
        step = (last.step or 0) - final
        low, high = branch.wide
        off = sum(_misfit(n, moria, scale, low, high) for n in notes)
        if best is None or off < best[0]:
            best = (off, step, moria)
    if best is None:
        return (last.step or 0) - branch.base, last.moria - scale.moria(branch.base)
    return best[1], best[2]


def _nearest(height: Fraction, scale: Scale, low: int = LOWEST, high: int = HIGHEST) -> int:
    return min(range(low, high + 1), key=lambda d: (abs(scale.moria(d) - height), d))


def _misfit(note: Sung, origin: Fraction, scale: Scale, low: int, high: int) -> float:
    degree = _nearest(note.moria - origin, scale)
    outside = max(low - degree, degree - high, 0)
    return float(abs(scale.moria(degree) - note.moria + origin)) + 6.0 * outside


def _note(note: Sung, step: int, origin: Fraction, scale: Scale, *, exact: bool, file: str) -> Note:
    height = note.moria - origin
    degree = _nearest(height, scale) if note.step is None else note.step - step
    if not LOWEST <= degree <= HIGHEST:
        raise ChantError(
            "a note lies far outside any voice.",
            where=Where(file, note.line, word=note.text),
            remedy="Check its octave, or name the letter that is ni with --ni.",
        )
    off = height - scale.moria(degree)
    if exact:
        # Decimals of the file are good to a millionth of a morion; bends are plain fractions.
        bend = off.limit_denominator(10_000)
    elif abs(off) < _MISREAD:
        bend = Fraction(0)
    else:
        bend = Fraction(round(off / _SEMITONE) * _SEMITONE)
    return Note(degree, note.beats, bend)


def _split(text: str) -> list[str]:
    return [part.strip() for part in text.split(" / ")] if text else []


def _ison(word: str) -> Ison:
    if word == "-":
        return None
    if word == "unison":
        return "unison"
    try:
        return int(word)
    except ValueError:
        return None


def _syllables(colon: Colon, notes: list[Note]) -> list[Syllable]:
    out: list[Syllable] = []
    for sung, note in zip(colon.notes, notes, strict=True):
        if sung.text or not out:
            out.append(Syllable(sung.text or "–", sung.place, notes=(note,), id=sung.id))
        else:
            out[-1] = replace(out[-1], notes=(*out[-1].notes, note))
    return _mended(out)


def _mended(syllables: list[Syllable]) -> list[Syllable]:
    """Places that fit each other: a word that is not closed by the file is closed here."""
    out: list[Syllable] = []
    opened = False
    following = [s.place in ("middle", "end") for s in syllables[1:]] + [False]
    for syllable, more in zip(syllables, following, strict=True):
        place: Place
        if syllable.place in ("begin", "middle") and more:
            place = "middle" if opened and syllable.place == "middle" else "begin"
        else:
            place = "end" if opened and syllable.place != "begin" else "single"
        if opened and place == "begin":
            out[-1] = replace(out[-1], place="end" if out[-1].place == "middle" else "single")
        out.append(replace(syllable, place=place))
        opened = place in ("begin", "middle")
    return out


def _bent(syllables: list[Syllable], row: list[str]) -> list[Syllable]:
    """Put bends on the notes; a row that does not fit is left."""
    try:
        bends = [Fraction(text) for text in row]
    except (ValueError, ZeroDivisionError):
        return syllables
    if len(bends) != sum(len(s.notes) for s in syllables):
        return syllables
    rest = iter(bends)
    return [
        replace(s, notes=tuple(replace(n, bend=next(rest)) for n in s.notes)) for s in syllables
    ]


def _extras(melody: Melody, phrases: list[Phrase]) -> list[Phrase]:
    """Put on the phrases what our own files say of them; anything that does not fit is left."""
    facts = melody.facts
    cadences, verses, scales = (facts.get(k, "").split() for k in ("cadences", "verses", "scales"))
    bends = _split(facts.get("bends", ""))
    stresses, isons = _split(facts.get("stresses", "")), _split(facts.get("ison", ""))
    out = []
    for i, phrase in enumerate(phrases):
        syllables = list(phrase.syllables)
        if i < len(stresses) and len(row := stresses[i].split()) == len(syllables):
            syllables = [
                replace(s, stress=int(t)) if t in ("0", "1", "2") else s
                for s, t in zip(syllables, row, strict=True)
            ]
        if i < len(isons) and len(row := isons[i].split()) == len(syllables):
            syllables = [replace(s, ison=_ison(t)) for s, t in zip(syllables, row, strict=True)]
        if i < len(bends) and (row := bends[i].split()):
            syllables = _bent(syllables, row)
        cadence = phrase.cadence
        if i < len(cadences) and cadences[i] in get_args(Cadence):
            cadence = cast(Cadence, cadences[i])
        elif i < len(cadences):
            cadence = None
        out.append(
            replace(
                phrase,
                syllables=tuple(syllables),
                cadence=cadence,
                verse_start=verses[i] == "1" if i < len(verses) else phrase.verse_start,
                scale=scales[i] if i < len(scales) and scales[i] != "-" else None,
            )
        )
    return out


def _base(text: str) -> Base | None:
    name, _, value = text.partition(" ")
    try:
        hz = float(value)
        return Base(parse_degree(name), hz) if 1 <= hz <= 20_000 else None
    except (ValueError, ChantError):
        return None


def to_hymn(
    melody: Melody,
    tones: Tones,
    *,
    tone: int | None = None,
    branch: str | None = None,
    ni: str | None = None,
    file: str = "",
) -> Hymn:
    """Read a melody in a tone.

    Parameters
    ----------
    melody : Melody
        Single line, words under it or not.
    tones : Tones
        Branches and scales.
    tone, branch : int, str, optional
        The tone it is in; what the file says when left out.
    ni : str, optional
        Staff letter that is ni; otherwise the last note is the tone's final.
    file : str
        Named in errors.

    Returns
    -------
    Hymn
        With ids; melody kind ``written``. Stresses are those of our own files, else 0.

    Raises
    ------
    ChantError
        If the melody is empty, no tone is known, or a note lies outside every voice.
    """
    notes = [n for colon in melody.cola for n in colon.notes]
    if not notes:
        raise ChantError(
            "there is no note in the file.", where=Where(file), remedy="Choose another file."
        )
    found = _branch(melody, tones, tone, branch, file)
    scale = tones.scales[found.scale]
    step, origin = _origin(melody, found, scale, ni, notes)
    own = melody.facts.get("tuning") in (EXACT, BY_DEGREE) and tone is None and branch is None
    exact = melody.facts.get("tuning") == EXACT
    names = melody.facts.get("scales", "").split() if own else []
    now = scale
    phrases: list[Phrase] = []
    for i, colon in enumerate(melody.cola):
        if i < len(names) and names[i] in tones.scales:
            now = tones.scales[names[i]]
        read = [_note(n, step, origin, now, exact=exact, file=file) for n in colon.notes]
        last = i + 1 == len(melody.cola)
        phrases.append(
            Phrase(
                syllables=tuple(_syllables(colon, read)),
                cadence="final" if last else None,
                rest=colon.rest,
                rubric=colon.rubric,
                id=colon.id,
            )
        )
    facts = melody.facts
    said, kind = facts.get("branch", ""), facts.get("melody", "")
    hymn = Hymn(
        title=melody.title,
        tone=found.tone,
        branch=found.id if branch or not own or said == found.id else None,
        style=facts.get("style") or (None if own else found.style),
        language=facts.get("language") or "en",
        tempo=melody.tempo,
        base=_base(facts.get("base", "")) if own else None,
        ending="long" if facts.get("ending") == "long" else "ordinary",
        words_source=melody.words_source,
        melody_source=melody.melody_source,
        melody_kind=next((k for k in MELODY_SOURCES if k == kind), "written"),
        phrases=tuple(_extras(melody, phrases) if own else phrases),
    )
    hymn = number(hymn)
    validate(hymn)
    return hymn
