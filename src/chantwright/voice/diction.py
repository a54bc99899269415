"""How the words of a phrase are said so that every syllable can carry a note.

A singer gives each syllable its full vowel: "unto" is not "untə", and no vowel is whispered away.
So every syllable is said with a stress at least as light as the secondary one, the little words
that speech swallows are taken from ``data/phones.toml`` in their full form, and what the
dictionary lacks (another language, a note name, a made-up division) is said by our own spelling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from chantwright.rows import PARISH
from chantwright.score.model import Syllable
from chantwright.voice.phones import Phones, divide, spelled, strong_forms, words_of
from chantwright.voice.sounds import Spelling, load_sounds
from chantwright.voice.speech import speaker

__all__ = ["TAIL", "said_of"]

TAIL = "hˈA."
"""Said after every phrase and cut off: speech creaks on its last vowel, and singing must not."""


def said_of(
    syllables: Sequence[Syllable], language: str, spelling: Spelling | None = None
) -> tuple[tuple[Phones, ...], tuple[str, ...]]:
    """Phones of the syllables of a phrase.

    Parameters
    ----------
    syllables : sequence of Syllable
        In order.
    language : str
        Language tag; anything but English is said by spelling alone.
    spelling : Spelling, optional
        Tables of sounds, a parish's rows included.

    Returns
    -------
    phones : tuple of Phones
        One for each syllable.
    guessed : tuple of str
        Words that the engine's dictionary could not divide as they are written.
    """
    spelling = spelling or load_sounds()
    words = words_of(syllables)
    english = language.partition("-")[0].lower() == "en"
    whole = ["".join(s.text for s in word) for word in words]
    read = speaker().pronounce(whole) if english else [""] * len(words)
    out: list[Phones] = []
    guessed: list[str] = []
    for word, written, said in zip(words, whole, read, strict=True):
        bare = "".join(c for c in written.casefold() if c.isalpha())
        own = any(_corrected(s, spelling) for s in word)
        groups = None if own else divide(said and strong_forms().get(bare, said), word, spelling)
        if groups is None:
            groups = [spelled(s, language, spelling) for s in word]
            if english and not own:
                guessed.append(written)
        out += [replace(g, stress=g.stress or 2) for g in groups]
    return tuple(out), tuple(guessed)


def _corrected(syllable: Syllable, spelling: Spelling) -> bool:
    """Whether the parish has a row of its own for this syllable."""
    bare = "".join(c for c in syllable.text.casefold() if c.isalpha())
    row = spelling.rows["word"].get(bare)
    return row is not None and row.origin == PARISH
