"""What a teacher would remark on in a take, each thing once, in words and in moria.

Conventions
-----------
A finding carries the ids of the notes it concerns, so that a page can point at them. Sizes in
moria; times in seconds. What the ear cannot stand by is not said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from chantwright.ear.alignment import Alignment, Heard
from chantwright.ear.contour import Contour
from chantwright.ear.degrees import DegreeReport, Habit, off_by
from chantwright.ear.events import Event, is_wrong
from chantwright.ear.expected import Expected
from chantwright.ear.manner import Closing, breaths, closings, tempi
from chantwright.ear.pointing import Places, clock
from chantwright.ear.sentences import Speech
from chantwright.tuning import degree_name

__all__ = ["Finding", "Judgement", "base_findings", "event_findings", "manner_findings", "tuning"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One remark.

    Attributes
    ----------
    kind : str
        Such as wrong, skip, drift, habit.
    text : str
        The sentence.
    notes : tuple of str
        Ids of the notes it concerns.
    time : float or None
        When, seconds.
    moria : float
        How much, where that makes sense.
    phrase : int or None
        Phrase it belongs to, counted from 0.
    degree : int or None
        Degree it belongs to.
    """

    kind: str
    text: str
    notes: tuple[str, ...] = ()
    time: float | None = None
    moria: float = 0.0
    phrase: int | None = None
    degree: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """What the findings are made from."""

    alignment: Alignment
    counted: tuple[Heard, ...]
    contour: Contour
    speech: Speech
    places: Places
    limit: float
    known: bool

    @property
    def expected(self) -> Expected:
        """The hymn's line."""
        return self.alignment.expected


def _side(moria: float) -> str:
    return "high" if moria > 0 else "low"


def _moria(amount: float) -> str:
    """Whole moria from 3 upward, halves below."""
    amount = abs(amount)
    return f"{round(amount)}" if amount >= 3 else f"{round(amount * 2) / 2:g}"


def base_findings(judgement: Judgement, warning: float) -> list[Finding]:
    """Whether the base stayed; said once."""
    alignment, speech = judgement.alignment, judgement.speech
    if alignment.fit is None:
        return []
    line = alignment.fit.line
    first, last = float(line.moria[0]), float(line.moria[-1])
    change = last - first
    minutes = max(float(line.times[-1] - line.times[0]) / 60.0, 1e-6)
    reach = float(line.moria.max() - line.moria.min())
    if line.step is not None and abs(change) >= warning:
        here = next((h for h in alignment.heard if h.start >= line.step), alignment.heard[-1])
        where = f"{judgement.places.note(here.index)}, {clock(here.start)}"
        text = speech.say(
            "step_up" if change > 0 else "step_down",
            where=where,
            moria=_moria(change),
            size=speech.size(change),
        )
        phrase = here.asked.phrase
        return [Finding("step", text, (here.asked.id,), line.step, change, phrase)]
    if abs(change) >= warning and abs(change) > 0.6 * reach:
        text = speech.say(
            "drift_up" if change > 0 else "drift_down",
            moria=_moria(change),
            size=speech.size(change),
            rate=_moria(change / minutes),
        )
        return [Finding("drift", text, moria=change)]
    if reach >= warning:
        low, high = float(line.moria.min()) - first, float(line.moria.max()) - first
        text = speech.say("bent", low=f"{low:+.0f}", high=f"{high:+.0f}")
        return [Finding("bent", text, moria=reach)]
    return [Finding("steady", speech.say("steady"), moria=change)]


