"""Taking down a sung melody: a recording and a tone make a hymn file.

The notes of the contour are laid on the tone's scale at the height where they fit best and end on
one of its finals; their lengths are counted in the beat that explains them with the fewest odd
values; with words, each syllable begins where a note begins, best where a consonant was heard, and
breaths fall between phrases. Whatever had to be guessed is said.

Conventions
-----------
Seconds, beats of the hymn's tempo, moria above 1 Hz. Attractions are not written: a note is put
down as its plain degree.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from chantwright.ear.contour import Contour
from chantwright.ear.naming import fit_place, slopes
from chantwright.ear.singing import one_note
from chantwright.ear.stretches import Stretch, stretches, to_hz
from chantwright.errors import ChantError
from chantwright.score import Base, Hymn, Note, Phrase, Syllable, number
from chantwright.tones import Branch, Tones

__all__ = ["TakenDown", "beat_of", "count_beats", "take_down"]

Floats = npt.NDArray[np.float64]

BREATH = 0.28
"""Seconds of silence from which it is a breath, not a consonant."""

_FEWEST = 3
_BEATS = tuple(Fraction(n, 2) for n in (1, 2, 3, 4, 6, 8, 10, 12, 16))
_PRICE = {Fraction(1, 2): 0.25, Fraction(1): 0.0, Fraction(3, 2): 0.5, Fraction(2): 0.05}
_RARE = 0.15  # price of any longer value
_LOOSE = 0.12  # spread of a length about its beats, as a logarithm
_FAR = 4.0  # moria from its degree beyond which a note is doubtful
_TEMPO_SPREAD = 0.2  # of the tempo about the style's own, as a logarithm
_TEMPO_WEIGHT = 0.3  # of that beside the cost of a note

# Prices for beginning a syllable at a note, by its first sound and by how the note begins, and for
# going on with one.
_BEGIN = {
    "vowel": {"silence": 0.6, "dip": 0.4, "step": 0.4},
    "soft": {"silence": 0.5, "dip": 0.0, "step": 1.2},
    "hard": {"silence": 0.0, "dip": 0.2, "step": 2.0},
}
_GO_ON = {"silence": 2.5, "dip": 1.5, "step": 0.0}
_VOWELS, _SOFT = "aeiouyαεηιουω", "lmnrwyjvzλμνρ"
_SPLINTER = 0.6  # beats of a note that is laid into its neighbour on the same degree
_TOO_SHORT = 0.3  # beats of a note that is laid into its neighbour
_BREATH_INSIDE = 4.0
_NO_BREATH = 1.0
_CUT = 3.0  # price of a syllable on a note that had to be cut in two


@dataclass(frozen=True, slots=True)
class TakenDown:
    """A melody taken down.

    Attributes
    ----------
    hymn : Hymn
        Degrees, beats and syllables.
    base_hz, tempo, drift : float
        Pitch of the branch's base; beats a minute; moria a minute that were taken out.
    doubtful : tuple of (float, str)
        Seconds in the recording and a sentence, for each place that had to be guessed.
    """

    hymn: Hymn
    base_hz: float
    tempo: float
    drift: float
    doubtful: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class _Written:
    """A note on its way: what was sung, its degree, its length in seconds and in beats."""

    sung: Stretch
    degree: int
    seconds: float
    beats: Fraction
    breath: bool  # a breath follows


def take_down(
    contour: Contour,
    tones: Tones,
    branch: Branch,
    *,
    words: Hymn | None = None,
    tempo: float | None = None,
    base_hz: float | None = None,
) -> TakenDown:
    """Take down a sung melody.

    Parameters
    ----------
    contour : Contour
        What was sung.
    tones : Tones
        Scales and styles.
    branch : Branch
        The tone it is in.
    words : Hymn, optional
        The words, divided; without them the melody is written on “la”.
    tempo : float, optional
        Beats a minute; found where it is not given.
    base_hz : float, optional
        Pitch of the branch's base; found where it is not given.

    Raises
    ------
    ChantError
        If hardly anything was sung, or there are far more syllables than notes.
    """
    notes = stretches(contour)
    if len(notes) < _FEWEST:
        raise ChantError(
            "hardly any note can be heard in this recording.",
            remedy="Sing closer to the microphone, and without other voices.",
        )
    degrees, ni, drift, far = _degrees(notes, tones, branch, base_hz)
    lengths, breaths = _lengths(notes)
    style = tones.styles.get(branch.style)
    usual = float(style.tempo) if style else 100.0
    beat = 60.0 / tempo if tempo else beat_of(lengths, breaths, 60.0 / usual)
    keep = _kept(degrees, lengths / beat, breaths, [s.begins for s in notes])
    lengths = np.array([lengths[k].sum() for k in keep])
    beats = count_beats(lengths, beat)
    main = [max(k, key=lambda i: notes[i].seconds) for k in keep]
    written = [
        _Written(
            replace(notes[m], start=notes[k[0]].start, begins=notes[k[0]].begins),
            int(degrees[m]),
            float(x),
            b,
            bool(breaths[k[-1]]),
        )
        for m, k, x, b in zip(main, keep, lengths, beats, strict=True)
    ]
    doubtful = [(notes[m].start, "this note lies between two degrees") for m in main if far[m]]
    if words is None:
        phrases, title = _on_la(written), ""
    else:
        phrases, guessed = _on_words(written, words)
        doubtful += guessed
        title = words.title
    scale = tones.scales[branch.scale]
    base = to_hz(ni + float(scale.moria(branch.base)))
    shown = round(60.0 / beat)
    head = words if words is not None else Hymn(title=title)
    hymn = replace(
        head,
        tone=branch.tone,
        branch=branch.id,
        style=branch.style if branch.style in ("heirmologic", "sticheraric", "papadic") else None,
        tempo=shown,
        base=Base(branch.base, round(base, 2)),
        melody_source="taken down from a recording",
        melody_kind="sung",
        phrases=phrases,
    )
    if one_note(contour):
        doubtful.append((notes[0].start, "and after only one note is heard: was this the ison?"))
    return TakenDown(number(hymn), base, 60.0 / beat, drift, tuple(sorted(doubtful)))


def _degrees(
    notes: Sequence[Stretch], tones: Tones, branch: Branch, base_hz: float | None
) -> tuple[npt.NDArray[np.intp], float, float, npt.NDArray[np.bool_]]:
    """Degrees, place of ni, drift, and which notes lie far from their degree."""
    scale = tones.scales[branch.scale]
    at = np.array([(s.start + s.end) / 2 for s in notes])
    place = np.array([s.moria for s in notes])
    lengths = np.array([s.seconds for s in notes])
    rungs = np.arange(-14, 22)
    heights = np.array([float(scale.moria(int(d))) for d in rungs])
    best: tuple[float, float, float, npt.NDArray[np.intp]] | None = None
    finals = frozenset(d % 7 for d in branch.final)
    for slope in slopes(at, place):
        flat = place - slope * (at - at[0]) / 60
        if base_hz is not None:
            ni = 72 * np.log2(base_hz) - float(scale.moria(branch.base))
            near = rungs[np.abs(flat[:, None] - ni - heights).argmin(axis=1)]
            off = flat - ni - np.array([float(scale.moria(int(d))) for d in near])
            likely = -float(np.minimum(off**2, 16.0).sum())
        else:
            ni, near, likely = fit_place(flat, scale, finals)
            shift = _octaves(near, lengths, branch)
            near, ni = near + shift, ni - 72.0 * shift / 7
        if best is None or likely > best[0]:
            best = (likely, ni, slope, near)
    assert best is not None
    _, ni, slope, near = best
    flat = place - slope * (at - at[0]) / 60
    off = flat - ni - np.array([float(scale.moria(int(d))) for d in near])
    return near, float(ni), slope, np.abs(off) > _FAR


def _octaves(degrees: npt.NDArray[np.intp], lengths: Floats, branch: Branch) -> int:
    """Degrees by which to shift so that most lies in the branch's compass."""
    low, high = branch.usual
    scores = {}
    for shift in (-14, -7, 0, 7, 14):
        moved = degrees + shift
        inside = float(lengths[(moved >= low) & (moved <= high)].sum())
        ends = 0.3 * float(lengths.sum()) if int(moved[-1]) in branch.final else 0.0
        scores[shift] = inside + ends
    return max(scores, key=lambda s: (scores[s], -abs(s)))


