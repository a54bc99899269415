"""Which letters of a word carry which syllable: align CMUdict sounds with letters.

A word's *code* has one sign for each letter. ``0 1 2`` mark the first letter of a syllable's
vowel with its stress (none, primary, secondary); ``a b`` are ``1 2`` with a short (checked)
vowel, which English closes with the next consonant (``heav-en``, but ``Mo-ses``); ``+`` is a
further letter of the same vowel; ``.`` is everything else. "heaven" is ``.a+.0.``.

The alignment is the cheapest path through chunks of 1-4 letters and 0-2 sounds; chunk prices are
learned from the dictionary itself by hard expectation-maximisation, starting from a plain guess
(vowel letters go with vowel sounds).

Reference: Jiampojamarn, Kondrak and Sherif, "Applying many-to-many alignments and hidden Markov
models to letter-to-phoneme conversion", NAACL 2007 (the idea of many-to-many chunks).
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence

VOWELS = frozenset("aeiouy")
CHECKED = frozenset(("AE", "EH", "IH", "AH", "UH", "AA"))
Chunk = tuple[str, tuple[str, ...]]
Entry = tuple[str, tuple[str, ...]]


def is_vowel(phone: str) -> bool:
    """Whether a CMUdict sound is a vowel (it carries a stress digit)."""
    return phone[-1].isdigit()


def bare(phone: str) -> str:
    """Return the sound without its stress digit."""
    return phone.rstrip("012")


def read_entries(lines: Iterable[str]) -> list[Entry]:
    """Read CMUdict lines; words of letters and apostrophes only, every reading kept."""
    entries = []
    for raw in lines:
        line = raw.split("#")[0].split()
        if len(line) < 2:
            continue
        word = re.sub(r"\(\d+\)$", "", line[0])
        if re.fullmatch(r"[a-z]+(?:'[a-z]+)*'?|'[a-z]+", word):
            entries.append((word, tuple(line[1:])))
    return entries


def _first_price(letters: str, phones: tuple[str, ...]) -> float:
    """Price of a chunk before anything is learned."""
    vowel_letters = sum(c in "aeiouyw" for c in letters)
    vowel_sounds = [p for p in phones if p in _VOWEL_SOUNDS]
    if not phones:
        return 2.0 * len(letters)
    price = 0.6 * (len(letters) - 1) + 2.0 * (len(phones) - 1)
    if vowel_sounds:
        if len(vowel_sounds) > 1:
            return math.inf
        price += 0.0 if letters[0] in "aeiouyw" else 4.0
        price += 1.2 * (len(letters) - vowel_letters)
    else:
        price += 3.0 * vowel_letters
        price += 0.0 if letters[0] in _LIKELY.get(phones[0], "") else 2.5
    return price


_VOWEL_SOUNDS = frozenset(
    ["AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"]
)
_LIKELY = {
    "B": "b", "CH": "ct", "D": "d", "DH": "t", "F": "fp", "G": "g", "HH": "hw", "JH": "jgd",
    "K": "kcqx", "L": "l", "M": "m", "N": "nkg", "NG": "n", "P": "p", "R": "rw", "S": "scp",
    "SH": "sct", "T": "td", "TH": "t", "V": "v", "W": "wqu", "Y": "yiu", "Z": "zsx", "ZH": "gsz",
}  # fmt: skip


class Aligner:
    """Aligns sounds with letters; prices are learned with `learn`."""

    def __init__(self) -> None:
        self._prices: dict[Chunk, float] = {}
        self._learned = False

    def price(self, letters: str, phones: tuple[str, ...]) -> float:
        """Price of a chunk: bare sounds with letters."""
        key = (letters, phones)
        found = self._prices.get(key)
        if found is None:
            first = _first_price(letters, phones)
            # An unseen chunk is always dearer than any that was seen.
            found = first + 12.0 if self._learned else first
            self._prices[key] = found
        return found

    def align(self, word: str, phones: Sequence[str]) -> list[Chunk] | None:
        """Return the cheapest list of (letters, sounds) chunks, or None if there is none."""
        plain = [bare(p) for p in phones]
        n, m = len(word), len(plain)
        best: dict[tuple[int, int], tuple[float, tuple[int, int]]] = {(0, 0): (0.0, (0, 0))}
        for i in range(n + 1):
            for j in range(m + 1):
                state = best.get((i, j))
                if state is None:
                    continue
                cost = state[0]
                # a vowel sound with no letter of its own (the m of "prism")
                if j < m and plain[j] in _VOWEL_SOUNDS:
                    self._relax(best, (i, j + 1), cost + 7.0, (i, j))
                for a in range(1, 5):
                    if i + a > n:
                        break
                    letters = word[i : i + a]
                    for b in range(3):
                        if j + b > m or (b == 0 and a > 1):
                            continue
                        step = self.price(letters, tuple(plain[j : j + b]))
                        self._relax(best, (i + a, j + b), cost + step, (i, j))
        if (n, m) not in best or math.isinf(best[n, m][0]):
            return None
        chunks: list[Chunk] = []
        at = (n, m)
        while at != (0, 0):
            back = best[at][1]
            chunks.append((word[back[0] : at[0]], tuple(phones[back[1] : at[1]])))
            at = back
        return chunks[::-1]

    @staticmethod
    def _relax(
        best: dict[tuple[int, int], tuple[float, tuple[int, int]]],
        at: tuple[int, int],
        cost: float,
        back: tuple[int, int],
    ) -> None:
        old = best.get(at)
        if old is None or cost < old[0]:
            best[at] = (cost, back)

    def learn(self, sample: Sequence[Entry]) -> None:
        """Set the prices from the chunks that the present prices choose."""
        counts: Counter[Chunk] = Counter()
        for word, phones in sample:
            for letters, sounds in self.align(word, phones) or ():
                if letters:
                    counts[letters, tuple(bare(p) for p in sounds)] += 1
        total = sum(counts.values())
        self._prices = {k: -math.log(v / total) for k, v in counts.items() if v > 1}
        self._learned = True


def _spots(word: str, start: int, stop: int, signs: list[str]) -> list[int]:
    """Letters that may stand for a vowel sound aligned with the letters from start to stop."""
    spots = [k for k in range(start, stop) if word[k] in VOWELS]
    if spots:
        return spots
    letters, rest = word[start:stop], word[stop:]
    if re.match(r"l?es?$", rest) and letters[-1:] in ("l", ""):
        # the unwritten vowel before l in "people": its letter is the last e
        return [stop + rest.index("e")]
    if letters[-1:] == "r" and rest in ("e", "es", "ed") and word[stop - 2] not in VOWELS:
        return [stop]  # "sceptre", but "fire"
    if start and word[start - 1] in VOWELS and signs[start - 1] == ".":
        return [start - 1]  # "images": the e went with the g
    return []


def code(word: str, chunks: list[Chunk]) -> str | None:
    """Turn an alignment into the word's code; None if a stressed syllable has no letter."""
    signs = ["."] * len(word)
    at = 0
    last_vowel_end = -1
    for letters, phones in chunks:
        vowel = next((p for p in phones if is_vowel(p)), None)
        start, at = at, at + len(letters)
        if vowel is None:
            continue
        stress = vowel[-1]
        spots = _spots(word, start, at, signs)
        if not spots:
            if stress == "1":
                return None
            continue  # "prism", "our": no letter of its own, never a printed syllable
        first = spots[0]
        silent = word[first] == "e" and word[first + 1 :] in ("", "s", "d")
        if bare(vowel) == "ER" and word[start] == "r" and last_vowel_end == start and silent:
            if stress == "1":
                return None
            continue  # "fi-re": part of the vowel before it
        if word[first - 1 : first + 1] == "qu" and len(spots) > 1:
            first = spots[1]  # the u of qu is no vowel
        end = first + 1
        while end < at and (word[end] in VOWELS or word[end] == "w"):
            end += 1
        if len(letters) > 1 and word[first:at].startswith(("igh", "ough", "augh", "eigh")):
            end = at
        short = bare(vowel) in CHECKED and stress in "12" and "r" not in letters
        signs[first] = {"1": "a", "2": "b"}[stress] if short else stress
        for k in range(first + 1, end):
            signs[k] = "+"
        last_vowel_end = at
    return "".join(signs) if any(s in "012ab" for s in signs) else None