def event_findings(judgement: Judgement, events: Sequence[Event]) -> list[Finding]:
    """Wrong notes, skips, repeats, restarts and missing parts."""
    speech, places, notes = judgement.speech, judgement.places, judgement.expected.notes
    out = []
    for event in events:
        ids = tuple(n.id for n in notes[event.first : event.last + 1])
        phrase = notes[event.first].phrase
        if event.kind == "wrong":
            where = f"{places.note(event.first)}, {clock(event.time)},"
            asked = degree_name(notes[event.first].degree)
            if event.degree is not None and event.degree != notes[event.first].degree:
                text = speech.say("wrong", where=where, sung=degree_name(event.degree), asked=asked)
            else:
                text = speech.say(
                    "wrong_same",
                    where=where,
                    asked=asked,
                    moria=_moria(event.moria),
                    side=_side(event.moria),
                )
        elif event.kind == "left out":
            text = speech.say("left_out", where=places.phrases(event.first, event.last))
        elif event.kind == "begun late":
            at = min(event.last + 1, len(notes) - 1)
            text = speech.say("begun_late", where=places.note(at))
            phrase = 0
        elif event.kind == "ended early":
            text = speech.say("ended_early", where=places.note(event.first))
        elif event.kind == "restart":
            text = speech.say("restart", clock=clock(event.time), where=places.note(event.first))
        else:
            text = speech.say(event.kind, where=places.span(event.first, event.last))
        out.append(Finding(event.kind, text, ids, event.time, event.moria, phrase, event.degree))
    return _shortened(out, speech)


def _shortened(findings: list[Finding], speech: Speech) -> list[Finding]:
    """Tell the first few of each kind and count the rest; none is lost from the document."""
    most = int(speech.limit("most_told"))
    counts = Counter(f.kind for f in findings)
    seen: Counter[str] = Counter()
    out = []
    for one in findings:
        seen[one.kind] += 1
        rest = counts[one.kind] - most
        if seen[one.kind] == most + 1:
            out.append(Finding("more", speech.say("more", count=rest), time=one.time))
        out.append(one)
    return out


def tuning(
    judgement: Judgement, degrees: Sequence[DegreeReport], found: Habit | None
) -> list[Finding]:
    """How degrees and single notes lie, beyond the level's limit and the ear's own doubt."""
    speech, limit = judgement.speech, judgement.limit
    out: list[Finding] = []
    few = int(speech.limit("few"))
    habitual: set[int] = set()
    wanted = speech.limit("habit")
    if found is not None and found.share - found.doubt > wanted - 0.2 and found.share > wanted:
        kept = [(d, a) for d, a in zip(found.degrees, found.amounts, strict=True) if abs(a) >= 0.8]
        if kept:
            habitual = {d for d, _ in kept}
            names = " and ".join(degree_name(d) for d, _ in kept)
            amounts = ", ".join(f"{degree_name(d)} {_moria(a)} moria {_side(a)}" for d, a in kept)
            text = speech.say("habit", degrees=names, amounts=amounts)
            out.append(Finding("habit", text, moria=found.share, degree=kept[0][0]))
    off: set[int] = set(habitual)
    for one in degrees:
        if one.count < few or one.degree in habitual:
            continue
        size = abs(one.mean)
        if size >= limit and size > 2.0 * one.doubt:
            off.add(one.degree)
            text = speech.say(
                "moving" if one.moving else "degree",
                degree=degree_name(one.degree),
                moria=_moria(one.mean),
                side=("above" if one.mean > 0 else "below") if one.moving else _side(one.mean),
                size=speech.size(one.mean),
                count=one.count,
            )
            out.append(
                Finding(
                    "moving" if one.moving else "degree", text, moria=one.mean, degree=one.degree
                )
            )
        elif one.up is not None and one.down is not None:
            apart = one.up - one.down
            if abs(apart) >= limit and abs(apart) > 2.0 * np.sqrt(2.0) * one.doubt:
                text = speech.say(
                    "up_down",
                    degree=degree_name(one.degree),
                    moria=_moria(apart),
                    higher="up" if apart > 0 else "down",
                    lower="down" if apart > 0 else "up",
                )
                out.append(Finding("up_down", text, moria=apart, degree=one.degree))
    out += _single(judgement, {d.degree: d.mean for d in degrees if d.degree in off})
    spreads = [(d.spread, d.count) for d in degrees if d.count >= 4]
    if spreads:
        total = float(
            np.sqrt(np.average([s**2 for s, _ in spreads], weights=[c for _, c in spreads]))
        )
        if total >= speech.limit("scatter") * limit / 2.0 and total >= 2.0:
            out.append(Finding("scatter", speech.say("scatter", moria=_moria(total)), moria=total))
    return out


