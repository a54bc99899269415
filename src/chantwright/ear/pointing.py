"""Names for places in a hymn, as a teacher would point at them: syllable, word, phrase."""

from __future__ import annotations

from dataclasses import dataclass

from chantwright.ear.expected import Expected
from chantwright.score.model import Syllable

__all__ = ["Places", "clock"]

_ORDER = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
_EDGES = ".,;:!?·*|()[]“”\"'"


def clock(seconds: float) -> str:
    """Minutes and seconds, such as 0:07."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


@dataclass(frozen=True, slots=True)
class _Spot:
    phrase: int
    syllable: Syllable
    word: str
    note: int


class Places:
    """Names for the notes of one hymn.

    Parameters
    ----------
    expected : Expected
        Its line.
    """

    def __init__(self, expected: Expected) -> None:
        self._phrases = expected.hymn.phrases
        self._spots: list[_Spot] = []
        for number, phrase in enumerate(self._phrases):
            words: list[list[Syllable]] = []
            for syllable in phrase.syllables:
                if syllable.place in ("single", "begin") or not words:
                    words.append([])
                words[-1].append(syllable)
            for parts in words:
                word = "".join(p.text for p in parts).strip(_EDGES)
                for part in parts:
                    for index in range(len(part.notes)):
                        self._spots.append(_Spot(number, part, word, index))

    def phrase_of(self, index: int) -> int:
        """Phrase of a note, counted from 0."""
        return self._spots[index].phrase

    def syllable(self, index: int) -> str:
        """The syllable of a note and its word, in quotation marks."""
        spot = self._spots[index]
        text = spot.syllable.text.strip(_EDGES)
        if not text:
            return f"note {index + 1}"
        if text == spot.word:
            return f"“{text}”"
        hyphen = {"begin": f"{text}-", "end": f"-{text}", "middle": f"-{text}-"}
        return f"“{hyphen.get(spot.syllable.place, text)}” of “{spot.word}”"

    def note(self, index: int) -> str:
        """A note: its syllable, which note of it, and the phrase."""
        spot = self._spots[index]
        which = ""
        if len(spot.syllable.notes) > 1:
            which = f"the {_ORDER[min(spot.note, 7)]} note of "
        return f"{which}{self.syllable(index)} (phrase {spot.phrase + 1})"

    def span(self, first: int, last: int) -> str:
        """A run of notes: one syllable, or from one to another, and the phrase."""
        here, there = self._spots[first], self._spots[last]
        if here.syllable is there.syllable:
            whole = here.note == 0 and there.note == len(there.syllable.notes) - 1
            return self.note(first) if not whole else self._with_phrase(first)
        return f"{self.syllable(first)} to {self._with_phrase(last)}"

    def _with_phrase(self, index: int) -> str:
        return f"{self.syllable(index)} (phrase {self._spots[index].phrase + 1})"

    def phrase(self, number: int) -> str:
        """A phrase: its number and its first words."""
        words = self._phrases[number].words.split()
        head = " ".join(words[:3]).strip(_EDGES)
        return f"phrase {number + 1}" + (f" (“{head}…”)" if head else "")

    def phrases(self, first: int, last: int) -> str:
        """The phrases from one note to another."""
        a, b = self._spots[first].phrase, self._spots[last].phrase
        return self.phrase(a) if a == b else f"phrases {a + 1} to {b + 1}"
