"""How one English word is read: from lists, from rules about endings, or by a guess.

The order of trust: parish list, preferred readings, lexicon, rules on a known stem, compound of
two known words, guess. Context (which of several readings) is settled in `english`.

References
----------
Endings of early modern English (-eth, -est, -edst): common practice of reading the King James
Version aloud; -eth and -est are always a syllable, -ed only after t and d.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from chantwright.words import guess
from chantwright.words.division import cuts, pieces, spans
from chantwright.words.lexicon import Lists, Written, lookup
from chantwright.words.text import Source

__all__ = ["Reading", "code_of", "known", "readings"]

VOWELS = "aeiouy"
_SIBILANT = re.compile(r"(?:[sxz]|[cs]h|[csz]e|ge)$")
_PLAIN_ENDINGS = (
    "ness", "less", "ful", "ly", "ship", "dom", "hood", "ward", "wards", "ment", "ments", "like",
    "some", "most", "man", "men",
)  # fmt: skip
_VOWEL_ENDINGS = ("eth", "est", "ing", "er", "ers", "ings", "able", "ous", "ish", "en")
_WEAK_PREFIXES = ("un", "re", "dis", "be", "en", "mis", "non", "im", "in", "a")
_STRONG_PREFIXES = (
    "fore", "over", "under", "out", "up", "after", "counter", "inter", "co", "all", "ever", "pre",
    "down", "off",
)  # fmt: skip
_STRESS = {"0": 0, "1": 1, "2": 2, "a": 1, "b": 2}
_SHORT_PARTS = frozenset(
    ["god", "up", "out", "son", "sun", "day", "man", "men", "all", "sea", "way", "how", "his", "her", "him", "who", "so", "ever", "eye", "ear", "sin", "war", "to", "in", "on", "by", "ox", "oil", "ill"]
)


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: syllables, their stress, and who says so."""

    syllables: tuple[str, ...]
    stress: tuple[int, ...]
    source: Source

    def __str__(self) -> str:
        return "-".join(self.syllables) + ":" + "".join(map(str, self.stress))


@dataclass(frozen=True, slots=True)
class _Stem:
    """A word's code and the places where it must be cut."""

    word: str
    code: str
    forced: frozenset[int] = frozenset()

    def with_ending(self, letters: str, code: str, *, keep: int | None = None) -> _Stem:
        size = len(self.word) if keep is None else keep
        forced = frozenset(f for f in self.forced if f < size)
        return _Stem(self.word[:size] + letters, self.code[:size] + code, forced)

    def cut_at(self, *places: int) -> _Stem:
        return _Stem(self.word, self.code, self.forced | set(places))


def code_of(written: Written) -> tuple[str, frozenset[int]]:
    """Turn a hand-written reading into a code and its forced cuts."""
    signs = ""
    places = []
    for part, stress in zip(written.syllables, written.stress, strict=True):
        if signs:
            places.append(len(signs))
        found = re.search(r"(?<=q)u?|(?:(?<=[aeiou])|(?<!^))[aeiouy]+|[aeiou][aeiouy]*|y", part)
        start, end = (found.start(), found.end()) if found and found[0] else (0, 1)
        if part.startswith("qu") and len(part) > 2:
            start, end = 2, max(3, end)
        tail = "+" * (end - start - 1)
        signs += "." * start + str(stress) + tail + "." * (len(part) - end)
    return signs, frozenset(places)


def _listed(word: str, lists: Lists) -> _Stem | None:
    if (own := lists.words.get(word)) is not None:
        code, forced = code_of(own.read)
        return _Stem(word, code, forced)
    if codes := lookup(word):
        return _Stem(word, codes[0])
    return None


def known(word: str, lists: Lists) -> bool:
    """Whether a lower-case word is in a list, or follows from one by an ending."""
    return _listed(word, lists) is not None or _by_ending(word, lists) is not None


def readings(word: str, lists: Lists) -> tuple[Reading, ...]:
    """All readings of a lower-case word, best first; never empty.

    Parameters
    ----------
    word : str
        Letters, with inner apostrophes or hyphens, in lower case.
    lists : Lists
        Hand-made lists.

    Returns
    -------
    tuple of Reading
        Syllables joined are the word.
    """
    if (own := lists.words.get(word)) is not None:
        found = [Reading(w.syllables, w.stress, own.source) for w in (own.read, *own.also)]
        found += [
            Reading(w.syllables, w.stress, own.source)
            for w in (own.verb, own.finite)
            if w is not None and w not in (own.read, *own.also)
        ]
        return tuple(found)
    if codes := lookup(word):
        return _distinct([_spoken(_Stem(word, c), "lexicon") for c in codes])
    if "-" in word:
        return (_hyphened(word, lists),)
    stem = _by_apostrophe(word, lists) or _by_ending(word, lists)
    stem = stem or _by_prefix(word, lists) or _compound(word, lists)
    if stem is not None:
        return (_spoken(stem, "rule"),)
    return (_spoken(_Stem(word, guess.code(word)), "guess"),)


