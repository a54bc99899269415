"""Free singing: on which base, in which family of scales, in which tone, or 'not sure'.

The notes of a take are held against each family's scale, moved to every height. A slow drift is
first taken out: the slope at which the notes gather most sharply. A family's likelihood lets each
degree stand off its place by a little for good (nobody sings the tables) and each note by more;
what counts is how much better the best family explains the notes than the next. The degree of the
last note, with the degrees that were dwelt on, suggests the tone.

Conventions
-----------
Moria are counted from 1 Hz; drift in moria a minute. Margins are natural logarithms of likelihood
ratios.

References
----------
B. Bozkurt, "An automatic pitch analysis method for Turkish maqam music", J. New Music Research 37
(2008), and M. Panteli & H. Purwins, "A quantitative comparison of chrysanthine theory and
performance practice of scale tuning, steps, and prominence of the octoechos in Byzantine chant",
J. New Music Research 42 (2013): histograms of pitch held against scales (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chantwright.ear.contour import Contour
from chantwright.ear.singing import one_note
from chantwright.ear.stretches import stretches, to_hz
from chantwright.tones import Tones
from chantwright.tuning import Scale

__all__ = ["FAMILIES", "Named", "Suggestion", "fit_place", "name_singing", "slopes"]

Floats = npt.NDArray[np.float64]

FAMILIES = {
    "diatonic": "diatonic",
    "soft chromatic": "soft_chromatic",
    "hard chromatic": "hard_chromatic",
    "enharmonic": "enharmonic",
}
"""Family -> id of its scale."""

_SIGMAS = ((0.8, 0.0), (1.2, 0.0), (1.7, 2.0), (2.2, 8.0))
"""Moria of notes about their degree, and what a singer as unsteady as that costs."""
_MOVES = (0.26, 0.27, 0.08, 0.02)
"""Chance that the next note is the same degree, the next one up (or down), a third, or farther:
chant moves by step (from memory)."""
_STAND_OFF = 0.7  # moria by which a singer's degree stands off its place for good
_STRAY = (4.0, 5.0)  # moria from its degree beyond which a note belongs nowhere; its cost
_NO_END = 3.0  # cost of an end on a degree on which no tone of the family ends
_SHORTEST = 0.18  # seconds of a note that counts
_FEWEST = 12
_SURE = 3.0  # margin below which the family is not sure
_TONE_SURE = 1.0
_DRIFTS = np.arange(-30.0, 30.5, 1.5)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A tone that the singing may be in.

    Attributes
    ----------
    branch, title, tone : str, str, int
        Id and plain name of the branch; number of the tone.
    base_hz : float
        Pitch of its base as sung, or where the scale puts it if it was not sung.
    weight : float
        Logarithm of how well it explains the last note and the notes dwelt on; 0 is the best.
    """

    branch: str
    title: str
    tone: int
    base_hz: float
    weight: float


@dataclass(frozen=True, slots=True)
class Named:
    """What free singing was.

    Attributes
    ----------
    family : str or None
        One of `FAMILIES`; None when not sure.
    likely : str
        The best family, sure or not; empty when there was too little to hear.
    margin : float
        How much better it is than the next.
    final_hz : float
        Pitch of the last held note.
    ni_hz : float
        Pitch of ni by the best family.
    drift : float
        Moria a minute.
    notes : int
        Notes that were counted.
    tones : tuple of Suggestion
        Best first; empty when the family is not sure.
    tone_sure : bool
        Whether the first suggestion is clearly ahead of any other tone.
    one_note : bool
        Whether no more than one note was heard; it has no scale.
    """

    family: str | None
    likely: str
    margin: float
    final_hz: float
    ni_hz: float
    drift: float
    notes: int
    tones: tuple[Suggestion, ...]
    tone_sure: bool
    one_note: bool = False


@dataclass(frozen=True, slots=True)
class _Fit:
    family: str
    likelihood: float
    ni: float
    degrees: npt.NDArray[np.intp]
    place: Floats


def name_singing(contour: Contour, tones: Tones) -> Named:
    """Name the base, the family and the tone of free singing.

    Parameters
    ----------
    contour : Contour
        What was sung; 40 seconds or more are wanted.
    tones : Tones
        Scales and branches.

    Returns
    -------
    Named
        With no family where one note or too few were held, or two families explain them alike.
    """
    notes = [s for s in stretches(contour) if s.seconds >= _SHORTEST]
    single = bool(notes) and one_note(contour)
    if single or len(notes) < _FEWEST:
        last = notes[-1].hz if notes else 0.0
        return Named(None, "", 0.0, last, 0.0, 0.0, len(notes), (), False, single)
    at = np.array([(s.start + s.end) / 2 for s in notes])
    place = np.array([s.moria for s in notes])
    best: dict[str, tuple[_Fit, float]] = {}
    for slope in slopes(at, place):
        flat = place - slope * (at - at[-1]) / 60
        for family, scale_id in FAMILIES.items():
            fit = _fit(flat, tones.scales[scale_id], family, _finals(tones, scale_id))
            if family not in best or fit.likelihood > best[family][0].likelihood:
                best[family] = (fit, slope)
    ranked = sorted(best.values(), key=lambda f: -f[0].likelihood)
    (first, slope), (second, _) = ranked[0], ranked[1]
    margin = first.likelihood - second.likelihood
    sure = margin >= _SURE
    lengths = np.array([s.seconds for s in notes])
    offers = _tones(first, lengths, tones) if sure else ()
    others = [o.weight for o in offers if o.tone != offers[0].tone]
    return Named(
        family=first.family if sure else None,
        likely=first.family,
        margin=margin,
        final_hz=notes[-1].hz,
        ni_hz=to_hz(first.ni),
        drift=slope,
        notes=len(notes),
        tones=offers[:4],
        tone_sure=bool(offers) and (not others or others[0] < -_TONE_SURE),
    )


