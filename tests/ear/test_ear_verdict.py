"""From sound to sentences: statuses, findings, advice, page, picture and document."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree as ET

import numpy as np
import numpy.typing as npt
import pytest
import singer
import soundfile
import soxr
import takes
from click.testing import CliRunner

from chantwright.cli import main
from chantwright.ear.listening import ListenOptions, listen
from chantwright.ear.markings import MORION, draw
from chantwright.ear.pages import document, page, told
from chantwright.ear.sentences import load_speech
from chantwright.ear.verdict import LEVELS, Verdict, judge
from chantwright.errors import ChantError
from chantwright.score import Note, Phrase, Syllable, hymnfile, number
from chantwright.tones import load_tones

TONES = load_tones()
CALM = singer.Manner(sigma=0.6, timing=0.1)
ROOM = singer.Scene(snr=20.0)


def kinds(verdict: Verdict) -> list[str]:
    return [f.kind for f in verdict.findings]


@lru_cache(maxsize=2)
def with_mistakes() -> tuple[takes.Plan, singer.Take, Verdict]:
    plan = takes.plant(takes.make_plan(3100, notes=36), 1, wrong=2, skips=1, repeats=1)
    take, _ = takes.sing(plan, 2, manner=CALM, scene=ROOM)
    return plan, take, listen(plan.hymn, take.samples, take.rate, TONES)


def test_mistakes_are_told_once_each_with_one_thing_to_practise() -> None:
    plan, _, verdict = with_mistakes()
    assert verdict.status == "heard"
    planted = {e.note for e in plan.entries if e.planted == "wrong"}
    ids = {n for f in verdict.findings if f.kind == "wrong" for n in f.notes}
    notes = verdict.alignment.expected.notes
    assert {notes[i].id for i in planted} == ids
    assert kinds(verdict).count("skip") == 1
    assert kinds(verdict).count("repeat") == 1
    assert verdict.practise
    assert verdict.practise.count(".") == 1


def test_keyboard_habit_is_told_of_vou_and_zo_alone() -> None:
    """Equal half tones lie 2 moria above the Committee's vou (22) and zo (64)."""
    plan = takes.make_plan(3104, notes=60)
    places = {w[1] for w in plan.written}
    bend = tuple((m, round(m / 6) * 6 - m) for m in places)
    assert {m: b for m, b in bend if b} == dict.fromkeys(places & {22.0, 64.0}, 2.0)
    take, _ = takes.sing(plan, 2, manner=replace(CALM, bend=bend), scene=ROOM)
    verdict = listen(plan.hymn, take.samples, take.rate, TONES)
    assert "habit" in kinds(verdict)
    assert verdict.habit is not None
    assert set(verdict.habit.degrees) <= {2, 6}
    assert verdict.habit.share == pytest.approx(1.0, abs=0.4)
    assert not {"degree", "moving"} & set(kinds(verdict))
    true, _ = takes.sing(plan, 2, manner=CALM, scene=ROOM)
    assert "habit" not in kinds(listen(plan.hymn, true.samples, true.rate, TONES))


def test_level_decides_what_is_told() -> None:
    """A di that lies 2.5 moria high: a leader and a regular singer are told, a beginner is not."""
    plan = takes.make_plan(3106, notes=48)
    manner = replace(CALM, bend=((42.0, 2.5),))
    take, truth = takes.sing(plan, 2, manner=manner, scene=ROOM)
    pa = truth.ni_hz * 2 ** (12 / 72)
    off = {}
    heard = listen(plan.hymn, take.samples, take.rate, TONES, ListenOptions(base_hz=pa))
    for level in LEVELS:
        verdict = judge(heard.alignment, heard.contour, TONES, level=level)
        off[level] = [f.degree for f in verdict.findings if f.kind in ("degree", "moving")]
    assert off == {"beginner": [], "regular": [4], "leader": [4]}


def test_another_hymn_is_called_so() -> None:
    _, take, _ = with_mistakes()
    other = takes.make_plan(3190, notes=36)
    verdict = listen(other.hymn, take.samples, take.rate, TONES)
    assert verdict.status == "another hymn"
    assert not verdict.findings
    assert len(verdict.summary) == 1
    assert not draw(verdict)


