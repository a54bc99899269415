"""Hymns made of hymns: a phrase again and again, and verse after verse."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chantwright.errors import ChantError
from chantwright.score.model import Hymn, Phrase

__all__ = ["joined", "looped"]

_SAME = (
    ("tone", "tone"),
    ("branch", "branch of the tone"),
    ("language", "language"),
    ("base", "base pitch"),
)


def looped(hymn: Hymn, phrase: int, times: int, rest: Fraction | int = 2) -> Hymn:
    """Take one phrase of a hymn and repeat it.

    Parameters
    ----------
    hymn : Hymn
        Set.
    phrase : int
        Which, counted from 1.
    times : int
        How often, 1 to 50.
    rest : Fraction or int
        Beats of silence between one time and the next.

    Raises
    ------
    ChantError
        If there is no such phrase, or a number makes no sense.
    """
    count = len(hymn.phrases)
    if not 1 <= phrase <= count:
        raise ChantError(
            f"“{hymn.title or 'this hymn'}” has no phrase {phrase}.",
            remedy=f"Choose one from 1 to {count}." if count else "Write its words first.",
        )
    if not 1 <= times <= 50 or not 0 <= rest <= 64:
        raise ChantError(
            "a phrase can be repeated 1 to 50 times, with 0 to 64 beats between.",
            remedy="Choose smaller numbers.",
        )
    scales = [p.scale for p in hymn.phrases[:phrase] if p.scale]
    one = replace(
        hymn.phrases[phrase - 1], scale=scales[-1] if scales else None, rest=Fraction(rest)
    )
    return replace(hymn, phrases=(one,) * times)


def joined(hymns: Sequence[Hymn], rest: Fraction | int = 1) -> Hymn:
    """Set hymns of one tone and pitch one after the other, as the verses of one.

    Parameters
    ----------
    hymns : sequence of Hymn
        In order; the first gives title, tempo and intonation.
    rest : Fraction or int
        Beats of silence between verses, where a hymn's last phrase has none of its own.

    Raises
    ------
    ChantError
        If there are none, or they differ in tone, branch, language or base.
    """
    if not hymns:
        raise ChantError("there are no verses to sing.", remedy="Name at least one hymn file.")
    first = hymns[0]
    phrases: list[Phrase] = []
    scale: str | None = None
    for number, hymn in enumerate(hymns, start=1):
        for field, name in _SAME:
            if getattr(hymn, field) != getattr(first, field):
                raise ChantError(
                    f"verse {number} (“{hymn.title}”) has another {name} than the first.",
                    remedy="Sing them as recordings of their own.",
                )
        own = list(hymn.phrases)
        if not own:
            continue
        if scale is not None and own[0].scale is None:
            raise ChantError(
                f"verse {number} (“{hymn.title}”) follows a verse that ends in another scale.",
                remedy="Write the scale at its first phrase, or sing it as a recording of its own.",
            )
        scale = next((p.scale for p in reversed(own) if p.scale), None)
        if number < len(hymns) and not own[-1].rest:
            own[-1] = replace(own[-1], rest=Fraction(rest))
        if number > 1:
            stem = f"v{number}"
            own = [
                replace(
                    p,
                    id=p.id and stem + p.id,
                    syllables=tuple(replace(s, id=s.id and stem + s.id) for s in p.syllables),
                )
                for p in own
            ]
        phrases += own
    return replace(first, phrases=tuple(phrases))
