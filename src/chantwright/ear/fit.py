"""The base, its drift, and how each degree lies, from the notes of an alignment.

Conventions
-----------
Moria and seconds. Every sung note gives one measured pitch; ``measured = asked + base(t) + shift of
its degree + its own error``. The base is the simplest line that the notes bear out: steady,
slanting, steady with one step, or bent every dozen seconds. Shifts are pinned by what most degrees
agree on, so that one degree that lies high is that degree, and all of them lying high is the base.

References
----------
Huber, Robust Statistics (1981), for the re-weighting; Schwarz, Ann. Stat. 6 (1978), for the price
of a more bent line.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["BaseLine", "Fit", "fit"]

Array = npt.NDArray[np.float64]

_SOFT = 1.5  # moria beyond which a note's pull on the base wanes
_KNOT = 12.0  # seconds between bends
_ROUNDS = 8
_FEW = 3.0  # notes of a degree that count as much as the belief that it lies where it should
_OWN = 0.8  # moria: the least scatter of a note that is assumed


@dataclass(frozen=True, slots=True, eq=False)
class BaseLine:
    """The base in time: straight between knots, level beyond them.

    Attributes
    ----------
    times, moria : ndarray, shape (k,)
        Knots in seconds, and moria above 440 Hz.
    step : float or None
        Moment of a step, seconds.
    kind : str
        known, steady, drift, step or bent.
    """

    times: Array
    moria: Array
    step: float | None
    kind: str

    def at(self, times: Array) -> Array:
        """Base at given times, moria above 440 Hz."""
        out: Array = np.interp(times, self.times, self.moria)
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A base line, the shift of each degree in moria, and the scatter of the notes."""

    line: BaseLine
    shifts: dict[int, float]
    scatter: float


def _weights(rest: Array, size: Array) -> Array:
    away = np.maximum(np.abs(rest), 1e-9)
    out: Array = size * np.where(away < _SOFT, 1.0, (_SOFT / away) ** 1.5)
    return out


def _solve(columns: Array, value: Array, size: Array, ridge: Array) -> tuple[Array, Array]:
    """Robust least squares; returns the coefficients and what remains."""
    # Begin at the median, so that a few wild notes never lead the first round.
    middle = _median(value, size)
    weight = _weights(value - middle, size)
    found: Array = np.zeros(columns.shape[1])
    for _ in range(_ROUNDS):
        left = columns.T @ (weight[:, None] * columns) + np.diag(ridge)
        found = np.asarray(np.linalg.solve(left, columns.T @ (weight * value)), np.float64)
        weight = _weights(value - columns @ found, size)
    return found, value - columns @ found


def _median(value: Array, size: Array) -> float:
    order = np.argsort(value)
    share = np.cumsum(size[order])
    return float(value[order][int(np.searchsorted(share, share[-1] / 2))])


def _hats(times: Array, knots: Array) -> Array:
    return np.stack([np.interp(times, knots, row) for row in np.eye(len(knots))], axis=1)


def _loss(rest: Array, size: Array) -> float:
    """Twice the negative log likelihood of a heavy-tailed error of about one morion."""
    scaled = rest / _OWN
    return float(2.0 * np.sum(np.minimum(size, 1.0) * 2.0 * np.log1p(scaled**2 / 4.0)))


@dataclass(frozen=True, slots=True)
class _Candidate:
    kind: str
    line: BaseLine
    loss: float


