"""Stress in context: which syllables of a running English line carry the accent.

Words of two or more syllables keep the stress of their reading. Words of one syllable have a
level (``levels.toml``) and are lifted or left by their neighbours:

* a possessive or article before an auxiliary makes it a noun ("thy will");
* a pronoun after a weak preposition takes the accent unless one follows at once ("unto thee");
* a weak word that closes a clause after a weak syllable takes it ("art thou, O Lord"), and so does
  the particle of a verb of going ("shall come in");
* *there* before a form of *to be* is weak ("there is forgiveness"), and auxiliaries of two
  syllables have at most a secondary stress ("that thou mayest be feared");
* an object after a verb that ends weakly closes a clause with a secondary stress only ("answer
  me");
* a pronoun that is pointed at takes it ("he it is that", "it is he that");
* of three accents side by side the middle one gives way if it is a weighty small word ("the Lord
  most high"), and a preposition right after an accent steps back ("a great King over all");
* where three weak syllables meet, the middle one is raised to a secondary stress, but never an
  article, *of* or *to*.

Syllables the teacher marked never move.

References
----------
Promotion of weak syllables between weak ones: Attridge, The Rhythms of English Poetry (1982), from
memory. The levels: common practice.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Sequence
from dataclasses import replace

from chantwright.words.lexicon import Lists
from chantwright.words.text import Syl, Word

__all__ = ["FULL", "accent", "key"]

FULL = 5
_BY_STRESS = {1: FULL, 2: 3, 0: 1}
_CLAUSE = re.compile(r"[.,;:!?…—–·]")
_INITIAL = ("out", "glory", "both", "let")


def key(word: str) -> str:
    """Return a word as lists have it: lower case, plain apostrophes, no accents."""
    plain = word.lower().replace("’", "'").replace("‘", "'")
    if plain.isascii():
        return plain
    return "".join(c for c in unicodedata.normalize("NFD", plain) if not unicodedata.combining(c))


def closes(word: Word) -> bool:
    """Whether a clause ends after a word."""
    return bool(word.bar or _CLAUSE.search(word.after))


def accent(words: Sequence[Word], lists: Lists, ends: Collection[int] = ()) -> tuple[Word, ...]:
    """Give every syllable its level and its stress.

    Parameters
    ----------
    words : sequence of Word
        With the stress of their readings.
    lists : Lists
        Levels and classes.
    ends : collection of int
        Indexes of the last words of phrases: a clause ends there too.

    Returns
    -------
    tuple of Word
        The same words.
    """
    barred = [replace(w, bar=w.bar or "|") if i in ends else w for i, w in enumerate(words)]
    leveled = [_leveled(w, lists) for w in barred]
    done: list[Word] = []
    for i, word in enumerate(leveled):
        if word.fixed:
            done.append(word)
            continue
        done.append(_in_context(i, word, done, leveled, lists))
    found = _raised(_lightened(done, lists), lists)
    return tuple(replace(w, bar=old.bar) for w, old in zip(found, words, strict=True))


def _leveled(word: Word, lists: Lists) -> Word:
    if word.fixed:
        syllables = tuple(replace(s, level=_BY_STRESS[s.stress]) for s in word.syllables)
        return replace(word, syllables=syllables)
    name = key(word.text)
    if len(word.syllables) == 1:
        level = lists.levels.get(name, FULL)
        only = Syl(word.syllables[0].text, level, 1 if level >= 4 else 0)
        return replace(word, syllables=(only,))
    weak = lists.is_a(name, "unstressed_pair")
    most = 2 if lists.is_a(name, "auxiliary") or lists.is_a(name, "light_pair") else 1
    return replace(
        word,
        syllables=tuple(
            Syl(s.text, 1, 0) if weak else _syl(s.text, most if s.stress == 1 else s.stress)
            for s in word.syllables
        ),
    )


def _syl(text: str, stress: int) -> Syl:
    return Syl(text, _BY_STRESS[stress], stress)


def _in_context(
    i: int, word: Word, done: Sequence[Word], words: Sequence[Word], lists: Lists
) -> Word:
    before = done[-1] if done and not word.verse_start else None
    after = words[i + 1] if i + 1 < len(words) and not words[i + 1].verse_start else None
    name = key(word.text)
    opens = before is None or closes(before)
    if len(word.syllables) != 1:
        return word
    own = word.syllables[0]
    previous = before.syllables[-1].stress if before is not None else None
    following = after.syllables[0].stress if after is not None else None
    ends = closes(word) or after is None
    if _pointed_at(i, words, lists):
        return _set(word, (1,))
    if name == "there" and not ends and _beside_being(before, after, lists):
        return _set(word, (0,))
    if before is None or opens:
        return word
    named = key(before.text)
    noun = lists.is_a(name, "auxiliary") and (
        lists.is_a(named, "possessive") or lists.is_a(named, "article")
    )
    particle = ends and lists.is_a(name, "particle") and lists.is_a(named, "going")
    unlifted = own.stress == 0 and not previous
    object_ = lists.is_a(name, "object")
    clause = after is not None and not ends and lists.is_a(key(after.text), "auxiliary")
    governed = object_ and lists.is_a(named, "weak_preposition") and not clause
    light = own.level < 2 and lists.is_a(name, "never_raised")
    last = ends and own.level >= 1 and not light
    if unlifted and last and object_ and not governed and not lists.is_a(named, "preposition"):
        return _set(word, (2,))
    lifted = unlifted and ((governed and (following == 0 or ends)) or last)
    return _set(word, (1,)) if noun or particle or lifted else word


def _beside_being(before: Word | None, after: Word | None, lists: Lists) -> bool:
    """Whether "there" only opens a sentence: "there is", "is there any"."""
    return (after is not None and lists.is_a(key(after.text), "being")) or (
        before is not None and not closes(before) and lists.is_a(key(before.text), "being")
    )


def _pointed_at(i: int, words: Sequence[Word], lists: Lists) -> bool:
    """Whether a pronoun is pointed at: "he it is that shall", "it is he that hath made us"."""

    def at(k: int) -> str:
        near = 0 <= k < len(words) and not any(closes(w) for w in words[min(i, k) : max(i, k)])
        return key(words[k].text) if near else ""

    if not lists.is_a(at(i), "subject"):
        return False
    before = at(i + 1) == "it" and lists.is_a(at(i + 2), "being")
    behind = at(i - 2) == "it" and lists.is_a(at(i - 1), "being")
    return before or (behind and at(i + 1) in ("that", "which", "who"))


def _set(word: Word, stress: Sequence[int]) -> Word:
    return replace(
        word,
        syllables=tuple(
            replace(s, stress=n, level=max(s.level, 4) if n == 1 else min(s.level, 3))
            for s, n in zip(word.syllables, stress, strict=True)
        ),
    )


def _lightened(words: Sequence[Word], lists: Lists) -> list[Word]:
    """Let accents side by side give way: the middle one of three, a preposition after one."""
    found = list(words)
    for i in range(1, len(found)):
        before, word = found[i - 1], found[i]
        clash = before.syllables[-1].stress == 1 and word.syllables[0].stress == 1
        if not clash or word.fixed or word.verse_start or closes(before) or closes(word):
            continue
        if len(word.syllables) > 1:
            if lists.is_a(key(word.text), "preposition"):
                found[i] = _set(word, [2 if s.stress == 1 else s.stress for s in word.syllables])
            continue
        after = found[i + 1] if i + 1 < len(found) else None
        yields = after is not None and len(after.syllables) > 1
        if after is not None and yields and lists.is_a(key(after.text), "preposition"):
            continue  # it will step back itself: "go down into silence"
        if after is None or after.verse_start or after.syllables[0].stress != 1:
            continue
        if word.syllables[0].level < FULL:
            found[i] = _set(word, (0,))
    return found


def _raised(words: Sequence[Word], lists: Lists) -> tuple[Word, ...]:
    """Raise the middle of three weak syllables to a secondary stress, clause by clause."""
    flat = [(i, j) for i, w in enumerate(words) for j in range(len(w.syllables))]
    stress = [words[i].syllables[j].stress for i, j in flat]
    raised: set[int] = set()
    start = 0
    for k, (i, j) in enumerate(flat):
        word = words[i]
        last = j == len(word.syllables) - 1
        ends = last and (closes(word) or i + 1 == len(words) or words[i + 1].verse_start)
        if ends:
            _raise_clause(words, flat, stress, start, k + 1, raised, lists)
            start = k + 1
    found = list(words)
    for k in raised:
        i, j = flat[k]
        syllables = list(found[i].syllables)
        syllables[j] = replace(syllables[j], stress=2)
        found[i] = replace(found[i], syllables=tuple(syllables))
    return tuple(found)


def _raise_clause(
    words: Sequence[Word],
    flat: Sequence[tuple[int, int]],
    stress: list[int],
    start: int,
    stop: int,
    raised: set[int],
    lists: Lists,
) -> None:
    while True:
        best: tuple[float, int] | None = None
        k = start
        while k < stop:
            end = k
            while end < stop and stress[end] == 0:
                end += 1
            for at in range(k + 1, end - 1):
                i, _ = flat[at]
                word = words[i]
                if len(word.syllables) > 1 or word.fixed:
                    continue
                if lists.is_a(key(word.text), "never_raised"):
                    continue
                middle = abs(at - (k + end - 1) / 2)
                price = middle - 0.5 * word.syllables[0].level
                if best is None or price < best[0]:
                    best = (price, at)
            k = max(end, k + 1)
        if best is None:
            return
        stress[best[1]] = 2
        raised.add(best[1])
