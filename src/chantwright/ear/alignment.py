"""A take laid beside a hymn: which note was sung when, how high, and what was left out or added.

Conventions
-----------
Seconds from the start of the contour; moria. Deviations are measured from the written note on the
singer's own base at that moment, so a drifting base is never a row of wrong notes.

The passes: candidates for base and tempo; the best path; a robust fit of the base and of each
degree; the path again on the straightened pitch, with the tempo as it was found; and once more.

References
----------
See `bases`, `decode`, `fit` and `evidence`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chantwright.ear.bases import Hypothesis, guess, walk_tempo
from chantwright.ear.contour import Contour
from chantwright.ear.decode import FRAME, Lattice, Path, Span, decode, lattice
from chantwright.ear.evidence import Evidence
from chantwright.ear.expected import Asked, Expected, to_moria
from chantwright.ear.fit import BaseLine, Fit, fit
from chantwright.ear.vowels import vowel_scores
from chantwright.ear.weights import load_weights

__all__ = ["Alignment", "Heard", "align"]

Array = npt.NDArray[np.float64]

_OCTAVES = (0.0, -72.0, 72.0, -144.0)
_HEAD, _TAIL = 0.14, 0.06  # seconds at the edges of a note that are left out of its pitch
_UNDER = 12.0  # dB under a note's loudness that say nothing of its pitch
_HEARD = 0.5  # part of a note that must have pitch, or its pitch is trusted the less
_SHORT = 0.12  # seconds of pitch that a note must have to be measured
_OPENING = 6.0  # dB that the consonant which opens a note lies under it, at least
_PITCHED = 0.7  # part of it that has pitch, at most
_LEAD_IN = 0.3  # part of the sung time that an intonation may take
_ROUNDS = 3
_NEAR = 2  # frames to either side of a boundary in which a syllable may be heard to begin
_ENOUGH = 6  # boundaries that must tell whether words were sung
_WORDS = -2.0  # nats under which they surely were
_EARNED = 0.05  # nats a frame that syllables earn at least (measured: 0.08 and more; without, 0.03)


@dataclass(frozen=True, slots=True)
class Heard:
    """One sung note.

    Attributes
    ----------
    index : int
        Which of the hymn's notes.
    asked : Asked
        That note.
    start, end : float
        Seconds.
    pitch : float
        Moria above 440 Hz; ``nan`` where too little was sung to say.
    deviation : float
        Moria from the written note, on the singer's base at that moment.
    outside : float
        Moria outside the band of right pitches: 0 within it, and 0 for nothing measured.
    trust : float
        0 to 1: how much of the note was steady pitch.
    apart : float
        Like `outside`, less what this singer's degree is off as a rule.
    """

    index: int
    asked: Asked
    start: float
    end: float
    pitch: float
    deviation: float
    outside: float
    trust: float
    apart: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Alignment:
    """The whole take beside the hymn.

    Attributes
    ----------
    expected : Expected
        The hymn's line.
    heard : tuple of Heard
        In order of time.
    fit : Fit or None
        Base and degrees; None when nothing was aligned.
    frames_a_beat : float
        Tempo, frames of `FRAME` seconds a beat.
    score : float
        Log likelihood of the path, nats a frame.
    margin : float
        How much better than the next base, nats a frame.
    explained : float
        Part of the sung time that lies within notes at their own pitch, 0 to 1.
    """

    expected: Expected
    heard: tuple[Heard, ...]
    fit: Fit | None
    frames_a_beat: float
    score: float
    margin: float
    explained: float


def _halve(value: Array) -> Array:
    """Every two values to one: the mean of those that are numbers."""
    even = value[: len(value) // 2 * 2].reshape(-1, 2)
    known = np.isfinite(even)
    total = np.where(known, even, 0.0).sum(axis=1)
    count = known.sum(axis=1)
    out: Array = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return out


def _onsets(found: Evidence, frames: int) -> Array:
    """Evidence at each boundary of the frames."""
    out = np.full(frames + 1, -2.0)
    value = found.onset
    # Boundary t of 20 ms frames lies between contour frames 2t - 1 and 2t.
    if len(value) >= 2:
        wide = np.append(value, value[-1])
        pairs = np.maximum(wide[1 : 2 * frames : 2], wide[2 : 2 * frames + 1 : 2])
        out[1 : frames + 1] = pairs
        out[0] = value[0]
    return out


def _paths(
    pitch: Array,
    onset: Array,
    hymn: Lattice,
    walks: tuple[Hypothesis, ...],
    weights: Mapping[str, float],
) -> list[tuple[float, Hypothesis, Path]]:
    times = (np.arange(len(pitch)) - len(pitch) / 2) * FRAME
    out: list[tuple[float, Hypothesis, Path]] = []
    best = walks[0].score
    for one in walks:
        if one.score < best - 0.12 and out:
            continue
        line = pitch - one.base - one.slope * times
        path = decode(line, onset, hymn, hymn.beats * one.frames_a_beat, weights, spread=0.4)
        out.append((path.score, one, path))
    out.sort(key=lambda p: -p[0])
    return out


def _measure(contour: Contour, moria: Array, span: Span) -> tuple[float, float]:
    """Pitch of a note in moria above 440 Hz, and how far to trust it."""
    first, last = 2 * span.start, min(2 * span.end, len(moria))
    # A note is reached from below or from the one before it, so its head says less than its tail.
    head = min(round(_HEAD / contour.hop), (last - first) // 3)
    tail = min(round(_TAIL / contour.hop), (last - first) // 5)
    # Far under its own loudness lie consonants, echoes, and what an ison leaves.
    level = contour.level[first:last]
    loud = level >= np.quantile(level, 0.9) - _UNDER if len(level) else np.zeros(0, bool)
    note = np.where(loud & np.isfinite(moria[first:last]), moria[first:last], np.nan)
    piece = note[head : len(note) - tail]
    piece = piece[np.isfinite(piece)]
    if len(piece) * contour.hop < _SHORT:
        piece = note[np.isfinite(note)]
        if len(piece) < 5:
            return float("nan"), 0.0
    # Where most of a note is not heard, what is heard may be the echo of the one before.
    heard = min(1.0, np.isfinite(moria[first:last]).mean() / _HEARD)
    return _centre(piece), float(heard * min(1.0, len(piece) * contour.hop / 0.3))


def _centre(piece: Array) -> float:
    """Middle of a note's pitch: the mean of what lies near its median, glides left out."""
    middle = float(np.median(piece))
    for _ in range(3):
        near = piece[np.abs(piece - middle) < 4.0]
        if len(near) < 3:
            break
        middle = float(near.mean())
    return middle


