"""Divisions and stresses of Webster's dictionary of 1913, to measure ours against.

Read from the Debian package ``dict-gcide`` (GPL 2 or later; a public-domain book, later edited),
where it is installed: ``apt-get install dict-gcide``. Nothing of it is part of this program, and
nothing is trained on it.

A headword stands at the start of its entry, followed by its division between backslashes:
``Beneficiary \\Ben`e*fi"ci*a*ry\\``. A star parts two syllables; so do ``"`` and `````, which also
give the syllable before them the primary and the secondary stress.
"""

from __future__ import annotations

import gzip
import random
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from pathlib import Path

PLACE = Path("/usr/share/dictd/gcide.dict.dz")
_HEAD = re.compile(r"^([A-Z][A-Za-z]*) \\([A-Za-z*\"`]+)\\", re.M)
_PART = re.compile(r"([A-Za-z]+)([*\"`]*)")


@dataclass(frozen=True, slots=True)
class Printed:
    """A division as printed: the parts, and which of them bear a primary stress."""

    parts: tuple[str, ...]
    primary: frozenset[int]

    @property
    def cuts(self) -> frozenset[int]:
        """Index of the first letter of each syllable but the first."""
        return frozenset(list(accumulate(map(len, self.parts)))[:-1])


def installed() -> bool:
    """Whether the dictionary is on this machine."""
    return PLACE.exists()


@lru_cache(maxsize=1)
def divisions() -> Mapping[str, tuple[Printed, ...]]:
    """Lower-case headwords of two syllables or more with their divisions; see `read`."""
    return read(gzip.decompress(PLACE.read_bytes()).decode("utf-8", "replace"))


def read(text: str) -> dict[str, tuple[Printed, ...]]:
    """Read headwords and divisions out of the dictionary's text.

    A headword with several entries (a noun and a verb) has several divisions. Headwords of more
    than one word, with letters other than the English ones, or without a division are left out.
    """
    found: dict[str, dict[Printed, None]] = {}
    for head, printed in _HEAD.findall(text):
        pieces = _PART.findall(printed)
        parts = tuple(p.lower() for p, _ in pieces)
        if len(parts) < 2 or "".join(parts) != head.lower():
            continue
        primary = frozenset(i for i, (_, marks) in enumerate(pieces) if '"' in marks)
        found.setdefault(head.lower(), {})[Printed(parts, primary)] = None
    return {word: tuple(own) for word, own in found.items()}


def sample(words: Iterable[str], size: int, seed: int = 1913) -> list[str]:
    """Pick words; the same ones on every run with the same seed."""
    every = sorted(words)
    return random.Random(seed).sample(every, min(size, len(every)))
