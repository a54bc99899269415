"""The timing map of a recording: when every part, phrase, syllable and note sounds.

Conventions
-----------
Seconds from the first sample; pitches in Hz; moria above diatonic ni. Ids are those of the score,
so a page can light up the syllable that is heard and the ear can compare a learner's note with
the note that was asked. In the intonation ids begin with ``intonation``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from chantwright.voice.contour import PhraseEvent

__all__ = ["NoteTime", "Part", "PhraseTime", "SyllableTime", "Timing", "timed"]


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of the recording: intonation, count-in, phrase, or answer (of the learner)."""

    kind: str
    start: float
    end: float
    phrase: str = ""


@dataclass(frozen=True, slots=True)
class PhraseTime:
    """A phrase; the rest after it is not included."""

    id: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class SyllableTime:
    """A syllable, its vowel beginning at `start`."""

    id: str
    phrase: str
    text: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class NoteTime:
    """A note from its beat to the next; `stop` is where its sound ends when a breath follows."""

    id: str
    syllable: str
    start: float
    end: float
    stop: float
    degree: int
    moria: float
    hz: float


@dataclass(frozen=True, slots=True)
class Timing:
    """The whole map.

    Attributes
    ----------
    rate : int
        Samples a second.
    seconds : float
        Length of the recording.
    tempo : float
        Beats a minute as heard, the pace included.
    base_degree, base_hz : int, float
        The base and its pitch.
    parts, phrases, syllables, notes : tuples
        In order of time.
    """

    rate: int
    seconds: float
    tempo: float
    base_degree: int
    base_hz: float
    parts: tuple[Part, ...]
    phrases: tuple[PhraseTime, ...]
    syllables: tuple[SyllableTime, ...]
    notes: tuple[NoteTime, ...]

    def note_at(self, seconds: float) -> NoteTime | None:
        """Note that is heard at a moment, or None."""
        return next((n for n in self.notes if n.start <= seconds < n.stop), None)

    def to_json(self) -> str:
        """One JSON document; the fields are those of the classes here. Times to a microsecond."""
        document = json.loads(json.dumps(asdict(self)), parse_float=lambda t: round(float(t), 6))
        return json.dumps(document, ensure_ascii=False, indent=1)

    def as_rows(self) -> dict[str, Any]:
        """Everything as plain lists and numbers, without names; see `from_rows`."""
        return {
            "head": [self.rate, self.seconds, self.tempo, self.base_degree, self.base_hz],
            **{name: [_values(row) for row in getattr(self, name)] for name in _ROWS},
        }

    @classmethod
    def from_rows(cls, document: Mapping[str, Any]) -> Timing:
        """Read `as_rows` back.

        Raises
        ------
        KeyError, TypeError
            If it is something else.
        """
        rows: dict[str, Any] = {
            name: tuple(kind(*row) for row in document[name]) for name, kind in _ROWS.items()
        }
        return cls(*document["head"], **rows)


def timed(
    phrases: Iterable[PhraseEvent],
) -> tuple[tuple[PhraseTime, ...], tuple[SyllableTime, ...], tuple[NoteTime, ...]]:
    """Turn events into the rows of the map."""
    rows: list[PhraseTime] = []
    syllables: list[SyllableTime] = []
    notes: list[NoteTime] = []
    for phrase in phrases:
        rows.append(PhraseTime(phrase.id, phrase.start, phrase.end))
        for event in phrase.syllables:
            name = event.notes[0].syllable
            syllables.append(
                SyllableTime(name, phrase.id, event.syllable.text, event.start, event.end)
            )
            notes += [
                NoteTime(n.id, n.syllable, n.start, n.end, n.stop, n.degree, n.moria, n.hz)
                for n in event.notes
            ]
    return tuple(rows), tuple(syllables), tuple(notes)


_ROWS: Mapping[str, Callable[..., Any]] = {
    "parts": Part,
    "phrases": PhraseTime,
    "syllables": SyllableTime,
    "notes": NoteTime,
}


def _values(row: Any) -> list[Any]:
    return [getattr(row, f.name) for f in fields(row)]
