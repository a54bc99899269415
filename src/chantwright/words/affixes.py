"""Words made of known words: endings, apostrophes, prefixes, compounds.

References
----------
Endings of early modern English (-eth, -est, -edst): common practice of reading the King James
Version aloud; -eth and -est are always a syllable (but "trem-bleth"), -ed only after t and d.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from chantwright.words import spelling
from chantwright.words.division import spans
from chantwright.words.lexicon import Lists
from chantwright.words.stems import Stem, listed

__all__ = ["compound", "joints", "made", "with_apostrophe", "with_ending", "with_prefix"]

_SIBILANT = re.compile(r"(?:[sxz]|[cs]h|[csz]e|ge)$")
_CONSONANT_ENDINGS = (
    "ness", "less", "ful", "ly", "ship", "dom", "hood", "ward", "wards", "ment", "ments", "like",
    "some", "most", "man", "men",
)  # fmt: skip
_VOWEL_ENDINGS = (
    "eth", "est", "ing", "ings", "er", "ers", "able", "ous", "ish", "en",
)  # fmt: skip
_VERB_ENDINGS = frozenset(["eth", "est", "ing", "ings"])
_CONTRACTIONS = ("'s", "'st", "'d", "'dst", "'ll", "'ve", "'re", "'m")
_STRONG_PREFIXES = (
    "fore", "over", "under", "out", "up", "after", "counter", "inter", "co", "all", "ever",
    "pre", "down", "off",
)  # fmt: skip
_WEAK_PREFIXES = (
    "un", "re", "dis", "be", "en", "mis", "non", "im", "in", "con", "com", "sub", "de", "ac",
    "ad", "ex", "per", "a",
)  # fmt: skip
_LEARNED = re.compile(
    r"(?:um|us|al|ic|ia|an|ous|[^e]a|o|i|ene|ose|oid|ean|ian|ate|ine|ent|ant|ist|ism|ar|on)s?$"
)
"""Ends of Greek and Latin words, which only look like two English ones."""
_PLAIN_PARTS = (
    "so",
    "to",
    "on",
    "sea",
    "gate",
    "gates",
    "vine",
    "tent",
    "star",
    "stars",
    "moon",
    "man",
    "son",
    "stone",
)
_SHORT_PARTS = frozenset(
    [
        "god", "up", "out", "son", "sun", "day", "man", "men", "all", "sea", "way", "how", "his",
        "her", "him", "who", "so", "ever", "eye", "ear", "sin", "war", "to", "in", "on", "by", "ox",
        "oil", "ill", "law", "pot", "for", "two",
    ]
)  # fmt: skip


def made(word: str, lists: Lists) -> Stem | None:
    """Make a word that is in no list from words that are.

    Parameters
    ----------
    word : str
        Lower-case letters and apostrophes.
    lists : Lists
        Hand-made lists.

    Returns
    -------
    Stem or None
        None if no rule reaches a known word.
    """
    ways = (with_apostrophe, with_ending, with_prefix, compound)
    return _first(way(word, lists) for way in ways)


def _first(found: Iterable[Stem | None]) -> Stem | None:
    """Take the first stem that has a vowel ("b'd" is no word made of "be")."""
    return next((f for f in found if f is not None and spans(f.code)), None)


def _known(word: str, lists: Lists) -> Stem | None:
    return listed(word, lists) or with_ending(word, lists)


# ---------------------------------------------------------------- apostrophes


def with_apostrophe(word: str, lists: Lists) -> Stem | None:
    """Read "Lord's", "bless'd", "heav'n"."""
    if "'" not in word:
        return None
    if word.endswith("'") and (stem := _known(word[:-1], lists)) is not None:
        return stem.plus("'", ".")
    ending = next((e for e in _CONTRACTIONS if word.endswith(e)), "")
    if ending:
        body = word[: -len(ending)]
        stem = _known(body, lists)
        if stem is None and ending in ("'d", "'dst", "'st"):
            full = _known(body + "e", lists)  # "prais'd"
            stem = full and full.kept(len(body))
        return stem and stem.plus(ending, "." * len(ending))
    return _shortened(word, lists)


def _shortened(word: str, lists: Lists) -> Stem | None:
    """Read "heav'n", "pow'r", "ev'ry": the full word with one vowel silenced."""
    at = word.index("'")
    for vowel in "eaiou":
        full = _known(word[:at] + vowel + word[at + 1 :], lists)
        if full is None or len(spans(full.code)) < 2 or full.code[at] not in "012ab":
            continue
        if full.code[at] not in "0":
            continue
        code = full.code[:at] + "." + full.code[at + 1 :]
        # the cut before the lost vowel goes with it
        starts = [s for s, _ in spans(full.code)]
        before = max((s for s in starts if s < at), default=-1)
        forced = frozenset(f for f in full.forced if not before < f <= at + 1)
        return Stem(word, code, forced)
    return None


# -------------------------------------------------------------------- endings


def with_ending(word: str, lists: Lists) -> Stem | None:
    """Take endings off until a known word is left."""
    if len(word) < 4:
        return None
    ways: tuple[Callable[[str, Lists], Stem | None], ...] = (
        _consonant_ending,
        _silent_st,
        _le_verb,
        _past,
        _any_vowel_ending,
        _plural,
    )
    return _first(way(word, lists) for way in ways)


def _consonant_ending(word: str, lists: Lists) -> Stem | None:
    for ending in _CONSONANT_ENDINGS:
        body = word.removesuffix(ending)
        if body == word or len(body) < 3:
            continue
        stem = _known(body, lists)
        if stem is None and body.endswith("i"):
            full = _known(body[:-1] + "y", lists)  # "holiness"
            stem = full and Stem(body, full.code, full.forced)
        if stem is None and ending == "ness" and (short := _known(body + "l", lists)) is not None:
            stem = short.kept(len(body))
        if stem is None and body.endswith("l"):
            full = _known(body + "l", lists)  # "fulness", "skilful"
            stem = full and full.kept(len(body))
        if stem is not None:
            return stem.plus(ending, spelling.code(ending, stressed=False), cut=True)
    return None


def _silent_st(word: str, lists: Lists) -> Stem | None:
    """Read "turnedst", "saidst": a past form and an -st that is no syllable."""
    if not word.endswith("dst"):
        return None
    past = _known(word[:-2], lists)
    return past and past.plus("st", "..")


def _le_verb(word: str, lists: Lists) -> Stem | None:
    """Read "trembleth": the -le and the -eth are one syllable."""
    if not word.endswith(("leth", "lest")) or len(word) < 6 or word[-5] in "aeiouly":
        return None
    stem = listed(word[:-2], lists)
    return stem.plus(word[-2:], "..") if stem is not None and stem.code[-1] in "012" else None


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


def _any_vowel_ending(word: str, lists: Lists) -> Stem | None:
    return _first(
        _vowel_ending(word, ending, lists)
        for ending in _VOWEL_ENDINGS
        if word.endswith(ending) and len(word) - len(ending) >= 2
    )


def _vowel_ending(word: str, ending: str, lists: Lists) -> Stem | None:
    body = word.removesuffix(ending)
    for name, kept, doubled in _stems_before_vowel(body):
        stem = listed(name, lists)
        if stem is None and ending in _VERB_ENDINGS:
            stem = with_prefix(name, lists) or compound(name, lists)
        if stem is None:
            continue
        if kept < len(name) and not doubled and name[-1] == "e" and stem.code[-1] in "012ab":
            continue  # its last e is a syllable of its own
        base = Stem(name[:kept] if not doubled else body[:kept], *_head(stem, kept))
        if not spans(base.code):
            continue
        letters = word[kept:]
        tail = "." * (len(body) - kept) + spelling.code(ending, stressed=False)
        if body.endswith("i"):
            base = Stem(body, base.code[: len(body)], base.forced)
        return base.plus(letters, tail, cut=True)
    return _double_service(word, body, ending, lists)


def _head(stem: Stem, kept: int) -> tuple[str, frozenset[int]]:
    part = stem.kept(kept)
    return part.code, part.forced


def _double_service(word: str, body: str, ending: str, lists: Lists) -> Stem | None:
    """Read "seeth", "fleeth": the last e of the stem is also that of the ending."""
    if ending not in ("eth", "est"):
        return None
    stem = listed(body + "e", lists)
    if stem is None or not stem.code.endswith("+"):
        return None
    code = stem.code[:-1] + "0" + "." * (len(ending) - 1)
    return Stem(word, code, stem.forced | {len(body)})


def _past(word: str, lists: Lists) -> Stem | None:
    if not word.endswith("ed"):
        return None
    body = word[:-2]
    for name, kept, doubled in _stems_before_vowel(body):
        stem = listed(name, lists) or with_prefix(name, lists)
        if stem is None or not spans(stem.code[:kept]):
            continue
        sounded = name.rstrip("e")[-1:] in ("t", "d")
        code = stem.code[:kept] + ("." if doubled else "") + ("0." if sounded else "..")
        forced = set(stem.kept(kept).forced)
        if sounded:
            forced.add(kept if doubled else len(body))
        return Stem(word, code, frozenset(forced))
    return None


def _plural(word: str, lists: Lists) -> Stem | None:
    if not word.endswith("s") or word.endswith("ss"):
        return None
    if word.endswith("ies") and (stem := listed(word[:-3] + "y", lists)) is not None:
        return Stem(word, stem.code + "+.", stem.forced)
    stem = listed(word[:-1], lists) or _any_vowel_ending(word[:-1], lists)
    if stem is not None:
        if _SIBILANT.search(stem.word) and stem.word.endswith("e"):
            return Stem(word, stem.code[:-1] + "0.", stem.forced | {len(word) - 3})
        return stem.plus("s", ".")
    stem = listed(word[:-2], lists) if word.endswith("es") else None
    if stem is None:
        return None
    heard = bool(_SIBILANT.search(stem.word))
    return stem.plus("es", "0." if heard else "..", cut=heard)


# ------------------------------------------------------ prefixes and compounds


def with_prefix(word: str, lists: Lists) -> Stem | None:
    """Read "unwedded", "foreordained": a prefix before a known word."""
    for prefix in (*_STRONG_PREFIXES, *_WEAK_PREFIXES):
        rest = word.removeprefix(prefix)
        if rest == word or len(rest) < 4:
            continue
        stem = _known(rest, lists)
        if stem is None:
            continue
        own = spelling.code(prefix, stressed=False)
        if prefix in _STRONG_PREFIXES:
            own = own.replace("0", "2", 1)
        code = stem.code
        if len(spans(code)) == 1:
            code = code.replace("0", "1").replace("2", "1")
        size = len(prefix)
        return Stem(word, own + code, frozenset({size, *(f + size for f in stem.forced)}))
    return None


def _part(word: str, lists: Lists) -> Stem | None:
    if len(word) < 4 and word not in _SHORT_PARTS:
        return None
    return listed(word, lists) or (with_ending(word, lists) if len(word) > 5 else None)


def compound(word: str, lists: Lists) -> Stem | None:
    """Read "footstool": two known words written as one; the first leads."""
    if _LEARNED.search(word) and not word.endswith(_PLAIN_PARTS):
        return None
    options = []
    for at in range(2, len(word) - 1):
        left, right = _part(word[:at], lists), _part(word[at:], lists)
        if left is None or right is None:
            continue
        price = abs(2 * at - len(word))
        if word[at - 1] == "s" and _part(word[: at - 1], lists) is not None:
            price += 6  # "water-springs", not "waters-prings"
        options.append((price, at, left, right))
    if not options:
        return None
    _, at, left, right = min(options, key=lambda o: (o[0], o[1]))
    back = str.maketrans({"1": "2", "a": "b"})
    head = left.code if set(left.code) & set("1a") else left.code.replace("0", "1", 1)
    forced = {at, *left.forced, *(f + at for f in right.forced)}
    return Stem(word, head + right.code.translate(back), frozenset(forced))


# ------------------------------------------------------ joints of listed words

_CLEAR_PREFIXES = (
    "mis", "dis", "un", "over", "under", "out", "fore", "inter", "trans", "up", "after",
)  # fmt: skip
_LOOSE_ENDINGS = (
    "er", "ers", "y", "ing", "ings", "ed", "est", "ist", "able", "ible", "age", "ance", "ence",
    "ant", "ent", "al", "ive", "ish", "or",
)  # fmt: skip


def joints(stem: Stem, lists: Lists) -> tuple[frozenset[int], frozenset[int]]:
    """Where a listed word shows its parts.

    Returns
    -------
    forced, hints : frozenset of int
        Joints of compounds and clear prefixes; and places before loose endings ("lift-er"),
        which hyphenation patterns may overrule.
    """
    word, code = stem.word, stem.code
    forced, hints = set(), set()
    starts = [s for s, _ in spans(code)]
    for prefix in _CLEAR_PREFIXES:
        rest = word.removeprefix(prefix)
        if rest != word and len(rest) > 3 and listed(rest, lists) is not None:
            later = [s for s in starts if s >= len(prefix)]
            if later and len(later) < len(starts) and code[later[0]] in "12ab":
                forced.add(len(prefix))
    if "2" in code or "b" in code:
        for at in range(3, len(word) - 2):
            later = [s for s in starts if s >= at]
            if not later or len(later) == len(starts) or code[later[0]] not in "2b":
                continue
            left, right = _part(word[:at], lists), _part(word[at:], lists)
            if left is None or right is None or word[at - 1] == "s" or word[at] == "k":
                continue
            if len(spans(left.code)) + len(spans(right.code)) == len(starts):
                forced.add(at)
    for ending in _LOOSE_ENDINGS:
        body = word.removesuffix(ending)
        if body == word or len(body) < 4 or body[-1] in "aeiouy":
            continue
        if listed(body, lists) is not None or (
            body[-2] in "aeiouy" and listed(body + "e", lists) is not None
        ):
            hints.add(len(body))
    return frozenset(forced), frozenset(hints)
