"""The verdict on a take: what was sung, how true, and the one thing to practise next.

Conventions
-----------
Moria and seconds, beats a minute. A level sets how strictly notes are judged; the sizes stand in
the listening rows of the tones (``flag_beginner`` and so on). The verdict never says more than the
ear can stand by: a single note is told only when it is off by more than the hold of
``data/verdict.toml``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from chantwright.ear.alignment import Alignment, Heard
from chantwright.ear.contour import Contour
from chantwright.ear.degrees import DegreeReport, Habit, degree_reports, habit
from chantwright.ear.events import Event, events
from chantwright.ear.expected import Expected, to_hz, to_moria
from chantwright.ear.findings import (
    Finding,
    Judgement,
    base_findings,
    event_findings,
    manner_findings,
    tuning,
)
from chantwright.ear.manner import tempi
from chantwright.ear.pointing import Places, clock
from chantwright.ear.sentences import Speech, load_speech
from chantwright.ear.singing import NEAR, away, steadiness
from chantwright.errors import ChantError
from chantwright.tones import Tones
from chantwright.tuning import degree_name

__all__ = ["LEVELS", "TROUBLE", "Verdict", "judge"]

LEVELS = ("beginner", "regular", "leader")

TROUBLE = ("wrong", "skip", "repeat", "restart", "left out")
"""Events that a take has too many of when it is another hymn."""
_ONE_NOTE = 0.25  # of the hymn's own share away from its middle note: less is one held note


@dataclass(frozen=True, slots=True, eq=False)
class Verdict:
    """The verdict.

    Attributes
    ----------
    status : str
        heard, unsure, another hymn, or nothing sung.
    level : str
        One of `LEVELS`.
    limit : float
        Moria a note may be off at that level.
    summary : tuple of str
        First sentences: the status, the base.
    findings : tuple of Finding
        Everything remarked on, in the order in which a teacher would say it.
    practise : str
        The one thing to practise next; empty where nothing was judged.
    base_hz : float
        Pitch of the base degree at the beginning; ``nan`` where unknown.
    base_degree : int
        The tone's base.
    tempo : float
        Beats a minute; ``nan`` where unknown.
    degrees : tuple of DegreeReport
        From low to high.
    habit : Habit or None
        How far towards a keyboard.
    alignment : Alignment
        Note by note.
    contour : Contour
        What was heard.
    counted : tuple of Heard
        The notes that are judged: those before a restart are set aside.
    """

    status: str
    level: str
    limit: float
    summary: tuple[str, ...]
    findings: tuple[Finding, ...]
    practise: str
    base_hz: float
    base_degree: int
    tempo: float
    degrees: tuple[DegreeReport, ...]
    habit: Habit | None
    alignment: Alignment
    contour: Contour
    counted: tuple[Heard, ...]


def _limit(tones: Tones, level: str) -> float:
    if level not in LEVELS:
        raise ChantError(f"“{level}” is no level.", remedy=f"Choose one of: {', '.join(LEVELS)}.")
    return float(tones.listening[f"flag_{level}"].moria)


def _counted(alignment: Alignment, found: Iterable[Event]) -> tuple[Heard, ...]:
    """Leave out what was sung before a restart and sung again after it."""
    aside: set[int] = set()
    for event in found:
        if event.kind != "restart":
            continue
        for k, one in enumerate(alignment.heard):
            if one.start < event.time and event.first <= one.index <= event.last:
                aside.add(k)
    return tuple(h for k, h in enumerate(alignment.heard) if k not in aside)


def _written_away(expected: Expected) -> float:
    """Part of the hymn's beats on other notes than its middle one; 0 for a hymn on one pitch."""
    beats = np.array([float(n.beats) for n in expected.notes])
    places = np.array([n.moria for n in expected.notes])
    order = np.argsort(places)
    half = np.searchsorted(np.cumsum(beats[order]), beats.sum() / 2)
    return float(beats[np.abs(places - places[order][half]) > NEAR].sum() / beats.sum())


def _refusal(
    alignment: Alignment, found: tuple[Event, ...], contour: Contour, speech: Speech
) -> tuple[str, str] | None:
    """Why nothing can be judged, as status and sentence."""
    sung = float(contour.voiced.sum()) * contour.hop
    if sung < speech.limit("sung_seconds"):
        return "nothing sung", speech.say("nothing")
    if away(contour) < _ONE_NOTE * _written_away(alignment.expected):
        return "nothing sung", speech.say("one_note")
    fits = alignment.explained >= speech.limit("other_share")
    fits = fits and alignment.score >= speech.limit("other_score")
    trouble = sum(e.kind in TROUBLE for e in found) / max(1, len(alignment.heard))
    fits = fits and bool(alignment.heard) and trouble <= speech.limit("other_trouble")
    if fits:
        return None
    if steadiness(contour) < speech.limit("steady_share"):
        return "nothing sung", speech.say("talking")
    title = alignment.expected.hymn.title or "the hymn"
    return "another hymn", speech.say("other", title=title)