def _distinct(found: list[Reading]) -> tuple[Reading, ...]:
    return tuple({(r.syllables, r.stress): r for r in reversed(found)}.values())[::-1]


def _spoken(stem: _Stem, source: Source) -> Reading:
    parts = pieces(stem.word, cuts(stem.word, stem.code, stem.forced))
    stress = tuple(_STRESS[stem.code[start]] for start, _ in spans(stem.code))
    if 1 not in stress:
        at = stress.index(2) if 2 in stress else 0
        # a weak form in the lexicon ("a", "the"): a word of two or more needs one stress
        if len(stress) > 1:
            stress = (*stress[:at], 1, *stress[at + 1 :])
    elif stress.count(1) > 1:
        first = stress.index(1)
        stress = tuple(2 if s == 1 and i > first else s for i, s in enumerate(stress))
    return Reading(parts, stress, source)


def _hyphened(word: str, lists: Lists) -> Reading:
    syllables: list[str] = []
    stress: list[int] = []
    source: Source = "rule"
    parts = [p for p in word.split("-") if p]
    for i, part in enumerate(parts):
        one = readings(part, lists)[0]
        source = "guess" if one.source == "guess" else source
        own = list(one.syllables)
        if i < len(parts) - 1:
            own[-1] += "-"
        syllables += own
        # the first part leads; later ones step back to secondary
        stress += [2 if s == 1 and 1 in stress else s for s in one.stress]
    return Reading(tuple(syllables), tuple(stress), source)


def _by_apostrophe(word: str, lists: Lists) -> _Stem | None:
    if "'" not in word:
        return None
    if word.endswith("'") and (stem := _any_stem(word[:-1], lists)) is not None:
        return stem.with_ending("'", ".")
    for ending in ("'s", "'st", "'d", "'dst", "'ll", "'ve", "'re", "'m"):
        if word.endswith(ending):
            stem = _any_stem(word[: -len(ending)], lists)
            if stem is None and ending in ("'d", "'dst", "'st"):
                stem = _any_stem(word[: -len(ending)] + "e", lists)
                stem = stem and stem.with_ending("", "", keep=len(stem.word) - 1)
            return stem and stem.with_ending(ending, "." * len(ending))
    # "heav'n", "pow'r", "ev'ry": the full word with the vowel at the apostrophe silenced
    at = word.index("'")
    for vowel in "eaiouv":
        full = _any_stem(word[:at] + vowel + word[at + 1 :], lists)
        if full is None or len(spans(full.code)) < 2:
            continue
        if full.code[at] in "012ab":
            code = full.code[:at] + "." + full.code[at + 1 :]
            return _Stem(word, code, full.forced - {at, at + 1})
    return None


def _any_stem(word: str, lists: Lists) -> _Stem | None:
    return _listed(word, lists) or _by_ending(word, lists)


def _by_ending(word: str, lists: Lists) -> _Stem | None:
    if len(word) < 4:
        return None
    for ending in _PLAIN_ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            stem = _any_stem(word[: -len(ending)], lists)
            if stem is None and word[-len(ending) - 1] == "i":
                stem = _any_stem(word[: -len(ending) - 1] + "y", lists)
                stem = stem and _Stem(word[: -len(ending)], stem.code, stem.forced)
            if stem is not None:
                made = stem.with_ending(ending, guess.code(ending, stressed=False))
                return made.cut_at(len(word) - len(ending))
    if word.endswith("edst") and (past := _any_stem(word[:-2], lists)) is not None:
        return past.with_ending("st", "..")
    if word.endswith("ed") and (made := _past(word, lists)) is not None:
        return made
    for ending in _VOWEL_ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 2:
            made = _vowel_ending(word, ending, lists)
            if made is not None:
                return made
    return _plural(word, lists)


def _stems_before_vowel(body: str) -> list[tuple[str, int, bool]]:
    """Candidates for the stem of body + vowel ending: stem, letters kept, doubled or not."""
    doubled = len(body) > 2 and body[-1] == body[-2] and body[-1] not in "aeiou"
    found = [(body, len(body), False), (body + "e", len(body), False)]
    if doubled:
        at = len(found) if body[-1] in "lsfz" else 0
        found.insert(at, (body[:-1], len(body) - 1, True))
    if body.endswith("i"):
        found.insert(0, (body[:-1] + "y", len(body), False))
    return found


