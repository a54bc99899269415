"""Phrases that answer one another: the teacher's mark, equal words, or words built alike.

Like cola in one hymn usually get like music (Arvanitis, on heirmoi and stichera). A phrase answers
the nearest earlier one

1. that the teacher names (``same as`` in the hymn file);
2. whose words are equal;
3. whose words are parallel: they begin or end with the same two words or more, a stressed one
   among them, they make up a good part of both, the last stress falls alike, and the lengths are
   no more than three syllables apart.

The third rule is ours and plain: it sees *O give thanks unto the Lord* and *O give thanks unto the
God of gods*, not a likeness of sense alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from chantwright.errors import ChantError, Where
from chantwright.score import Phrase
from chantwright.setting.choice import Kind

__all__ = ["answered", "bare_words"]

_LEAST = 2
_SHARE = 0.4
_APART = 3


def bare_words(phrase: Phrase) -> tuple[str, ...]:
    """Its words in small letters without signs."""
    kept = "".join(c for c in phrase.words.lower() if c.isalnum() or c.isspace())
    return tuple(kept.split())


def _after_stress(phrase: Phrase) -> int:
    """Syllables after the last stress, two or more counted as two."""
    places = [i for i, s in enumerate(phrase.syllables) if s.stress]
    return min(2, len(phrase.syllables) - 1 - places[-1]) if places else 0


def _stressed(phrase: Phrase) -> list[bool]:
    """For each word whether it has a main stress."""
    words: list[bool] = []
    for syllable in phrase.syllables:
        if syllable.place in ("single", "begin"):
            words.append(False)
        if syllable.stress == 1 and words:
            words[-1] = True
    return words


def _common(a: Sequence[str], b: Sequence[str]) -> int:
    count = 0
    for x, y in zip(a, b, strict=False):
        if x != y:
            break
        count += 1
    return count


def _parallel(a: Phrase, b: Phrase) -> bool:
    if abs(len(a.syllables) - len(b.syllables)) > _APART or _after_stress(a) != _after_stress(b):
        return False
    left, right = bare_words(a), bare_words(b)
    stressed = _stressed(b)
    head = _common(left, right)
    tail = _common(left[::-1], right[::-1])
    longest = max(len(left), len(right))
    for count, part in ((head, stressed[:head]), (tail, stressed[len(stressed) - tail :])):
        if count >= _LEAST and any(part) and count >= _SHARE * longest:
            return True
    return False


def answered(phrases: Sequence[Phrase]) -> list[tuple[int | None, Kind]]:
    """For each phrase the place of the one it answers, and why.

    Parameters
    ----------
    phrases : sequence of Phrase
        Divided.

    Raises
    ------
    ChantError
        If a phrase is marked as the same as one that does not stand before it.
    """
    places = {p.id: i for i, p in enumerate(phrases)}
    bare = [bare_words(p) for p in phrases]
    found: list[tuple[int | None, Kind]] = []
    for place, phrase in enumerate(phrases):
        if phrase.same_as:
            to = places.get(phrase.same_as)
            if to is None or to >= place:
                raise ChantError(
                    f"it is marked “same as: {phrase.same_as}”, but no phrase of that name stands "
                    "before it.",
                    where=Where(word=phrase.words[:40]),
                    remedy="Name an earlier phrase by its number: same as: 1",
                )
            found.append((to, "marked"))
            continue
        before = range(place - 1, -1, -1)
        equal = next((p for p in before if bare[place] and bare[p] == bare[place]), None)
        if equal is not None:
            found.append((equal, "equal"))
            continue
        alike = next((p for p in before if _parallel(phrases[p], phrase)), None)
        found.append((alike, "parallel") if alike is not None else (None, ""))
    return found