def test_a_tune_that_nowhere_fits_is_another_hymn_and_not_silence() -> None:
    plan, other = takes.make_plan(6000, notes=30), takes.make_plan(6100, notes=30)
    take, _ = takes.sing(plan, 0, manner=CALM, scene=ROOM)
    assert listen(other.hymn, take.samples, take.rate, TONES).status == "another hymn"


@pytest.mark.parametrize("what", ["silence", "breath", "drone", "speech", "nothing"])
def test_what_is_not_sung_is_not_judged(what: str) -> None:
    makers: dict[str, Callable[[], npt.ArrayLike]] = {
        "silence": lambda: np.random.default_rng(1).normal(size=80_000) * 1e-4,
        "breath": lambda: singer.breath(3, 6),
        "drone": lambda: 0.1 * singer.drone(110, 8, seed=1),
        "speech": lambda: singer.speech(4, 10).samples,
        "nothing": lambda: np.zeros(10),
    }
    sound = makers[what]()
    plan = takes.make_plan(3100, notes=28)
    verdict = listen(plan.hymn, np.asarray(sound, np.float32), 16_000, TONES)
    assert verdict.status == "nothing sung"
    assert verdict.practise == ""
    json.dumps(document(verdict))


def test_our_own_practice_voice_is_heard_as_faultless() -> None:
    plan = takes.make_plan(3110, notes=28)
    samples, rate, _ = takes.sing_own(plan, 120.0)
    verdict = listen(plan.hymn, samples, rate, TONES, ListenOptions(level="leader"))
    assert verdict.status == "heard"
    assert set(kinds(verdict)) <= {"steady", "tempo", "breath"}
    assert all(abs(d.mean) < 0.5 for d in verdict.degrees)


@pytest.mark.parametrize("asked", ["detect", None])
def test_our_own_mix_with_the_ison_on_its_base_is_heard(asked: Literal["detect"] | None) -> None:
    """Three holders in unison with the tune's base begin and end with the melody."""
    plan = takes.make_plan(3112, notes=28, scale="hard chromatic")
    samples, rate, truth = takes.sing_own(plan, 120.0, mode="full")
    sound = soxr.resample(samples, rate, 16_000)
    verdict = listen(plan.hymn, sound, 16_000, TONES, ListenOptions(drone=asked))
    assert verdict.status == "heard"
    assert verdict.base_hz == pytest.approx(truth.ni_hz * 2 ** (plan.table[1] / 72), rel=0.005)
    assert not {"wrong", "skip", "repeat", "degree", "note"} & set(kinds(verdict))


def beside(take: singer.Take, hz: float, level: float, seed: int) -> npt.NDArray[np.float32]:
    """Lay a human ison that begins and ends with the singing beside a take, dB below the voice."""
    count = take.samples.size
    held = singer.drone(hz, count / take.rate, seed=seed, wobble=4.0)[:count]
    at = np.arange(count) / take.rate
    ends = at[-1]
    swell = np.interp(at, [0.35, 0.45, ends - 0.45, ends - 0.35], [0.0, 1.0, 1.0, 0.0])
    size = np.sqrt(np.mean(take.samples**2)) * 10 ** (level / 20)
    return np.asarray(take.samples + size * swell * held, np.float32)


def test_a_drone_in_unison_that_ends_with_the_singing_is_found() -> None:
    plan = takes.make_plan(3121, notes=30)
    take, truth = takes.sing(plan, 1, manner=CALM, scene=ROOM)
    pa = truth.ni_hz * 2 ** (12 / 72)
    with_ison = beside(take, pa, -10.0, seed=1)
    untold = listen(plan.hymn, with_ison, take.rate, TONES)
    heard = listen(plan.hymn, with_ison, take.rate, TONES, ListenOptions(drone="detect"))
    assert heard.status == "heard"
    assert heard.base_hz == pytest.approx(pa, rel=0.005)
    assert untold.status == "heard"
    assert heard.alignment.explained > untold.alignment.explained - 0.03
    assert not {"wrong", "skip", "repeat"} & set(kinds(heard))


