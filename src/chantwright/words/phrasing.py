"""Where a singer breathes: running words split into phrases.

The teacher's bars decide where there are any; a verse always ends a phrase. Elsewhere the
cheapest set of ends is found by dynamic programming: each place between two words has a price by
punctuation and by the words around it, some places are forbidden (after an article, between *of*
and its noun ...), and each phrase has a price by its number of syllables.

Conventions
-----------
Prices are in the units of ``phrasing.toml``. A phrase wants about nine syllables, is easy between
5 and 12, and never longer than 16 unless no place is allowed.

References
----------
Length and order of places: common practice of lining out psalms; the window of 5-14 syllables is
that of the poetic lines of modern prose psalters (World English Bible: 88 % of lines).
"""

from __future__ import annotations

import heapq
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from chantwright.score import Cadence
from chantwright.words.lexicon import Lists, load_lists
from chantwright.words.stress import accent, key
from chantwright.words.text import Change, Span, Text, Word, close_of

__all__ = ["LONGEST", "Division", "Span", "divisions", "forbidden", "split", "split_words"]

LONGEST = 16
FORBIDDEN = 100.0
"""Price of a forbidden place: dearer than any length up to some 25 syllables."""
NEVER = 1e6
_STOP = r"[.;:!?…·]"
_PAUSE = r"[.,;:!?…·—–]"
_BARS: dict[str, Cadence] = {"|": "medial", "||": "full", "|||": "final"}


@dataclass(frozen=True, slots=True)
class Division:
    """One way to divide a verse.

    Attributes
    ----------
    spans : tuple of Span
        Its phrases.
    closes : tuple of tuple of int
        Of each phrase the stresses from the last primary one on: ``(1, 0)`` for "O my ˈspi-rit".
    price : float
        In the units of ``phrasing.toml``; lower is better.
    """

    spans: tuple[Span, ...]
    closes: tuple[tuple[int, ...], ...]
    price: float

    def to_json(self, words: Sequence[Word]) -> dict[str, Any]:
        """Return it as plain values: ``{"price", "phrases"}``; phrases as in `Text.to_json`."""
        rows = [
            {**span.to_json(words), "close": list(close)}
            for span, close in zip(self.spans, self.closes, strict=True)
        ]
        return {"price": round(self.price, 3), "phrases": rows}


def split(text: Text, lists: Lists | None = None) -> tuple[Span, ...]:
    """Split a text into phrases.

    Parameters
    ----------
    text : Text
        Divided words.
    lists : Lists, optional
        Prices and classes; when left out, the phrases found while reading.

    Returns
    -------
    tuple of Span
        The phrases.
    """
    if lists is None and text.spans:
        return text.spans
    return split_words(text.words, lists or load_lists())[0]


def split_words(words: Sequence[Word], own: Lists) -> tuple[tuple[Span, ...], tuple[Change, ...]]:
    """Split words into phrases, and say what was done against the teacher's bars."""
    changes: list[Change] = []
    ends: list[int] = []
    for first, stop in _verses(words):
        barred = [i for i in range(first, stop) if words[i].bar]
        if not barred:
            ends += _cheapest(words, first, stop, own)
            continue
        start = first
        for end in [*(b + 1 for b in barred if b + 1 < stop), stop]:
            count = sum(len(w.syllables) for w in words[start:end])
            if count > LONGEST and not any(w.keep for w in words[start:end]):
                inner = _cheapest(words, start, end, own)
                if len(inner) > 1:
                    changes.append(_too_long(words, start, end, count, inner))
                ends += inner
            else:
                ends.append(end)
            start = end
    spans = []
    start = 0
    for end in ends:
        spans.append(Span(start, end, _cadence(words, end)))
        start = end
    return tuple(spans), tuple(changes)


def divisions(
    text: Text, count: int = 3, overrides: Iterable[Path] = ()
) -> tuple[tuple[Division, ...], ...]:
    """Give several ways to divide each verse.

    Parameters
    ----------
    text : Text
        Divided words.
    count : int
        How many ways at most.
    overrides : iterable of Path
        Parish files; the same as for `read_words`.

    Returns
    -------
    tuple of tuple of Division
        For each verse its ways, best first; the first is that of `split`. A verse with the
        teacher's bars has one; a forbidden place ends no phrase of the other ways.
    """
    own = load_lists(overrides)
    chosen = split(text)
    out = []
    for first, stop in _verses(text.words):
        spans = tuple(s for s in chosen if first <= s.first < stop)
        ways = [(0.0, [s.stop for s in spans])]
        if not any(w.bar for w in text.words[first:stop]):
            ways = _cheapest_ways(text.words, first, stop, own, count)
        found = []
        for price, ends in ways:
            if price - ways[0][0] >= FORBIDDEN / 2:
                break
            starts = [first, *ends[:-1]]
            parts = tuple(
                Span(a, b, _cadence(text.words, b)) for a, b in zip(starts, ends, strict=True)
            )
            last = {e - 1 - first for e in ends}
            accented = accent(text.words[first:stop], own, last)
            closes = tuple(
                close_of(accented[a - first : b - first]) for a, b in zip(starts, ends, strict=True)
            )
            found.append(Division(parts, closes, price))
        out.append(tuple(found))
    return tuple(out)


def _too_long(
    words: Sequence[Word], start: int, end: int, count: int, inner: Sequence[int]
) -> Change:
    whole = " ".join(w.text for w in words[start:end])
    parts, at = [], start
    for stop in inner:
        parts.append(" ".join(w.text for w in words[at:stop]))
        at = stop
    return Change(
        "long phrase",
        whole,
        " | ".join(parts),
        words[start].line,
        words[start].column,
        f"{count} syllables between bars are more than {LONGEST}; write ~ inside to keep it whole",
    )


