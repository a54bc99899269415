"""Rules of English stress that lean upon the guess at an unknown word.

The networks of `guess` learned from a dictionary that is full of surnames, and cannot know that
"destroy" is a verb. Each row of ``leanings.toml`` is a rule that linguists have published: a
spelling (a regular expression over the whole lower-case word) whose group ``strong`` holds the
syllable that the rule would stress, and a weight in natural logarithms of odds. The weight of the
strongest rule that fits a syllable is added to what the networks think, so a rule decides where
they doubt and yields where they are sure. A group ``word`` says that a word of its own begins there
("there-in"): the parts are then guessed each for itself. The weights were set on the part of the
lexicon that the networks learned from (see the head of ``leanings.toml``), never on
`guess.withheld` words.

References
----------
Chomsky & Halle, "The Sound Pattern of English", 1968, chapter 3. Fudge, "English Word-Stress",
1984. Kingdon, "The Groundwork of English Stress", 1958. Which rule is from which is told by the
rows.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from chantwright.rows import Row
from chantwright.words import guess

__all__ = ["STRONG", "WORD", "Leaning", "guessed", "leaning"]

STRONG, WORD = "strong", "word"
"""Groups of a spelling: the stressed syllable; a word of its own at the end."""


@dataclass(frozen=True, slots=True)
class Leaning:
    """A rule of stress.

    Attributes
    ----------
    spelling : re.Pattern
        Fits whole lower-case words; has a group `STRONG` and may have a group `WORD`.
    weight : float
        Natural logarithm of the odds it adds to the vowels in `STRONG`; above 0.
    """

    spelling: re.Pattern[str]
    weight: float


_NAME = re.compile(r"\{([a-z-]+)\}")


def leaning(row: Row, letters: Mapping[str, Row]) -> Leaning:
    """Make a rule of a row.

    Parameters
    ----------
    row : Row
        Of the table ``leaning``.
    letters : mapping of str to Row
        The table ``letters``: what ``{name}`` stands for in a spelling.

    Raises
    ------
    ChantError
        If its spelling is no regular expression with the group, or names letters that are
        nowhere, or if its weight is no number.
    """
    written = str(row["spelling"])
    for name in _NAME.findall(written):
        if name not in letters:
            raise row.error(f"no row of letters is called “{name}”.")
        written = written.replace(f"{{{name}}}", str(letters[name]["spelling"]))
    try:
        # What Python only warns of today, such as [[, is a slip in a row too.
        with warnings.catch_warnings(action="error", category=FutureWarning):
            spelling = re.compile(written)
    except (re.error, FutureWarning) as error:
        raise row.error(
            f"its spelling is not a regular expression: {error}.",
            "Compare it with the rows of leanings.toml.",
        ) from None
    if STRONG not in spelling.groupindex:
        raise row.error(
            "its spelling does not say which syllable is stressed.",
            f"Put that syllable into (?P<{STRONG}>...).",
        )
    weight = row["weight"]
    if isinstance(weight, bool) or not isinstance(weight, int | float) or not 0 <= weight <= 20:
        raise row.error("its weight must be a number from 0 to 20.")
    return Leaning(spelling, float(weight))


def guessed(word: str, leanings: Iterable[Leaning]) -> str:
    """Guess the code of a lower-case word (see `lexicon`) by the networks and the rules.

    Parameters
    ----------
    word : str
        Letters and apostrophes.
    leanings : iterable of Leaning
        Rules.

    Returns
    -------
    str
        One sign for each letter; one primary stress.
    """
    fits = [(rule, fit) for rule in leanings if (fit := rule.spelling.fullmatch(word))]
    lean = np.zeros(len(word), dtype=np.float32)
    joints = set()
    for rule, fit in fits:
        if WORD in rule.spelling.groupindex:
            joints.add(fit.start(WORD))
        start, stop = fit.span(STRONG)
        # rules that fit together tell the same twice, so their weights are not summed
        lean[start:stop] = np.maximum(lean[start:stop], rule.weight)
    ends = [0, *sorted(j for j in joints if 0 < j < len(word)), len(word)]
    odds = np.concatenate([guess.odds(word[a:b]) for a, b in pairwise(ends)])
    return guess.decoded(word, odds, lean)
