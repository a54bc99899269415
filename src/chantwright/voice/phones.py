"""Words into phones, parted among the syllables that are sung.

Conventions
-----------
A *phone* is a row of ``data/phones.toml``, named here by its one-letter symbol; stress marks
(``ˈ``, ``ˌ``) stand before the vowel they belong to and are no phones. The written syllables of the
score rule: a word of three notes gets three groups of phones, each with a vowel of its own.

References
----------
R. A. Wagner and M. J. Fischer, "The string-to-string correction problem", J. ACM 21 (1974)
168-173: the distance by which groups of phones are compared with the spelling of a syllable.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from chantwright.rows import Row, load_rows
from chantwright.score.model import Syllable
from chantwright.voice.sounds import Sounds, Spelling

__all__ = [
    "GLIDES",
    "STRESS",
    "VOWELS",
    "Phones",
    "divide",
    "note_names",
    "phone_rows",
    "spelled",
    "strong_forms",
    "words_of",
]

STRESS = "ˈˌ"
_FAR, _GAP = 1.0, 0.8  # cost of a consonant for another, and of one too few or too many
_VOWEL_FOR_VOWEL = 0.35  # spelling says little about vowels
_VOWEL_FOR_CONSONANT = 1.6
_EXTRA_VOWEL = 1.2
_ALIKE = {frozenset(p) for p in ("td", "sz", "θð", "tT", "dT", "fv", "ʃʒ", "kɡ", "sʃ", "zʃ", "ʧt")}
_ALIKE_COST = 0.3


@lru_cache(maxsize=1)
def phone_rows() -> dict[str, Row]:
    """Rows of all phones by their symbol."""
    rows = load_rows("chantwright.voice", ["phones.toml"])
    return {str(row["symbol"]): row for row in rows["phone"].values()}


@lru_cache(maxsize=1)
def strong_forms() -> dict[str, str]:
    """Words in the full form in which they are sung, as the engine reads them."""
    rows = load_rows("chantwright.voice", ["phones.toml"])
    return {name: str(row["phones"]) for name, row in rows["strong"].items()}


@lru_cache(maxsize=1)
def note_names() -> dict[tuple[str, int], Row]:
    """Names of the notes by way of naming and step."""
    rows = load_rows("chantwright.voice", ["phones.toml"])
    return {(str(row["names"]), int(row["step"])): row for row in rows["name"].values()}


def _of_kind(*kinds: str) -> frozenset[str]:
    return frozenset(s for s, row in phone_rows().items() if row["kind"] in kinds)


VOWELS = _of_kind("vowel", "glide")
"""Symbols that can carry a note."""

GLIDES = _of_kind("glide")
"""Diphthongs."""


@dataclass(frozen=True, slots=True)
class Phones:
    """The phones of one syllable.

    Attributes
    ----------
    onset, coda : str
        Consonants before and after the vowel that is held. A second vowel that was squeezed into
        the same syllable stands in the coda or the onset and is passed through quickly.
    nucleus : str
        The vowel that is held.
    stress : int
        0 none, 1 primary, 2 secondary.
    """

    onset: str
    nucleus: str
    coda: str
    stress: int = 0

    @property
    def said(self) -> str:
        """As the engine reads it."""
        mark = {1: "ˈ", 2: "ˌ"}.get(self.stress, "")
        return f"{self.onset}{mark}{self.nucleus}{self.coda}"


def words_of(syllables: Sequence[Syllable]) -> list[list[Syllable]]:
    """Group the syllables of a phrase by word."""
    out: list[list[Syllable]] = []
    for syllable in syllables:
        if not out or syllable.place in ("single", "begin"):
            out.append([])
        out[-1].append(syllable)
    return out


def spelled(syllable: Syllable, language: str, spelling: Spelling) -> Phones:
    """Phones of a syllable by our own rules of spelling, for what the engine's dictionary lacks."""
    sounds = spelling.read(syllable, language)
    coda = _symbols(sounds.coda)
    if sounds.nucleus == ("er",) and not coda.startswith("ɹ"):
        coda = "ɹ" + coda
    return Phones(_symbols(sounds.onset), _nucleus(sounds), coda, syllable.stress and 1)