def _lengths(notes: Sequence[Stretch]) -> tuple[Floats, npt.NDArray[np.bool_]]:
    """Length of each note up to the next, or to its own end before a breath; and the breaths."""
    starts = np.array([n.start for n in notes])
    ends = np.array([n.end for n in notes])
    gaps = np.append(starts[1:] - ends[:-1], np.inf)
    breaths = gaps >= BREATH
    lengths = np.where(breaths, ends - starts, np.append(starts[1:], 0.0) - starts)
    return np.asarray(np.maximum(lengths, 0.05)), np.asarray(breaths)


def _price(beats: Fraction) -> float:
    return _PRICE.get(beats, _RARE)


def _costs(lengths: Floats, beat: float) -> Floats:
    """Cost of each value for each length, shape (notes, values)."""
    values = np.array([float(b) for b in _BEATS])
    prices = np.array([_price(b) for b in _BEATS])
    off = np.log(lengths[:, None] / (beat * values)) / _LOOSE
    return np.asarray(np.minimum(off**2 / 2, 4.0) + 4 * prices)


def beat_of(lengths: Floats, breaths: npt.NDArray[np.bool_], usual: float) -> float:
    """Find the beat, in seconds, that explains lengths with the plainest values.

    Parameters
    ----------
    lengths : ndarray, shape (n,)
        Seconds.
    breaths : ndarray of bool, shape (n,)
        Notes before a breath: their lengths say little, for the breath takes of them.
    usual : float
        Usual beat of the style, seconds.
    """
    counted = lengths[~breaths] if (~breaths).sum() >= _FEWEST else lengths
    tries = usual * 2 ** np.linspace(-1.2, 1.2, 97)
    scores = [
        float(_costs(counted, t).min(axis=1).mean())
        + _TEMPO_WEIGHT * (np.log(t / usual) / _TEMPO_SPREAD) ** 2 / 2
        for t in tries
    ]
    beat = float(tries[int(np.argmin(scores))])
    values = np.array([float(b) for b in _BEATS])
    for _ in range(3):  # the mean of what the notes themselves say
        near = values[_costs(counted, beat).argmin(axis=1)]
        says = counted / near
        close = np.abs(np.log(says / beat)) < 3 * _LOOSE
        if close.any():
            beat = float(np.median(says[close]))
    return beat