def judge(
    alignment: Alignment,
    contour: Contour,
    tones: Tones,
    *,
    level: str = "regular",
    base_hz: float | None = None,
    overrides: Iterable[Path] = (),
) -> Verdict:
    """Judge a take.

    Parameters
    ----------
    alignment : Alignment
        From `chantwright.ear.alignment.align`.
    contour : Contour
        The same contour.
    tones : Tones
        For the limits of the levels.
    level : str
        One of `LEVELS`.
    base_hz : float, optional
        Pitch of ni that was given to the singer.
    overrides : iterable of Path
        Parish files whose sentences and limits win.

    Raises
    ------
    ChantError
        If the level is unknown.
    """
    speech = load_speech(overrides)
    limit = _limit(tones, level)
    expected = alignment.expected
    empty = Verdict(
        status="heard",
        level=level,
        limit=limit,
        summary=(),
        findings=(),
        practise="",
        base_hz=float("nan"),
        base_degree=expected.branch.base,
        tempo=float("nan"),
        degrees=(),
        habit=None,
        alignment=alignment,
        contour=contour,
        counted=(),
    )
    found = events(alignment)
    if (why := _refusal(alignment, found, contour, speech)) is not None:
        status, sentence = why
        return replace(empty, status=status, summary=(sentence,))
    assert alignment.fit is not None
    known = alignment.fit.line.kind == "known"
    counted = _counted(alignment, found)
    kept = {id(h) for h in counted}
    aside = {(h.index, h.start) for h in alignment.heard if id(h) not in kept}
    told = [e for e in found if e.kind != "wrong" or (e.first, e.time) not in aside]
    judgement = Judgement(alignment, counted, contour, speech, Places(expected), limit, known)
    degrees = degree_reports(counted, expected, known=known)
    keyboard = habit(counted, expected)
    findings = [
        *base_findings(judgement, float(tones.listening["drift_warning"].moria)),
        *event_findings(judgement, told),
        *tuning(judgement, degrees, keyboard),
        *manner_findings(judgement),
    ]
    base = float(alignment.fit.line.moria[0]) + float(
        expected.scales[0].moria(expected.branch.base)
    )
    summary = [speech.say("base", base=degree_name(expected.branch.base), hz=f"{to_hz(base):.1f}")]
    if base_hz is not None:
        octaves = round((float(alignment.fit.line.moria[0]) - float(to_moria(base_hz))) / 72.0)
        if octaves:
            count = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
            side = "above" if octaves > 0 else "below"
            summary.append(speech.say("base_octave", octaves=f"{count} {side}"))
        apart = float(alignment.fit.line.moria[0]) - float(to_moria(base_hz)) - 72.0 * octaves
        if abs(apart) >= speech.limit("given"):
            summary.append(
                speech.say(
                    "base_elsewhere",
                    moria=f"{abs(apart):.0f}",
                    size=speech.size(apart),
                    side="above" if apart > 0 else "below",
                )
            )
    status = "heard"
    if alignment.explained < speech.limit("unsure_share"):
        status = "unsure"
        summary.insert(0, speech.say("unsure"))
    quiet = {"steady", "tempo"}
    if all(f.kind in quiet for f in findings):
        summary.append(speech.say("well", limit=f"{limit:g}"))
    return replace(
        empty,
        status=status,
        summary=tuple(summary),
        findings=tuple(findings),
        practise=_practise(findings, judgement),
        base_hz=to_hz(base),
        tempo=float(tempi(counted)[0]),
        degrees=degrees,
        habit=keyboard,
        counted=counted,
    )


def _practise(findings: list[Finding], judgement: Judgement) -> str:
    """The first advice whose findings are many enough, filled in from the worst of them."""
    speech, places = judgement.speech, judgement.places
    for row in speech.practise():
        wanted = [str(k) for k in row["finds"]]
        mine = [f for f in findings if f.kind in wanted]
        if len(mine) < int(row["least"]):
            continue
        worst = max(mine, key=lambda f: abs(f.moria), default=None)
        phrases = Counter(f.phrase for f in mine if f.phrase is not None)
        number = phrases.most_common(1)[0][0] if phrases else 0
        where = "the beginning"
        if worst is not None and worst.time is not None:
            where = clock(worst.time)
        degree = worst.degree if worst is not None and worst.degree is not None else 0
        return speech.advice(
            row,
            phrase=places.phrase(number),
            where=where,
            degree=degree_name(degree),
        )
    return ""
