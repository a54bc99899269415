"""The ison: what the drone holders keep under a melody.

Works on any hymn that has a melody, ours or the teacher's.

Levels
------
simple
    The base of the branch from the first note to the last. The holders join the melody (unison) on
    the last word of a phrase only where the branch's own table says unison, and at the very end
    where the tone does not end on its base.
moving
    1 Start on the base. 2 A phrase that closes on a note of the branch's ison table, and settles
    about it, takes the note the table gives. 3 The change comes at the start of the phrase or on a
    stressed syllable that begins a word, never inside a word. 4 Under a close held two beats or
    more the ison never lies a step away: the holders join the melody for the last word. 5 For less
    than four beats it does not move. 6 The last phrase is back on the base. 7 When the melody lies
    below the base the ison stays.

These rules are common practice; that the ison is the tonic of the tetrachord or pentachord in which
the melody moves is in Angelopoulos' article on the technique of the ison. Schools differ (tones 2
and 6: di throughout, or following to vou), so the table is data of the branch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from chantwright.errors import ChantError
from chantwright.score import UNISON, Hymn, Phrase, Syllable
from chantwright.tones import Branch

__all__ = ["ISON_LEVELS", "lay_ison"]

ISON_LEVELS = ("simple", "moving")
_SHORT = Fraction(4)
_HELD = Fraction(2)
_RUBBING = Fraction(2, 5)
"""Share of the beats that may lie a step from the ison to which a phrase moves."""

Held = int | Literal["unison"]


def _last_word(syllables: Sequence[Syllable]) -> int:
    """Place of the first syllable of the last word."""
    place = len(syllables) - 1
    while place > 0 and syllables[place].place not in ("single", "begin"):
        place -= 1
    return place


def _step_away(a: int, b: int) -> bool:
    return (a - b) % 7 in (1, 6)


def _settles(syllables: Sequence[Syllable], target: int) -> int | None:
    """First place from which the melody keeps about a target long enough to move there."""
    for place, syllable in enumerate(syllables):
        begins = place == 0 or (syllable.stress > 0 and syllable.place in ("single", "begin"))
        if not begins:
            continue
        rest = syllables[place:]
        degrees = [n.degree for s in rest for n in s.notes]
        if min(degrees) < target - 1 or max(degrees) > target + 4:
            continue
        beats = sum((s.beats for s in rest), Fraction(0))
        if beats < _SHORT:
            return None
        rubbing = sum(
            (n.beats for s in rest for n in s.notes if abs(n.degree - target) == 1), Fraction(0)
        )
        if rubbing <= _RUBBING * beats:
            return place
    return None


def _phrase(phrase: Phrase, branch: Branch, level: str, *, last: bool) -> Phrase:
    syllables = phrase.syllables
    if not phrase.is_set:
        return phrase
    base = branch.ison_base
    close = syllables[-1].notes[-1]
    word = _last_word(syllables)
    held: list[Held] = [base] * len(syllables)
    told = branch.ison_at.get(close.degree)
    if last and close.degree != base and told is not None:
        told = UNISON  # the drone closes with the singers
    if level == "moving" and not last and isinstance(told, int) and told != base:
        place = _settles(syllables, told)
        if place is not None:
            held[place:] = [told] * (len(syllables) - place)
    if told == UNISON and close.degree != base:
        held[word:] = [UNISON] * (len(syllables) - word)
    under = held[-1]
    clash = isinstance(under, int) and close.beats >= _HELD and _step_away(under, close.degree)
    if level == "moving" and clash:
        held[word:] = [UNISON] * (len(syllables) - word)
    laid = tuple(replace(s, ison=h) for s, h in zip(syllables, held, strict=True))
    return replace(phrase, syllables=laid)


def lay_ison(
    hymn: Hymn, branch: Branch, level: str = "simple", keep: frozenset[str] = frozenset()
) -> Hymn:
    """Give every syllable of a hymn its ison.

    Parameters
    ----------
    hymn : Hymn
        With a melody; phrases without one stay as they are.
    branch : Branch
        Its branch.
    level : str
        ``simple`` or ``moving``.
    keep : frozenset of str
        Ids of phrases whose ison is not touched.

    Returns
    -------
    Hymn

    Raises
    ------
    ChantError
        If there is no such level.
    """
    if level not in ISON_LEVELS:
        raise ChantError(
            f"“{level}” is not a level of the ison.",
            remedy=f"Use {' or '.join(ISON_LEVELS)}.",
        )
    end = len(hymn.phrases) - 1
    phrases = tuple(
        p if p.id in keep else _phrase(p, branch, level, last=i == end)
        for i, p in enumerate(hymn.phrases)
    )
    return replace(hymn, phrases=phrases)
