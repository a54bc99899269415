"""Range tests and held isons on synthetic singing: how far off, how many late changes found.

Run: python bench/ear_range.py [--seeds evaluation|tuning] [--count 12]
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "ear"))

import itertools

from singer import VOICES, Manner, Scene, sing

from chantwright.ear.compass import take_compass
from chantwright.ear.holding import LATE, IsonSpan, judge_holding
from chantwright.ear.trace import trace

SEEDS = {"tuning": 500, "evaluation": 9500}


def ranges(first: int, count: int) -> None:
    off, sure = [], 0
    for i in range(count):
        rng = np.random.default_rng(first + i)
        voice = list(VOICES)[i % 4]
        low, high = -12 * int(rng.integers(2, 5)), 12 * int(rng.integers(3, 7))
        ladder = [*range(0, low - 1, -12), None, *range(0, high + 1, 12)]
        notes = [
            (None if m is None else float(m), float(rng.uniform(0.8, 1.3)), "a") for m in ladder
        ]
        take = sing(
            notes,
            VOICES[voice][1],
            seed=first + i,
            voice=voice,
            manner=Manner(sigma=1.0),
            scene=Scene(snr=20, room=0.4),
        )
        found = take_compass(trace(take.samples, take.rate))
        sung = [n.hz for n in take.notes]
        off += [
            abs(72 * np.log2(found.lowest_hz / min(sung))),
            abs(72 * np.log2(found.highest_hz / max(sung))),
        ]
        sure += found.sure
    print(
        f"range, {count} takes at 20 dB in a room: outermost notes off by median "
        f"{np.median(off):.2f}, at most {max(off):.1f} moria; sure {sure}"
    )


def isons(first: int, count: int) -> None:
    hits = planted = false = changes = 0
    drifts, steady = [], []
    for i in range(count):
        rng = np.random.default_rng(first + 50 + i)
        voice = list(VOICES)[i % 4]
        places = [0.0, *(float(rng.choice([-12.0, 0.0, 18.0, 30.0])) for _ in range(4)), 0.0]
        lengths = [float(rng.uniform(3, 6)) for _ in places]
        at, spans, notes, lags = 0.4, [], [], [0.0]
        for place, length in zip(places, lengths, strict=True):
            spans.append(IsonSpan(at, at + length, place))
            at += length
        for a, b in itertools.pairwise(places):
            late = a != b and rng.random() < 0.5
            lags.append(float(rng.uniform(0.6, 1.2)) if late else float(rng.uniform(0, 0.15)))
            if a != b:
                planted += late
        for j, (place, length) in enumerate(zip(places, lengths, strict=True)):
            more = (lags[j + 1] if j + 1 < len(lags) else 0.0) - lags[j]
            notes.append((place, length + more, "e" if j == 0 else ""))
        drift = float(rng.choice([0.0, -6.0, -12.0]))
        take = sing(
            notes,
            VOICES[voice][1],
            seed=first + 50 + i,
            voice=voice,
            manner=Manner(sigma=0.5, drift=drift, vibrato=6),
            scene=Scene(snr=20),
        )
        held = judge_holding(trace(take.samples, take.rate), spans, base_hz=take.base)
        told = {round(c.at, 3) for c in held.late}
        for j in range(1, len(places)):
            if places[j] == places[j - 1]:
                continue
            changes += 1
            was_late, said = lags[j] > LATE, round(spans[j].start, 3) in told
            hits += was_late and said
            false += said and not was_late
        drifts.append(abs(held.drift - drift))
        steady.append(held.unsteadiness)
    print(
        f"ison, {count} takes, {changes} changes: late ones found {hits}/{planted}, false {false}; "
        f"drift off by median {np.median(drifts):.1f}, at most {max(drifts):.1f} moria a minute; "
        f"unsteadiness {np.median(steady):.2f} moria"
    )


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seeds", choices=SEEDS, default="evaluation")
    ask.add_argument("--count", type=int, default=12)
    asked = ask.parse_args()
    ranges(SEEDS[asked.seeds], asked.count)
    isons(SEEDS[asked.seeds], asked.count)


if __name__ == "__main__":
    main()