def test_asked_for_a_drone_that_is_not_there_the_singer_keeps_his_base() -> None:
    plan = takes.make_plan(3120, notes=30)
    take, _ = takes.sing(plan, 0, manner=CALM, scene=ROOM)
    plain = listen(plan.hymn, take.samples, take.rate, TONES)
    asked = listen(plan.hymn, take.samples, take.rate, TONES, ListenOptions(drone="detect"))
    assert asked.base_hz == pytest.approx(plain.base_hz, rel=1e-3)
    assert kinds(asked) == kinds(plain)


@pytest.mark.parametrize("wobble", [6.0, 25.0])
@pytest.mark.parametrize("drone", ["detect", None])
@pytest.mark.parametrize("breathes", [False, True])
def test_a_human_ison_alone_is_no_melody(
    wobble: float, drone: Literal["detect"] | None, breathes: bool
) -> None:
    alone = 0.1 * singer.drone(110.0, 12.0, seed=5, wobble=wobble, breathes=breathes)
    plan = takes.make_plan(3100, notes=28)
    sound = np.asarray(alone, np.float32)
    verdict = listen(plan.hymn, sound, 16_000, TONES, ListenOptions(drone=drone))
    assert verdict.status == "nothing sung"


def test_a_hymn_on_one_pitch_is_a_hymn() -> None:
    """Reading on one note is chanted too (common practice)."""
    words = (
        ("Lord", "have", "mer", "cy", "up", "on", "us"),
        ("and", "save", "our", "souls", "O", "Lord", "of", "all"),
    )
    phrases = tuple(
        Phrase(tuple(Syllable(w, notes=(Note(1, Fraction(1)),)) for w in line)) for line in words
    )
    hymn = number(replace(takes.make_plan(3100, notes=28).hymn, phrases=phrases))
    notes: list[tuple[float | None, float, str]] = []
    for line in words:
        notes += [(0.0, 0.5, w) for w in line]
        notes.append((None, 0.5, ""))
    take = singer.sing(notes, 140.0, seed=4, manner=replace(CALM, sigma=0.4), scene=ROOM)
    verdict = listen(hymn, take.samples, take.rate, TONES)
    assert verdict.status == "heard"
    assert verdict.base_hz == pytest.approx(140.0, rel=0.01)


def test_the_document_points_at_the_score() -> None:
    plan, _, verdict = with_mistakes()
    made = document(verdict)
    ids = {n.id for n in verdict.alignment.expected.notes}
    assert {n["id"] for n in made["notes"]} <= ids
    assert json.loads(json.dumps(made, allow_nan=False)) == made
    assert made["status"] == "heard"
    assert made["base"]["degree"] == "pa"
    assert len(made["findings"]) >= 4
    assert len(plan.written) == len(ids)


def test_the_picture_is_true_to_size() -> None:
    """A stroke lies as far from its note's own place as the voice did, by one factor everywhere."""
    _, _, verdict = with_mistakes()
    heard = {f"{h.asked.id}-{round(h.start * 100)}": h for h in verdict.alignment.heard}
    factors, wrong = [], 0
    for drawing in draw(verdict):
        root = ET.fromstring(drawing.svg)
        lines = [e.attrib for e in root.iter() if e.tag.endswith("line") and "y1" in e.attrib]
        place = 0.0
        for line in lines:
            if line["class"] == "place":
                place = float(line["y1"])
            elif "id" in line:
                one = heard.pop(line["id"])
                wrong += "wrong" in line["class"]
                if 0.5 < abs(one.deviation) < 8:
                    factors.append((place - float(line["y1"])) / one.deviation)
        assert any(e.tag.endswith("polyline") for e in root.iter())
        assert all(float(x["x2"]) <= drawing.width for x in lines)
    assert len(factors) > 5
    assert np.ptp(factors) < 0.2  # places are written to a tenth of a unit
    assert np.mean(factors) == pytest.approx(MORION, abs=0.05)
    assert wrong == 2
    assert not any(np.isfinite(h.deviation) for h in heard.values())


