"""Train the models of `chantwright.words.guess` and write ``data/guess.bin.gz``.

    .venv/bin/python tools/words/train_guess.py

Reads only our own lexicon (made from CMUdict). Words with `guess.withheld` are measured, never
trained on. Half a minute on one core; the same file byte for byte on every run.
"""

from __future__ import annotations

import gzip
import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

from chantwright.words import guess
from chantwright.words.lexicon import entries

OUT = Path(guess.__file__).parent / "data" / "guess.bin.gz"
Weights = npt.NDArray[np.float64]
SIZE = 1 << guess.BITS


def vowels_of(code: str) -> list[int]:
    """Where the syllables' vowels stand."""
    return [i for i, sign in enumerate(code) if sign in "012ab"]


def binary(
    rows: list[list[int]], truth: list[bool], *, epochs: int, margin: float, seed: int
) -> Weights:
    """Train an averaged perceptron that says yes or no."""
    weights, drift = np.zeros(SIZE), np.zeros(SIZE)
    matrix = np.array(rows, dtype=np.int64)
    step = 1
    order = np.random.default_rng(seed)
    for _ in range(epochs):
        for k in order.permutation(len(rows)):
            sign = 1 if truth[k] else -1
            features = matrix[k]
            if sign * weights[features].sum() <= margin:
                np.add.at(weights, features, sign)
                np.add.at(drift, features, step * sign)
            step += 1
    return weights - drift / step


def ranking(
    groups: list[tuple[list[list[int]], int]], *, epochs: int, margin: float, seed: int
) -> Weights:
    """Train an averaged perceptron that picks one of several."""
    weights, drift = np.zeros(SIZE), np.zeros(SIZE)
    arrays = [(np.array(g, dtype=np.int64), right) for g, right in groups]
    step = 1
    order = np.random.default_rng(seed)
    for _ in range(epochs):
        for k in order.permutation(len(arrays)):
            features, right = arrays[k]
            scores = weights[features].sum(axis=1)
            scores[right] -= margin
            best = int(scores.argmax())
            if best != right:
                np.add.at(weights, features[right], 1)
                np.add.at(drift, features[right], step)
                np.add.at(weights, features[best], -1)
                np.add.at(drift, features[best], -step)
            step += 1
    return weights - drift / step


def packed(weights: Weights) -> bytes:
    """Round to whole numbers of one byte."""
    scale = 127 / np.quantile(np.abs(weights[weights != 0]), 0.999)
    small = np.clip(np.rint(weights * scale), -127, 127).astype(np.int8)
    return bytes(small.tobytes())


def main() -> None:
    """Train, write, measure."""
    listed = {w: c.split() for w, c in entries().items() if "'" not in w and len(w) > 1}
    train = {w: c[0] for w, c in listed.items() if not guess.withheld(w)}
    rows: list[list[int]] = []
    begins: list[bool] = []
    short_rows: list[list[int]] = []
    short: list[bool] = []
    groups: list[tuple[list[list[int]], int]] = []
    for word, code in train.items():
        previous = -1
        vowels = vowels_of(code)
        for at, letter in enumerate(word):
            if letter not in guess.VOWELS:
                continue
            features = guess.vowel_features(word, at, previous)
            rows.append(features)
            begins.append(at in vowels)
            if at in vowels:
                previous = at
        strong = [k for k, at in enumerate(vowels) if code[at] in "1a"]
        if len(strong) != 1:
            continue
        k = strong[0]
        short_rows.append(guess.vowel_features(word, vowels[k], vowels[k - 1] if k else -1))
        short.append(code[vowels[k]] == "a")
        if len(vowels) > 1:
            groups.append(([guess.stress_features(word, vowels, i) for i in range(len(vowels))], k))
    parts = [
        binary(rows, begins, epochs=8, margin=3.0, seed=1),
        ranking(groups, epochs=6, margin=3.0, seed=2),
        binary(short_rows, short, epochs=5, margin=3.0, seed=3),
    ]
    with OUT.open("wb") as raw, gzip.GzipFile("", "wb", 9, raw, mtime=0) as out:
        out.write(b"".join(map(packed, parts)))
    guess._tables.cache_clear()
    test = {w: c for w, c in listed.items() if guess.withheld(w)}
    counts = stress = longer = 0
    for word, codes in test.items():
        found = guess.code(word)
        own = [c for c in codes if len(vowels_of(c)) == len(vowels_of(found))]
        counts += bool(own)
        if len(vowels_of(codes[0])) > 1:
            longer += 1
            at = [found[i] in "1a" for i in vowels_of(found)].index(True)
            stress += any(c[vowels_of(c)[at]] in "1a" for c in own)
    sys.stdout.write(
        f"{len(train)} words trained on, {len(test)} withheld: "
        f"count {100 * counts / len(test):.1f} %, "
        f"stress of longer words {100 * stress / longer:.1f} %, {OUT.stat().st_size} bytes\n"
    )


if __name__ == "__main__":
    main()
