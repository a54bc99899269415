"""Made-up hymns and takes of them, as frames of a pitch follower: quick to make by the hundred.

A take is not sound but what a pitch follower would say of it every 10 ms: the pitch of the voice
with its glides, vibrato and jitter, smeared over the follower's window, and no pitch in consonants
and breaths. So the judge alone is tried; the follower is tried on sound elsewhere.

Conventions: moria (72 to the octave), seconds, beats. Everything hangs on a seed.

References
----------
Steps of the scales: 12 10 8 12 12 10 8 (diatonic), 8 14 8 12 8 14 8 (soft chromatic),
6 20 4 12 6 20 4 (hard chromatic): Patriarchal music committee, Constantinople 1881 (from memory).
Vibrato 5 to 6 turns a second: Prame, J. Acoust. Soc. Am. 96 (1994) and 102 (1997).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

HOP = 0.01
SMEAR = 5  # frames: the follower compares two stretches of 26 ms, a period apart
SCALES = ((12, 10, 8, 12, 12, 10, 8), (8, 14, 8, 12, 8, 14, 8), (6, 20, 4, 12, 6, 20, 4))


@dataclass(frozen=True, slots=True)
class Case:
    """A hymn, a take of it, and what the judge should say.

    Attributes
    ----------
    notes : list of dict
        As a page knows them.
    frames : list of list of float
        Rows of seconds, Hz (0 for none), clarity, level in dBFS.
    off : dict of int to float
        Place of a note in the hymn -> moria from its place, in its last singing.
    left_out : frozenset of int
        Places that were not sung.
    shift : float
        Moria that the singer is from the hymn's own pitch.
    zero_hz, tempo : float
        Of the hymn.
    about : dict
        How it was sung.
    """

    notes: list[dict[str, Any]]
    frames: list[list[float]]
    off: dict[int, float]
    left_out: frozenset[int]
    shift: float
    zero_hz: float
    tempo: float
    about: dict[str, Any] = field(default_factory=dict)


def _height(scale: tuple[int, ...], degree: int) -> int:
    octave, place = divmod(degree, 7)
    return 72 * octave + sum(scale[:place])


def hymn(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Make up a hymn: phrases that recite, step about and close on a long note."""
    scale = SCALES[int(rng.integers(len(SCALES)))]
    rows: list[dict[str, Any]] = []
    degree = int(rng.integers(0, 5))
    for phrase in range(int(rng.integers(3, 6))):
        size = int(rng.integers(6, 13))
        for place in range(size):
            last = place == size - 1
            step = int(
                rng.choice([0, 1, -1, 2, -2, 3, -3], p=[0.3, 0.26, 0.26, 0.07, 0.07, 0.02, 0.02])
            )
            degree += step if -2 <= degree + step <= 8 else -step
            beats = (
                float(rng.choice([2, 3]))
                if last
                else float(rng.choice([0.5, 1, 2], p=[0.2, 0.65, 0.15]))
            )
            melisma = place > 0 and step != 0 and rng.random() < 0.25
            syllable = rows[-1]["syllable"] if melisma else f"s{len(rows)}"
            rows.append(
                {"id": f"n{len(rows)}", "phrase": f"p{phrase}", "syllable": syllable,
                 "name": str(degree), "moria": _height(scale, degree), "beats": beats}
            )  # fmt: skip
    return rows


def _order(rng: np.random.Generator, phrases: list[str]) -> tuple[list[int], str]:
    """In what order the notes are sung, and what was done to it."""
    places = list(range(len(phrases)))
    names = sorted(set(phrases))
    way = str(
        rng.choice(["whole", "again", "phrase left out", "notes left out"], p=[0.4, 0.2, 0.2, 0.2])
    )
    if way == "again":
        sung = rng.choice(names)
        one = [p for p in places if phrases[p] == sung]
        return places[: one[-1] + 1] + one + places[one[-1] + 1 :], way
    if way == "phrase left out":
        gone = rng.choice(names)
        return [p for p in places if phrases[p] != gone], way
    if way == "notes left out":
        first, count = int(rng.integers(1, len(places) - 3)), int(rng.integers(1, 3))
        return [p for p in places if not first <= p < first + count], way
    return places, way


