"""A guess at a word that no list and no rule knows: small recurrent networks over its letters.

Two layers of gated recurrent units read the letters from both sides and give each letter seven
probabilities, one for each sign of a code (see `lexicon`); where there are several networks, their
mean is taken. Where the vowels are is found by dynamic
programming, then which of them bears the primary stress. Everything read this way is marked
``guess``, so that the teacher looks at it.

The weights are trained by ``tools/words/train_guess.py`` on nine tenths of the Carnegie Mellon
Pronouncing Dictionary and nothing else; the last tenth (`withheld`) is left out, whole families of
words at a time, so that anybody can measure them.

References
----------
Gated recurrent unit: Cho et al., "Learning phrase representations using RNN encoder-decoder",
EMNLP 2014. Viterbi, "Error bounds for convolutional codes", IEEE Trans. Inf. Theory 1967.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from functools import lru_cache
from importlib import resources
from zlib import crc32

import numpy as np
import numpy.typing as npt

__all__ = ["LETTERS", "TAGS", "code", "decoded", "family", "letter", "odds", "withheld"]

LETTERS = "abcdefghijklmnopqrstuvwxyz'"
TAGS = ".+012ab"
"""Signs of a code, in the order of the network's scores."""
_VOWEL_TAGS = "012ab"
_MARKED, _UNMARKED = "1a", "02b"
_ENDINGS = (
    "ings", "ing", "edly", "ers", "ness", "eth", "est", "ies", "er", "ed", "es", "ly", "'s", "s",
    "y", "i", "e", "'",
)  # fmt: skip
Array = npt.NDArray[np.float32]


def family(word: str) -> str:
    """Name the family of a word: the first five letters of what is left without its endings."""
    stem, before = word, ""
    while stem != before:
        before = stem
        for ending in _ENDINGS:
            if stem.endswith(ending) and len(stem) - len(ending) >= 3:
                stem = stem[: -len(ending)]
                break
        if len(stem) > 3 and stem[-1] == stem[-2]:
            stem = stem[:-1]
    return stem[:5]


def withheld(word: str) -> bool:
    """Whether a lexicon word was kept out of the training, with its whole family."""
    return crc32(family(word).encode()) % 10 == 0


def letter(sign: str) -> int:
    """Return the number of a letter; strange ones share the last."""
    found = LETTERS.find(sign)
    return found if found >= 0 else len(LETTERS)


Network = Mapping[str, Array]


@lru_cache(maxsize=1)
def _networks() -> tuple[Network, ...]:
    """Weights of each network; a name in the file begins with the number of its network."""
    raw = (resources.files("chantwright.words") / "data" / "guess.npz").read_bytes()
    found: dict[str, dict[str, Array]] = {}
    with np.load(io.BytesIO(raw), allow_pickle=False) as stored:
        for full in stored.files:
            number, _, name = full.partition("_")
            found.setdefault(number, {})[name] = stored[full].astype(np.float32)
    return tuple(found.values())


def _sigmoid(x: Array) -> Array:
    return np.asarray(0.5 * np.tanh(0.5 * x) + 0.5, dtype=np.float32)


def _read(x: Array, weights: Network, name: str) -> Array:
    """Run one direction of a layer over the rows of `x` (letters, features)."""
    given = x @ weights[f"gru_weight_ih_{name}"].T + weights[f"gru_bias_ih_{name}"]
    own, bias = weights[f"gru_weight_hh_{name}"].T, weights[f"gru_bias_hh_{name}"]
    size = own.shape[0]
    state = np.zeros(size, dtype=np.float32)
    out = np.empty((len(x), size), dtype=np.float32)
    for k in range(len(x)):
        inner = state @ own + bias
        gates = _sigmoid(given[k, : 2 * size] + inner[: 2 * size])
        new = np.tanh(given[k, 2 * size :] + gates[:size] * inner[2 * size :])
        state = new + gates[size:] * (state - new)
        out[k] = state
    return out


def _odds(word: str, weights: Network) -> Array:
    """Probability of each sign at each letter, by one network: (letters, 7)."""
    x = weights["letters_weight"][[letter(c) for c in word]]
    layer = 0
    while f"gru_weight_ih_l{layer}" in weights:
        back = _read(x[::-1], weights, f"l{layer}_reverse")[::-1]
        x = np.concatenate([_read(x, weights, f"l{layer}"), back], axis=1)
        layer += 1
    raw = x @ weights["tags_weight"].T + weights["tags_bias"]
    grown = np.exp(raw - raw.max(axis=1, keepdims=True))
    return np.asarray(grown / grown.sum(axis=1, keepdims=True))


def decoded(word: str, odds: Array, lean: Array | None = None) -> str:
    """Find the best code: first where the vowels are, then which of them is stressed.

    A vowel's probability is that of all its signs together, so that doubt about its stress never
    counts as doubt about its being one.

    Parameters
    ----------
    word : str
        Lower-case letters.
    odds : array, (letters, 7)
        Probabilities of `TAGS`.
    lean : array, (letters,), optional
        What speaks beside the networks for the primary stress on each letter: natural logarithms
        of odds (see `leaning`).

    Returns
    -------
    str
        One sign for each letter; ``+`` only behind a vowel; one primary stress.
    """
    vowels = odds[:, [TAGS.index(t) for t in _VOWEL_TAGS]].sum(axis=1)
    primary = odds[:, [TAGS.index(t) for t in _MARKED]].sum(axis=1)
    signs = _vowels(word, vowels, odds[:, TAGS.index("+")], odds[:, TAGS.index(".")])
    places = [k for k, sign in enumerate(signs) if sign == "0"]
    for_it = np.log(np.maximum(primary, 1e-9) / np.maximum(vowels - primary, 1e-9))
    if lean is not None:
        for_it = for_it + lean
    strong = max(places, key=lambda k: float(for_it[k]))
    for k in places:
        among = _MARKED if k == strong else _UNMARKED
        signs[k] = max(among, key=lambda t: float(odds[k, TAGS.index(t)]))
    return "".join(signs)


def _vowels(word: str, vowel: Array, more: Array, rest: Array) -> list[str]:
    """Find the likeliest row of vowels (``0``), their further letters (``+``) and the rest."""
    best: dict[bool, tuple[float, str]] = {False: (0.0, "")}  # may the vowel go on here?
    for k in range(len(word)):
        following: dict[bool, tuple[float, str]] = {}
        for inside, (total, signs) in best.items():
            for sign, share in (("0", vowel[k]), ("+", more[k]), (".", rest[k])):
                if sign == "+" and not inside:
                    continue
                value = total + float(np.log(max(share, 1e-9)))
                state = sign != "."
                if state not in following or value > following[state][0]:
                    following[state] = (value, signs + sign)
        best = following
    found = list(max(best.values())[1])
    if "0" not in found:
        found[int(np.argmax(vowel))] = "0"
    return found


@lru_cache(maxsize=4096)
def odds(word: str) -> Array:
    """Probability of each sign of `TAGS` at each letter of a lower-case word: (letters, 7)."""
    networks = _networks()
    together = sum((_odds(word, n) for n in networks[1:]), _odds(word, networks[0]))
    mean = np.asarray(together / len(networks), dtype=np.float32)
    mean.flags.writeable = False
    return mean


def code(word: str) -> str:
    """Guess the code of a lower-case word (see `lexicon`) by the networks alone.

    Parameters
    ----------
    word : str
        Letters and apostrophes.

    Returns
    -------
    str
        One sign for each letter; one primary stress.
    """
    return decoded(word, odds(word))