def _tempo(spans: tuple[Span, ...], hymn: Lattice, before: float) -> Array:
    """Frames a beat at each written note: one tempo that may sway slowly."""
    count = len(hymn.beats)
    use = [s for s in spans if not hymn.last[s.note]]
    if len(use) < 4:
        return np.full(count, before)
    where = np.array([s.note for s in use])
    ratio = np.log([(s.end - s.start) / hymn.beats[s.note] for s in use])
    middle = float(np.median(ratio))
    near = 1.0 / (1.0 + ((ratio - middle) / 0.4) ** 2)
    overall = float(np.sum(near * ratio) / near.sum())
    away = np.exp(-0.5 * ((np.arange(count)[:, None] - where[None, :]) / 6.0) ** 2) * near
    out: Array = np.exp((away @ ratio + 4.0 * overall) / (away.sum(axis=1) + 4.0))
    return out


def _lengths(spans: tuple[Span, ...], hymn: Lattice, before: float) -> Array:
    lengths = hymn.beats * _tempo(spans, hymn, before)
    # What closes a phrase is cut by a breath or held: take what this singer does.
    closing = [np.log((s.end - s.start) / lengths[s.note]) for s in spans if hymn.last[s.note]]
    if closing:
        lengths[hymn.last] *= float(np.exp(np.clip(np.median(closing) * 0.7, -0.7, 0.7)))
    return lengths


def _fit(
    contour: Contour, moria: Array, expected: Expected, path: Path, known: float | None
) -> tuple[Fit | None, list[tuple[Span, float, float]]]:
    measured = [(s, *_measure(contour, moria, s)) for s in path.spans]
    use = [m for m in measured if np.isfinite(m[1])]
    if not use:
        return None, measured
    notes = expected.notes
    times = np.array([(s.start + s.end) / 2 * FRAME + contour.start for s, _, _ in use])
    asked = np.array([notes[s.note].moria for s, _, _ in use])
    # Pillars of the tone are sung more surely than the notes that move between them.
    size = np.array(
        [
            max(t, 0.1) * (1.0 if notes[s.note].pillar else 0.8) * (0.3 if s.free else 1.0)
            for s, _, t in use
        ]
    )
    degrees = np.array([notes[s.note].degree for s, _, _ in use])
    pitch = np.array([p for _, p, _ in use])
    return fit(times, pitch - asked, size, degrees, known=known), measured


