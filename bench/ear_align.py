"""How well a take is followed and judged: the figures of docs/hearing-verdict.md.

Run from the repository's root:

    python bench/ear_align.py              # everything, about a quarter of an hour on one core
    python bench/ear_align.py --share 0.2  # a fifth of it
    python bench/ear_align.py mistakes     # one part

The singers are synthetic: ``tests/ear/singer.py``, which shares nothing with the ear, and the
program's own practice voice. Weights and limits were chosen on seeds below 1000; the seeds here
begin at 5000.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import soxr

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "ear"))
import scoring
import singer
import takes
from figures import FULL, Figure

from chantwright.ear.events import events
from chantwright.ear.listening import ListenOptions, listen
from chantwright.ear.verdict import Verdict
from chantwright.score import number
from chantwright.tones import load_tones
from chantwright.voice import TrackOptions
from chantwright.voice import sing as sing_track

TONES = load_tones()
SCALES = tuple(takes.BRANCHES)
VOICES = ("bass", "tenor", "alto", "child")
AMATEUR = singer.Manner(sigma=1.0, timing=0.15, scoops=0.4)
FIRST = 5000
clock = {"heard": 0.0, "ear": 0.0}


def setting(seed: int) -> tuple[str, str, singer.Scene]:
    room = 0.5 if seed % 2 else None
    return SCALES[seed % 4], VOICES[(seed // 4) % 4], singer.Scene(snr=20.0, room=room)


def ear(plan: takes.Plan, samples: np.ndarray, rate: int, options: ListenOptions) -> Verdict:
    start = time.process_time()
    verdict = listen(plan.hymn, samples, rate, TONES, options)
    clock["ear"] += time.process_time() - start
    clock["heard"] += len(samples) / rate
    return verdict


def base_of(plan: takes.Plan, ni_hz: float) -> float:
    # The tone's own base, as a chanter would give it.
    degree = TONES.branch(plan.hymn.branch or "").base
    return ni_hz * 2 ** (plan.table[degree] / 72)


def run(
    title: str,
    count: int,
    *,
    manner: singer.Manner = AMATEUR,
    notes: int = 48,
    planted: int = 0,
    known: bool = False,
    drone: bool = False,
    hummed: bool = False,
) -> scoring.Marks:
    marks = scoring.Marks()
    statuses: dict[str, int] = {}
    for seed in range(FIRST, FIRST + count):
        scale, voice, scene = setting(seed)
        plan = takes.make_plan(seed, scale=scale, notes=notes)
        plan = takes.plant(plan, seed, wrong=planted, skips=planted, repeats=planted)
        ni = singer.VOICES[voice][1] * 0.9
        options = ListenOptions(base_hz=base_of(plan, ni) if known else None)
        if drone:
            held = TONES.branch(plan.hymn.branch or "").ison_base
            scene = replace(scene, drone=singer.Drone(plan.table[held] - 72.0))
            options = ListenOptions(drone="detect")
        sung = takes.hummed(plan) if hummed else plan
        take, truth = takes.sing(sung, seed, voice=voice, manner=manner, scene=scene)
        verdict = ear(plan, take.samples, take.rate, options)
        statuses[verdict.status] = statuses.get(verdict.status, 0) + 1
        scoring.mark(marks, plan, truth, verdict.alignment, events(verdict.alignment))
        if verdict.alignment.fit is not None and manner.drift:
            line = verdict.alignment.fit.line
            slope = (line.moria[-1] - line.moria[0]) / (line.times[-1] - line.times[0]) * 60
            marks.slopes.append(float(slope) - manner.drift)
    print(f"\n{title}: {count} takes, {statuses}")
    for text in marks.lines():
        print("  " + text)
    return marks


def mistakes(part: float) -> None:
    count = max(4, round(40 * part))
    run("mistakes, base unknown (long takes)", count, notes=84, planted=5)


def plain(part: float) -> None:
    count = max(4, round(20 * part))
    run("no mistakes, base unknown", count)
    run("no mistakes, base known", count, known=True)
    run(
        "no mistakes, drone an octave below the ison, found by itself",
        max(4, count // 2),
        drone=True,
    )


def hummed(part: float) -> None:
    count = max(4, round(20 * part))
    run("on one vowel, no mistakes", count, hummed=True)
    run("on one vowel, mistakes", count, notes=84, planted=5, hummed=True)


def drift(part: float) -> None:
    count = max(4, round(16 * part))
    run("drift 20 moria a minute, no mistakes", count, manner=replace(AMATEUR, drift=20.0))


def own(part: float) -> None:
    marks = scoring.Marks()
    count = max(4, round(16 * part))
    for seed in range(FIRST, FIRST + count):
        plan = takes.make_plan(seed, scale=SCALES[seed % 4], notes=48)
        plan = takes.plant(plan, seed, wrong=2, skips=2, repeats=2)
        kind, ni = (("low", 110.0), ("high", 220.0), ("child", 260.0))[seed % 3]
        samples, rate, truth = takes.sing_own(plan, ni, kind)
        sound = soxr.resample(samples, rate, 16_000).astype(np.float32)
        verdict = ear(plan, sound, 16_000, ListenOptions())
        scoring.mark(marks, plan, truth, verdict.alignment, events(verdict.alignment))
    print(f"\nthe program's own voice, with mistakes: {count} takes")
    for text in marks.lines():
        print("  " + text)


def practice(part: float) -> None:
    """Practice recordings as they are made: title, intonation, count, voice and ison holders."""
    count = max(4, round(16 * part))
    told: dict[str, int] = {}
    notes = near = 0
    for seed in range(FIRST, FIRST + count):
        plan = takes.make_plan(seed, scale=SCALES[seed % 4], notes=40)
        kind, ni = (("low", 110.0), ("high", 220.0))[seed % 2]
        options = TrackOptions(voice=kind, holders=1 + seed % 4, say_title=seed % 3 == 0)
        track = sing_track(number(takes.sung_hymn(plan, ni)), TONES, options)
        sound = soxr.resample(track.samples, track.rate, 16_000).astype(np.float32)
        verdict = ear(plan, sound, 16_000, ListenOptions())
        told[verdict.status] = told.get(verdict.status, 0) + 1
        for event in events(verdict.alignment):
            told[event.kind] = told.get(event.kind, 0) + 1
        starts = {n.id: n.start for n in track.timing.notes}
        heard = {h.asked.id: h.start for h in verdict.alignment.heard}
        notes += len(plan.written)
        near += sum(abs(at - starts[n]) < 0.05 for n, at in heard.items() if n in starts)
    print(f"\npractice recordings, ison not told of: {count} of {notes} notes, {told}")
    print(f"  notes begun within 50 ms: {near} (every other word here is a fault that is none)")


def _degrees(verdict: Verdict) -> dict[int, float]:
    return {d.degree: round(d.mean, 1) for d in verdict.degrees if d.count >= 3}


def tuning(part: float) -> None:
    print("\nbase and degrees")
    habits, falls, single, lifted = [], [], [], []
    count = max(4, round(12 * part))
    for seed in range(FIRST, FIRST + count):
        plan = takes.make_plan(seed, notes=56)
        places = sorted({w[1] for w in plan.written})
        calm = singer.Manner(sigma=0.7, timing=0.12, scoops=0.3)
        cases = {
            "keyboard": tuple((m, round(m / 6) * 6 - m) for m in places),
            "all +3": tuple((m, 3.0) for m in places),
            "di +3": ((42.0, 3.0),),
        }
        for name, bend in cases.items():
            take, _ = takes.sing(plan, seed, manner=replace(calm, bend=bend))
            verdict = ear(plan, take.samples, take.rate, ListenOptions())
            kinds = [f.kind for f in verdict.findings]
            tuned = [f for f in verdict.findings if f.kind in ("degree", "moving", "note", "wrong")]
            if name == "keyboard":
                habits.append("habit" in kinds)
                falls.append(len([f for f in tuned if f.degree not in (2, 6)]))
            elif name == "all +3":
                lifted.append(len(tuned))
            else:
                told = [f.degree for f in tuned if f.kind in ("degree", "moving")]
                single.append(told == [4])
    print(f"  keyboard: habit told in {sum(habits)} of {count}; other degrees told {sum(falls)}")
    print(f"  all notes 3 high: degrees or notes told {sum(lifted)} in {count} takes (0 wanted)")
    print(f"  di alone 3 high: told, and nothing else, in {sum(single)} of {count}")


def _count(title: str, wanted: Callable[[Verdict], bool], verdicts: list[Verdict]) -> None:
    good = sum(wanted(v) for v in verdicts)
    print(f"  {title}: {good} of {len(verdicts)}")


def shapes(part: float) -> None:
    print("\nother shapes of a take")
    count = max(4, round(12 * part))
    cases: dict[str, list[Verdict]] = {}
    for seed in range(FIRST, FIRST + count):
        scale, voice, scene = setting(seed)
        plan = takes.make_plan(seed, scale=scale, notes=48)
        how = {"voice": voice, "manner": AMATEUR, "scene": scene}
        whole, _ = takes.sing(plan, seed, **how)
        other = takes.make_plan(seed + 2000, scale=scale, notes=48)
        cases.setdefault("another hymn", []).append(
            ear(other, whole.samples, whole.rate, ListenOptions())
        )
        cut = next(i for i, e in enumerate(plan.entries) if plan.written[e.note][4] == 3)
        half, _ = takes.sing(replace(plan, entries=plan.entries[:cut]), seed, **how)
        cases.setdefault("half", []).append(ear(plan, half.samples, half.rate, ListenOptions()))
        again, _ = takes.sing(takes.restart(plan, 2, 4), seed, **how)
        cases.setdefault("restart", []).append(
            ear(plan, again.samples, again.rate, ListenOptions())
        )
        moved, _ = takes.sing(plan, seed, step=(0.5, 6.0), **how)
        cases.setdefault("step", []).append(ear(plan, moved.samples, moved.rate, ListenOptions()))

    def kinds(verdict: Verdict) -> list[str]:
        return [f.kind for f in verdict.findings]

    def clean(verdict: Verdict) -> bool:
        return not {"wrong", "skip", "repeat", "left out"} & set(kinds(verdict))

    _count("another hymn called so", lambda v: v.status == "another hymn", cases["another hymn"])
    _count(
        "half a hymn: ended early and nothing else",
        lambda v: "ended early" in kinds(v) and clean(v),
        cases["half"],
    )
    _count("restart told", lambda v: kinds(v).count("restart") == 1, cases["restart"])
    _count(
        "step of the base of 6: one change and no wrong note",
        lambda v: kinds(v).count("step") == 1 and "wrong" not in kinds(v),
        cases["step"],
    )


def nothing(part: float) -> None:
    count = max(3, round(6 * part))
    plan = takes.make_plan(FIRST, notes=40)
    noise = np.random.default_rng(1).normal(size=160_000) * 1e-4
    makers: dict[str, Callable[[int], np.ndarray]] = {
        "speech": lambda s: singer.speech(s, 15, (100.0, 140.0, 220.0)[s % 3]).samples,
        "breath": lambda s: singer.breath(s, 15),
        "machine drone": lambda s: 0.1 * singer.drone(110 + 7 * (s % 9), 15, seed=s),
        "human drone": lambda s: 0.1 * singer.drone(110 + 7 * (s % 9), 15, seed=s, wobble=6),
        "silence": lambda _s: noise,
    }
    print("\nnothing sung")
    for name, make in makers.items():
        verdicts = []
        for seed in range(FIRST, FIRST + count):
            sound = np.asarray(make(seed), dtype=np.float32)
            options = ListenOptions(drone="detect" if seed % 2 else None)
            verdicts.append(ear(plan, sound, 16_000, options))
        _count(name, lambda v: v.status == "nothing sung", verdicts)


def speed(_part: float) -> None:
    plan = takes.make_plan(FIRST, notes=190)
    take, _ = takes.sing(plan, FIRST, manner=AMATEUR, scene=singer.Scene(snr=20.0))
    start = time.process_time()
    listen(plan.hymn, take.samples, take.rate, TONES)
    used = time.process_time() - start
    length = len(take.samples) / take.rate
    print(f"\nspeed: {length:.0f} s heard in {used:.1f} s on one core, {used / length:.3f} real")


def figures(size: str) -> Iterator[Figure]:
    """Yield how well mistakes are found, how true notes are judged, and how fast."""
    share = 1.0 if size == FULL else 0.2
    count = round(40 * share)
    marks = run("mistakes, base unknown", count, notes=84, planted=5)
    seeds = f"{FIRST} on"
    told = f"{count} takes, {marks.notes} notes"
    for kind, what, least, most in (
        ("wrong", "wrong notes", 0.95, 1.0), ("skip", "skips", 0.8, 2.0),
        ("repeat", "repeats", 0.8, 2.0),
    ):  # fmt: skip
        yield Figure("ear", f"{what} found", marks.hit[kind] / marks.planted[kind], least=least,
                     count=f"{marks.planted[kind]} planted, {told}", seed=seeds)  # fmt: skip
        yield Figure("ear", f"{what} told falsely", 100 * marks.false[kind] / marks.notes,
                     "per 100 notes", most=most, count=told, seed=seeds)  # fmt: skip
    yield Figure("ear", "onsets within 50 ms", float(np.mean(np.abs(marks.onsets) < 0.05)),
                 least=0.8, count=told, seed=seeds)  # fmt: skip
    marks = run("on one vowel, no mistakes", count, hummed=True)
    told = f"{count} takes, {marks.notes} notes"
    yield Figure("ear", "on one vowel, mistakes told falsely",
                 100 * sum(marks.false.values()) / marks.notes, "per 100 notes", most=1.0,
                 count=told, seed=seeds)  # fmt: skip
    for known, name, median, most in ((True, "known", 0.17, 0.4), (False, "unknown", 0.35, 1.5)):
        count = round(20 * share)
        errors = np.abs(run(f"base {name}", count, known=known).errors)
        for what, part, limit in (("median", 50, median), ("90 %", 90, most)):
            yield Figure("ear", f"deviation of a note, base {name}, {what}",
                         float(np.percentile(errors, part)), "moria", most=limit,
                         count=f"{count} takes, {len(errors)} notes", seed=seeds)  # fmt: skip
    yield Figure("ear", "the whole listen", clock["ear"] / clock["heard"], "of real time", most=0.2,
                 count=f"{clock['heard']:.0f} s of singing", seed=seeds)  # fmt: skip


PARTS = (mistakes, plain, hummed, drift, own, practice, tuning, shapes, nothing, speed)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", choices=[p.__name__ for p in PARTS] + [[]])
    parser.add_argument("--share", type=float, default=1.0, help="share of the takes")
    asked = parser.parse_args()
    for part in PARTS:
        if not asked.parts or part.__name__ in asked.parts:
            part(asked.share)
            sys.stdout.flush()
    if clock["heard"]:
        print(f"\nthe ear took {clock['ear'] / clock['heard']:.3f} of real time over all")


if __name__ == "__main__":
    main()
