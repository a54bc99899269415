"""The teacher's own hand: one phrase again, reasons, choices, known melodies, a row on trial."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner, Result

from chantwright.cli import main
from chantwright.parish import found_folder
from chantwright.score import hymnfile
from chantwright.setting import load_books, read_taste

WORDS = (
    "title: Lord, I cry\ntone: 1\n\n"
    "Lord, I cry unto thee: || make haste unto me; || give ear unto my voice, |\n"
    "when I cry unto thee. |||\n"
)


def run(*words: str, typed: str | None = None) -> Result:
    return CliRunner().invoke(main, list(words), input=typed)


@pytest.fixture
def known(tmp_path: Path) -> Path:
    """A hymn file with its melody."""
    (tmp_path / "words.txt").write_text(WORDS, encoding="utf-8")
    path = tmp_path / "known.hymn"
    assert run("set", str(tmp_path / "words.txt"), "-o", str(path)).exit_code == 0
    return path


@pytest.fixture
def parish(tmp_path: Path) -> Path:
    found_folder(tmp_path / "parish", "St Try")
    return tmp_path / "parish"


def test_set_says_why(tmp_path: Path) -> None:
    (tmp_path / "words.txt").write_text(WORDS, encoding="utf-8")
    result = run("set", str(tmp_path / "words.txt"), "--why")
    assert result.exit_code == 0
    told = [line for line in result.stdout.splitlines() if line.startswith("p4s")]
    assert len(told) == 6
    assert all("t1." in line and "confidence" in line for line in told)


def test_one_phrase_is_sung_another_way(known: Path, tmp_path: Path) -> None:
    out = tmp_path / "other.hymn"
    words = ["--phrase", "2", "--choices", "5", "--take", "3", "-o", str(out)]
    result = run("set", str(known), *words)
    assert result.exit_code == 0, result.output
    assert result.stdout.count("— setting") == 5
    before, after = hymnfile.read(known), hymnfile.read(out)
    same = [a == b for a, b in zip(before.phrases, after.phrases, strict=True)]
    assert same == [True, False, True, True]
    wrong = run("set", str(known), "--phrase", "9")
    assert wrong.exit_code == 1
    assert "no phrase “p9”" in wrong.stderr


def test_a_choice_is_remembered_and_used(known: Path, parish: Path) -> None:
    words = known.parent / "words.txt"
    result = run("choose", str(words), "--parish", str(parish), "--rounds", "2", typed="b\nb\n")
    assert result.exit_code == 0, result.output
    learnt = read_taste(parish / "own" / "prices.toml")
    assert learnt
    assert all(row["value"] >= 0 for row in learnt.values())
    ours = load_books().weights
    changed = load_books([parish / "own" / "prices.toml"]).weights
    assert {n for n in ours if ours[n] != changed[n]} == set(learnt)
    assert run("check", "--parish", str(parish)).exit_code == 0
    assert run("set", str(words), "--parish", str(parish)).exit_code == 0
    assert run("choose", str(words)).exit_code == 2


def test_new_words_to_a_known_hymn(known: Path, tmp_path: Path) -> None:
    (tmp_path / "new.txt").write_text(
        "King, I call unto thee: || come down unto us; || give heed unto my prayer, |\n"
        "and let me dwell with thy holy people for ever. |||\n",
        encoding="utf-8",
    )
    out = tmp_path / "new.hymn"
    result = run("fit", str(tmp_path / "new.txt"), str(known), "-o", str(out), "--json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert [p["model"] for p in told] == ["p1", "p2", "p3", "p4"]
    assert told[0] == {
        "phrase": "p1",
        "model": "p1",
        "edits": 0,
        "cost": 0.0,
        "report": [],
        "rather_formulas": False,
    }
    assert told[3]["rather_formulas"]
    model, new = hymnfile.read(known), hymnfile.read(out)
    assert [s.notes for s in new.phrases[0].syllables] == [
        s.notes for s in model.phrases[0].syllables
    ]
    text = run("fit", str(tmp_path / "new.txt"), str(known)).stdout
    assert "fits exactly" in text
    assert "--formulas" in text
    mended = run("fit", str(tmp_path / "new.txt"), str(known), "--formulas", "-o", str(out))
    assert mended.exit_code == 0, mended.output
    again = hymnfile.read(out)
    assert again.phrases[0] == new.phrases[0]
    assert again.phrases[3] != new.phrases[3]
    assert again.melody_kind == "model"


def test_figures_of_a_hymn_never_overwrite(known: Path, tmp_path: Path) -> None:
    out = tmp_path / "taken.toml"
    assert run("figures", str(known), "-o", str(out)).exit_code == 0
    text = out.read_text(encoding="utf-8")
    assert 'src = "taken from Lord, I cry"' in text
    assert "lord-i-cry." in text
    assert load_books([out])
    again = run("figures", str(known), "-o", str(out))
    assert again.exit_code == 1
    assert out.read_text(encoding="utf-8") == text


def test_a_row_is_heard_seen_checked_and_kept(parish: Path, tmp_path: Path) -> None:
    slots = "w*=@ S=ga:.5+vou:.5+pa w=pa:2"
    words = ["audition", "t1.full.pa.10a", "have mercy on thy people", "--slots", slots]
    result = run(*words, "-o", str(tmp_path / "try"), "--keep", "--parish", str(parish))
    assert result.exit_code == 0, result.output
    assert "in order" in result.stdout
    sound, rate = soundfile.read(tmp_path / "try" / "t1.full.pa.10a.wav")
    assert len(sound) > 2 * rate
    picture = (tmp_path / "try" / "t1.full.pa.10a.svg").read_text(encoding="utf-8")
    assert picture.startswith("<svg")
    kept = load_books([parish / "own" / "formulas.toml"]).book("t1.heirmologic")
    assert kept.formula("t1.full.pa.10a").origin == "parish"
    twice = run(*words, "-o", str(tmp_path / "try"), "--keep", "--parish", str(parish))
    assert twice.exit_code == 1
    assert "already" in twice.stderr


def test_a_bad_row_is_not_kept(parish: Path, tmp_path: Path) -> None:
    words = ["audition", "t1.full.pa.10a", "have mercy on thy people", "-o", str(tmp_path)]
    result = run(*words, "--slots", "w*=@ S=ga w=pa", "--keep", "--parish", str(parish))
    assert result.exit_code == 1
    assert "holds its last syllable" in result.stdout
    assert not (parish / "own" / "formulas.toml").exists()
    assert run("audition", "t9.nothing", "-o", str(tmp_path)).exit_code == 1


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl"])
def test_a_model_may_come_from_another_program(known: Path, tmp_path: Path, suffix: str) -> None:
    other = tmp_path / f"known{suffix}"
    assert run("convert", str(known), str(other)).exit_code == 0
    words = str(known.parent / "words.txt")
    first = tmp_path / "first.txt"
    second = tmp_path / "second.txt"
    assert run("fit", words, str(known), "-o", str(first)).exit_code == 0
    assert run("fit", words, str(other), "-o", str(second)).exit_code == 0

    def melody(path: Path) -> list[list[int]]:
        return [
            [n.degree for s in p.syllables for n in s.notes] for p in hymnfile.read(path).phrases
        ]

    assert melody(second) == melody(first)
    assert run("figures", str(other)).exit_code == 0
