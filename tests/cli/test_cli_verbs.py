"""The verbs as a chanter meets them: what they print, how they end, what they say to bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chantwright.cli import main
from chantwright.parish import copy_demo
from chantwright.score import hymnfile
from chantwright.tones import load_tones

TONES = load_tones()
PSALM = (
    "Lord, I cry unto thee: make haste unto me; give ear unto my voice, when I cry unto thee.\n\n"
    "Let my prayer be set forth before thee as incense; and the lifting up of my hands as the "
    "evening sacrifice.\n"
)


def run(*words: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(main, list(words), input=typed)


def test_week_as_json() -> None:
    # Published calendars: Pascha 2026 is 12 April; All Saints, 7 June 2026, is tone 8.
    result = run("week", "2026-06-06", "--json")
    assert result.exit_code == 0
    days = json.loads(result.stdout)
    assert [d["service"] for d in days] == ["great-vespers", "orthros", "liturgy"]
    vespers, orthros, _ = days
    assert vespers["civil_date"] == "2026-06-06"
    assert vespers["liturgical_date"] == orthros["civil_date"] == "2026-06-07"
    assert vespers["tone"] == orthros["tone"] == 8
    assert orthros["nominal_tone"] == 8
    assert orthros["eothinon"] == 1
    assert orthros["reasons"]


def test_a_feast_of_the_lord_hides_the_tone_but_not_the_count() -> None:
    # Common practice: nothing of the Octoechos is sung on a feast of the Lord (6 August 2028).
    days = json.loads(run("week", "2028-08-06", "--json").stdout)
    assert {d["tone"] for d in days} == {None}
    assert all(d["nominal_tone"] in range(1, 9) for d in days)


def test_week_as_text_names_both_tones_and_asks_for_confirmation() -> None:
    result = run("week", "2026-07-12")
    assert result.exit_code == 0
    assert "Plagal" in result.stdout
    assert "priest" in result.stdout


@pytest.mark.parametrize("wrong", ["1500-01-01", "2026-02-31", "soonish", "", "2026-13-01"])
def test_a_wrong_date_is_a_sentence(wrong: str) -> None:
    result = run("week", wrong)
    assert result.exit_code == 1
    assert "Traceback" not in result.output
    assert result.stderr.strip().endswith(".")


def test_words_as_json(tmp_path: Path) -> None:
    file = tmp_path / "words.txt"
    file.write_text(PSALM)
    result = run("words", str(file), "--json")
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    by_text = {w["text"].strip(",.;:").lower(): w for w in document["words"]}
    # Division and stress as in Webster 1913 (sac'ri-fice, in'cense n., eve'ning).
    assert [s.strip(".,;:") for s in by_text["sacrifice"]["syllables"]] == ["sac", "ri", "fice"]
    assert by_text["sacrifice"]["stress"][0] == 1
    assert by_text["incense"]["stress"] == [1, 0]
    assert len(by_text["evening"]["syllables"]) == 2


def test_the_teachers_marks_win() -> None:
    result = run("words", "-", "--json", typed="Let my incénse | rise to the heav·e·ns ||\n")
    words = {w["text"].strip("|. ").lower(): w for w in json.loads(result.stdout)["words"]}
    accented = next(w for w in words.values() if "".join(w["syllables"]).startswith("incense"))
    assert accented["stress"] == [0, 1]
    divided = next(w for w in words.values() if "".join(w["syllables"]).startswith("heavens"))
    assert divided["syllables"] == ["heav", "e", "ns"]


@pytest.mark.parametrize("tone", range(1, 9))
def test_set_as_json_closes_on_the_tones_own_notes(tone: int) -> None:
    result = run("set", "-", "--tone", str(tone), "--json", typed=PSALM)
    assert result.exit_code == 0, result.output
    document = json.loads(result.stdout)
    branch = TONES.branch(document["branch"])
    assert branch.tone == tone
    closes = []
    for phrase in document["phrases"]:
        assert len(phrase["syllables"]) == len(phrase["degrees"]) == len(phrase["beats"])
        assert len(phrase["ison"]) == len(phrase["syllables"])
        assert phrase["figures"]
        closes.append(phrase["degrees"][-1][-1])
    allowed = {*branch.incomplete, *branch.complete, *branch.final}
    assert set(closes) <= allowed
    assert closes[-1] in branch.final


def test_set_writes_a_hymn_file_that_print_and_sing_can_use(tmp_path: Path) -> None:
    words = tmp_path / "evening.txt"
    words.write_text("title: Evening\ntone: 1\n\n" + PSALM)
    hymn = tmp_path / "set.txt"
    assert run("set", str(words), "-o", str(hymn)).exit_code == 0
    assert hymnfile.read(hymn).is_set
    sound = tmp_path / "evening.flac"
    result = run("sing", str(hymn), "-o", str(sound), "--group", "men")
    assert result.exit_code == 0, result.output
    assert soundfile.info(sound).duration > 10
    pdf = tmp_path / "evening.pdf"
    result = run("print", str(hymn), "-o", str(pdf))
    assert result.exit_code == 0, result.output
    assert pdf.read_bytes().startswith(b"%PDF")


def test_pitch_as_json(tmp_path: Path) -> None:
    file = tmp_path / "h.txt"
    file.write_text("title: Evening\ntone: 5\n\n" + PSALM)
    result = run("pitch", str(file), "--group", "mixed", "--json")
    assert result.exit_code == 0, result.output
    (document,) = json.loads(result.stdout)
    assert document["base"] == "ke"
    assert 60 < document["hz"] < 300
    assert {s["name"] for s in document["singers"]} == {"men", "women", "children"}


def test_check_finds_our_own_data_in_order() -> None:
    result = run("check", "--json")
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["wrong"] == 0


def test_found_then_prepare_asks_for_hymns(tmp_path: Path) -> None:
    parish = tmp_path / "parish"
    assert run("found", str(parish), "--name", "Test").exit_code == 0
    result = run("prepare", "2026-11-28", "--parish", str(parish))
    assert result.exit_code == 1
    assert "hymn file" in result.stderr
    plan = parish / "services" / "2026-11-28-great-vespers.txt"
    assert "lord-i-cry:" in plan.read_text()


BAD = {
    "empty.txt": b"",
    "blank.txt": b"\n\n \n",
    "binary.txt": bytes(range(256)),
    "header-only.txt": b"title: x\ntone: 1\n",
    "wrong-tone.txt": b"title: x\ntone: 11\n\nLord, have mercy.\n",
    "wrong-notes.txt": b"tone: 1\n\nLord have mer-cy\nnotes: pa vou\n",
    "wrong-branch.txt": b"branch: t99.none\n\nLord have mercy\n",
    "signs.txt": b"tone: 1\n\n!!! ??? ... 1234\n",
}


@pytest.mark.parametrize("name", BAD)
@pytest.mark.parametrize("verb", ["words", "set", "pitch", "print", "sing"])
def test_bad_files_are_sentences(tmp_path: Path, verb: str, name: str) -> None:
    file = tmp_path / name
    file.write_bytes(BAD[name])
    extra = ["-o", str(tmp_path / "out.pdf")] if verb == "print" else []
    extra = ["-o", str(tmp_path / "out.wav")] if verb == "sing" else extra
    result = run(verb, str(file), *extra)
    if verb != "words":
        assert result.exit_code == 1, result.output
    assert result.exit_code in (0, 1), result.output
    assert "Traceback" not in result.output
    assert "fault of chantwright" not in result.output
    assert not list(tmp_path.glob("out.*"))


@pytest.mark.parametrize(
    "words",
    [
        ("words", "no-such-file.txt"),
        ("set", "no-such-file.txt"),
        ("week", "--parish", "no-such-folder"),
        ("prepare", "--parish", "no-such-folder"),
        ("pitch", "-", "--singers", "nobody.toml"),
    ],
)
def test_missing_files_are_sentences(words: tuple[str, ...]) -> None:
    result = run(*words, typed=PSALM)
    assert result.exit_code == 1
    assert result.stderr.strip()
    assert "fault of chantwright" not in result.output


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(max_size=200))
def test_any_text_is_set_or_answered(text: str) -> None:
    for verb in (["words", "-"], ["set", "-", "--tone", "3"]):
        result = run(*verb, typed=text)
        assert result.exit_code in (0, 1), (text, result.output)


def test_help_of_every_verb_is_there() -> None:
    result = run("--help")
    for verb in ("week", "words", "set", "pitch", "print", "sing", "check", "prepare", "demo"):
        assert verb in result.output
        assert run(verb, "--help").exit_code == 0


def test_week_shows_the_parishs_plan_and_what_is_missing(tmp_path: Path) -> None:
    parish = copy_demo(tmp_path / "parish")
    result = run("week", "2026-11-28", "--parish", str(parish))
    assert result.exit_code == 0, result.output
    assert "lord-i-cry: lord-i-cry.txt" in result.stdout
    assert "gladsome-light: words still to be found" in result.stdout
    assert "simeon: read" in result.stdout


def test_fourteen_points_each_with_its_layer() -> None:
    (first, *_) = json.loads(run("week", "2026-11-28", "--points", "--json").stdout)
    assert [p["number"] for p in first["points"]] == list(range(1, 15))
    known = [k for p in first["points"] for k in p["known"]]
    assert known
    assert {k["layer"] for k in known} <= {"computed", "parish", "priest"}
    assert not any(k["confirmed"] for k in known if k["layer"] == "computed")
