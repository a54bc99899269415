"""A hymn as neumes: phrases, rests, scale changes.

The grid of beats runs through the whole hymn, so a phrase may end inside a beat and the next go on
in it. What is missing of the very last beat is filled up by a rest.
"""

from __future__ import annotations

from fractions import Fraction

from chantwright.engrave.events import branch_of, check
from chantwright.engrave.neumes.model import NeumeLine, NeumeScore
from chantwright.engrave.neumes.orthography import Tone, spell
from chantwright.engrave.neumes.tables import Tables, load_tables
from chantwright.engrave.neumes.times import timed
from chantwright.score import Hymn, Phrase, note_id, number
from chantwright.tones import Tones

__all__ = ["phrase_tones", "to_neumes"]


def phrase_tones(phrase: Phrase, before: int) -> tuple[list[Tone], int]:
    """Notes and the rest of a phrase as the orthography sees them, and the degree it ends on.

    Parameters
    ----------
    phrase : Phrase
        With its notes.
    before : int
        Degree of the note before it.
    """
    out = []
    for syllable in phrase.syllables:
        for index, note in enumerate(syllable.notes):
            out.append(
                Tone(
                    note_id(syllable, index),
                    note.degree - before,
                    note.beats,
                    index == 0,
                    syllable.stress,
                    note.bend,
                    syllable.text,
                )
            )
            before = note.degree
    if phrase.rest > 0:
        out.append(Tone("", None, phrase.rest))
    return out, before


def to_neumes(hymn: Hymn, tones: Tones, tables: Tables | None = None) -> NeumeScore:
    """Write a hymn in neumes.

    Parameters
    ----------
    hymn : Hymn
        With its melody.
    tones : Tones
        For the branch, its base and scale.
    tables : Tables, optional
        The rules; ours when left out.

    Returns
    -------
    NeumeScore
        Ids are those of the numbered hymn (`chantwright.score.number`).

    Raises
    ------
    ChantError
        If a phrase has no melody, a leap or a length has no sign, or the branch is not known.
    """
    tables = tables or load_tables()
    check(hymn)
    hymn = number(hymn)
    branch = branch_of(hymn, tones)
    before = branch.base
    phrases: list[list[Tone]] = []
    closes: list[int] = []
    for phrase in hymn.phrases:
        found, before = phrase_tones(phrase, before)
        phrases.append(found)
        closes.append(before)
    flat = [t for found in phrases for t in found]
    times, pad = timed([t.beats for t in flat], tables, [t.word for t in flat])
    if pad:
        extra = pad + (flat[-1].beats if flat[-1].step is None else Fraction(0))
        if flat[-1].step is None:
            phrases[-1].pop()
        phrases[-1].append(Tone("", None, extra))
        flat = [t for found in phrases for t in found]
        times, _ = timed([t.beats for t in flat], tables, [t.word for t in flat])
    lines, at, scale = [], 0, branch.scale
    for phrase, found, close in zip(hymn.phrases, phrases, closes, strict=True):
        neumes = spell(found, times[at : at + len(found)], tables)
        at += len(found)
        changed = phrase.scale is not None and phrase.scale != scale
        scale = phrase.scale or scale
        lines.append(NeumeLine(phrase.id, neumes, scale if changed else "", close, scale))
    return NeumeScore(branch.base, tuple(lines), pad)