def _finals(tones: Tones, scale_id: str) -> frozenset[int]:
    """Degrees, within the octave, on which branches of a scale end."""
    return frozenset(d % 7 for b in tones.branches.values() if b.scale == scale_id for d in b.final)


def slopes(at: Floats, place: Floats) -> list[float]:
    """Drifts at which the notes gather most sharply: the three best and none at all."""
    scores = []
    for slope in _DRIFTS:
        flat = place - slope * (at - at[-1]) / 60
        far = np.abs(flat[:, None] - flat[None, :])
        scores.append(float(np.exp(-(far**2) / 4.0).sum()))
    order = np.argsort(scores)[::-1][:3]
    return [float(_DRIFTS[i]) for i in order] + [0.0]


def _fit(place: Floats, scale: Scale, family: str, finals: frozenset[int] = frozenset()) -> _Fit:
    """Best height of a scale under notes."""
    degrees = np.arange(-14, 22)
    rungs = np.array([float(scale.moria(int(d))) for d in degrees])
    best: _Fit | None = None
    period = float(scale.span)
    middle = float(np.median(place))
    # Heights that put the singer's middle between about ni and zo; others are the same by octaves.
    for ni in middle - 30 + np.arange(-period / 2, period / 2, 0.5):
        off = (place - ni)[:, None] - rungs
        nearest = np.abs(off).argmin(axis=1)
        rest = off[np.arange(place.size), nearest]
        likely = _likelihood(rest, nearest)
        if finals and int(degrees[nearest[-1]]) % 7 not in finals:
            likely -= _NO_END
        if best is None or likely > best.likelihood:
            best = _Fit(family, likely, float(ni), degrees[nearest], place)
    assert best is not None
    return best


def _likelihood(rest: Floats, degree: npt.NDArray[np.intp]) -> float:
    """Logarithm of the likelihood of offsets, each degree standing off its place for good."""
    near = np.abs(rest) <= _STRAY[0]
    stray = _STRAY[1] * float((~near).sum())
    if near.sum() < 3:
        return -np.inf
    rest, degree = rest[near], degree[near]
    moves = np.minimum(np.abs(np.diff(degree)), len(_MOVES) - 1)
    walked = float(np.log(np.array(_MOVES))[moves].sum())
    _, index, counts = np.unique(degree, return_inverse=True, return_counts=True)
    sums = np.bincount(index, rest)
    squares = np.bincount(index, rest**2)
    best = -np.inf
    for sigma, price in _SIGMAS:
        mean_spread = sigma**2 + counts * _STAND_OFF**2
        within = squares - sums**2 / counts
        score = (
            -0.5 * within.sum() / sigma**2
            - (counts - 1).sum() * np.log(sigma)
            - 0.5 * (sums**2 / counts / mean_spread).sum()
            - 0.5 * np.log(mean_spread).sum()
        )
        best = max(best, float(score) - price)
    return best + walked - stray


def _tones(fit: _Fit, lengths: Floats, tones: Tones) -> tuple[Suggestion, ...]:
    """Branches on the family's scale that end where the singer ended."""
    scale = tones.scales[FAMILIES[fit.family]]
    final = int(fit.degrees[-1])
    shares = {int(d): float(lengths[fit.degrees == d].sum() / lengths.sum()) for d in fit.degrees}
    out: list[Suggestion] = []
    for branch in tones.branches.values():
        if branch.scale != scale.id:
            continue
        ends = {d % 7 for d in branch.final}
        if final % 7 not in ends:
            continue
        shift = min((final - d for d in branch.final if (final - d) % 7 == 0), key=abs)
        dwelt = sum(shares.get(d + shift, 0.0) for d in branch.dominating)
        low, high = branch.usual
        inside = sum(s for d, s in shares.items() if low <= d - shift <= high)
        weight = 4 * np.log(0.1 + dwelt) + 4 * np.log(0.1 + inside)
        on_base = fit.place[fit.degrees == branch.base + shift]
        base = fit.ni + float(scale.moria(branch.base + shift))
        base = float(np.median(on_base)) if on_base.size else base
        out.append(Suggestion(branch.id, branch.title, branch.tone, to_hz(base), float(weight)))
    out.sort(key=lambda s: -s.weight)
    top = out[0].weight if out else 0.0
    return tuple(Suggestion(s.branch, s.title, s.tone, s.base_hz, s.weight - top) for s in out)


def fit_place(
    place: Floats, scale: Scale, finals: frozenset[int] = frozenset()
) -> tuple[float, npt.NDArray[np.intp], float]:
    """Lay a known scale under notes.

    Parameters
    ----------
    place : ndarray, shape (n,)
        Notes in order, moria above 1 Hz.
    scale : Scale
        The scale.
    finals : frozenset of int, optional
        Degrees within the octave, 0 to 6, on which the last note may stand.

    Returns
    -------
    ni : float
        Moria above 1 Hz of ni.
    degrees : ndarray of int, shape (n,)
        Degree of each note; right within the octave, the octave being free.
    likelihood : float
        Its logarithm.
    """
    fit = _fit(place, scale, "", finals)
    return fit.ni, fit.degrees, fit.likelihood
