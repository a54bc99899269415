"""The verbs that listen, as a chanter meets them."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result
from singer import Manner, Scene, places, sing

from chantwright.cli import main
from chantwright.score import hymnfile

RATE = 16_000
HYMN = """tone: 1
tempo: 120
base: pa = 150 Hz

Keep thy lamp a-light, O heart, ||
notes: pa vou ga di di ga vou:2
ison: pa . . . . . .
for the Bride-groom com-eth soon. |||
notes: vou ga vou+pa ni pa vou+ni pa:4
ison: pa . . . . . .
"""


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def sung(path: Path, notes: list[tuple[float | None, float, str]], **manner: float) -> str:
    take = sing(notes, 150.0, seed=7, manner=Manner(**manner), scene=Scene(snr=25))  # type: ignore[arg-type]
    soundfile.write(path, take.samples, take.rate)
    return str(path)


def test_a_range_is_printed_ready_for_the_list_of_singers(tmp_path: Path) -> None:
    notes: list[tuple[float | None, float, str]] = [
        (float(m), 0.9, "a") for m in (0, -12, -24, 0, 12, 24, 36)
    ]
    path = sung(tmp_path / "range.flac", notes)
    result = run("range", path, "--singer", "Mary", "--voice", "woman")
    assert result.exit_code == 0
    assert "[[singer]]" in result.stdout and 'voice = "woman"' in result.stdout
    told = json.loads(run("range", path, "--json").stdout)
    assert told["lowest_hz"] == pytest.approx(150 * 2 ** (-24 / 72), rel=0.01)
    assert told["low_hz"] > told["lowest_hz"] and told["high_hz"] < told["highest_hz"]


def test_a_melody_is_written_as_a_hymn_file(tmp_path: Path) -> None:
    hymn, ladder = hymnfile.loads(HYMN), places("diatonic", -2, 7)
    notes: list[tuple[float | None, float, str]] = []
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            for i, note in enumerate(syllable.notes):
                where = ladder[note.degree] - ladder[1]
                notes.append((where, float(note.beats) / 2, "" if i else syllable.text))
        notes.append((None, 0.5, ""))
    path = sung(tmp_path / "hymn.wav", notes, sigma=0.5)
    text = tmp_path / "words.txt"
    text.write_text("tone: 1\n\n" + "\n".join(p.words for p in hymn.phrases) + "\n", "utf-8")
    out = tmp_path / "taken.txt"
    result = run("transcribe", path, str(text), "-o", str(out))
    assert result.exit_code == 0, result.output
    taken = hymnfile.read(out)
    assert taken.tone == 1 and taken.melody_kind == "sung" and taken.is_set
    assert "beats a minute" in result.stderr
    few = run("name", path)
    assert few.exit_code == 0 and "Last note" in few.stdout


def test_a_held_ison_is_told(tmp_path: Path) -> None:
    path = sung(tmp_path / "ison.ogg", [(0.0, 9.9, "e")], vibrato=4)
    text = tmp_path / "hymn.txt"
    text.write_text(HYMN, "utf-8")
    result = run("hold", path, str(text))
    assert result.exit_code == 0, result.output
    assert "Steady" in result.stdout
    told = json.loads(run("hold", path, str(text), "--json").stdout)
    assert told["offset"] == pytest.approx(0, abs=1)


@pytest.mark.parametrize("verb", ["range", "name"])
def test_what_is_no_singing_is_a_sentence(tmp_path: Path, verb: str) -> None:
    path = tmp_path / "noise.wav"
    soundfile.write(path, 0.02 * np.random.default_rng(1).normal(size=3 * RATE), RATE)
    result = run(verb, str(path))
    assert result.exit_code == 1
    assert "nothing sung" in result.stderr and "Traceback" not in result.stderr


@pytest.mark.parametrize(
    "words",
    [("transcribe", "none.wav", "--tone", "1"), ("name", "none.wav"), ("range", "none.mp3")],
)
def test_a_missing_recording_is_a_sentence(words: tuple[str, ...]) -> None:
    result = run(*words)
    assert result.exit_code == 1
    assert "no file" in result.stderr or "no such recording" in result.stderr


def test_a_tone_is_asked_for(tmp_path: Path) -> None:
    result = run("transcribe", sung(tmp_path / "a.wav", [(0.0, 1.0, "a")]))
    assert result.exit_code == 1 and "which tone" in result.stderr