def _single(judgement: Judgement, means: dict[int, float]) -> list[Finding]:
    """Single notes that are off by more than their degree is as a rule."""
    speech = judgement.speech
    least = max(judgement.limit, speech.hold(known=judgement.known))
    out = []
    for one in judgement.counted:
        if not np.isfinite(one.deviation) or one.trust < 0.5:
            continue
        amount = off_by(one)
        own = amount - means.get(one.asked.degree, 0.0)
        if min(abs(amount), abs(own)) < least or is_wrong(one, judgement.expected):
            continue
        where = f"{judgement.places.note(one.index)}, {clock(one.start)},"
        text = speech.say(
            "note",
            where=where,
            asked=degree_name(one.asked.degree),
            moria=_moria(amount),
            side=_side(amount),
        )
        out.append(
            Finding(
                "note", text, (one.asked.id,), one.start, amount, one.asked.phrase, one.asked.degree
            )
        )
    return _shortened(out, speech)


def _closing(judgement: Judgement, closes: list[Closing], kind: str) -> list[Finding]:
    """Closing notes that sink or are cut: each by itself, or once where it is a habit."""
    speech, notes = judgement.speech, judgement.expected.notes

    def told(close: Closing, kind: str, **more: object) -> str:
        where = judgement.places.phrase(notes[close.index].phrase)
        return speech.say(
            kind, where=where, moria=_moria(close.sinks), part=speech.part(close.part), **more
        )

    if not closes or len(closes) < speech.limit("habitual"):
        return [
            Finding(
                kind,
                told(c, kind),
                (notes[c.index].id,),
                moria=-c.sinks if kind == "sag" else 0.0,
                phrase=notes[c.index].phrase,
            )
            for c in closes
        ]
    worst = min(closes, key=lambda c: -c.sinks if kind == "sag" else c.part)
    usual = replace(
        worst,
        sinks=float(np.median([c.sinks for c in closes])),
        part=float(np.median([c.part for c in closes])),
    )
    text = told(usual, f"{kind}_often", count=len(closes))
    ids = tuple(notes[c.index].id for c in closes)
    amount = -usual.sinks if kind == "sag" else 0.0
    return [Finding(kind, text, ids, moria=amount, phrase=notes[worst.index].phrase)]


def manner_findings(judgement: Judgement) -> list[Finding]:
    """Endings, breath and tempo."""
    speech, places, heard = judgement.speech, judgement.places, judgement.counted
    out: list[Finding] = []
    closes = closings(heard, judgement.contour)
    out += _closing(judgement, [c for c in closes if c.sinks >= speech.limit("sag")], "sag")
    out += _closing(judgement, [c for c in closes if c.part < speech.limit("cut")], "cut")
    within = [
        n.first and s.place in ("middle", "end")
        for p in judgement.expected.hymn.phrases
        for s in p.syllables
        for n in judgement.expected.notes_of(s)
    ]
    for breath in breaths(heard, within, judgement.contour, speech.limit("gap")):
        note = judgement.expected.notes[breath.before]
        kind = "breath_word" if breath.within_word or not note.first else "breath"
        text = speech.say(
            kind, where=places.phrase(note.phrase), syllable=places.syllable(breath.before)
        )
        out.append(Finding(kind, text, (note.id,), phrase=note.phrase))
    whole, first, second = tempi(heard)
    if np.isfinite(whole):
        text = speech.say("tempo", tempo=round(whole), written=round(judgement.expected.tempo))
        out.append(Finding("tempo", text, moria=0.0))
    if np.isfinite(first) and np.isfinite(second) and len(heard) >= 12:
        change = second / first - 1.0
        if abs(change) >= speech.limit("tempo_change"):
            kind = "hurried" if change > 0 else "slowed"
            text = speech.say(kind, first=round(first), second=round(second))
            out.append(Finding(kind, text))
    return _shortened(out, speech)