def _vowel_ending(word: str, ending: str, lists: Lists) -> _Stem | None:
    body = word[: -len(ending)]
    if len(body) < 2:
        return None
    for name, kept, doubled in _stems_before_vowel(body):
        stem = _listed(name, lists)
        if stem is None and ending in ("eth", "est", "ing", "ings"):
            stem = _by_prefix(name, lists) or _compound(name, lists)
        if stem is None or len(name) < 2:
            continue
        if name.endswith("e") and name[:-1] == body and stem.code[-1] in "012ab" and len(body) > 2:
            continue  # the stem's e is itself a syllable or part of one
        base = stem.code[:kept]
        if not spans(base):
            continue
        letters = word[len(body) :]
        tail = ("." if doubled else "") + guess.code(letters, stressed=False)
        code = base + tail
        if len(code) != len(word):
            continue
        forced = {f for f in stem.forced if f < kept} | {kept if doubled else len(body)}
        if doubled:
            forced = {f for f in stem.forced if f < kept} | {kept}
        return _Stem(word, code, frozenset(forced))
    # "seeth", "fleeth": the e of the stem does both services
    if ending in ("eth", "est") and (stem := _listed(body + "e", lists)) is not None:
        if stem.code.endswith("+"):
            code = stem.code[:-1] + "0" + "." * (len(ending) - 1)
            return _Stem(word, code, stem.forced | {len(body)})
    return None


def _past(word: str, lists: Lists) -> _Stem | None:
    body = word[:-2]
    for name, kept, doubled in _stems_before_vowel(body):
        stem = _listed(name, lists) or _by_prefix(name, lists)
        if stem is None or not spans(stem.code[:kept]):
            continue
        sounded = name.rstrip("e")[-1:] in ("t", "d")
        code = stem.code[:kept] + ("." if doubled else "") + ("0." if sounded else "..")
        forced = {f for f in stem.forced if f < kept}
        if sounded:
            forced.add(kept if doubled else len(body))
        return _Stem(word, code, frozenset(forced))
    return None


def _plural(word: str, lists: Lists) -> _Stem | None:
    if not word.endswith("s") or word.endswith("ss"):
        return None
    if word.endswith("ies") and (stem := _listed(word[:-3] + "y", lists)) is not None:
        return _Stem(word, stem.code[:-1] + stem.code[-1] + "+.", stem.forced)
    stem = _listed(word[:-1], lists) or (_vowel_noun(word[:-1], lists))
    if stem is not None:
        if _SIBILANT.search(stem.word) and stem.word.endswith("e"):
            return _Stem(word, stem.code[:-1] + "0.", stem.forced | {len(word) - 3})
        return stem.with_ending("s", ".")
    if word.endswith("es") and (stem := _listed(word[:-2], lists)) is not None:
        if _SIBILANT.search(stem.word):
            return stem.with_ending("es", "0.").cut_at(len(word) - 2)
        return stem.with_ending("es", "..")
    return None


def _vowel_noun(word: str, lists: Lists) -> _Stem | None:
    for ending in ("ing", "er"):
        if word.endswith(ending):
            return _vowel_ending(word, ending, lists)
    return None


def _by_prefix(word: str, lists: Lists) -> _Stem | None:
    for prefix in (*_STRONG_PREFIXES, *_WEAK_PREFIXES):
        rest = word[len(prefix) :]
        if not word.startswith(prefix) or len(rest) < 4:
            continue
        stem = _listed(rest, lists) or _by_ending(rest, lists)
        if stem is None:
            continue
        own = guess.code(prefix, stressed=False)
        if prefix in _STRONG_PREFIXES:
            own = re.sub("0", "2", own, count=1)
        size = len(prefix)
        code = stem.code
        if len(spans(code)) == 1:
            code = code.replace("0", "1").replace("2", "1")
        return _Stem(word, own + code, frozenset({size, *(f + size for f in stem.forced)}))
    return None


def _part(word: str, lists: Lists) -> _Stem | None:
    if len(word) < 4 and word not in _SHORT_PARTS:
        return None
    return _listed(word, lists) or (_by_ending(word, lists) if len(word) > 5 else None)


def _compound(word: str, lists: Lists) -> _Stem | None:
    """Two known words written as one: the first leads."""
    options = []
    for at in range(2, len(word) - 1):
        left, right = _part(word[:at], lists), _part(word[at:], lists)
        if left is None or right is None:
            continue
        options.append((abs(2 * at - len(word)), at, left, right))
    if not options:
        return None
    _, at, left, right = min(options, key=lambda o: (o[0], o[1]))
    back = str.maketrans({"1": "2", "a": "b"})
    head = left.code if set(left.code) & set("1a") else left.code.replace("0", "1", 1)
    forced = {at, *left.forced, *(f + at for f in right.forced)}
    return _Stem(word, head + right.code.translate(back), frozenset(forced))