def case(seed: int, *, way: str | None = None) -> Case:
    """Make one case; the same for the same seed."""
    rng = np.random.default_rng([20261128, seed])
    notes = hymn(rng)
    tempo = float(rng.choice([90, 110, 130]))
    beat = 60 / tempo / rng.uniform(0.8, 1.2)
    shift = float(rng.uniform(-42, 42))
    zero_hz = float(rng.choice([98.0, 131.0, 220.0]))
    vibrato, turns = rng.uniform(0, 35), rng.uniform(4.8, 6.2)
    order, done = _order(rng, [n["phrase"] for n in notes])
    off = {
        i: float(rng.choice([-1, 1]) * rng.uniform(2.6, 5.0))
        for i in range(len(notes)) if rng.random() < 0.06
    }  # fmt: skip
    line, voiced = [np.full(round(100 * rng.uniform(0.05, 3.0)), np.nan)], []
    voiced.append(np.zeros(line[0].size, bool))
    truth: dict[int, float] = {}
    before = np.nan
    for count, index in enumerate(order):
        note = notes[index]
        following = count and index == order[count - 1] + 1
        parted = count and (notes[order[count - 1]]["phrase"] != note["phrase"] or not following)
        if parted and rng.random() < 0.8:
            gap = round(100 * rng.uniform(0.2, 0.6))
            line.append(np.full(gap, np.nan))
            voiced.append(np.zeros(gap, bool))
            before = np.nan
        own = off.get(index, 0.0) + rng.normal(0, 0.25)
        truth[index] = own
        size = max(8, round(100 * beat * note["beats"] * np.exp(rng.normal(0, 0.07))))
        pitch = np.full(size, note["moria"] + own)
        glide = min(size // 2, round(100 * rng.uniform(0.04, 0.09)))
        start = before if np.isfinite(before) else pitch[0] - rng.uniform(0, 6)
        pitch[:glide] += (start - pitch[0]) * (1 + np.cos(np.pi * np.arange(glide) / glide)) / 2
        sounding = np.ones(size, bool)
        new = not following or notes[index]["syllable"] != notes[index - 1]["syllable"]
        if new and rng.random() < 0.6:
            sounding[: int(rng.integers(2, 7))] = False
        before = pitch[-1]
        line.append(pitch)
        voiced.append(sounding)
    line.append(np.full(60, np.nan))
    voiced.append(np.zeros(60, bool))
    moria, sound = np.concatenate(line), np.concatenate(voiced)
    times = HOP * np.arange(moria.size)
    moria = moria + 72 / 1200 * vibrato * np.sin(2 * np.pi * turns * times + rng.uniform(0, 6))
    return Case(
        notes,
        _frames(moria + shift, sound, zero_hz, rng),
        {i: truth[i] for i in truth},
        frozenset(range(len(notes))) - frozenset(order),
        shift,
        zero_hz,
        tempo,
        {"seed": seed, "way": done, "beat": beat, "vibrato": vibrato},
    )


def _frames(
    moria: npt.NDArray[np.float64],
    sound: npt.NDArray[np.bool_],
    zero_hz: float,
    rng: np.random.Generator,
) -> list[list[float]]:
    known = np.where(np.isfinite(moria) & sound, moria, 0.0)
    weight = (np.isfinite(moria) & sound).astype(float)
    window = np.hanning(SMEAR + 2)[1:-1]
    total = np.convolve(weight, window, "same")
    smeared = np.convolve(known, window, "same") / np.maximum(total, 1e-9)
    smeared += rng.normal(0, 0.12, moria.size)
    hz = np.where(weight > 0, zero_hz * 2 ** (smeared / 72), rng.uniform(80, 900, moria.size))
    clarity = np.where(
        weight > 0, rng.uniform(0.93, 0.995, moria.size), rng.uniform(0, 0.6, moria.size)
    )
    level = np.where(weight > 0, -22 + rng.normal(0, 1, moria.size), -52.0)
    level[np.isnan(moria)] = -75
    return [
        [
            round(HOP * i, 3),
            round(float(hz[i]), 3),
            round(float(clarity[i]), 3),
            round(float(level[i]), 1),
        ]
        for i in range(moria.size)
    ]
