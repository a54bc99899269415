"""Notes without a score: stretches of a contour on which the voice stands.

The contour is read as steps on a fine ladder of one morion: each frame costs by its distance from
the rung, at most so much, and each change of rung costs the same however far it leads. So vibrato
and wavering stay within a note, and a glide between two notes costs little and is given to either.
A note also ends where the voice stops, and, where asked, where it dips as it does in a consonant.

Conventions
-----------
Moria here are counted from 1 Hz (72 to the octave), so that differences are intervals.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from chantwright.ear.contour import Contour

__all__ = ["Stretch", "moria_of", "stretches", "to_hz"]

Floats = npt.NDArray[np.float64]

_SPREAD = 1.3  # moria, of frames about their note
_MOST = 3.0  # greatest cost of a frame
_CHANGE = 9.0  # cost of a new note
_GAP = 3  # frames without voice that end a note
_SCOOP = (0.16, 3.5)  # seconds, moria
_DIP = 3.5  # dB
_DIP_REACH = 12  # frames on either side against which a dip is measured


@dataclass(frozen=True, slots=True)
class Stretch:
    """A note: start and end in seconds, moria above 1 Hz, spread in moria, level in dBFS.

    `begins` says how it began: ``silence``, ``dip`` (a voiced consonant) or ``step`` (by pitch
    alone).
    """

    start: float
    end: float
    moria: float
    spread: float
    level: float
    begins: str

    @property
    def seconds(self) -> float:
        """Length."""
        return self.end - self.start

    @property
    def hz(self) -> float:
        """Pitch."""
        return to_hz(self.moria)


def moria_of(hz: Floats) -> Floats:
    """Moria above 1 Hz."""
    return np.asarray(72 * np.log2(hz))


def to_hz(moria: float) -> float:
    """Pitch of a place above 1 Hz."""
    return float(2 ** (moria / 72))


def stretches(contour: Contour, *, shortest: float = 0.1, dips: bool = True) -> tuple[Stretch, ...]:
    """Notes of a contour.

    Parameters
    ----------
    contour : Contour
        What was sung.
    shortest : float
        Seconds of the shortest note.
    dips : bool
        End a note also where the voice dips.
    """
    voiced = contour.voiced
    if not voiced.any():
        return ()
    moria = np.where(voiced, moria_of(np.where(voiced, contour.f0, 1.0)), np.nan)
    out: list[Stretch] = []
    for first, last in _runs(voiced, _GAP):
        cuts = _steps(moria[first:last])
        low = _dips(contour.level[first:last]) if dips else []
        out += _notes(contour, moria, first, last, cuts, low, shortest)
    return tuple(_without_scoops(out))


def _without_scoops(notes: list[Stretch]) -> list[Stretch]:
    """Lay the short beginning of a note that was reached from a little below into the note."""
    out: list[Stretch] = []
    for note in notes:
        before = out[-1] if out else None
        if (
            before is not None
            and note.begins == "step"
            and before.seconds < _SCOOP[0]
            and abs(before.moria - note.moria) <= _SCOOP[1]
        ):
            out[-1] = replace(note, start=before.start, begins=before.begins)
        else:
            out.append(note)
    return out


def _runs(voiced: npt.NDArray[np.bool_], gap: int) -> list[tuple[int, int]]:
    """Stretches of voiced frames, gaps shorter than `gap` bridged: (first, one past the last)."""
    at = np.flatnonzero(voiced)
    parts = np.split(at, np.flatnonzero(np.diff(at) > gap) + 1)
    return [(int(p[0]), int(p[-1]) + 1) for p in parts if p.size]


def _steps(moria: Floats) -> list[int]:
    """Frames at which a new rung begins."""
    known = np.isfinite(moria)
    rungs = np.arange(np.floor(np.nanmin(moria)), np.ceil(np.nanmax(moria)) + 1)
    cost = np.minimum(((moria[:, None] - rungs) / _SPREAD) ** 2 / 2, _MOST)
    cost[~known] = 0.0
    total = cost[0].copy()
    back = np.zeros((moria.size, rungs.size), np.intp)
    every = np.arange(rungs.size)
    for i in range(1, moria.size):
        best = int(total.argmin())
        leap = total[best] + _CHANGE
        stay = total <= leap
        back[i] = np.where(stay, every, best)
        total = np.where(stay, total, leap) + cost[i]
    at = int(total.argmin())
    cuts = []
    for i in range(moria.size - 1, 0, -1):
        before = int(back[i, at])
        if before != at:
            cuts.append(i)
            at = before
    return cuts[::-1]


def _dips(level: Floats) -> list[int]:
    """Frames at the bottom of dips."""
    out: list[int] = []
    n = level.size
    for i in range(3, n - 3):
        near = level[max(0, i - 4) : i + 5]
        if level[i] > near.min():
            continue
        left = level[max(0, i - _DIP_REACH) : i].max()
        right = level[i + 1 : i + 1 + _DIP_REACH].max()
        if min(left, right) - level[i] >= _DIP and (not out or i - out[-1] > 6):
            out.append(i)
    return out


def _notes(
    contour: Contour,
    moria: Floats,
    first: int,
    last: int,
    cuts: Sequence[int],
    low: Iterable[int],
    shortest: float,
) -> list[Stretch]:
    marks = {0: "silence"} | dict.fromkeys(cuts, "step")
    for i in low:  # a dip and a step a few frames apart are one beginning
        near = [c for c in cuts if abs(c - i) <= 10]
        marks[near[0] if near else i] = "dip"
    edges = [*sorted(marks), last - first]
    least = max(2, round(shortest / contour.hop))
    out: list[Stretch] = []
    kind = "silence"
    for a, b in pairwise(edges):
        kind = marks[a] if marks[a] != "step" or kind == "" else kind
        body = moria[first + a : first + b]
        body = body[np.isfinite(body)]
        if body.size < least:
            kind = kind or marks[a]
            continue
        inner = body[body.size // 5 : body.size - body.size // 6]
        middle = float(np.median(inner))
        level = contour.level[first + a : first + b]
        out.append(
            Stretch(
                start=contour.start + contour.hop * (first + a),
                end=contour.start + contour.hop * (first + b),
                moria=middle,
                spread=float(1.4826 * np.median(np.abs(inner - middle))),
                level=float(np.median(level)),
                begins=kind,
            )
        )
        kind = ""
    return out
