"""Where everything stands in a track, before a sound is made.

The hymn lasts exactly its beats. Before it stand a short lead, the spoken title if it is wanted,
the intonation (sung alone, as the custom is) and the count-in (soft ticks, over the drone so that
the first note is in everybody's ear); after it a short tail. The pace slows the beats themselves:
nothing is stretched afterwards.

Conventions
-----------
48 000 samples a second; times in seconds from the first sample.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from chantwright.errors import ChantError
from chantwright.score.model import Base, Hymn, Note, Phrase, Syllable, number
from chantwright.tones import Branch, Tones
from chantwright.voice.contour import PhraseEvent, Tuner, phrase_event, samples
from chantwright.voice.drone import Hold, holds
from chantwright.voice.options import TrackOptions
from chantwright.voice.sounds import PLAIN
from chantwright.voice.timing import Part
from chantwright.voice.tract import RATE

__all__ = ["LEAD", "Plan", "plan_track", "ready", "tuner_for"]

LEAD, TAIL = RATE // 4, RATE // 2
"""Samples before and after everything."""

_AFTER_TITLE = int(0.7 * RATE)
_INTONATION_TEMPO = 100  # beats a minute at most; an intonation is never hurried
_LONGEST = 60 * 60  # seconds
_ANSWER = 0.6  # level of the drone while the learner answers


@dataclass(frozen=True, slots=True)
class Plan:
    """What is sung, held and ticked when.

    Attributes
    ----------
    phrases : tuple of PhraseEvent
        The melody, the intonation first.
    languages : tuple of str
        Of each phrase.
    line : tuple of Hold
        The ison.
    ticks : tuple of float
        Of the count-in.
    parts : tuple of Part
        For the timing map.
    length : int
        Samples of the whole.
    base : Base
        The base as it sounds.
    """

    phrases: tuple[PhraseEvent, ...]
    languages: tuple[str, ...]
    line: tuple[Hold, ...]
    ticks: tuple[float, ...]
    parts: tuple[Part, ...]
    length: int
    base: Base


def ready(hymn: Hymn) -> Hymn:
    """Number a hymn's parts, if it can be sung at all.

    Raises
    ------
    ChantError
        If it has no words, or a syllable without a note.
    """
    name = f"“{hymn.title}”" if hymn.title else "this hymn"
    if not hymn.phrases:
        raise ChantError(
            f"{name} has no words and no notes to sing.",
            remedy="Write its words, then set them to the tone.",
        )
    for count, phrase in enumerate(hymn.phrases, start=1):
        if not phrase.is_set:
            bare = next((s.text for s in phrase.syllables if not s.notes), phrase.words)
            raise ChantError(
                f"{name} is not set: phrase {count} has no note on “{bare}”.",
                remedy="Set it to its tone first, or write the missing notes.",
            )
    return number(hymn)


def tuner_for(hymn: Hymn, tones: Tones, branch: Branch, group: str) -> Tuner:
    """Pitches of a hymn: at its own base, or with ni where a group usually has it."""
    if hymn.base is not None:
        return Tuner(tones, branch.scale, hymn.base)
    ni = Tuner(tones, branch.scale, Base(0, tones.groups[group].ni_default_hz))
    return Tuner(tones, branch.scale, Base(branch.base, ni.hz(branch.base)))


def _intonation(hymn: Hymn, tones: Tones, branch: Branch, kind: str) -> tuple[Phrase, str] | None:
    """Write the intonation as a phrase, with its scale."""
    name = hymn.intonation or branch.intonation
    if kind == "none" or name in ("", "none"):
        return None
    if name not in tones.intonations:
        raise ChantError(
            f"there is no intonation “{name}”.",
            remedy=f"Choose one of: {', '.join(tones.intonations)}, or none.",
        )
    row = tones.intonations[name]
    out: list[Syllable] = []
    for text, degree, beats in row.short if kind == "short" else row.long:
        note = Note(degree, Fraction(beats))
        if text or not out:
            out.append(Syllable(text, notes=(note,), id=f"intonations{len(out) + 1}"))
        else:
            out[-1] = replace(out[-1], notes=(*out[-1].notes, note))
    return Phrase(syllables=tuple(out), id="intonation"), row.scale


def plan_track(
    hymn: Hymn,
    tones: Tones,
    branch: Branch,
    tuner: Tuner,
    tempo: Fraction,
    options: TrackOptions,
    *,
    title: int = 0,
) -> Plan:
    """Place everything in time.

    Parameters
    ----------
    hymn : Hymn
        From `ready`.
    tones : Tones
        For the intonation.
    branch : Branch
        The hymn's.
    tuner : Tuner
        Gives the pitches.
    tempo : Fraction
        Beats a minute, the pace included.
    options : TrackOptions
        How.
    title : int
        Samples that the spoken title takes; 0 for none.

    Raises
    ------
    ChantError
        If there is no such intonation, or the track would be longer than an hour.
    """
    at = LEAD
    phrases: list[PhraseEvent] = []
    languages: list[str] = []
    parts: list[Part] = []
    if title:
        parts.append(Part("title", at / RATE, (at + title) / RATE))
        at += title + _AFTER_TITLE
    kind = "none" if options.mode == "drone" else options.intonation
    if (opening := _intonation(hymn, tones, branch, kind)) is not None:
        calm = min(tempo, Fraction(_INTONATION_TEMPO))
        phrase, scale = opening
        event = phrase_event(phrase, tuner, calm, at=at, scale=scale, breathe=False)
        phrases.append(event)
        languages.append(PLAIN)
        parts.append(Part("intonation", event.start, event.end))
        at += round(samples(phrase.beats + 1, calm))
    ticks = tuple((at + round(samples(Fraction(k), tempo))) / RATE for k in range(options.count_in))
    start = at + round(samples(Fraction(options.count_in), tempo))
    if ticks:
        parts.append(Part("count-in", at / RATE, start / RATE))

    total = hymn.beats * (2 if options.mode == "echo" else 1)
    length = start + round(samples(total, tempo)) + TAIL
    if length > _LONGEST * RATE:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” would last {length / RATE / 60:.0f} minutes.",
            remedy="Divide it into parts of an hour at most, or take it faster.",
        )
    sung, line = _hymn(hymn, branch, tuner, tempo, start, options.mode == "echo", parts)
    if ticks and (first := next((h for h in line if isinstance(h.pitch, float)), None)):
        line.insert(0, Hold(at / RATE, start / RATE, first.pitch))
    phrases += sung
    languages += [hymn.language] * len(sung)
    return Plan(
        tuple(phrases), tuple(languages), tuple(line), ticks, tuple(parts), length, tuner.base
    )


def _hymn(
    hymn: Hymn,
    branch: Branch,
    tuner: Tuner,
    tempo: Fraction,
    start: int,
    echo: bool,
    parts: list[Part],
) -> tuple[list[PhraseEvent], list[Hold]]:
    """Place the phrases and their ison; `parts` is added to."""
    # A hymn written without any ison is held on the base of its branch.
    plain = all(s.ison is None for p in hymn.phrases for s in p.syllables)
    phrases: list[PhraseEvent] = []
    line: list[Hold] = []
    count = Fraction(0)
    scale: str | None = None
    for index, written in enumerate(hymn.phrases):
        phrase = written
        if plain:
            held = tuple(replace(s, ison=branch.ison_base) for s in phrase.syllables)
            phrase = replace(phrase, syllables=held)
        scale = phrase.scale or scale
        breathe = echo or index < len(hymn.phrases) - 1
        event = phrase_event(
            phrase, tuner, tempo, at=start, offset=count, scale=scale, breathe=breathe
        )
        phrases.append(event)
        parts.append(Part("phrase", event.start, event.close, event.id))
        line += holds([event])
        count += phrase.beats + phrase.rest
        if echo:
            again = phrase_event(phrase, tuner, tempo, at=start, offset=count, scale=scale)
            parts.append(Part("answer", again.start, again.close, event.id))
            line += holds([again], level=_ANSWER, moving=False)
            count += phrase.beats + phrase.rest
    return phrases, line