def test_a_long_phrase_is_drawn_in_lines_and_no_syllable_is_parted() -> None:
    plan = takes.make_plan(3105, notes=40)
    long = replace(
        plan.hymn,
        phrases=(
            replace(
                plan.hymn.phrases[0],
                syllables=tuple(s for p in plan.hymn.phrases for s in p.syllables),
            ),
        ),
    )
    take, _ = takes.sing(plan, 2, manner=CALM, scene=ROOM)
    (drawing,) = draw(listen(long, take.samples, take.rate, TONES))
    root = ET.fromstring(drawing.svg)
    assert drawing.width < 800
    tops = {float(e.attrib["y"]) for e in root.iter() if e.attrib.get("class") == "name"}
    assert len(tops) >= 3
    for top in tops:
        first = min(
            (float(e.attrib["x"]), e.attrib.get("class", "word"))
            for e in root.iter()
            if e.tag.endswith("text") and 0 <= float(e.attrib["y"]) - top < 30
        )
        assert any(
            e.attrib.get("class") is None and float(e.attrib["x"]) == first[0]
            for e in root.iter()
            if e.tag.endswith("text")
        )


def test_the_page_has_no_script_and_escapes_what_is_written() -> None:
    plan, take, _ = with_mistakes()
    bad = replace(plan.hymn, title="<script>alert(1)</script>")
    made = page(listen(bad, take.samples, take.rate, TONES), recording="a<b>.wav")
    assert "<script" not in made
    assert "a&lt;b&gt;.wav" in made
    assert "http" not in re.sub(r"http-equiv", "", made)


def test_every_sentence_can_be_said() -> None:
    """Each row of the verdict names only values that its sentence has (checked on real takes)."""
    _, _, verdict = with_mistakes()
    assert all("{" not in text and "}" not in text for text in (*told(verdict), verdict.practise))
    speech = load_speech()
    assert [speech.size(m) for m in (-1.0, 2.0, 6.0, 12.0, 99.0)] == [
        "a hair",
        "a little",
        "about half a tone",
        "about a whole tone",
        "more than a tone",
    ]


def test_a_parish_may_say_it_in_its_own_words(tmp_path: Path) -> None:
    own = tmp_path / "ear.toml"
    own.write_text('[[sentence]]\nid = "nothing"\ntext = "I hear nothing, dear."\n', "utf-8")
    plan = takes.make_plan(3100, notes=28)
    quiet = np.zeros(16_000, np.float32)
    verdict = listen(plan.hymn, quiet, 16_000, TONES, overrides=(own,))
    assert verdict.summary == ("I hear nothing, dear.",)
    own.write_text('[[sentence]]\nid = "nothing"\ntext = "{what}"\n', "utf-8")
    with pytest.raises(ChantError, match="asks for a value"):
        listen(plan.hymn, quiet, 16_000, TONES, overrides=(own,))


def test_an_unknown_level_is_a_sentence() -> None:
    plan = takes.make_plan(3100, notes=28)
    with pytest.raises(ChantError, match="is no level"):
        listen(plan.hymn, np.zeros(9, np.float32), 16_000, TONES, ListenOptions(level="expert"))


def test_a_recording_far_longer_than_the_hymn_is_a_sentence() -> None:
    plan = takes.make_plan(3100, notes=28)
    with pytest.raises(ChantError, match="lasts 60 minutes"):
        listen(plan.hymn, np.zeros(3600 * 100, np.float32), 100, TONES)


def test_the_verb_writes_only_where_it_is_asked(tmp_path: Path) -> None:
    plan, take, _ = with_mistakes()
    hymn, sound = tmp_path / "hymn.txt", tmp_path / "take.wav"
    hymnfile.write(hymn, plan.hymn)
    soundfile.write(sound, take.samples, take.rate)
    files = [str(hymn), str(sound)]
    runner = CliRunner()
    done = runner.invoke(main, ["hear", *files, "--level", "beginner"])
    assert done.exit_code == 0, done.output
    assert "instead of" in done.stdout
    assert "Next: " in done.stdout
    assert {p.name for p in tmp_path.iterdir()} == {"hymn.txt", "take.wav"}
    page_file, json_file = tmp_path / "v.html", tmp_path / "v.json"
    done = runner.invoke(
        main,
        [
            "hear",
            str(hymn),
            str(sound),
            "--json",
            "--page",
            str(page_file),
            "--save",
            str(json_file),
        ],
    )
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout) == json.loads(json_file.read_text("utf-8"))
    assert page_file.read_text("utf-8").startswith("<!doctype html>")
    bad = runner.invoke(main, ["hear", *files, "--drone", "low"])
    assert bad.exit_code == 1
    assert "no pitch of a drone" in bad.stderr
