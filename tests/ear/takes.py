"""Takes of made-up hymns with planted mistakes, and the truth about each of them.

The hymns are random walks with much reciting; the words are loose English syllables. Pitches are
those of the singer's own tables (``singer.py``), never the program's. A *plan* lists the written
notes in the order in which they are sung, so that a skip, a repeat or a restart is a change of the
plan, and a wrong note a change of one entry.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
import numpy.typing as npt
import singer

from chantwright.score import Base, Hymn, Note, Phrase, Syllable, number
from chantwright.tones import load_tones
from chantwright.voice import TrackOptions
from chantwright.voice import sing as sing_track

WORDS = re.findall(
    r"\w+",
    "Lord have mer cy up on us sing un to him all ye peo ple for his good ness shall en dure "
    "let the earth re joice and be glad in thee O God who dwell est on high hear my prayer "
    "when I call blessed is the man that walk eth not my soul doth mag ni fy the day of sal va "
    "tion come let us wor ship bow down be fore him no more night but light and love a lone",
)

BRANCHES = {
    "diatonic": ("t1.heirmologic", 1, 0, (0, 6)),
    "soft chromatic": ("t2.heirmologic_soft", 4, 0, (1, 7)),
    "hard chromatic": ("t2.heirmologic_hard", 1, 1, (1, 7)),
    "enharmonic": ("t3.heirmologic", 3, 3, (2, 8)),
}
"""Scale of the singer -> a branch sung in it, the degree the tune closes on, the degree its table
starts from, and the compass: the span in which every theory gives the same places."""


@dataclass(frozen=True)
class Entry:
    """One sung note: index of the written note, the moria asked of the singer, seconds, syllable.

    `planted` names the mistake, if any.
    """

    note: int
    moria: float
    seconds: float
    syllable: str
    planted: str = ""


@dataclass(frozen=True)
class Plan:
    """A hymn and how it is to be sung; `pauses` holds positions after which a breath is taken."""

    hymn: Hymn
    written: tuple[tuple[int, float, float, str, int], ...]
    """degree, moria, beats, syllable (empty in a melisma), phrase"""
    table: dict[int, float] = field(hash=False)
    scale: str = "diatonic"
    entries: tuple[Entry, ...] = ()


@dataclass(frozen=True)
class Truth:
    """What was sung: written notes, onsets, ends, deviations in moria, planted mistakes."""

    notes: tuple[int, ...]
    onsets: tuple[float, ...]
    ends: tuple[float, ...]
    deviations: tuple[float, ...]
    planted: tuple[str, ...]
    skipped: tuple[int, ...]
    ni_hz: float
    drift: float


def place(scale: str) -> dict[int, float]:
    """Moria of degrees above the diatonic ni, by the singer's own table."""
    start = BRANCHES[scale][2]
    diatonic = singer.places("diatonic", 0, 7)
    table = singer.places(scale, start - 4, start + 11, start)
    return {d: m + diatonic[start] for d, m in table.items()}


def make_plan(
    seed: int,
    *,
    scale: str = "diatonic",
    notes: int = 40,
    beat: float = 0.5,
    reciting: float = 0.35,
    melisma: float = 0.15,
) -> Plan:
    """A hymn of about `notes` notes and its faultless plan."""
    rng = np.random.default_rng(seed)
    branch, close, _, (low, high) = BRANCHES[scale]
    table = place(scale)
    at = close + int(rng.integers(0, 3))
    written: list[tuple[int, float, float, str, int]] = []
    phrases: list[Phrase] = []
    while len(written) < notes:
        size = int(rng.integers(6, 11))
        number_of = len(phrases)
        syllables: list[Syllable] = []
        for k in range(size):
            final = k == size - 1
            text = str(rng.choice(WORDS))
            held: list[Note] = []
            for m in range(2 if rng.random() < melisma and not final else 1):
                if m == 1 or rng.random() > reciting:
                    move = int(rng.choice([-2, -1, 1, 2], p=[0.12, 0.4, 0.36, 0.12]))
                    at = at + move if low <= at + move <= high else at - move
                if final:
                    at = (
                        close
                        if len(written) + 1 >= notes
                        else int(
                            rng.choice(
                                [
                                    d
                                    for d in (close - 2, close, close + 2, close + 3)
                                    if low <= d <= high
                                ]
                            )
                        )
                    )
                beats = float(rng.choice([1, 2], p=[0.85, 0.15])) if not final else 2.0
                if final and len(written) + 1 >= notes:
                    beats = 4.0
                held.append(Note(at, Fraction(int(beats))))
                written.append((at, table[at], beats, text if m == 0 else "", number_of))
            syllables.append(Syllable(text, notes=tuple(held)))
        phrases.append(Phrase(tuple(syllables)))
    hymn = number(
        Hymn(
            title="A take",
            tone=int(branch[1]),
            branch=branch,
            tempo=round(60 / beat),
            phrases=tuple(phrases),
        )
    )
    entries = tuple(
        Entry(i, moria, beats * beat, text) for i, (_, moria, beats, text, _) in enumerate(written)
    )
    return Plan(hymn, tuple(written), table, scale, entries)


def _groups(plan: Plan) -> list[list[int]]:
    """Positions of the plan by syllable."""
    out: list[list[int]] = []
    for at, entry in enumerate(plan.entries):
        if entry.syllable or not out:
            out.append([])
        out[-1].append(at)
    return out