def _straight(pitch: Array, contour: Contour, line: BaseLine) -> Array:
    times = np.asarray((np.arange(len(pitch)) + 0.5) * FRAME + contour.start, np.float64)
    out: Array = pitch - line.at(times)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Take:
    """A take and its hymn, as they are searched; `pitch` in frames of `FRAME` seconds."""

    expected: Expected
    contour: Contour
    found: Evidence
    hymn: Lattice
    moria: Array
    pitch: Array


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to follow a take: its first path and its last, and what was found on the way."""

    first: tuple[Span, ...]
    path: Path
    beat: float
    margin: float
    known: float | None


def _follow(
    take: _Take,
    walks: tuple[Hypothesis, ...],
    onset: Array | None,
    known: bool,
    weights: Mapping[str, float],
) -> _Way:
    """Follow a take by its pitch and its syllables, or by its pitch alone where `onset` is None."""
    pitch, hymn = take.pitch, take.hymn
    heard = np.zeros(len(pitch) + 1) if onset is None else onset
    paths = _paths(pitch, heard, hymn, walks, weights)
    score, chosen, path = paths[0]
    margin = (score - paths[1][0]) / len(pitch) if len(paths) > 1 else 1.0
    base = chosen.base if known else None
    beat, first = chosen.frames_a_beat, path.spans
    vowels = None
    for _ in range(_ROUNDS):
        fitted, _measured = _fit(take.contour, take.moria, take.expected, path, base)
        if fitted is None:
            return _Way(first, Path((), -np.inf), beat, margin, base)
        lengths = _lengths(path.spans, hymn, beat)
        beat = float(np.median(lengths / hymn.beats))
        if onset is not None:
            vowels = vowel_scores(take.found.sound, path.spans, take.expected, len(pitch))
        straight = _straight(pitch, take.contour, fitted.line)
        before = path.spans
        path = decode(straight, heard, hymn, lengths, weights, vowels=vowels)
        if path.spans == before:
            break  # nothing moves any more
    return _Way(first, path, beat, margin, base)


def align(
    expected: Expected, contour: Contour, found: Evidence, *, base_hz: float | None = None
) -> Alignment:
    """Lay a take beside a hymn.

    Parameters
    ----------
    expected : Expected
        The hymn's line.
    contour : Contour
        Pitch of the take, 10 ms frames.
    found : Evidence
        Syllables heard in the same frames.
    base_hz : float, optional
        Pitch of ni, where a drone or the singer gives it; the singer may sing an octave from it.

    Returns
    -------
    Alignment
        Without notes when there is nothing to align.
    """
    weights = load_weights()
    hymn = lattice(expected)
    moria = to_moria(contour.f0)
    pitch = _halve(moria)
    empty = Alignment(expected, (), None, 0.0, -np.inf, 0.0, 0.0)
    if np.isfinite(pitch).sum() < 10:
        return empty
    onset = _onsets(found, len(pitch))
    known = None if base_hz is None else float(to_moria(base_hz))
    fixed = () if known is None else tuple(known + o for o in _OCTAVES)
    walks = walk_tempo(pitch, hymn, guess(pitch, hymn, fixed=fixed))
    if not walks:
        return empty
    take = _Take(expected, contour, found, hymn, moria, pitch)
    ways = [_follow(take, walks, onset, known is not None, weights)]
    if found.sound.shape[1] and _told(ways[0].first, onset, hymn) > _WORDS:
        # Where no syllables begin, what looks like one leads astray.
        ways.append(_follow(take, walks, None, known is not None, weights))
    least = _EARNED * len(pitch)
    way = ways[-1] if ways[-1].path.score > ways[0].path.score - least else ways[0]
    if not way.path.spans:
        return empty
    path, beat, margin, known = way.path, way.beat, way.margin, way.known
    spans = _without_openings(_without_search(path.spans), contour)
    path = Path(_parted(spans, hymn, _lengths(spans, hymn, beat)), path.score)
    fitted, measured = _fit(contour, moria, expected, path, known)
    if fitted is None:
        return empty
    heard = _heard(expected, contour, fitted, measured)
    return Alignment(
        expected,
        heard,
        fitted,
        beat,
        path.score / len(pitch),
        margin,
        _explained(_straight(pitch, contour, fitted.line), path, hymn),
    )


def _told(spans: tuple[Span, ...], onset: Array, hymn: Lattice) -> float:
    """Whether a take was sung or hummed on one sound, without its words: nats, more the surer.

    Then what looks like the beginning of a syllable stands where the pitch moves, inside syllables
    as well, and is missing where a new syllable stays on its note.
    """
    moves = np.append(True, (np.diff(hymn.low) != 0) | (np.diff(hymn.high) != 0))
    told = []
    for span in spans[1:]:
        if hymn.first[span.note] == moves[span.note] or hymn.start[span.note]:
            continue
        near = float(onset[max(0, span.start - _NEAR) : span.start + _NEAR + 1].max())
        told.append(near if moves[span.note] else -near)
    return float(np.median(told)) if len(told) >= _ENOUGH else -np.inf


def _without_search(spans: tuple[Span, ...]) -> tuple[Span, ...]:
    """Leave out what is sung of the first note before it begins: hummed, counted in, searched for.

    Of several beginnings of the very first note alone the last one is the hymn's.
    """
    first = 0
    while first + 1 < len(spans) and spans[first].note == spans[first + 1].note == 0:
        first += 1
    return spans[first:]


def _parted(spans: tuple[Span, ...], hymn: Lattice, lengths: Array) -> tuple[Span, ...]:
    """Part a long note where the page has several of its pitch and the rest seem left out.

    Sung on one vowel, two notes of one pitch are one sound; only its length tells whether both are
    there. Half of what would be missing may be missing: who hurries has not left a note out.
    """
    out = list(spans)
    for k in range(len(out) - 1, 0, -1):
        before, after = out[k - 1], out[k]
        if after.note - before.note < 2 or before.free or after.free:
            continue
        whole = _shared(before, range(before.note, after.note), hymn, lengths)
        if not whole:
            whole = _shared(after, range(before.note + 1, after.note + 1), hymn, lengths)
        if whole:
            at = k - 1 if whole[0].note == before.note else k
            out[at : at + 1] = whole
    return tuple(out)


def _shared(span: Span, notes: range, hymn: Lattice, lengths: Array) -> list[Span]:
    """A sound shared out to all notes of its pitch; nothing where it is too short for them."""
    asked = lengths[notes.start : notes.stop]
    alike = np.ptp(hymn.low[notes.start : notes.stop]) == 0.0
    missing = asked.sum() - lengths[span.note]
    if not alike or span.end - span.start < asked.sum() - missing / 2:
        return []
    shares = np.cumsum(asked)[:-1] / asked.sum() * (span.end - span.start)
    edges = [span.start, *(span.start + np.round(shares).astype(int)), span.end]
    return [
        Span(n, int(a), int(b), False) for n, a, b in zip(notes, edges, edges[1:], strict=False)
    ]


def _without_openings(spans: tuple[Span, ...], contour: Contour) -> tuple[Span, ...]:
    """Leave out what is no first singing of a repeated note, but the consonant that opens it.

    Such a one is much fainter than the note, and most of it has no pitch.
    """

    def opens(one: Span, other: Span) -> bool:
        if one.note != other.note or one.end != other.start:
            return False
        here, there = (slice(2 * s.start, 2 * s.end) for s in (one, other))
        if contour.voiced[here].mean() >= _PITCHED or not contour.voiced[there].any():
            return False
        first, second = (contour.level[s][contour.voiced[s]] for s in (here, there))
        return not first.size or bool(np.median(second) - np.median(first) > _OPENING)

    following = (*spans[1:], None)
    return tuple(s for s, t in zip(spans, following, strict=True) if t is None or not opens(s, t))


def _outside(note: Asked, place: float) -> float:
    return min(place - note.low, 0.0) + max(place - note.high, 0.0)


def _heard(
    expected: Expected, contour: Contour, fitted: Fit, measured: list[tuple[Span, float, float]]
) -> tuple[Heard, ...]:
    out = []
    for span, pitch, trust in measured:
        note = expected.notes[span.note]
        start, end = (contour.start + b * FRAME for b in (span.start, span.end))
        if np.isfinite(pitch):
            place = pitch - float(fitted.line.at(np.array([(start + end) / 2]))[0])
            deviation = place - note.moria
            outside = _outside(note, place)
            apart = _outside(note, place - fitted.shifts.get(note.degree, 0.0))
        else:
            deviation, outside, apart = float("nan"), 0.0, 0.0
        out.append(Heard(span.note, note, start, end, pitch, deviation, outside, trust, apart))
    return tuple(out)


def _explained(pitch: Array, path: Path, hymn: Lattice) -> float:
    voiced = np.isfinite(pitch)
    lead = path.spans[0].start if path.spans else 0
    if voiced[:lead].sum() <= _LEAD_IN * voiced.sum():
        voiced[:lead] = False  # an intonation
    good = np.zeros(len(pitch), bool)
    for span in path.spans:
        piece = pitch[span.start : span.end]
        near = (piece > hymn.low[span.note] - 5.0) & (piece < hymn.high[span.note] + 5.0)
        good[span.start : span.end] = near
    return float(good.sum() / max(voiced.sum(), 1))
