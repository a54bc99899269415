"""A base pitch at which these singers can sing this hymn without strain.

What it does
------------
Every candidate base (a grid of keyboard pitches by default, so that a pitch pipe can give it) is
tried. Each singer takes the hymn in the octave that suits him best. A singer's discomfort is the
time-weighted distance, in semitones squared, by which notes lie outside the comfortable range,
plus a small pull of the middle of the melody towards 55 % of that range. The ison is weighed for
the men (for everybody where there are no men). The base with the least total discomfort wins; ties
go to the lower one. Where there are men the written base is in their octave, and women and children
may sing an octave above it.

References
----------
Time-weighted tessitura: Titze, "Quantifying tessitura in a song", Journal of Singing 65 (2008),
for the idea of weighing pitch by time; the weights here are our own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from chantwright.errors import ChantError
from chantwright.parish.singers import Singer
from chantwright.score import UNISON, Base, Hymn, walk
from chantwright.tones import Branch, Tones
from chantwright.tuning import Scale

__all__ = [
    "Fit",
    "PitchChoice",
    "base_costs",
    "choice_at",
    "choose_base",
    "choose_common_base",
    "fits_at",
    "span_of",
]

LOWEST_BASE_HZ, HIGHEST_BASE_HZ = 65.0, 520.0
GRID_CENTS = 100.0
MIDDLE = 0.55
PULL = 0.15
ISON_WEIGHT = 0.3

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Fit:
    """How the hymn lies for one singer at the chosen base.

    Attributes
    ----------
    name, voice : str
        The singer.
    octave : int
        Octave taken, counted from the written base.
    lowest_hz, highest_hz : float
        The hymn's extremes in that octave.
    comfortable : float
        Share of singing time inside the comfortable range, 0 to 1.
    below_cents, above_cents : float
        How far the hymn goes below and above that range; 0 when it does not.
    """

    name: str
    voice: str
    octave: int
    lowest_hz: float
    highest_hz: float
    comfortable: float
    below_cents: float
    above_cents: float


@dataclass(frozen=True, slots=True)
class PitchChoice:
    """A base and what it costs whom.

    Attributes
    ----------
    base : Base
        Degree and Hz.
    discomfort : float
        Mean discomfort of the singers, in semitones squared.
    fits : tuple of Fit
        One a singer.
    warnings : tuple of str
        Sentences about singers who would leave their comfortable range.
    """

    base: Base
    discomfort: float
    fits: tuple[Fit, ...]
    warnings: tuple[str, ...]


def span_of(hymn: Hymn, branch: Branch, scale: Scale) -> tuple[Array, Array]:
    """Pitches of a hymn above its base and the time spent on each.

    Returns
    -------
    cents : (n,) array
        Distinct pitches, in cents above the branch's base, ascending.
    beats : (n,) array
        Beats spent on each.

    Raises
    ------
    ChantError
        If the hymn has no melody.
    """
    origin = scale.moria(branch.base)
    time: dict[float, float] = defaultdict(float)
    for _, _, _, note in walk(hymn):
        moria = scale.moria(note.degree) + note.bend - origin
        time[float(moria) * 1200 / 72] += float(note.beats)
    if not time:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no melody yet, so no pitch can be chosen.",
            remedy="Set it first.",
        )
    cents = np.array(sorted(time), dtype=np.float64)
    return cents, np.array([time[c] for c in cents], dtype=np.float64)


def _ison_span(hymn: Hymn, branch: Branch, scale: Scale) -> tuple[Array, Array]:
    origin = scale.moria(branch.base)
    time: dict[float, float] = defaultdict(float)
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            if syllable.ison is not None and syllable.ison != UNISON:
                moria = scale.moria(syllable.ison) - origin
                time[float(moria) * 1200 / 72] += float(syllable.beats)
    cents = np.array(sorted(time), dtype=np.float64)
    return cents, np.array([time[c] for c in cents], dtype=np.float64)


def _outside(pitch: Array, low: float, high: float) -> Array:
    """Distance outside low..high, in the unit of the pitches; 0 inside."""
    return np.maximum(low - pitch, 0.0) + np.maximum(pitch - high, 0.0)


def _limits(singer: Singer) -> tuple[float, float]:
    """Comfortable range in cents from A4."""
    low, high = (float(1200 * np.log2(f / 440.0)) for f in (singer.low_hz, singer.high_hz))
    return low, high


def _octaves(singer: Singer, with_men: bool) -> tuple[int, ...]:
    """Octaves a singer may take: the written base is the men's, where there are men."""
    return (0, 1) if with_men and singer.voice != "man" else (0,)