def count_beats(lengths: Floats, beat: float) -> list[Fraction]:
    """Nearest plain number of beats of each length."""
    return [_BEATS[int(i)] for i in _costs(lengths, beat).argmin(axis=1)]


def _kept(
    degrees: npt.NDArray[np.intp],
    beats: Floats,
    breaths: npt.NDArray[np.bool_],
    begins: Sequence[str],
) -> list[list[int]]:
    """Group what was heard into notes: scoops and splinters go with the note beside them."""
    groups: list[list[int]] = []
    waiting: list[int] = []
    for i, length in enumerate(beats):
        last = groups[-1] if groups else None
        joined = last is not None and not waiting and not breaths[last[-1]]
        if length < _TOO_SHORT and not breaths[i] and i + 1 < len(beats):
            waiting.append(i)
        elif (
            joined
            and last is not None
            and begins[i] == "step"
            and (
                length < _TOO_SHORT
                or (degrees[i] == degrees[last[-1]] and min(length, beats[last[-1]]) < _SPLINTER)
            )
        ):
            last.append(i)
        else:
            groups.append([*waiting, i])
            waiting = []
    return groups


def _first_sound(text: str) -> str:
    letter = next((c for c in text.lower() if c.isalpha()), "a")
    if letter in _VOWELS and not (letter == "y" and len(text) > 1):
        return "vowel"
    return "soft" if letter in _SOFT else "hard"


