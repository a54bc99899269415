"""A setting told: as JSON for pages and tests, as text for a reader at a terminal.

In the JSON a degree is an integer (ni = 0) and a length is an exact string in beats ("1", "1/2",
"4"). An ison is a degree, the word "unison", or null.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from chantwright.score import UNISON, Phrase, Syllable, called
from chantwright.setting.setter import Figure, Setting
from chantwright.tuning import degree_name

__all__ = ["describe", "syllable_text", "to_json"]


def _figure(figure: Figure) -> dict[str, Any]:
    return {
        "formula": figure.formula,
        "role": figure.role,
        "first": figure.first,
        "last": figure.last,
        "terms": {name: round(price, 3) for name, price in figure.terms},
    }


def _sums(terms: tuple[tuple[str, float], ...]) -> dict[str, float]:
    sums: dict[str, float] = {}
    for name, price in terms:
        sums[name] = round(sums.get(name, 0.0) + price, 3)
    return sums


def to_json(setting: Setting) -> dict[str, Any]:
    """Return a setting as plain data.

    Parameters
    ----------
    setting : Setting
        The setting.

    Returns
    -------
    dict
        title, tone, branch, style, ending, intonation, cost, and phrases; each phrase with id,
        syllables, stress, degrees, beats, bends (moria), ison, cadence, figures and terms.
    """
    hymn = setting.hymn
    phrases = []
    for phrase, figures, terms in zip(hymn.phrases, setting.figures, setting.terms, strict=True):
        phrases.append(
            {
                "id": phrase.id,
                "syllables": [s.text for s in phrase.syllables],
                "stress": [s.stress for s in phrase.syllables],
                "degrees": [[n.degree for n in s.notes] for s in phrase.syllables],
                "beats": [[str(n.beats) for n in s.notes] for s in phrase.syllables],
                "bends": [[str(n.bend) for n in s.notes] for s in phrase.syllables],
                "ison": [s.ison for s in phrase.syllables],
                "cadence": figures[-1].role if figures else phrase.cadence,
                "figures": [_figure(f) for f in figures],
                "terms": _sums(terms),
            }
        )
    return {
        "title": hymn.title,
        "tone": hymn.tone,
        "branch": hymn.branch,
        "style": hymn.style,
        "ending": hymn.ending,
        "intonation": hymn.intonation,
        "cost": round(setting.cost, 3),
        "phrases": phrases,
    }


def _note(degree: int, beats: str) -> str:
    return degree_name(degree) + ("" if beats == "1" else f":{beats}")


def syllable_text(syllable: Syllable) -> str:
    """One syllable with its notes: ``'Lord=ga+vou:2``."""
    mark = {1: "'", 2: ","}.get(syllable.stress, "")
    notes = "+".join(_note(n.degree, str(n.beats)) for n in syllable.notes)
    hyphen = "-" if syllable.place in ("begin", "middle") else ""
    return f"{mark}{syllable.text}{hyphen}={notes}"


def _ison(phrase: Phrase) -> str:
    out: list[str] = []
    for syllable in phrase.syllables:
        held = syllable.ison
        name = "-" if held is None else held if held == UNISON else degree_name(held)
        if not out or out[-1] != name:
            out.append(name)
    return " ".join(out)


def _lines(setting: Setting, only: str) -> Iterator[str]:
    hymn = setting.hymn
    yield f"{called(hymn)}: tone {hymn.tone}, {hymn.branch}"
    for phrase, figures, terms in zip(hymn.phrases, setting.figures, setting.terms, strict=True):
        if only and phrase.id != only:
            continue
        yield "  " + " ".join(syllable_text(s) for s in phrase.syllables)
        yield f"    ison {_ison(phrase)}"
        if figures:
            yield "    " + ", ".join(f.formula for f in figures)
        else:
            yield "    kept as it was"
        paid = {k: v for k, v in _sums(terms).items() if k != "weight" and v >= 0.3}
        if paid:
            yield "    accepted: " + ", ".join(f"{k} {v:.1f}" for k, v in paid.items())


def describe(setting: Setting, only: str = "") -> str:
    """Return a setting as text: words, notes, ison, formulas and what was accepted.

    Parameters
    ----------
    setting : Setting
        The setting.
    only : str
        Id of the one phrase to show; all of them when empty.
    """
    return "\n".join(_lines(setting, only))