@lru_cache(maxsize=1)
def _back() -> dict[tuple[str, ...], str]:
    return {tuple(row["sounds"]): s for s, row in phone_rows().items() if row.get("say")}


def _symbols(sounds: Sequence[str]) -> str:
    return "".join(_back().get((s,), "") for s in sounds)


def _nucleus(sounds: Sounds) -> str:
    # Our pure e and o have no phone of their own in American speech; the nearest are taken.
    near: dict[tuple[str, ...], str] = {("ay",): "ɛ", ("oh",): "ɔ", ("er",): "ɜ"}
    found = _back().get(sounds.nucleus) or near.get(sounds.nucleus)
    return found or _back().get(sounds.nucleus[:1]) or near.get(sounds.nucleus[:1], "ʌ")


def divide(phones: str, syllables: Sequence[Syllable], spelling: Spelling) -> list[Phones] | None:
    """Part the phones of a word among its syllables.

    Parameters
    ----------
    phones : str
        The word as its dictionary has it, stress marks included.
    syllables : sequence of Syllable
        As written under the notes.
    spelling : Spelling
        Tells roughly what each syllable should sound like.

    Returns
    -------
    list of Phones or None
        None if the word has fewer vowels than syllables.
    """
    line, stress = _unmarked(phones)
    count, size = len(syllables), len(line)
    if sum(p in VOWELS for p in line) < count or not count:
        return None
    if count == 1:
        return [_group(line, stress, 0, size)]
    asked = [spelled(s, "en", spelling) for s in syllables]
    wanted = [a.onset + a.nucleus + a.coda for a in asked]
    # best[k][i]: cheapest way to give the first i phones to the first k syllables.
    best: list[list[float]] = [[float("inf")] * (size + 1) for _ in range(count + 1)]
    back = [[0] * (size + 1) for _ in range(count + 1)]
    best[0][0] = 0.0
    for k in range(1, count + 1):
        for end in range(k, size + 1):
            for start in range(k - 1, end):
                if best[k - 1][start] == float("inf"):
                    continue
                if not any(p in VOWELS for p in line[start:end]):
                    continue
                cost = best[k - 1][start] + _distance(line[start:end], wanted[k - 1])
                if cost < best[k][end]:
                    best[k][end], back[k][end] = cost, start
    if best[count][size] == float("inf"):
        return None
    cuts = [size]
    for k in range(count, 0, -1):
        cuts.append(back[k][cuts[-1]])
    cuts.reverse()
    return [_group(line, stress, a, b) for a, b in pairwise(cuts)]


def _unmarked(phones: str) -> tuple[str, dict[int, int]]:
    """Phones without marks, and the stress of each vowel by its place."""
    line = ""
    stress: dict[int, int] = {}
    mark = 0
    for symbol in phones:
        if symbol in STRESS:
            mark = 1 + STRESS.index(symbol)
        elif symbol in phone_rows():
            if symbol in VOWELS and mark:
                stress[len(line)] = mark
                mark = 0
            line += symbol
    return line, stress


def _group(line: str, stress: dict[int, int], start: int, end: int) -> Phones:
    places = [i for i in range(start, end) if line[i] in VOWELS]
    # Of two vowels in one syllable the stressed one is held, else the first.
    held = min(places, key=lambda i: (stress.get(i, 3), i))
    return Phones(line[start:held], line[held], line[held + 1 : end], stress.get(held, 0))


def _distance(heard: str, wanted: str) -> float:
    row = [0.0]
    for b in wanted:
        row.append(row[-1] + (_EXTRA_VOWEL if b in VOWELS else _GAP))
    for a in heard:
        gap = _EXTRA_VOWEL if a in VOWELS else _GAP
        new = [row[0] + gap]
        for j, b in enumerate(wanted):
            other = _EXTRA_VOWEL if b in VOWELS else _GAP
            new.append(min(row[j] + _swap(a, b), row[j + 1] + gap, new[j] + other))
        row = new
    return row[-1]


def _swap(a: str, b: str) -> float:
    if a == b:
        return 0.0
    if (a in VOWELS) != (b in VOWELS):
        return _VOWEL_FOR_CONSONANT
    if a in VOWELS:
        return _VOWEL_FOR_VOWEL
    return _ALIKE_COST if frozenset((a, b)) in _ALIKE else _FAR