def _strain(cents: Array, beats: Array, bases: Array, singer: Singer) -> Array:
    """Time-weighted semitones squared outside the comfortable range, one for every base."""
    low, high = _limits(singer)
    outside = _outside(bases[:, None] + cents[None, :], low, high) / 100
    strain: Array = (beats / beats.sum() * outside**2).sum(axis=1)
    return strain


def _discomfort(cents: Array, beats: Array, bases: Array, singer: Singer) -> Array:
    """Strain, and the pull of the melody's middle to the middle of the range."""
    low, high = _limits(singer)
    middle = bases + float((beats / beats.sum() * cents).sum())
    pull = ((middle - (low + MIDDLE * (high - low))) / 100) ** 2
    discomfort: Array = _strain(cents, beats, bases, singer) + PULL / 12 * pull
    return discomfort


def _grid(grid_cents: float) -> Array:
    """Candidate bases in cents from A4."""
    edges = [1200 * np.log2(f / 440.0) for f in (LOWEST_BASE_HZ, HIGHEST_BASE_HZ)]
    steps = np.arange(np.ceil(edges[0] / grid_cents), np.floor(edges[1] / grid_cents) + 1)
    bases: Array = steps.astype(np.float64) * grid_cents
    return bases


def _branch(hymn: Hymn, tones: Tones) -> Branch:
    if hymn.branch is None:
        raise ChantError(f"“{hymn.title}” has no tone yet.", remedy="Set it first.")
    return tones.branch(hymn.branch)


def _costs(
    hymn: Hymn, tones: Tones, singers: Sequence[Singer], bases: Array
) -> tuple[list[Array], Array]:
    """Discomfort of every singer by octave and base, and of the whole group by base."""
    branch = _branch(hymn, tones)
    scale = tones.scales[branch.scale]
    cents, beats = span_of(hymn, branch, scale)
    with_men = any(s.voice == "man" for s in singers)
    costs = [
        np.array([_discomfort(cents, beats, bases + 1200.0 * k, s) for k in _octaves(s, with_men)])
        for s in singers
    ]
    total: Array = np.array([c.min(axis=0) for c in costs]).mean(axis=0)
    ison_cents, ison_beats = _ison_span(hymn, branch, scale)
    holders = [s for s in singers if s.voice == "man"] or list(singers)
    if ison_cents.size:
        ison = [_strain(ison_cents, ison_beats, bases, s) for s in holders]
        total = total + ISON_WEIGHT * np.array(ison).mean(axis=0)
    return costs, total


def base_costs(
    hymn: Hymn, tones: Tones, singers: Sequence[Singer], grid_cents: float = GRID_CENTS
) -> tuple[Array, Array]:
    """Discomfort of a group at every candidate base.

    Returns
    -------
    bases : (n,) array
        Candidates in cents from A4 = 440 Hz.
    discomfort : (n,) array
        Mean over the singers, the ison's share in it, in semitones squared.

    Raises
    ------
    ChantError
        If the hymn has no melody or no branch.
    """
    bases = _grid(grid_cents)
    return bases, _costs(hymn, tones, singers, bases)[1]


