"""Why a note is what it is: the formula it comes from, what the words asked, what was paid.

Every syllable of a setting can answer: which formula and which slot of it gave its notes, where
that row comes from and how sure we are, which awkwardness was accepted at this place and at what
price, and whose music the phrase takes up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from chantwright.errors import ChantError
from chantwright.score import Phrase, Syllable
from chantwright.setting.account import account
from chantwright.setting.book import Books
from chantwright.setting.report import syllable_text
from chantwright.setting.setter import Setting, prices_of
from chantwright.setting.slots import format_slots
from chantwright.setting.taste import manner

__all__ = ["Reason", "reasons", "tell", "why"]

_STRESSES = {0: "weak", 1: "stressed", 2: "lightly stressed"}
_KINDS = {"S": "a stressed syllable", "w": "a weak syllable", "a": "any syllable"}
_ANSWERS = {
    "equal": "its words are the same",
    "parallel": "its words are built alike",
    "marked": "the teacher marked it",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a syllable sings what it sings.

    Attributes
    ----------
    phrase, syllable : str
        Ids.
    text : str
        The syllable with its notes.
    stress : int
        What the words ask: 0, 1 or 2.
    formula, role : str
        Id and role of the formula; empty where the teacher's melody was kept.
    slot : str
        The slot of the formula, as written in its row.
    kind : str
        What the slot is meant for: S, w or a.
    conf, src, origin : str
        How sure the row is, its sources, ours or the parish's.
    paid : tuple of (str, str, float)
        Prices paid at this syllable: name, meaning, price.
    answers : str
        Phrase whose music this one takes up, and why; empty where it stands alone.
    """

    phrase: str
    syllable: str
    text: str
    stress: int
    formula: str
    role: str
    slot: str
    kind: str
    conf: str
    src: str
    origin: str
    paid: tuple[tuple[str, str, float], ...]
    answers: str


_AT_THE_BEGINNING = ("entry", "same-opening", "same-bridge", "peak-passed")


def _place(name: str, syllables: int) -> int:
    """Syllable that answers for a price which a phrase pays in its hymn.

    The first, or the last for all that has to do with its close.
    """
    return 0 if name in _AT_THE_BEGINNING else syllables - 1


def _kept(phrase: Phrase, syllable: Syllable) -> Reason:
    text = syllable_text(syllable)
    return Reason(phrase.id, syllable.id, text, syllable.stress, "", "", "", "", "", "", "", (), "")


def reasons(setting: Setting, books: Books) -> Iterator[Reason]:
    """Yield the reason of every syllable, in order.

    Parameters
    ----------
    setting : Setting
        From `set_hymn` or `set_phrase`.
    books : Books
        The books it was set with.
    """
    phrases = setting.hymn.phrases
    for number, (phrase, figures) in enumerate(zip(phrases, setting.figures, strict=True)):
        line = setting.plan[number].choice.line if setting.plan else None
        if line is None or not figures:
            yield from (_kept(phrase, s) for s in phrase.syllables)
            continue
        prices = prices_of(books, manner(setting))
        told = ((_place(n, len(phrase.syllables)), n, v) for n, v in setting.plan[number].terms)
        paid = [*((p.place, p.name, p.price) for p in account(line, prices)), *told]
        to, kind = setting.answers[number]
        answers = "" if to is None else f"it answers {phrases[to].id}: {_ANSWERS[kind]}"
        at = 0
        for piece in line.pieces:
            formula = piece.formula
            for slot in piece.slots:
                syllable = phrase.syllables[at]
                yield Reason(
                    phrase.id,
                    syllable.id,
                    syllable_text(syllable),
                    syllable.stress,
                    formula.id,
                    formula.role,
                    format_slots([formula.slots[slot]]),
                    formula.slots[slot].kind,
                    formula.conf,
                    ", ".join(formula.src),
                    formula.origin,
                    tuple(
                        (name, books.weights[name].text, price)
                        for place, name, price in paid
                        if place == at and price and name != "weight"
                    ),
                    answers,
                )
                at += 1


def why(setting: Setting, books: Books, place: str) -> Reason:
    """Say why a syllable, or one of its notes, is what it is.

    Parameters
    ----------
    setting : Setting
        The setting.
    books : Books
        The books it was set with.
    place : str
        Id of the syllable (``p2s3``) or of a note of it (``p2s3n1``).

    Raises
    ------
    ChantError
        If there is no such place.
    """
    for reason in reasons(setting, books):
        if place == reason.syllable or (
            place.startswith(reason.syllable + "n") and place[len(reason.syllable) + 1 :].isdigit()
        ):
            return reason
    raise ChantError(
        f"there is no syllable “{place}”.",
        remedy="Name one such as p2s3: the third syllable of the second phrase.",
    )


def tell(reason: Reason) -> str:
    """One reason as a sentence or two."""
    if not reason.formula:
        return f"{reason.syllable} {reason.text}: the melody was there already and is kept."
    word = _STRESSES[reason.stress]
    out = (
        f"{reason.syllable} {reason.text}: {word}; {reason.role} {reason.formula}, slot "
        f"{reason.slot} ({_KINDS[reason.kind]}); {reason.src}, confidence {reason.conf}"
        f"{', own row' if reason.origin == 'parish' else ''}."
    )
    for name, text, price in reason.paid:
        out += f" Accepted: {text} ({name}, {price:.2g})."
    if reason.answers:
        out += f" The phrase: {reason.answers}."
    return out
