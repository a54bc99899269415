"""A practice track: intonation, count-in, then the hymn with its ison.

Conventions
-----------
48 000 samples a second, float32. A track is made in two passes, piece by piece: first the voice and
the ison are sung, each on a tape of its own, and measured; then they are mixed and brought to the
loudness asked for as they are read. So an hour takes no more memory than a minute.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from chantwright.score.model import Base, Hymn
from chantwright.tones import Branch, Tones
from chantwright.tuning import degree_name
from chantwright.voice import loudness
from chantwright.voice.contour import branch_of, contour, tempo_of
from chantwright.voice.drone import sing_drone
from chantwright.voice.leading import Lead, choose_lead
from chantwright.voice.options import TrackOptions
from chantwright.voice.plan import LEAD, Plan, plan_track, ready, tuner_for
from chantwright.voice.singer import Samples
from chantwright.voice.sounds import Spelling
from chantwright.voice.speech import speaker
from chantwright.voice.tape import PIECE, Tape
from chantwright.voice.timing import Timing, timed
from chantwright.voice.tract import RATE, Tract, tract

__all__ = ["Prepared", "Track", "plan_of", "prepare_track", "sing"]

_TICK_DB = -9.0
_NEAR = 0.9  # share of a part in its own channel, the power of both being 1
_TITLE_DB = -1.0  # of the spoken title against the singing


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A recording.

    Attributes
    ----------
    tape : Tape
        As mixed.
    gain : float
        Factor that brings it to the loudness asked for.
    rate : int
        48 000 samples a second.
    timing : Timing
        When everything sounds.
    about : dict of str to str
        ``title``, ``tone`` and ``base`` for the tags of a file.
    remarks : tuple of str
        What the listener should know: words that had to be guessed, or sung by the plain voice.
    """

    tape: Tape
    gain: float
    rate: int
    timing: Timing
    about: dict[str, str]
    remarks: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.tape)

    @property
    def channels(self) -> int:
        """One or two."""
        return self.tape.channels

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return len(self.tape) / self.rate

    def pieces(self) -> Iterator[Samples]:
        """The recording piece by piece, full scale being 1."""
        for piece in self.tape.pieces():
            yield piece * np.float32(self.gain)

    @property
    def samples(self) -> Samples:
        """The whole recording in memory, shape (n,) or (n, 2), full scale being 1."""
        return np.asarray(self.tape.whole() * np.float32(self.gain), np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A track that is planned and not sung yet: all that decides how it will sound."""

    options: TrackOptions
    plan: Plan
    lead: Lead
    tempo: Fraction
    about: dict[str, str]
    title: Samples


def plan_of(
    hymn: Hymn,
    tones: Tones,
    options: TrackOptions,
    *,
    spelling: Spelling | None = None,
    title: int = 0,
) -> tuple[Plan, Fraction, dict[str, str]]:
    """Plan a track without opening any voice.

    Returns
    -------
    plan : Plan
        When what is sung; without the spoken title unless its length is given in `title`.
    tempo : Fraction
        Beats a minute, the pace included.
    about : dict of str to str
        For the tags.
    """
    hymn = ready(hymn)
    branch = branch_of(hymn, tones)
    mouth = Tract(options.voice, spelling) if spelling else tract(options.voice)
    tuner = tuner_for(hymn, tones, branch, mouth.group)
    tempo = Fraction(tempo_of(hymn, tones, branch)) * Fraction(str(options.pace))
    plan = plan_track(hymn, tones, branch, tuner, tempo, options, title=title)
    return plan, tempo, _about(hymn, branch, tuner.base)


def prepare_track(
    hymn: Hymn,
    tones: Tones,
    options: TrackOptions | None = None,
    *,
    spelling: Spelling | None = None,
) -> Prepared:
    """Plan a track and choose its voice; see `sing`."""
    options = options or TrackOptions()
    title = _title(hymn.title) if options.say_title and hymn.title else np.zeros(0, np.float32)
    plan, tempo, about = plan_of(hymn, tones, options, spelling=spelling, title=len(title))
    mouth = Tract(options.voice, spelling) if spelling else tract(options.voice)
    lead = choose_lead(plan, mouth, options, spelling)
    return Prepared(options, plan, lead, tempo, about, title)


def sing(
    hymn: Hymn | Prepared,
    tones: Tones | None = None,
    options: TrackOptions | None = None,
    *,
    spelling: Spelling | None = None,
) -> Track:
    """Make a practice track of a hymn.

    Parameters
    ----------
    hymn : Hymn or Prepared
        Set: with notes on every syllable; or planned already, and then nothing else is needed.
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
    if isinstance(hymn, Hymn):
        if tones is None:
            raise TypeError("a hymn that is not planned needs the tones")
        hymn = prepare_track(hymn, tones, options, spelling=spelling)
    options, plan, lead = hymn.options, hymn.plan, hymn.lead
    melody = contour(plan.phrases, vibrato=options.vibrato)
    sung: Iterable[Samples] = ()
    if options.mode != "drone":
        sung = lead.sing(melody, plan.length)
    held: Iterable[Samples] = ()
    if options.mode != "melody":
        held = sing_drone(
            plan.line,
            contour(plan.phrases, across=True),
            Tract("drone", lead.spelling) if lead.spelling else tract("drone"),
            plan.length,
            octave=options.drone_octave,
            holders=options.holders,
            sound=options.holding,
        )
    tape, gain = _mixed(_laid_down(sung), _laid_down(held), hymn)
    phrases, syllables, notes = timed(plan.phrases)
    timing = Timing(
        RATE,
        plan.length / RATE,
        float(hymn.tempo),
        plan.base.degree,
        plan.base.hz,
        plan.parts,
        phrases,
        syllables,
        notes,
    )
    return Track(tape, gain, RATE, timing, hymn.about, lead.remarks)


def _laid_down(sound: Iterable[Samples]) -> tuple[Tape, float]:
    """Sing onto a tape; give it with its loudness."""
    tape, meter = Tape(), loudness.Meter(peaks=False)
    waiting: list[Samples] = []
    count = 0
    for piece in sound:
        waiting.append(piece)
        count += len(piece)
        if count >= PIECE:
            whole = np.concatenate(waiting)
            tape.add(whole)
            meter.add(whole)
            waiting, count = [], 0
    if waiting:
        whole = np.concatenate(waiting)
        tape.add(whole)
        meter.add(whole)
    return tape, meter.loudness


def _tick() -> Samples:
    """One soft tick: two short partials that belong to no scale."""
    times = np.arange(int(0.09 * RATE)) / RATE
    attack = np.minimum(times / 0.003, 1.0)
    rise = 0.5 - 0.5 * np.cos(np.pi * attack)
    body = np.sin(2 * np.pi * 1830 * times) + 0.6 * np.sin(2 * np.pi * 2710 * times)
    fade = np.cos(0.5 * np.pi * times / times[-1]) ** 2
    out: Samples = (rise * np.exp(-times / 0.016) * fade * body).astype(np.float32)
    return out


def _title(text: str) -> Samples:
    """The title as speech, with an effective value of about 1 where it sounds."""
    sound = speaker().speak(text)
    heard = np.flatnonzero(np.abs(sound) > 0.02 * np.max(np.abs(sound), initial=0.0))
    if not len(heard):
        return np.zeros(0, np.float32)
    room = RATE // 20
    sound = sound[max(heard[0] - room, 0) : heard[-1] + room].copy()
    fade = np.minimum(np.arange(len(sound)), np.arange(len(sound))[::-1]) / room
    sound *= np.minimum(fade, 1).astype(np.float32)
    return sound


def _mixed(
    sung: tuple[Tape, float], held: tuple[Tape, float], made: Prepared
) -> tuple[Tape, float]:
    """Put the parts together on a tape; give it with the factor to its loudness."""
    options, plan = made.options, made.plan
    (voice, loud), (drone, quiet) = sung, held
    tick_level = 10 ** (_TICK_DB / 20)
    gap = 1.0
    if options.mode == "drone":
        tick_level *= 0.5
    elif np.isfinite(quiet) and np.isfinite(loud):
        gap = 10 ** ((loud - quiet + options.drone_db) / 20)
    extra = _extras(made, tick_level, loud if np.isfinite(loud) else quiet)
    near, far = np.float32(_NEAR), np.float32(np.sqrt(1 - _NEAR**2))
    middle = np.float32(np.sqrt(0.5))
    tape, meter = Tape(2 if options.stereo else 1), loudness.Meter()
    silence = np.zeros(PIECE, np.float32)
    voices = voice.pieces() if len(voice) else None
    drones = drone.pieces() if len(drone) else None
    for start in range(0, plan.length, PIECE):
        size = min(PIECE, plan.length - start)
        a = next(voices) if voices else silence[:size]
        b = next(drones) * np.float32(gap) if drones else silence[:size]
        c = silence[:size].copy()
        for first, sound in extra:
            low, high = max(first, start), min(first + len(sound), start + size)
            if low < high:
                c[low - start : high - start] += sound[low - first : high - first]
        if options.stereo:
            c *= middle
            piece = np.stack((near * a + far * b + c, far * a + near * b + c), axis=1)
        else:
            piece = a + b + c
        tape.add(piece)
        meter.add(piece)
    return tape, loudness.gain_for(meter, options.loudness)


def _extras(made: Prepared, tick_level: float, singing: float) -> list[tuple[int, Samples]]:
    """Ticks and the spoken title: the sample each begins on, and its sound."""
    tick = _tick() * np.float32(tick_level)
    out = [(round(moment * RATE), tick) for moment in made.plan.ticks]
    if len(spoken := made.title):
        now = loudness.loudness(spoken)
        if np.isfinite(now) and np.isfinite(singing):
            spoken = spoken * np.float32(10 ** ((singing - now + _TITLE_DB) / 20))
        out.append((LEAD, spoken))
    return out


def _about(hymn: Hymn, branch: Branch, base: Base) -> dict[str, str]:
    return {
        "title": hymn.title,
        "tone": f"Tone {hymn.tone or branch.tone}",
        "base": f"{degree_name(base.degree)} = {base.hz:.2f} Hz",
    }