def choose_common_base(
    hymns: Sequence[Hymn],
    tones: Tones,
    singers: Sequence[Singer],
    *,
    grid_cents: float = GRID_CENTS,
) -> tuple[PitchChoice, ...]:
    """Choose one base for several hymns of one branch, so that the ison holders keep their place.

    Parameters
    ----------
    hymns : sequence of Hymn
        Set, all of the same branch; each weighs as much as it lasts.
    tones : Tones
        For the branch and its scale.
    singers : sequence of Singer
        At least one.
    grid_cents : float
        Step between candidate bases, counted from A4 = 440 Hz; 100 gives keyboard pitches.

    Returns
    -------
    tuple of PitchChoice
        One a hymn, all on the same base, each saying how it lies for every singer.

    Raises
    ------
    ChantError
        If there is no melody, no branch, nobody to sing, or the branches differ.
    """
    if not singers:
        raise ChantError("there is nobody to choose a pitch for.", remedy="Name a singer or group.")
    if not hymns:
        return ()
    branch = _branch(hymns[0], tones)
    if any(h.branch != branch.id for h in hymns):
        raise ChantError(
            "hymns of different branches cannot share one base.",
            remedy="Choose it branch by branch.",
        )
    bases = _grid(grid_cents)
    found = [_costs(h, tones, singers, bases) for h in hymns]
    lengths = np.array([float(h.beats) for h in hymns])
    whole = np.average(np.array([total for _, total in found]), axis=0, weights=lengths)
    best = int(np.argmin(whole))
    base = Base(branch.base, float(440.0 * 2 ** (bases[best] / 1200)))
    with_men = any(s.voice == "man" for s in singers)
    choices = []
    for hymn, (costs, total) in zip(hymns, found, strict=True):
        span = span_of(hymn, branch, tones.scales[branch.scale])
        fits = tuple(
            _fit(s, _octaves(s, with_men)[int(np.argmin(c[:, best]))], bases[best], *span)
            for s, c in zip(singers, costs, strict=True)
        )
        warnings = tuple(sentence for fit in fits for sentence in _warnings(fit))
        choices.append(PitchChoice(base, float(total[best]), fits, warnings))
    return tuple(choices)


def choose_base(
    hymn: Hymn,
    tones: Tones,
    singers: Sequence[Singer],
    *,
    grid_cents: float = GRID_CENTS,
) -> PitchChoice:
    """Choose the base pitch of one hymn for a group; see `choose_common_base`."""
    return choose_common_base([hymn], tones, singers, grid_cents=grid_cents)[0]


def fits_at(hymn: Hymn, tones: Tones, singers: Sequence[Singer], base_hz: float) -> tuple[Fit, ...]:
    """Say how a hymn lies for each singer at a given pitch of its branch's base, in Hz.

    Each singer takes the octave that suits him best, as in `choose_common_base`.

    Raises
    ------
    ChantError
        If there is no melody or no branch.
    """
    branch = _branch(hymn, tones)
    base = float(1200 * np.log2(base_hz / 440.0))
    span = span_of(hymn, branch, tones.scales[branch.scale])
    with_men = any(s.voice == "man" for s in singers)
    at = np.array([base])
    out = []
    for singer in singers:
        octaves = _octaves(singer, with_men)
        costs = [float(_discomfort(*span, at + 1200.0 * k, singer)[0]) for k in octaves]
        out.append(_fit(singer, octaves[int(np.argmin(costs))], base, *span))
    return tuple(out)


def choice_at(hymn: Hymn, tones: Tones, singers: Sequence[Singer], base_hz: float) -> PitchChoice:
    """Say what a given pitch of the base costs whom.

    Parameters and errors are those of `fits_at`.
    """
    branch = _branch(hymn, tones)
    fits = fits_at(hymn, tones, singers, base_hz)
    at = np.array([float(1200 * np.log2(base_hz / 440.0))])
    discomfort = float(_costs(hymn, tones, singers, at)[1][0])
    warnings = tuple(sentence for fit in fits for sentence in _warnings(fit))
    return PitchChoice(Base(branch.base, base_hz), discomfort, fits, warnings)


def _fit(singer: Singer, octave: int, base: float, cents: Array, beats: Array) -> Fit:
    pitch = base + 1200 * octave + cents
    low, high = _limits(singer)
    inside = _outside(pitch, low, high) <= 0.5
    return Fit(
        name=singer.name,
        voice=singer.voice,
        octave=octave,
        lowest_hz=float(440 * 2 ** (pitch[0] / 1200)),
        highest_hz=float(440 * 2 ** (pitch[-1] / 1200)),
        comfortable=float(beats[inside].sum() / beats.sum()),
        below_cents=float(max(low - pitch[0], 0.0)),
        above_cents=float(max(pitch[-1] - high, 0.0)),
    )


def _warnings(fit: Fit) -> list[str]:
    out = []
    for side, cents in (("below", fit.below_cents), ("above", fit.above_cents)):
        if cents > 0.5:
            out.append(
                f"{fit.name}: {cents / 100:.1f} semitones {side} the comfortable range "
                f"({1 - fit.comfortable:.0%} of the time); leave those notes out or join the ison."
            )
    return out
