from __future__ import annotations

import json
import zipfile
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result

from chantwright.cli import main
from chantwright.parish import copy_demo
from chantwright.parish.records import (
    RECORDING,
    add_person,
    add_result,
    agree,
    keep_recording,
    open_store,
    store_url,
    take_range,
)
from chantwright.parish.records import (
    Result as Sung,
)


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(w) for w in words])


@pytest.fixture
def parish(tmp_path: Path) -> Path:
    path = copy_demo(tmp_path / "parish")
    store = open_store(store_url(path))
    with store.write() as session:
        anna = add_person(session, "Anna", "woman").id
        take_range(session, anna, 196.0, 440.0)
        add_result(session, anna, Sung("lord-i-cry.txt", 40, 2, 0, 0.8, -1.0))
        agree(session, anna, RECORDING, given_by="Anna", as_guardian=False)
        keep_recording(
            session, anna, "lord-i-cry.txt", b"OggS and so on", path / "recordings", suffix=".ogg"
        )
        add_person(session, "Basil", "man")
    store.close()
    return path


def test_a_parish_comes_back_from_its_backup(parish: Path, tmp_path: Path) -> None:
    file = tmp_path / "kept.zip"
    done = run("backup", "--parish", parish, "-o", file)
    assert done.exit_code == 0, done.output
    # A singer's sound is kept for a month, and does not live on in a copy.
    assert not [n for n in zipfile.ZipFile(file).namelist() if "recordings" in n]
    new = tmp_path / "new"
    assert run("restore", file, new).exit_code == 0
    for path in (parish / "hymns").iterdir():
        assert (new / "hymns" / path.name).read_bytes() == path.read_bytes()
    told = [json.loads(run("singers", "list", "--parish", p, "--json").stdout)
            for p in (parish, new)]  # fmt: skip
    assert told[0] == told[1]
    assert [s["nickname"] for s in told[1]] == ["Anna", "Basil"]
    assert "G3 to A4" in run("singers", "list", "--parish", new).stdout  # 196 and 440 Hz
    before = (new / "parish.toml").read_bytes()
    again = run("restore", file, new)
    assert again.exit_code == 1
    assert "already" in again.output
    assert (new / "parish.toml").read_bytes() == before


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 junk", b"not a zip" * 100])
def test_what_is_no_backup_is_told(tmp_path: Path, data: bytes) -> None:
    file = tmp_path / "x.zip"
    file.write_bytes(data)
    done = run("restore", file, tmp_path / "new")
    assert done.exit_code == 1
    assert "Traceback" not in done.output
    assert not (tmp_path / "new" / "parish.toml").exists()
    assert run("restore", tmp_path / "none.zip", tmp_path / "new").exit_code == 1


def test_a_singer_gets_everything_of_theirs_and_of_nobody_else(
    parish: Path, tmp_path: Path
) -> None:
    file = tmp_path / "anna.zip"
    assert run("singers", "export", "anna", "--parish", parish, "-o", file).exit_code == 0
    with zipfile.ZipFile(file) as zipped:
        told = json.loads(zipped.read("singer.json"))
        names = [n for n in zipped.namelist() if n.startswith("recordings/")]
        assert [zipped.read(n) for n in names] == [b"OggS and so on"]
        assert "Basil" not in zipped.read("singer.json").decode()
    assert told["singer"]["nickname"] == "Anna"
    assert len(told["result"]) == len(told["range"]) == len(told["consent"]) == 1
    wrong = run("singers", "export", "Nobody", "--parish", parish)
    assert wrong.exit_code == 1
    assert "Anna, Basil" in wrong.output


def test_nothing_is_founded_where_there_is_no_parish(tmp_path: Path) -> None:
    for words in (("backup",), ("singers", "list"), ("singers", "export", "x")):
        assert run(*words, "--parish", tmp_path).exit_code == 1
    assert not list(tmp_path.iterdir())


def test_a_singer_is_added_and_pitches_the_hymns(tmp_path: Path) -> None:
    parish = tmp_path / "parish"
    assert run("found", parish).exit_code == 0
    done = run("singers", "list", "--parish", parish)
    assert "Nobody yet" in done.output
    done = run(
        *("singers", "add", "Ita", "--voice", "child", "--lowest", "C4", "--highest", "C5"),
        *("--parish", parish),
    )
    assert done.output == "Ita: child, C4 to C5\n"
    words = tmp_path / "harbour.txt"
    words.write_text("The boats came in before the dawn.", encoding="utf-8")
    done = run("pitch", words, "--tone", "4", "--parish", parish)
    assert done.output.startswith("The boats came in before the: ")
    assert "  Ita" in done.output
    assert "  men" not in done.output


def test_half_a_range_is_asked_back(parish: Path) -> None:
    done = run("singers", "add", "Ita", "--voice", "child", "--lowest", "C4", "--parish", parish)
    assert done.exit_code == 2
    assert "both --lowest and --highest" in done.output


def test_the_list_of_singers_is_shown_while_the_records_have_no_range(tmp_path: Path) -> None:
    parish = copy_demo(tmp_path / "parish")
    done = run("singers", "list", "--parish", parish)
    assert "Anselm" in done.output
    assert "(singers.toml)" in done.output


def test_a_sung_range_is_kept(tmp_path: Path) -> None:
    parish = tmp_path / "parish"
    run("found", parish)
    rate, notes = 16_000, [220.0, 196.0, 174.6, 164.8, 220.0, 246.9, 261.6, 293.7, 329.6]
    time = np.arange(int(1.4 * rate)) / rate
    fade = np.minimum(1.0, np.minimum(time, time[::-1]) / 0.05)
    # A made voice: harmonics that fall by 9 dB an octave, each note held and parted by silence.
    held = [
        0.2 * fade * sum(np.sin(2 * np.pi * hz * k * time) / k**1.5 for k in range(1, 12))
        for hz in notes
    ]
    take = tmp_path / "take.wav"
    soundfile.write(take, np.concatenate([np.r_[n, np.zeros(rate // 4)] for n in held]), rate)
    done = run("range", take, "--singer", "Bran", "--voice", "man", "--parish", parish)
    assert done.exit_code == 0, done.output
    assert f"Kept for Bran in {parish}." in done.output
    told = json.loads(run("singers", "list", "--json", "--parish", parish).output)
    assert [one["nickname"] for one in told] == ["Bran"]
    # Comfortable lies inside what was held, by a little (common practice of voice teachers).
    assert 164.8 * 0.99 < told[0]["low_hz"] < 164.8 * 1.2
    assert 329.6 / 1.2 < told[0]["high_hz"] < 329.6 * 1.01
    again = run("range", take, "--singer", "Nobody", "--parish", parish)
    assert again.exit_code == 1
    assert "there is no singer “Nobody”" in again.output
