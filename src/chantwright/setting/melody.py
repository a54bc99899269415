"""New words to a known melody: a model hymn fitted syllable by syllable.

A new stanza is a true fellow of its model when it has the same number of syllables and its stresses
in the same places, so that the peaks of the line meet the stresses (Wellesz, *A History of
Byzantine Music and Hymnography*, on formulas). One or two extra weak syllables before an accent
are sung on the same note or lead up to it by step (the same). Everything else is an edit with a
price, and a phrase that needs more than two is better set from formulas.

Prices of an edit
-----------------
a stress on a weak place 5, a weak syllable on a stressed place 4, a light stress on a stressed
place 0.8 and on a weak place 1; an extra weak syllable 0.5; two places tied on one syllable 1, or
0.4 when the second is weak and repeats the note; the cadence (from the last stress on) is not
edited, save that its shape may change between 1, 10 and 100 (1.5). A stress out of place, or more
than two edits, and the phrase is better set from formulas.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from chantwright.errors import ChantError, Where
from chantwright.score import Hymn, Note, Phrase, Syllable, number
from chantwright.tuning import degree_name

__all__ = ["MANY", "Fitted", "PhraseFit", "fit", "fit_phrase"]

MANY = 2
"""More edits than this in a phrase: rather set it from formulas."""

_STRESS_ON_WEAK, _WEAK_ON_STRONG = 5.0, 4.0
_LIGHT_ON_STRONG, _LIGHT_ON_WEAK = 0.8, 1.0
_EXTRA, _TIED, _TIED_SAME, _SHAPE = 0.5, 1.0, 0.4, 1.5
_LOST_STRESS = 6.0


@dataclass(frozen=True, slots=True)
class PhraseFit:
    """How one phrase fits.

    Attributes
    ----------
    phrase, model : str
        Ids of the new phrase and of the phrase whose melody it takes.
    edits : int
        Syllables added or tied, stresses on wrong places, changes of the cadence's shape.
    cost : float
        Their prices; 0 is an exact fit.
    report : tuple of str
        Each edit as a sentence.
    """

    phrase: str
    model: str
    edits: int
    cost: float
    report: tuple[str, ...] = ()

    @property
    def exact(self) -> bool:
        """Whether the words fit without any edit."""
        return not self.edits and not self.cost

    @property
    def rather_formulas(self) -> bool:
        """Whether the phrase is better set from formulas: many edits, or a stress out of place."""
        return self.edits > MANY or self.cost >= _STRESS_ON_WEAK


@dataclass(frozen=True, slots=True)
class Fitted:
    """New words with the melody of a known hymn.

    Attributes
    ----------
    hymn : Hymn
        The new words, sung.
    phrases : tuple of PhraseFit
        One for each phrase.
    """

    hymn: Hymn
    phrases: tuple[PhraseFit, ...]

    @property
    def unfit(self) -> tuple[str, ...]:
        """Ids of the phrases that are better set from formulas."""
        return tuple(p.phrase for p in self.phrases if p.rather_formulas)


class _Way(NamedTuple):
    """The cheapest way to sing the first syllables on the first places of a melody."""

    cost: float
    edits: int
    notes: tuple[tuple[Note, ...], ...]
    report: tuple[str, ...]


def _match(new: Syllable, place: Syllable) -> tuple[float, str]:
    """Price of a syllable on a place, and what is wrong."""
    word = new.text.strip(".,;:!? ")
    if new.stress == 1 and place.stress != 1:
        price = _STRESS_ON_WEAK if place.stress == 0 else _LIGHT_ON_STRONG
        return price, f"the stress of “{word}” falls on a weak place" if not place.stress else ""
    if new.stress == 0 and place.stress == 1:
        return _WEAK_ON_STRONG, f"“{word}” is weak and falls on a stressed place"
    if new.stress == 2 and place.stress == 1:
        return _LIGHT_ON_STRONG, ""
    if new.stress == 2 and place.stress == 0:
        return _LIGHT_ON_WEAK, ""
    return 0.0, ""


def _extra_note(before: Note | None, after: Note | None) -> Note:
    """What an extra weak syllable sings: a step up to the coming accent, or the same note."""
    if before is None:
        return Note(after.degree if after is not None else 0)
    if after is not None and after.degree - before.degree >= 2:
        return Note(before.degree + 1)
    return Note(before.degree)


def _tie(before: tuple[Note, ...], more: tuple[Note, ...]) -> tuple[Note, ...]:
    """Two places sung on one syllable; a repeated note is not sung twice."""
    if before and more and before[-1].degree == more[0].degree:
        return (*before[:-1], replace(before[-1], beats=max(before[-1].beats, more[0].beats)),
                *more[1:])  # fmt: skip
    return (*before, *more)


def _better(a: _Way | None, b: _Way) -> _Way:
    return b if a is None or (b.cost, b.edits) < (a.cost, a.edits) else a


def _aligned(new: Sequence[Syllable], places: Sequence[Syllable], after: Note | None) -> _Way:
    """Lay syllables on places that may be edited; `after` is the note that follows them."""
    table: list[list[_Way | None]] = [[None] * (len(places) + 1) for _ in range(len(new) + 1)]
    table[0][0] = _Way(0.0, 0, (), ())
    for i in range(len(new) + 1):
        for j in range(len(places) + 1):
            way = table[i][j]
            if way is None:
                continue
            if i < len(new) and j < len(places):
                price, wrong = _match(new[i], places[j])
                table[i + 1][j + 1] = _better(
                    table[i + 1][j + 1],
                    _Way(
                        way.cost + price,
                        way.edits + bool(wrong),
                        (*way.notes, places[j].notes),
                        (*way.report, wrong) if wrong else way.report,
                    ),
                )
            if i < len(new):
                table[i + 1][j] = _better(table[i + 1][j], _added(way, new[i], places, j, after))
            if j < len(places):
                tied = _tied(way, places[j])
                table[i][j + 1] = _better(table[i][j + 1], tied)
    found = table[-1][-1]
    return found if found is not None else _Way(0.0, 0, (), ())


def _added(
    way: _Way, new: Syllable, places: Sequence[Syllable], j: int, after: Note | None
) -> _Way:
    """One more syllable than the melody has."""
    before = way.notes[-1][-1] if way.notes else None
    coming = places[j].notes[0] if j < len(places) else after
    note = _extra_note(before, coming)
    price = {0: _EXTRA, 2: _EXTRA + _LIGHT_ON_WEAK}.get(new.stress, _STRESS_ON_WEAK)
    word = new.text.strip(".,;:!? ")
    said = f"“{word}” is one syllable more: it sings {degree_name(note.degree)}"
    if new.stress == 1:
        said += ", and its stress has no place"
    return _Way(way.cost + price, way.edits + 1, (*way.notes, (note,)), (*way.report, said))


def _tied(way: _Way, place: Syllable) -> _Way:
    """One syllable less than the melody has: its notes go to the syllable before."""
    if not way.notes:  # nothing to tie to yet: the note is left out
        price = _TIED if place.stress != 1 else _LOST_STRESS
        said = f"the first note ({degree_name(place.notes[0].degree)}) is left out"
        return _Way(way.cost + price, way.edits + 1, (), (*way.report, said))
    same = (
        not place.stress and len(place.notes) == 1
        and place.notes[0].degree == way.notes[-1][-1].degree
    )  # fmt: skip
    price = _LOST_STRESS if place.stress == 1 else _TIED_SAME if same else _TIED
    notes = (*way.notes[:-1], _tie(way.notes[-1], place.notes))
    name = degree_name(place.notes[0].degree)
    said = f"a repeated {name} is left out" if same else f"{name} is tied to the note before"
    return _Way(way.cost + price, way.edits + 1, notes, (*way.report, said))


def _last_stress(syllables: Sequence[Syllable]) -> int:
    """Place of the last main stress; of the last light one, or the last syllable, without any."""
    for level in (1, 2):
        places = [i for i, s in enumerate(syllables) if s.stress == level]
        if places:
            return places[-1]
    return len(syllables) - 1


def _cadence(new: Sequence[Syllable], places: Sequence[Syllable]) -> _Way:
    """Lay the last stress and what follows it on the cadence."""
    notes = [p.notes for p in places]
    if len(new) == len(places):
        return _Way(0.0, 0, tuple(notes), ())
    shapes = f"the cadence is made for {_shape(places)} and sung as {_shape(new)}"
    while len(notes) > len(new):  # fewer syllables: the last two places are tied
        last = notes.pop()
        notes[-1] = _tie(notes[-1], last)
    while len(notes) < len(new):
        if len(notes) == 1:  # a strong end becomes 10: its last note goes to the new syllable
            first = notes[0]
            head = first[:-1] or (Note(first[0].degree),)
            notes = [head, (first[-1],)]
        else:  # a further weak syllable sings the last note beforehand
            notes.insert(-1, (Note(notes[-1][0].degree, Fraction(1)),))
    return _Way(_SHAPE, 1, tuple(notes), (shapes,))


def _shape(syllables: Sequence[Syllable]) -> str:
    after = len(syllables) - 1
    return "1" + "0" * after if after < 3 else "1000 and more"


def fit_phrase(new: Phrase, model: Phrase) -> tuple[Phrase, PhraseFit]:
    """Sing a phrase to the melody of another.

    Parameters
    ----------
    new : Phrase
        Divided, with its stresses.
    model : Phrase
        With its melody and the stresses of its own words.

    Returns
    -------
    (Phrase, PhraseFit)
    """
    words, places = new.syllables, model.syllables
    a, b = _last_stress(words), _last_stress(places)
    if [s.stress == 1 for s in words] == [s.stress == 1 for s in places]:
        a = b  # a true fellow, however its light stresses lie
    close = _cadence(words[a:], places[b:])
    head = _aligned(words[:a], places[:b], close.notes[0][0])
    notes = (*head.notes, *close.notes)
    if len(words[:a]) == 0 and b:  # the phrase begins with its cadence
        notes = close.notes
    ison = [p.ison for p in places]
    held = [ison[min(i, len(ison) - 1)] for i in range(len(words))]
    held[len(words) - 1] = ison[-1]
    sung = tuple(replace(s, notes=n, ison=h) for s, n, h in zip(words, notes, held, strict=True))
    done = replace(new, syllables=sung, cadence=model.cadence or new.cadence, scale=model.scale)
    return done, PhraseFit(
        new.id, model.id, head.edits + close.edits, head.cost + close.cost,
        (*head.report, *close.report),
    )  # fmt: skip


def _paired(new: Sequence[Phrase], model: Sequence[Phrase]) -> list[int]:
    """For each new phrase the phrase of the model; the last ends with the last.

    Where there are more, the melody comes round again; where there are fewer, those of the model
    are passed over that fit worst.
    """
    n, m = len(new), len(model)
    if n >= m:
        return [*(i % max(1, m - 1) for i in range(n - 1)), m - 1]
    costs = [[fit_phrase(p, q)[1].cost for q in model] for p in new]
    best: dict[tuple[int, int], tuple[float, list[int]]] = {}
    for i in range(n):
        for j in range(i, m - (n - 1 - i)):
            if (i == 0 and j != 0 and n > 1) or (i == n - 1 and j != m - 1):
                continue
            before = [best[i - 1, k] for k in range(j) if (i - 1, k) in best] if i else [(0.0, [])]
            if before:
                cost, path = min(before, key=lambda w: w[0])
                best[i, j] = (cost + costs[i][j], [*path, j])
    return best[n - 1, m - 1][1]


def fit(words: Hymn, model: Hymn) -> Fitted:
    """Sing new words to the melody of a known hymn.

    Parameters
    ----------
    words : Hymn
        Divided, with stresses.
    model : Hymn
        Every phrase with its melody and stresses.

    Returns
    -------
    Fitted
        Where the model has as many phrases, each takes the melody of its fellow.

    Raises
    ------
    ChantError
        If the words are not divided, or the model has no melody or no stresses.
    """
    if not words.phrases or not all(p.syllables for p in words.phrases):
        raise ChantError(
            "these words are not divided into syllables yet.",
            remedy="Divide the words first (chantwright.words.divide).",
        )
    if not model.is_set:
        raise ChantError(
            f"“{model.title or 'the model'}” has no melody for every phrase.",
            remedy="Write its notes into the hymn file, or set it first.",
        )
    bare = next((p for p in model.phrases if not any(s.stress for s in p.syllables)), None)
    if bare is not None:
        raise ChantError(
            "the model's stresses are not known, so its melody cannot be laid on other words.",
            where=Where(word=bare.words[:40]),
            remedy="Write a “stress:” line under each phrase of the model.",
        )
    whole = number(words)
    phrases, fits = [], []
    for phrase, at in zip(whole.phrases, _paired(whole.phrases, model.phrases), strict=True):
        done, told = fit_phrase(phrase, model.phrases[at])
        phrases.append(done)
        fits.append(told)
    hymn = replace(
        whole,
        phrases=tuple(phrases),
        tone=model.tone,
        branch=model.branch,
        style=model.style,
        tempo=whole.tempo or model.tempo,
        base=model.base,
        ending=model.ending,
        intonation=model.intonation,
        melody_kind="model",
        melody_source=f"after the melody of “{model.title}”" if model.title else "after a model",
    )
    return Fitted(hymn, tuple(fits))
