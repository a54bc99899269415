"""Words into sounds: which vowel and which consonants a written syllable is sung with.

Conventions
-----------
A *sound* is a row of ``data/vowels.toml``: a vowel (``ah``, ``ee`` ...) or a consonant (``m``,
``sh`` ...). A syllable becomes an onset, a nucleus of one vowel or two (a diphthong, held on the
first) and a coda. English spelling is followed roughly, by data: enough that syllables are told
apart by ear, not a pronouncing dictionary. Every other language takes each vowel letter as its
own pure vowel, which also suits note names and intonation syllables.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from chantwright.rows import Row, Rows, load_rows
from chantwright.score.model import Syllable
from chantwright.tuning import fields

__all__ = ["PLAIN", "Sounds", "Spelling", "load_sounds", "load_spelling"]

PLAIN = "plain"
"""Name of the reading in which every vowel letter is its own pure vowel."""

_LENGTHENING = ("th", "st", "ng", "gu")  # bathe, haste, change, vogue: as one consonant before e
_VOWEL_LETTERS = frozenset("aeiouyαεηιουωаеиоуыэюяіѣѡѵ")


@dataclass(frozen=True, slots=True)
class Sounds:
    """The sounds of one syllable.

    Attributes
    ----------
    onset, coda : tuple of str
        Consonant rows before and after the vowel.
    nucleus : tuple of str
        One vowel row, or two for a diphthong.
    """

    onset: tuple[str, ...]
    nucleus: tuple[str, ...]
    coda: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Spelling:
    """Spelling tables, ready to read syllables.

    Attributes
    ----------
    rows : Rows
        As loaded from ``vowels.toml`` and the parish's files.
    vowels : Mapping
        ``{language: {letters: row}}``.
    consonants : tuple
        ``(letters, row)``, longest letters first.
    """

    rows: Rows
    vowels: Mapping[str, Mapping[str, Row]]
    consonants: tuple[tuple[str, Row], ...]

    def read(self, syllable: Syllable, language: str = "en") -> Sounds:
        """Sounds of a syllable as written.

        Parameters
        ----------
        syllable : Syllable
            Its text, place and stress are used.
        language : str
            Language tag of the hymn; only ``en`` has spelling rules of its own.

        Returns
        -------
        Sounds
            Always with a nucleus: a text without any vowel letter is sung on ``uh``.
        """
        text = _letters(syllable.text)
        english = language.partition("-")[0].lower() == "en"
        if english and (word := self.rows["word"].get(text)) is not None:
            return self._parted(tuple(word["sounds"]))
        table = self.vowels["en" if english else PLAIN]
        start = _first_vowel(text)
        if start is None:
            return Sounds(self._consonants(text, "", after=False), ("uh",), ())
        row, length = self._nucleus(table, text, start)
        letters = text[start : start + length]
        onset = self._consonants(text[:start], text[start : start + 1], after=False)
        if row is None:
            return Sounds(onset, ("uh",), self._consonants(text[start + 1 :], "", after=True))
        if row.get("whole"):
            return self._parted(tuple(row["sounds"]))
        rest = text[start + length :]
        nucleus, rest = self._length_of_vowel(row, letters, rest, syllable, english)
        kept = tuple(row.get("keep", {}).get(letters, ()))
        return Sounds(onset, nucleus, kept + self._consonants(rest, "", after=True))

    @staticmethod
    def _length_of_vowel(
        row: Row, letters: str, rest: str, syllable: Syllable, english: bool
    ) -> tuple[tuple[str, ...], str]:
        """Choose between the short, open, weak and long reading of a single vowel letter."""
        plain = tuple(row["sounds"])
        if not english:
            return plain, rest
        if len(letters) > 1:
            unheard = not syllable.stress and syllable.place in ("middle", "end")
            return (tuple(row["weak"]) if unheard and row.get("weak") else plain), rest
        last = syllable.place in ("single", "end")
        for ending in ("ed", "es", "e"):
            stem = rest.removesuffix(ending)
            if last and stem != rest and stem and not any(c in _VOWEL_LETTERS for c in stem):
                single = len(stem) == 1 or stem in _LENGTHENING
                return tuple(row.get("long", plain)) if single else plain, stem + ending[1:]
        if not rest:
            open_ = "open" if syllable.stress or syllable.place == "single" else "weak"
            return tuple(row.get(open_, plain)), rest
        if not syllable.stress and syllable.place in ("middle", "end"):
            return tuple(row.get("weak", plain)), rest
        return plain, rest

    @staticmethod
    def _nucleus(table: Mapping[str, Row], text: str, start: int) -> tuple[Row | None, int]:
        # A whole-syllable row such as "tion" may begin before its vowel letter.
        for letters, row in table.items():
            if row.get("whole") and text == letters:
                return row, len(letters)
        for length in range(min(5, len(text) - start), 0, -1):
            if (found := table.get(text[start : start + length])) is not None:
                return found, length
        return None, 1

    def _consonants(self, text: str, following: str, *, after: bool) -> tuple[str, ...]:
        """Read consonant letters, longest spelling first."""
        out: list[str] = []
        at = 0
        while at < len(text):
            for letters, row in self.consonants:
                if not text.startswith(letters, at) or (row.get("after") and not after):
                    continue
                follows = (text[at + len(letters) :] + following)[:1]
                if (before := row.get("before")) and (not follows or follows not in before):
                    continue
                out += row.get("keep", {}).get(letters, row["sounds"])
                at += len(letters)
                break
            else:
                at += 1  # a silent vowel letter, or a letter of no known sound
        return tuple(out)

    def _parted(self, sounds: tuple[str, ...]) -> Sounds:
        vowels = self.rows["vowel"]
        first = next((i for i, s in enumerate(sounds) if s in vowels), len(sounds))
        last = first
        while last < len(sounds) and sounds[last] in vowels:
            last += 1
        nucleus = sounds[first:last] or ("uh",)
        return Sounds(sounds[:first], nucleus, tuple(s for s in sounds[last:] if s not in vowels))


def load_spelling(overrides: Iterable[Path] = ()) -> Spelling:
    """Read the tables of sounds, a parish's files laid over ours.

    Raises
    ------
    ChantError
        If a row names a sound that has no row, or lacks a field.
    """
    return _build(
        load_rows(
            "chantwright.voice",
            ["vowels.toml"],
            overrides=overrides,
            tables=["vowel", "consonant", "colour", "spelling", "letter", "word"],
        )
    )


@lru_cache(maxsize=1)
def load_sounds() -> Spelling:
    """Our own tables, read once."""
    return load_spelling()


def _build(rows: Rows) -> Spelling:
    known = rows["vowel"].keys() | rows["consonant"].keys()
    for table in ("spelling", "letter", "word"):
        for row in rows[table].values():
            for sound in _sounds_of(row):
                if sound not in known:
                    raise row.error(
                        f"there is no sound “{sound}”.",
                        f"Use one of: {', '.join(sorted(known))}.",
                    )
    vowels: dict[str, dict[str, Row]] = {"en": {}, PLAIN: {}}
    for row in rows["spelling"].values():
        for letters in _listed(row):
            vowels.setdefault(str(row["language"]), {})[letters] = row
    # Rows bound to a place come before the free ones of the same letters.
    pairs = [(letters, row) for row in rows["letter"].values() for letters in _listed(row)]
    pairs.sort(key=lambda p: (-len(p[0]), not (p[1].get("after") or p[1].get("before"))))
    return Spelling(rows, vowels, tuple(pairs))


def _sounds_of(row: Row) -> list[str]:
    """Every sound that a row names: its own, the weak ones, and what kept letters say."""
    kept = row.get("keep", {})
    if not isinstance(kept, dict):
        raise row.error("“keep” is no table of letters.", 'Write: keep = { ied = ["d"] }')
    named = [row["sounds"], row.get("weak") or [], *kept.values()]
    if not all(isinstance(n, list) and all(isinstance(s, str) for s in n) for n in named):
        raise row.error("its sounds are no list of words.", 'Write it as: sounds = ["ah", "ee"]')
    return [sound for sounds in named for sound in sounds]


def _listed(row: Row) -> list[str]:
    value = row["letters"]
    return [value] if isinstance(value, str) else list(fields.texts(row, "letters"))


def _letters(text: str) -> str:
    """Lower case, without accents, points and anything that is no letter."""
    bare = unicodedata.normalize("NFD", text.casefold())
    return "".join(c for c in bare if c.isalpha())


def _first_vowel(text: str) -> int | None:
    for i, letter in enumerate(text):
        if letter not in _VOWEL_LETTERS:
            continue
        if letter == "u" and i and text[i - 1] == "q":
            continue
        if letter == "y" and i == 0 and len(text) > 1 and text[1] in _VOWEL_LETTERS:
            continue
        return i
    return None
