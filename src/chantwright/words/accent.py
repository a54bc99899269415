"""Stresses for words that somebody else divided.

A melody from another program brings its syllables along, but no stresses. The words are read
anew, and where the reading has the same syllables in a word its stresses are taken; where it
divides the word otherwise, the stress goes to the syllable that holds the stressed vowel.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from chantwright.score import Hymn, Phrase, Syllable
from chantwright.words.lines import read_words, to_phrases

__all__ = ["accented"]


def _grouped(syllables: Sequence[Syllable]) -> list[list[Syllable]]:
    out: list[list[Syllable]] = []
    for syllable in syllables:
        if syllable.place in ("single", "begin") or not out:
            out.append([])
        out[-1].append(syllable)
    return out


def _letters(word: Iterable[Syllable]) -> str:
    return "".join(c for s in word for c in s.text.casefold() if c.isalpha())


def _stresses(word: Sequence[Syllable], read: Sequence[Syllable]) -> list[int]:
    if len(word) == len(read):
        return [s.stress for s in read]
    out = [0] * len(word)
    lengths = [len(_letters([s])) for s in word]
    at = 0
    for syllable in read:
        size = len(_letters([syllable]))
        if syllable.stress:
            middle, passed = at + size / 2, 0
            for i, length in enumerate(lengths):
                passed += length
                if middle <= passed:
                    out[i] = out[i] or syllable.stress
                    break
        at += size
    return out


def _phrase(phrase: Phrase, language: str, overrides: Iterable[Path]) -> Phrase:
    if not phrase.words.strip():
        return phrase
    read = [
        s
        for p in to_phrases(read_words(phrase.words, language=language, overrides=overrides))
        for s in p.syllables
    ]
    mine, theirs = _grouped(phrase.syllables), _grouped(read)
    if [_letters(w) for w in mine] != [_letters(w) for w in theirs]:
        return phrase
    stresses = [t for a, b in zip(mine, theirs, strict=True) for t in _stresses(a, b)]
    return replace(
        phrase,
        syllables=tuple(
            replace(s, stress=t) for s, t in zip(phrase.syllables, stresses, strict=True)
        ),
    )


def accented(hymn: Hymn, overrides: Iterable[Path] = ()) -> Hymn:
    """Give stresses to the words of a hymn that has none.

    Parameters
    ----------
    hymn : Hymn
        Divided; a phrase that has any stress stays as it is.
    overrides : iterable of Path
        The parish's own files.

    Returns
    -------
    Hymn
        The same hymn, divided as before. A phrase whose words cannot be read alike stays unmarked.
    """
    paths = tuple(overrides)
    return replace(
        hymn,
        phrases=tuple(
            p if any(s.stress for s in p.syllables) else _phrase(p, hymn.language, paths)
            for p in hymn.phrases
        ),
    )