def _candidates(times: Array, value: Array, size: Array) -> list[_Candidate]:
    """Lines from the simplest to the most bent, each with its loss and price."""
    many = float(np.sum(np.minimum(size, 1.0)))
    price = float(np.log(max(many, 3.0)))
    first, last = float(times.min()), float(times.max())
    span = max(last - first, 1e-3)
    out: list[_Candidate] = []
    ends = np.array([first, last])

    level, rest = _solve(np.ones((len(times), 1)), value, size, np.full(1, 1e-6))
    out.append(
        _Candidate("steady", BaseLine(ends, np.repeat(level, 2), None, "steady"), _loss(rest, size))
    )
    if len(times) < 6 or span < 5.0:
        return out
    columns = _hats(times, ends)
    two, rest = _solve(columns, value, size, np.full(2, 1e-6))
    out.append(
        _Candidate("drift", BaseLine(ends, two, None, "drift"), _loss(rest, size) + 1.5 * price)
    )
    best: _Candidate | None = None
    order = np.sort(times)
    for moment in 0.5 * (order[2:-2] + order[3:-1]):
        columns = np.stack((times < moment, times >= moment), axis=1).astype(float)
        two, rest = _solve(columns, value, size, np.full(2, 1e-6))
        loss = _loss(rest, size) + 3.5 * price
        if best is None or loss < best.loss:
            knots = np.array([first, moment - 0.01, moment + 0.01, last])
            line = BaseLine(knots, np.repeat(two, 2), float(moment), "step")
            best = _Candidate("step", line, loss)
    if best is not None:
        out.append(best)
    pieces = int(np.ceil(span / _KNOT))
    if pieces >= 2:
        knots = np.linspace(first, last, pieces + 1)
        columns = _hats(times, knots)
        # Bends are drawn towards a straight line: a penalty on second differences.
        second = np.diff(np.eye(pieces + 1), 2, axis=0) * 1.0
        left_ridge = second.T @ second
        found, rest = _bent(columns, value, size, left_ridge)
        out.append(
            _Candidate(
                "bent",
                BaseLine(knots, found, None, "bent"),
                _loss(rest, size) + 1.5 * price * pieces,
            )
        )
    return out


def _bent(columns: Array, value: Array, size: Array, smooth: Array) -> tuple[Array, Array]:
    weight = _weights(value - _median(value, size), size)
    found: Array = np.zeros(columns.shape[1])
    for _ in range(_ROUNDS):
        left = columns.T @ (weight[:, None] * columns) + smooth + 1e-6 * np.eye(len(smooth))
        found = np.asarray(np.linalg.solve(left, columns.T @ (weight * value)), np.float64)
        weight = _weights(value - columns @ found, size)
    return found, value - columns @ found


def _shifts(rest: Array, degrees: npt.NDArray[np.int_], size: Array) -> dict[int, float]:
    """How each degree lies, drawn towards nothing where it was sung seldom."""
    out: dict[int, float] = {}
    for degree in np.unique(degrees):
        mine = degrees == degree
        centre = _median(rest[mine], size[mine])
        weight = _weights(rest[mine] - centre, size[mine])
        mean = float(np.sum(weight * rest[mine]) / np.sum(weight))
        count = float(np.sum(np.minimum(size[mine], 1.0)))
        out[int(degree)] = mean * count / (count + _FEW)
    return out


def fit(
    times: Array,
    excess: Array,
    size: Array,
    degrees: npt.NDArray[np.int_],
    *,
    known: float | None = None,
) -> Fit:
    """Fit base and shifts.

    Parameters
    ----------
    times : ndarray, shape (n,)
        Middle of each sung note, seconds.
    excess : ndarray, shape (n,)
        Measured pitch less what is asked, moria.
    size : ndarray, shape (n,)
        Trust in each note, about 1 for a note of ordinary length.
    degrees : ndarray of int, shape (n,)
        Degree of each note.
    known : float, optional
        The base, where a drone or the singer's own word gives it.

    Returns
    -------
    Fit
    """
    shifts = {int(d): 0.0 for d in np.unique(degrees)}
    line: BaseLine | None = None
    for _ in range(3):
        value = excess - np.array([shifts[int(d)] for d in degrees])
        found = _candidates(times, value, size)
        if known is not None:
            ends = np.array([float(times.min()), float(times.max())])
            loss = _loss(value - known, size)
            # A given base is left only for a movement that stands out.
            found = [c for c in found if c.kind != "steady"]
            found = [_Candidate(c.kind, c.line, c.loss + 6.0) for c in found]
            steady = BaseLine(ends, np.full(2, known), None, "known")
            found.append(_Candidate("known", steady, loss))
        line = min(found, key=lambda c: c.loss).line
        rest = excess - line.at(times)
        raw = _shifts(rest, degrees, size)
        if line.kind == "known":
            shifts = raw
            continue
        # What most degrees agree on is the base, not a shift.
        names = np.array(sorted(raw))
        share = np.array([np.sum(size[degrees == d]) for d in names])
        agreed = _median(np.array([raw[int(d)] for d in names]), np.sqrt(share))
        shifts = {d: s - agreed for d, s in raw.items()}
    assert line is not None
    rest = excess - line.at(times) - np.array([shifts[int(d)] for d in degrees])
    scatter = 1.4826 * _median(np.abs(rest), size)
    return Fit(line, shifts, scatter)