def _verses(words: Sequence[Word]) -> list[tuple[int, int]]:
    starts = [i for i, w in enumerate(words) if i == 0 or w.verse_start or w.rubric]
    return list(zip(starts, [*starts[1:], len(words)], strict=True))


def _cadence(words: Sequence[Word], end: int) -> Cadence:
    last = words[end - 1]
    if end == len(words):
        return "final"
    if last.bar:
        return _BARS[last.bar]
    if words[end].verse_start or re.search(_STOP, last.after):
        return "full"
    return "medial"


def forbidden(words: Sequence[Word], i: int, lists: Lists) -> bool:
    """Whether a phrase may never end after word `i`, unless the teacher says so."""
    word, following = words[i], words[i + 1]
    if word.keep:
        return True
    if re.search(_PAUSE, word.after):
        return False
    name, after = key(word.text), key(following.text)
    leads = ("article", "possessive", "preposition", "tie", "subject", "auxiliary")
    clings = ("object", "clings")
    return any(lists.is_a(name, k) for k in leads) or any(lists.is_a(after, k) for k in clings)


def _price(words: Sequence[Word], i: int, lists: Lists) -> float:
    """Price of ending a phrase after word `i`."""
    prices = lists.prices
    word, following = words[i], words[i + 1]
    if word.keep:
        return NEVER
    if forbidden(words, i, lists):
        return FORBIDDEN
    after = key(following.text)
    if re.search(_STOP, word.after):
        return prices["stop"]
    if re.search(r"[,—–]", word.after):
        joined = lists.is_a(after, "joiner") or lists.is_a(after, "opener")
        return prices["comma joiner" if joined else "comma"]
    return _syntax_price(words, i, lists)


def _syntax_price(words: Sequence[Word], i: int, lists: Lists) -> float:
    """Price of a place without punctuation."""
    after = key(words[i + 1].text)
    if after == "for" and i + 2 < len(words) and key(words[i + 2].text) in ("ever", "evermore"):
        return lists.prices["of"]
    if lists.is_a(after, "joiner"):
        pair = after in ("and", "or", "nor") and _bare_pair(words, i, lists)
        return lists.prices["pair" if pair else "joiner"]
    if lists.is_a(after, "preposition"):
        return _preposition_price(words, i, lists)
    kinds = ("subject", "auxiliary", "article", "possessive")
    return lists.prices[next((k for k in kinds if lists.is_a(after, k)), "other")]


def _preposition_price(words: Sequence[Word], i: int, lists: Lists) -> float:
    after = key(words[i + 1].text)
    if after == "of":
        return lists.prices["of"]
    run = 0
    for word in words[i + 1 :]:
        run += 1
        if re.search(_PAUSE, word.after):
            break
    return lists.prices["preposition" if run >= 4 else "short preposition"]


def _bare_pair(words: Sequence[Word], i: int, lists: Lists) -> bool:
    """Whether "X and Y" joins two bare words ("goodness and mercy")."""
    if i + 2 >= len(words):
        return False
    light = ("article", "possessive", "preposition", "subject", "auxiliary", "joiner", "object")
    return not any(lists.is_a(key(words[i + 2].text), kind) for kind in light)


def _length_price(count: int) -> float:
    price = 0.04 * (count - 9) ** 2
    if count > 12:
        price += 0.5 * (count - 12) ** 1.5
    if count > LONGEST:
        price += 12.0 * (count - LONGEST)
    if count < 5:
        price += 1.5 * (5 - count)
    if count < 3:
        price += 8.0 * (3 - count)
    return price


def _cheapest(words: Sequence[Word], first: int, stop: int, lists: Lists) -> list[int]:
    """Find the ends (exclusive) of the cheapest phrases of one run of words."""
    return _cheapest_ways(words, first, stop, lists, 1)[0][1]


def _cheapest_ways(
    words: Sequence[Word], first: int, stop: int, lists: Lists, most: int
) -> list[tuple[float, list[int]]]:
    """Find the cheapest ways to end phrases in one run of words, cheapest first: price and ends."""
    counts = [len(w.syllables) for w in words[first:stop]]
    prices = [_price(words, i, lists) if i + 1 < stop else 0.0 for i in range(first, stop)]
    swallow = [
        lists.prices["swallow"] if re.search(_STOP, words[i].after) else 0.0
        for i in range(first, stop)
    ]
    n = stop - first
    # for each end: price, start of its last phrase, and which way of those that end at that start
    best: list[list[tuple[float, int, int]]] = [[(0.0, 0, 0)]] + [[] for _ in range(n)]
    each = lists.prices["break"]
    for end in range(1, n + 1):
        count, passed = 0, 0.0
        found: list[tuple[float, int, int]] = []
        for start in range(end - 1, -1, -1):
            count += counts[start]
            if count > 3 * LONGEST and found:
                break
            own = _length_price(count) + passed + prices[end - 1] + (each if end < n else 0.0)
            found += [(way[0] + own, start, rank) for rank, way in enumerate(best[start])]
            if start:
                passed += swallow[start - 1]
        best[end] = heapq.nsmallest(most, found, key=lambda way: way[0])
    return [(way[0], _ends_of(best, n, rank, first)) for rank, way in enumerate(best[n])]


def _ends_of(
    best: Sequence[Sequence[tuple[float, int, int]]], end: int, rank: int, first: int
) -> list[int]:
    ends = []
    while end:
        ends.append(first + end)
        _, end, rank = best[end][rank]
    return ends[::-1]
