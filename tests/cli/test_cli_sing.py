"""``sing``: parts, verses, loops, maps and MIDI, as a chanter would ask for them."""

from __future__ import annotations

import json
from pathlib import Path

import mido
import pytest
import soundfile
from click.testing import CliRunner, Result

from chantwright.cli import main

HYMN = """title: {title}
tone: 1

O Lord, hear me.
Make haste.
"""


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.fixture
def verses(tmp_path: Path) -> list[str]:
    out = []
    for number in (1, 2):
        path = tmp_path / f"verse-{number}.txt"
        path.write_text(HYMN.format(title=f"Verse {number}"), encoding="utf-8")
        out.append(str(path))
    return out


def test_verses_loops_and_a_map(verses: list[str], tmp_path: Path) -> None:
    sound, times = tmp_path / "x.opus", tmp_path / "x.json"
    result = run(
        "sing", *verses, "-o", str(sound), "--part", "melody", "--count-in", "0",
        "--intonation", "none", "--text", "vowel", "--map", str(times),
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    told = json.loads(times.read_text(encoding="utf-8"))
    assert [p["id"] for p in told["phrases"]] == ["p1", "p2", "v2p1", "v2p2"]
    assert soundfile.info(sound).duration == pytest.approx(told["seconds"], abs=0.01)
    once = told["phrases"][1]["end"] - told["phrases"][1]["start"]
    result = run(
        "sing", verses[0], "-o", str(sound), "--phrase", "2", "--times", "3", "--rest", "1",
        "--part", "melody", "--count-in", "0", "--intonation", "none", "--plain",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert soundfile.info(sound).duration > 3 * once


def test_midi(verses: list[str], tmp_path: Path) -> None:
    for tuning in ("table", "bend"):
        out = tmp_path / f"{tuning}.mid"
        result = run("sing", verses[0], "-o", str(out), "--tuning", tuning)
        assert result.exit_code == 0, result.output
        words = "".join(m.text for t in mido.MidiFile(out).tracks for m in t if m.type == "lyrics")
        assert words.split()[:2] == ["O", "Lord,"]


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        (("-o", "x.doc"), "cannot be written as"),
        (("-o", "none/x.opus", "--plain"), "folder does not exist"),
        (("-o", "x.opus", "--phrase", "9"), "has no phrase 9"),
        (("-o", "x.mid", "--map", "x.json"), "no timing map"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_left(
    extra: tuple[str, ...],
    said: str,
    verses: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    before = set(tmp_path.iterdir())
    result = run("sing", verses[0], *extra)
    assert result.exit_code == 1
    assert said in result.output
    assert "Traceback" not in result.output
    assert set(tmp_path.iterdir()) == before


def test_verses_of_two_tones_are_refused(verses: list[str], tmp_path: Path) -> None:
    path = Path(verses[1])
    path.write_text(path.read_text("utf-8").replace("tone: 1", "tone: 2"), encoding="utf-8")
    result = run("sing", *verses, "-o", str(tmp_path / "x.opus"))
    assert result.exit_code == 1
    assert "another tone" in result.output