def _on_la(notes: Sequence[_Written]) -> tuple[Phrase, ...]:
    """Write notes on “la”: a new one where a consonant or a breath was heard."""
    phrases: list[Phrase] = []
    syllables: list[Syllable] = []
    for i, note in enumerate(notes):
        new = note.sung.begins != "step" or not syllables
        sung = Note(note.degree, note.beats)
        if new:
            syllables.append(Syllable("la", notes=(sung,)))
        else:
            syllables[-1] = replace(syllables[-1], notes=(*syllables[-1].notes, sung))
        if note.breath or i == len(notes) - 1:
            phrases.append(Phrase(tuple(syllables)))
            syllables = []
    return tuple(phrases)


def _cut(notes: Sequence[_Written], wanted: int) -> tuple[list[_Written], list[float]]:
    """Cut the longest notes in two until there are as many notes as syllables."""
    out = list(notes)
    places = []
    while len(out) < wanted:
        i = max(range(len(out)), key=lambda j: out[j].seconds)
        note = out[i]
        half = note.beats / 2 if note.beats > Fraction(1, 2) else note.beats
        first = replace(note, beats=half, seconds=note.seconds / 2, breath=False)
        second = replace(note, beats=half, seconds=note.seconds / 2)
        second = replace(second, sung=replace(note.sung, begins="step"))
        out[i : i + 1] = [first, second]
        places.append(note.sung.start)
    return out, places


def _on_words(
    notes: Sequence[_Written], words: Hymn
) -> tuple[tuple[Phrase, ...], list[tuple[float, str]]]:
    """Lay syllables on notes: cheapest beginnings, breaths between phrases."""
    syllables = [s for p in words.phrases for s in p.syllables]
    ends = np.cumsum([len(p.syllables) for p in words.phrases])
    if not syllables:
        raise ChantError(
            "these words are not divided into syllables.",
            remedy="Give the words as plain lines, one phrase to a line.",
        )
    if len(syllables) > 2 * len(notes):
        raise ChantError(
            f"there are {len(syllables)} syllables but only {len(notes)} notes were heard.",
            remedy="Check that these are the words that were sung, from beginning to end.",
        )
    laid, cuts = _cut(notes, len(syllables))
    said = [
        (at, "two syllables share what was heard as one note; its cut is a guess") for at in cuts
    ]
    first = _begins(
        laid, [_first_sound(s.text) for s in syllables], frozenset(int(e) for e in ends)
    )
    groups = [laid[a:b] for a, b in zip(first, [*first[1:], len(laid)], strict=True)]
    filled = [
        replace(s, notes=tuple(Note(n.degree, n.beats) for n in g))
        for s, g in zip(syllables, groups, strict=True)
    ]
    phrases = []
    at = 0
    for phrase in words.phrases:
        own = filled[at : at + len(phrase.syllables)]
        phrases.append(replace(phrase, syllables=tuple(own), text=""))
        at += len(phrase.syllables)
    for i, group in enumerate(groups):
        if any(n.breath for n in group[:-1]) or (group[-1].breath and i + 1 not in set(ends)):
            said.append((group[-1].sung.start, "a breath was heard inside a phrase here"))
    return tuple(phrases), said


def _begins(notes: Sequence[_Written], sounds: Sequence[str], ends: frozenset[int]) -> list[int]:
    """Index of the note on which each syllable begins."""
    total, count = len(notes), len(sounds)
    worst = float("inf")
    cost = np.full((total, count), worst)
    new = np.zeros((total, count), bool)
    cost[0, 0] = 0.0
    for i in range(1, total):
        kind = notes[i].sung.begins
        breath = notes[i - 1].breath
        for j in range(min(i + 1, count)):
            stay = cost[i - 1, j] + _GO_ON[kind] + (_BREATH_INSIDE if breath else 0.0)
            begin = worst
            if j > 0:
                phrase_begins = j in ends
                begin = cost[i - 1, j - 1] + _BEGIN[sounds[j]][kind]
                if breath and not phrase_begins:
                    begin += _BREATH_INSIDE
                if phrase_begins and not breath:
                    begin += _NO_BREATH
            new[i, j] = begin <= stay
            cost[i, j] = min(begin, stay)
    out = [0] * count
    j = count - 1
    for i in range(total - 1, 0, -1):
        if new[i, j]:
            out[j] = i
            j -= 1
    return out