def plant(plan: Plan, seed: int, *, wrong: int = 0, skips: int = 0, repeats: int = 0) -> Plan:
    """Plant mistakes, never two within four syllables of one another, nor in the first or last."""
    rng = np.random.default_rng(seed)
    groups = _groups(plan)
    free = list(range(2, len(groups) - 2))
    kinds = ["wrong"] * wrong + ["skip"] * skips + ["repeat"] * repeats
    chosen: dict[int, str] = {}
    for kind in kinds:
        if not free:
            break
        at = int(rng.choice(free))
        chosen[at] = kind
        free = [f for f in free if abs(f - at) > 3]
    entries: list[Entry] = []
    for g, group in enumerate(groups):
        kind = chosen.get(g, "")
        here = [plan.entries[i] for i in group]
        if kind == "skip":
            continue
        if kind == "wrong":
            k = int(rng.integers(0, len(here)))
            degree = plan.written[here[k].note][0]
            span = BRANCHES[plan.scale][3]
            away = [d for d in (-2, -1, 1, 2) if span[0] <= degree + d <= span[1]]
            moved = degree + int(rng.choice(away))
            here[k] = replace(here[k], moria=plan.table[moved], planted="wrong")
        entries += here
        if kind == "repeat":
            entries += [replace(e, planted="repeat") for e in here]
    return replace(plan, entries=tuple(entries))


def hummed(plan: Plan) -> Plan:
    """The same on one vowel from breath to breath, without its words."""
    return replace(plan, entries=tuple(replace(e, syllable="") for e in plan.entries))


def restart(plan: Plan, phrase: int, after: int) -> Plan:
    """Sing `after` notes of a phrase, stop, and begin the phrase anew."""
    first = next(i for i, w in enumerate(plan.written) if w[4] == phrase)
    cut = first + after
    again = tuple(replace(e, planted="restart") if e.note == first else e for e in plan.entries)
    return replace(plan, entries=plan.entries[:cut] + again[first:])


def sing(
    plan: Plan,
    seed: int,
    *,
    voice: str = "tenor",
    ni_hz: float | None = None,
    manner: singer.Manner | None = None,
    scene: singer.Scene | None = None,
    breath: float = 0.45,
    step: tuple[float, float] | None = None,
    tempo: float = 1.0,
) -> tuple[singer.Take, Truth]:
    """Let the singer sing a plan.

    `step` is (note position as a part of the whole, moria) for a base that moves at once.
    """
    manner = manner or singer.Manner()
    ni_hz = ni_hz or singer.VOICES[voice][1] * 0.9
    notes: list[tuple[float | None, float, str]] = []
    owner: list[int] = []
    for at, entry in enumerate(plan.entries):
        lift = step[1] if step and at >= step[0] * len(plan.entries) else 0.0
        notes.append((entry.moria + lift, entry.seconds / tempo, entry.syllable))
        owner.append(at)
        ends = at + 1 == len(plan.entries)
        here = plan.written[entry.note][4]
        if not ends:
            following = plan.entries[at + 1]
            if plan.written[following.note][4] != here or following.planted == "restart":
                notes.append((None, breath, ""))
    take = singer.sing(notes, ni_hz, seed=seed, voice=voice, manner=manner, scene=scene)
    deviations = []
    for sung, at in zip(take.notes, owner, strict=True):
        entry = plan.entries[at]
        lift = step[1] if step and at >= step[0] * len(plan.entries) else 0.0
        middle = sung.start + plan.entries[at].seconds / tempo / 2
        drift = manner.drift * max(0.0, middle - manner.drift_from) / 60
        deviations.append(sung.moria - plan.written[entry.note][1] - drift - lift)
    present = {e.note for e in plan.entries}
    return take, Truth(
        tuple(plan.entries[at].note for at in owner),
        tuple(n.start for n in take.notes),
        tuple(n.end for n in take.notes),
        tuple(deviations),
        tuple(plan.entries[at].planted for at in owner),
        tuple(i for i in range(len(plan.written)) if i not in present),
        ni_hz,
        manner.drift,
    )


def sung_hymn(plan: Plan, ni_hz: float) -> Hymn:
    """The hymn as the plan sings it, mistakes and all, for the program's own practice voice."""
    degree_of = {round(m, 6): d for d, m in plan.table.items()}
    phrases: list[list[Syllable]] = []
    here = -1
    for entry in plan.entries:
        phrase = plan.written[entry.note][4]
        if phrase != here or entry.planted == "restart":
            phrases.append([])
            here = phrase
        beats = Fraction(plan.written[entry.note][2]).limit_denominator(8)
        note = Note(degree_of[round(entry.moria, 6)], beats)
        if entry.syllable or not phrases[-1]:
            phrases[-1].append(Syllable(entry.syllable or "a", notes=(note,)))
        else:
            last = phrases[-1][-1]
            phrases[-1][-1] = replace(last, notes=(*last.notes, note))
    close = BRANCHES[plan.scale][1]
    base = Base(close, ni_hz * 2 ** (plan.table[close] / 72))
    return replace(plan.hymn, phrases=tuple(Phrase(tuple(p)) for p in phrases), base=base)


def sing_own(
    plan: Plan, ni_hz: float, voice: str = "low", mode: str = "melody"
) -> tuple[npt.NDArray[np.float32], int, Truth]:
    """Let the program's own practice voice sing a plan; it sings without any error of its own."""
    options = TrackOptions(mode=mode, intonation="none", count_in=0, voice=voice)
    track = sing_track(number(sung_hymn(plan, ni_hz)), load_tones(), options)
    times = track.timing.notes
    deviations = tuple(e.moria - plan.written[e.note][1] for e in plan.entries)
    present = {e.note for e in plan.entries}
    return (
        track.samples,
        track.rate,
        Truth(
            tuple(e.note for e in plan.entries),
            tuple(t.start for t in times),
            tuple(t.stop for t in times),
            deviations,
            tuple(e.planted for e in plan.entries),
            tuple(i for i in range(len(plan.written)) if i not in present),
            ni_hz,
            0.0,
        ),
    )
