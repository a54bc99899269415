"""A practice track: intonation, count-in, then the hymn with its ison.

Conventions
-----------
48 000 samples a second, float32. The hymn lasts exactly its beats; before it stand a short lead,
the intonation (sung alone, as the custom is) and the count-in (soft ticks, over the drone so that
the first note is in everybody's ear); after it a short tail. The pace slows the beats themselves:
nothing is stretched afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from chantwright.errors import ChantError
from chantwright.score.model import Base, Hymn, Note, Phrase, Syllable, number
from chantwright.tones import Branch, Tones
from chantwright.tuning import degree_name
from chantwright.voice import loudness
from chantwright.voice.articulation import articulate
from chantwright.voice.contour import (
    PhraseEvent,
    Tuner,
    branch_of,
    contour,
    phrase_event,
    samples,
    tempo_of,
)
from chantwright.voice.drone import Hold, holds, sing_drone
from chantwright.voice.singer import Samples, sing_line
from chantwright.voice.sounds import PLAIN, Spelling
from chantwright.voice.timing import Part, Timing, timed
from chantwright.voice.tract import RATE, Tract, tract

__all__ = ["INTONATIONS", "MODES", "Track", "TrackOptions", "sing"]

MODES = ("full", "melody", "drone", "echo")
"""What is heard: everything; the melody alone; the ison alone; or each phrase, then its length of
quiet drone for the learner to answer."""

INTONATIONS = ("short", "long", "none")

_LEAD, _TAIL = RATE // 4, RATE // 2  # samples before and after everything
_INTONATION_TEMPO = 100  # beats a minute at most; an intonation is never hurried
_LONGEST = 60 * 60  # seconds
_ANSWER = 0.6  # level of the drone while the learner answers
_TICK_DB = -9.0
_NEAR = 0.9  # share of a part in its own channel, the power of both being 1


@dataclass(frozen=True, slots=True)
class TrackOptions:
    """How a track is made.

    Attributes
    ----------
    mode : str
        One of `MODES`.
    voice : str
        Colour of the leading voice: low, high or child.
    intonation : str
        short, long or none. The drone alone has none.
    count_in : int
        Ticks before the hymn, 0 to 8.
    pace : float
        Part of the full tempo, 0.25 to 2; 0.7 for learners.
    vibrato : float
        Cents to either side on longer notes, 0 to 12; 0 keeps every note straight.
    drone_db : float
        Loudness of the drone against the melody, in decibels.
    drone_octave : int
        Octaves to move the drone by: 0 or -1.
    stereo : bool
        Melody towards the left, drone towards the right, for practising with either alone.
    loudness : float
        LUFS of the whole track.

    Raises
    ------
    ChantError
        If a value is out of bounds.
    """

    mode: str = "full"
    voice: str = "low"
    intonation: str = "short"
    count_in: int = 4
    pace: float = 1.0
    vibrato: float = 0.0
    drone_db: float = -10.0
    drone_octave: int = 0
    stereo: bool = False
    loudness: float = -19.0

    def __post_init__(self) -> None:
        for name, value, allowed in (
            ("mode", self.mode, MODES),
            ("intonation", self.intonation, INTONATIONS),
        ):
            if value not in allowed:
                raise ChantError(
                    f"there is no {name} “{value}”.", remedy=f"Choose one of: {', '.join(allowed)}."
                )
        for what, amount, low, high in (
            ("count-in", self.count_in, 0, 8),
            ("pace", self.pace, 0.25, 2),
            ("vibrato", self.vibrato, 0, 12),
            ("drone level", self.drone_db, -40, 0),
            ("drone octave", self.drone_octave, -1, 0),
            ("loudness", self.loudness, -40, -14),
        ):
            if not low <= amount <= high:
                raise ChantError(
                    f"the {what} cannot be {amount:g}.",
                    remedy=f"Choose a value from {low} to {high}.",
                )


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A recording.

    Attributes
    ----------
    samples : float32 array, shape (n,) or (n, 2)
        Full scale is 1.
    rate : int
        48 000 samples a second.
    timing : Timing
        When everything sounds.
    about : dict of str to str
        ``title``, ``tone`` and ``base`` for the tags of a file.
    """

    samples: Samples
    rate: int
    timing: Timing
    about: dict[str, str]

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where everything stands, before a sound is made."""

    phrases: tuple[PhraseEvent, ...]
    languages: tuple[str, ...]
    line: tuple[Hold, ...]
    ticks: tuple[float, ...]
    parts: tuple[Part, ...]
    length: int


def sing(
    hymn: Hymn,
    tones: Tones,
    options: TrackOptions | None = None,
    *,
    spelling: Spelling | None = None,
) -> Track:
    """Make a practice track of a hymn.

    Parameters
    ----------
    hymn : Hymn
        Set: with notes on every syllable.
    tones : Tones
        The tones.
    options : TrackOptions, optional
        How; the defaults make a track for learners at full tempo.
    spelling : Spelling, optional
        Tables of sounds with a parish's own rows laid over (`load_spelling`).

    Returns
    -------
    Track

    Raises
    ------
    ChantError
        If the hymn is not set, has no tone, or its tempo or base makes no sense.
    """
    options = options or TrackOptions()
    hymn = _ready(hymn)
    branch = branch_of(hymn, tones)
    lead = Tract(options.voice, spelling) if spelling else tract(options.voice)
    tuner = _tuner(hymn, tones, branch, lead)
    tempo = Fraction(tempo_of(hymn, tones, branch)) * Fraction(str(options.pace))
    plan = _plan(hymn, tones, branch, tuner, tempo, options)

    melody = contour(plan.phrases, vibrato=options.vibrato)
    sung = np.zeros(plan.length, np.float32)
    if options.mode != "drone":
        sung = sing_line(
            melody.hz, articulate(plan.phrases, lead, plan.languages), lead, plan.length
        )
    held = np.zeros(plan.length, np.float32)
    if options.mode != "melody":
        follow = contour(plan.phrases, across=True)
        holder = Tract("drone", spelling) if spelling else tract("drone")
        held = sing_drone(plan.line, follow, holder, plan.length, octave=options.drone_octave)
    mixed = _mix(sung, held, plan.ticks, options)
    mixed = loudness.level(mixed, options.loudness)

    phrases, syllables, notes = timed(plan.phrases)
    timing = Timing(
        RATE,
        plan.length / RATE,
        float(tempo),
        tuner.base.degree,
        tuner.base.hz,
        plan.parts,
        phrases,
        syllables,
        notes,
    )
    return Track(mixed, RATE, timing, _about(hymn, branch, tuner.base))


def _ready(hymn: Hymn) -> Hymn:
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


def _tuner(hymn: Hymn, tones: Tones, branch: Branch, lead: Tract) -> Tuner:
    if hymn.base is not None:
        return Tuner(tones, branch.scale, hymn.base)
    ni = Tuner(tones, branch.scale, Base(0, tones.groups[lead.group].ni_default_hz))
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


def _plan(
    hymn: Hymn,
    tones: Tones,
    branch: Branch,
    tuner: Tuner,
    tempo: Fraction,
    options: TrackOptions,
) -> _Plan:
    at = _LEAD
    phrases: list[PhraseEvent] = []
    languages: list[str] = []
    parts: list[Part] = []
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
    length = start + round(samples(total, tempo)) + _TAIL
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
    return _Plan(tuple(phrases), tuple(languages), tuple(line), ticks, tuple(parts), length)


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


def _tick() -> Samples:
    """One soft tick: two short partials that belong to no scale."""
    times = np.arange(int(0.09 * RATE)) / RATE
    attack = np.minimum(times / 0.003, 1.0)
    rise = 0.5 - 0.5 * np.cos(np.pi * attack)
    body = np.sin(2 * np.pi * 1830 * times) + 0.6 * np.sin(2 * np.pi * 2710 * times)
    fade = np.cos(0.5 * np.pi * times / times[-1]) ** 2
    out: Samples = (rise * np.exp(-times / 0.016) * fade * body).astype(np.float32)
    return out


def _mix(sung: Samples, held: Samples, ticks: Sequence[float], options: TrackOptions) -> Samples:
    """Put the parts together; both arrays are used up, so that a long hymn needs no third."""
    tick_level = 10 ** (_TICK_DB / 20)
    if options.mode == "drone":
        tick_level *= 0.5
    elif held.any():
        gap = loudness.loudness(sung) - loudness.loudness(held) + options.drone_db
        held *= np.float32(10 ** (gap / 20))
    out: Samples = sung
    middle = 1.0
    if options.stereo:
        near, far = np.float32(_NEAR), np.float32(np.sqrt(1 - _NEAR**2))
        out = np.stack((near * sung + far * held, far * sung + near * held), axis=1)
        middle = np.sqrt(0.5)
    else:
        out += held
    tick = _tick() * np.float32(tick_level * middle)
    for moment in ticks:
        first = round(moment * RATE)
        piece = tick[: len(out) - first]
        out[first : first + len(piece)] += piece if out.ndim == 1 else piece[:, None]
    return out


def _about(hymn: Hymn, branch: Branch, base: Base) -> dict[str, str]:
    return {
        "title": hymn.title,
        "tone": f"Tone {hymn.tone or branch.tone}",
        "base": f"{degree_name(base.degree)} = {base.hz:.2f} Hz",
    }
