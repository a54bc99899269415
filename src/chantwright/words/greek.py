"""Greek: division by rule and stress from the written accents.

Conventions
-----------
Polytonic and monotonic spelling. Vowels that are written as a diphthong are one syllable, unless
the second has a dialytika or the accent or breathing stands on the first. A run of consonants goes
to the next syllable as far as a Greek word may begin with it; two equal ones, and ντ, μπ, γκ, are
parted. There is no synizesis: ἅ-γι-ος has three syllables, as it is sung.

Any accent, grave included, is the primary stress; a word with two (before an enclitic) has two.
Words of one syllable take their level from the lists (article, preposition, και ...); one without
an accent is weak, and so is an enclitic of two (ἐστι). Any other longer word without an accent is
an error: nothing is guessed.

References
----------
Smyth, Greek Grammar (1956), sections 138-140 (syllables), 149-187 (accents, proclitics, enclitics);
consonants that begin words: the same and common practice.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from itertools import accumulate, pairwise

from chantwright.errors import ChantError, Where
from chantwright.words.lexicon import Lists
from chantwright.words.stress import key
from chantwright.words.text import Source, Syl, Word
from chantwright.words.tokens import Token

__all__ = ["divided", "read_greek"]

_VOWELS = "αεηιουω"
_DIPHTHONGS = frozenset(["αι", "ει", "οι", "υι", "αυ", "ευ", "ου", "ηυ", "ωυ"])
_ACCENTS = "\u0301\u0300\u0342"
_ON_FIRST = _ACCENTS + "\u0313\u0314"
_DIALYTIKA = "\u0308"
_ONSETS = frozenset(
    [
        "βδ", "βλ", "βρ", "γδ", "γλ", "γν", "γρ", "δμ", "δν", "δρ", "θλ", "θν", "θρ", "κλ",
        "κμ", "κν", "κρ", "κτ", "μν", "πλ", "πν", "πρ", "πτ", "σβ", "σγ", "σθ", "σκ", "σκλ",
        "σκν", "σλ", "σμ", "σν", "σπ", "σπλ", "σπρ", "στ", "στλ", "στρ", "σφ", "σφρ", "σχ",
        "τλ", "τμ", "τρ", "φθ", "φλ", "φρ", "χθ", "χλ", "χν", "χρ", "τσ", "τζ",
    ]
)  # fmt: skip


def _bare(letter: str) -> str:
    return unicodedata.normalize("NFD", letter)[0].lower().replace("ς", "σ")


def _marks(letter: str) -> str:
    return unicodedata.normalize("NFD", letter)[1:]


def _nuclei(word: str) -> list[tuple[int, int]]:
    """Start and end of the vowel of each syllable."""
    found: list[tuple[int, int]] = []
    at = 0
    while at < len(word):
        if _bare(word[at]) not in _VOWELS:
            at += 1
            continue
        end = at + 1
        if end < len(word):
            pair = _bare(word[at]) + _bare(word[end])
            apart = _DIALYTIKA in _marks(word[end]) or any(m in _ON_FIRST for m in _marks(word[at]))
            if pair in _DIPHTHONGS and not apart:
                end += 1
        found.append((at, end))
        at = end
    return found


def divided(word: str) -> tuple[str, ...]:
    """Divide a Greek word.

    Parameters
    ----------
    word : str
        Composed letters (NFC), accents included.

    Returns
    -------
    tuple of str
        Joined, they are the word.
    """
    nuclei = _nuclei(word)
    cuts = []
    for (_, end), (start, _) in pairwise(nuclei):
        run = "".join(map(_bare, word[end:start]))
        at = end
        while at < start - 1 and run[at - end :] not in _ONSETS:
            at += 1
        cuts.append(at)
    return _pieces(word, cuts)


def read_greek(found: Sequence[Token], lists: Lists, file: str = "") -> tuple[Word, ...]:
    """Divide Greek words; their stress is that of their accents.

    Parameters
    ----------
    found : sequence of Token
        Words as written.
    lists : Lists
        For the parish's own readings.
    file : str
        For errors.

    Raises
    ------
    ChantError
        If a letter is not Greek, or a longer word has no accent.
    """
    return tuple(_word(token, lists, file) for token in found)


def _word(token: Token, lists: Lists, file: str) -> Word:
    where = Where(file, token.line, token.column, token.marked)
    text = token.marked.replace("·", "").replace("‿", "")
    for letter in text:
        if letter.isalpha() and "GREEK" not in unicodedata.name(letter, ""):
            raise ChantError(
                f"the letter “{letter}” in this word is not Greek, though it may look so.",
                where=where,
                remedy="Type it again with the Greek keyboard.",
            )
    source: Source = "rule" if text == token.marked else "teacher"
    own = lists.words.get(text.lower())
    if source == "rule" and own is not None:
        source, stress = own.source, own.read.stress
        parts = _pieces(text, _ends(own.read.syllables))
    else:
        parts = _told(token.marked, divided(text))
        stress = tuple(int(any(m in _ACCENTS for c in p for m in _marks(c))) for p in parts)
    leans = lists.is_a(key(text), "greek enclitic")
    if len(parts) > 1 and not any(stress) and not leans:
        raise ChantError(
            "this Greek word has no accent, so its stress is not known.",
            where=where,
            remedy="Write it in small letters with its accent.",
        )
    return Word(
        text=text,
        syllables=tuple(Syl(p, 0, n) for p, n in zip(parts, stress, strict=True)),
        source=source,
        line=token.line,
        column=token.column,
        before=token.before,
        after=token.after,
        marked=token.marked,
        bar=token.bar,
        keep=token.keep,
        verse_start=token.verse_start,
        rubric=token.rubric,
        # an unaccented word leans on its neighbour, whatever it is
        fixed=not any(stress),
    )


def _ends(parts: Sequence[str]) -> list[int]:
    return list(accumulate(map(len, parts[:-1])))


def _pieces(text: str, ends: Sequence[int]) -> tuple[str, ...]:
    return tuple(text[a:b] for a, b in pairwise([0, *ends, len(text)]))


def _told(marked: str, parts: tuple[str, ...]) -> tuple[str, ...]:
    """Lay the teacher's dots and underties over a division."""
    if "·" in marked:
        return tuple(marked.replace("‿", "").split("·"))
    ends = _ends(parts)
    letters = 0
    for sign in marked:
        if sign != "‿":
            letters += 1
        elif ends:
            ends.remove(min(ends, key=lambda e: abs(e - letters)))
    return _pieces("".join(parts), ends)
