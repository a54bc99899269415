"""What singers do as a rule: miss the given pitch, hum it first, cut every ending, sing along."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import singer
import soxr
import takes

from chantwright.ear.events import events
from chantwright.ear.findings import Finding
from chantwright.ear.listening import ListenOptions, listen
from chantwright.ear.pages import told
from chantwright.ear.sentences import load_speech
from chantwright.ear.verdict import TROUBLE, Verdict
from chantwright.ear.voicing import voiced_frames
from chantwright.score import number
from chantwright.tones import load_tones
from chantwright.voice import TrackOptions
from chantwright.voice import sing as sing_track

TONES = load_tones()
CALM = singer.Manner(sigma=0.6, timing=0.1)
ROOM = singer.Scene(snr=20.0, room=0.4)


def heard(plan: takes.Plan, *, off: float | None = None) -> Verdict:
    """A take of a tenor; `off` moria lie between the pitch he was given and his own."""
    take, truth = takes.sing(plan, 7, manner=CALM, scene=ROOM)
    degree = TONES.branch(plan.hymn.branch or "").base
    own = truth.ni_hz * 2 ** (plan.table[degree] / 72)
    given = None if off is None else own * 2 ** (-off / 72)
    return listen(plan.hymn, take.samples, take.rate, TONES, ListenOptions(base_hz=given))


def found(verdict: Verdict, *kinds: str) -> list[Finding]:
    return [f for f in verdict.findings if f.kind in kinds]


@pytest.mark.parametrize(
    ("off", "said"), [(-6.0, "6 moria below"), (12.0, "12 moria above"), (0.0, "")]
)
def test_a_singer_who_misses_the_given_pitch_is_judged_on_his_own(off: float, said: str) -> None:
    verdict = heard(takes.make_plan(3300, notes=30), off=off)
    assert verdict.status == "heard"
    assert not found(verdict, *TROUBLE)
    assert said in " ".join(verdict.summary)
    assert ("you were given" in " ".join(verdict.summary)) == bool(said)


def test_the_first_note_hummed_beforehand_is_no_repeat() -> None:
    plan = takes.make_plan(3301, notes=24)
    first, *rest = plan.entries
    hummed = replace(first, seconds=0.8, syllable="a")
    plan = replace(plan, entries=(hummed, replace(first, planted="restart"), *rest))
    verdict = heard(plan)
    assert not found(verdict, "repeat", "restart", "begun late")
    assert verdict.counted[0].index == 0


def test_endings_that_are_always_cut_are_said_once() -> None:
    plan = takes.make_plan(3302, notes=36)
    last = {n for n, w in enumerate(plan.written[:-1]) if plan.written[n + 1][4] != w[4]}
    short = tuple(
        replace(e, seconds=e.seconds * (0.3 if e.note in last else 1.0)) for e in plan.entries
    )
    verdict = heard(replace(plan, entries=short))
    (cut,) = found(verdict, "cut")
    assert f"in {len(cut.notes)} phrases" in cut.text
    assert len(last) - 1 <= len(cut.notes) <= len(last) + 1
    assert "about a third" in cut.text or "about a quarter" in cut.text
    assert len([s for s in told(verdict) if "closing note" in s]) == 1


def test_every_part_has_its_words() -> None:
    speech = load_speech()
    words = [speech.part(p) for p in (0.05, 0.2, 0.25, 0.33, 0.49)]
    assert len(set(words)) == 5
    assert words[2] == "about a quarter"


def test_a_practice_recording_with_its_ison_and_count_is_faultless() -> None:
    """Nobody told the ear of the ison, the intonation or the count before the hymn."""
    plan = takes.make_plan(3303, notes=26)
    hymn = number(takes.sung_hymn(plan, 120.0))
    track = sing_track(hymn, TONES, TrackOptions(holders=3))
    sound = soxr.resample(track.samples, track.rate, 16_000).astype(np.float32)
    verdict = listen(plan.hymn, sound, 16_000, TONES)
    assert verdict.status == "heard"
    assert [e for e in events(verdict.alignment) if e.kind in (*TROUBLE, "begun late")] == []


def test_a_faint_note_that_is_sharp_and_sure_is_sung() -> None:
    """A child's “oo” lies some twenty decibels under its other vowels."""
    pitch = np.full(300, 660.0)
    level = np.r_[np.full(100, -20.0), np.full(100, -42.0), np.full(100, -41.0)]
    sure = np.r_[np.full(200, 0.8), np.full(100, 0.2)]
    sharp = np.r_[np.full(200, 2.0), np.full(100, 60.0)]
    sung = voiced_frames(pitch, sure, sharp, level)
    assert sung[:200].mean() > 0.95
    assert not sung[205:].any()
    vague = voiced_frames(pitch, np.where(level > -30, sure, 0.55), sharp, level)
    assert not vague[105:].any()
