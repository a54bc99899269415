"""Marks for the ear: its alignment and its events beside the truth of a take."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import takes

from chantwright.ear.alignment import Alignment
from chantwright.ear.events import Event


@dataclass
class Marks:
    """Counts over many takes."""

    notes: int = 0
    errors: list[float] = field(default_factory=list)
    onsets: list[float] = field(default_factory=list)
    hit: dict[str, int] = field(default_factory=dict)
    planted: dict[str, int] = field(default_factory=dict)
    false: dict[str, int] = field(default_factory=dict)
    slopes: list[float] = field(default_factory=list)
    missed_notes: int = 0

    def add(self, kind: str, planted: int, hit: int, false: int) -> None:
        self.planted[kind] = self.planted.get(kind, 0) + planted
        self.hit[kind] = self.hit.get(kind, 0) + hit
        self.false[kind] = self.false.get(kind, 0) + false

    def lines(self) -> list[str]:
        errors, onsets = np.abs(self.errors), np.abs(self.onsets)
        out = [
            f"notes {self.notes}, not found {self.missed_notes}; deviation error median "
            f"{np.median(errors):.2f}, p90 {np.percentile(errors, 90):.2f} moria; onsets within "
            f"50 ms {np.mean(onsets < 0.05):.3f}, median {1000 * np.median(onsets):.0f} ms"
        ]
        for kind in sorted(self.planted):
            out.append(
                f"{kind:8s} {self.hit[kind]}/{self.planted[kind]} found, {self.false[kind]} false "
                f"({100 * self.false[kind] / max(self.notes, 1):.2f} per 100 notes)"
            )
        if self.slopes:
            out.append(
                f"slope error median {np.median(np.abs(self.slopes)):.2f}, worst "
                f"{np.max(np.abs(self.slopes)):.2f} moria a minute"
            )
        return out


def mark(
    marks: Marks, plan: takes.Plan, truth: takes.Truth, got: Alignment, found: tuple[Event, ...]
) -> None:
    """Add one take to the marks."""
    marks.notes += len(truth.notes)
    used: set[int] = set()
    for k, index in enumerate(truth.notes):
        near = [
            (abs(h.start - truth.onsets[k]), i)
            for i, h in enumerate(got.heard)
            if h.index == index and i not in used and abs(h.start - truth.onsets[k]) < 0.6
        ]
        if not near:
            marks.missed_notes += 1
            marks.onsets.append(1.0)
            continue
        _, i = min(near)
        used.add(i)
        one = got.heard[i]
        marks.onsets.append(one.start - truth.onsets[k])
        if np.isfinite(one.deviation):
            marks.errors.append(one.deviation - truth.deviations[k])
    for kind, wanted in _planted(plan, truth).items():
        said = [e for e in found if e.kind == kind]
        left = list(said)
        hits = 0
        for first, last, time in wanted:
            match = next(
                (e for e in left if _same(e, first, last, time)),
                None,
            )
            if match is not None:
                hits += 1
                left.remove(match)
        marks.add(kind, len(wanted), hits, len(left))


def _same(event: Event, first: int, last: int, time: float) -> bool:
    """One index of tolerance: among like notes the exact one cannot be told."""
    near = event.first - 1 <= last and event.last + 1 >= first
    return near and (event.kind == "skip" or abs(event.time - time) < 1.2)


def _planted(plan: takes.Plan, truth: takes.Truth) -> dict[str, list[tuple[int, int, float]]]:
    out: dict[str, list[tuple[int, int, float]]] = {"wrong": [], "skip": [], "repeat": []}
    for k, name in enumerate(truth.planted):
        if name == "wrong":
            out["wrong"].append((truth.notes[k], truth.notes[k], truth.onsets[k]))
        if name == "repeat" and truth.planted[k - 1] != "repeat":
            out["repeat"].append((truth.notes[k], truth.notes[k], truth.onsets[k]))
    gone = list(truth.skipped)
    while gone:
        run = [gone.pop(0)]
        while gone and gone[0] == run[-1] + 1:
            run.append(gone.pop(0))
        out["skip"].append((run[0], run[-1], 0.0))
    return out
