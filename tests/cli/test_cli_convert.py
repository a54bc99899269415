from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from chantwright.cli import main
from chantwright.score import hymnfile
from chantwright.tuning import load_scl

WORDS = """title: Evening
tone: 1

Lord, I cry unto thee: make haste unto me; |
give ear unto my voice, when I cry unto thee. |||
"""


def run(*words: str | Path) -> str:
    result = CliRunner().invoke(main, [str(w) for w in words], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture
def hymn(tmp_path: Path) -> Path:
    (tmp_path / "plain.txt").write_text(WORDS, encoding="utf-8")
    run("set", tmp_path / "plain.txt", "-o", tmp_path / "evening.txt")
    return tmp_path / "evening.txt"


@pytest.mark.parametrize("name", ["x.musicxml", "x.mxl", "x.xml"])
def test_out_and_in_again_is_the_same_hymn(hymn: Path, tmp_path: Path, name: str) -> None:
    run("convert", hymn, tmp_path / name)
    run("convert", tmp_path / name, tmp_path / "back.txt")
    before, after = hymnfile.read(hymn), hymnfile.read(tmp_path / "back.txt")
    assert after.phrases == before.phrases
    assert (after.tone, after.branch, after.title) == (before.tone, before.branch, before.title)


def test_words_of_another_program_get_their_stresses(hymn: Path, tmp_path: Path) -> None:
    run("convert", hymn, tmp_path / "x.musicxml")
    text = (tmp_path / "x.musicxml").read_text(encoding="utf-8")
    start = text.index("<miscellaneous>")
    end = text.index("</miscellaneous>") + len("</miscellaneous>")
    (tmp_path / "foreign.musicxml").write_text(text[:start] + text[end:], encoding="utf-8")
    run("convert", tmp_path / "foreign.musicxml", tmp_path / "in.txt", "--tone", "1")
    read = hymnfile.read(tmp_path / "in.txt")
    stressed = {s.text for p in read.phrases for s in p.syllables if s.stress == 1}
    assert {"Lord,", "cry", "haste", "voice,"} <= stressed
    degrees = [n.degree for p in read.phrases for s in p.syllables for n in s.notes]
    before = hymnfile.read(hymn)
    assert degrees == [n.degree for p in before.phrases for s in p.syllables for n in s.notes]


def test_the_scale_for_scala_is_read_back(hymn: Path, tmp_path: Path) -> None:
    run("convert", hymn, tmp_path / "t1.scl")
    scale = load_scl((tmp_path / "t1.scl").read_text(encoding="utf-8"))
    # Diatonic from ni: 12 10 8 12 12 10 8 moria (the patriarchal committee's table, 1881).
    assert [int(scale.moria(d)) for d in range(8)] == [0, 12, 22, 30, 42, 54, 64, 72]


def test_mistakes_are_told(hymn: Path, tmp_path: Path) -> None:
    runner = CliRunner()
    for words, said in (
        (["convert", str(hymn), str(tmp_path / "x.docx")], "does not end"),
        (["convert", str(tmp_path / "none.mid"), str(tmp_path / "x.txt")], "there is no file"),
        (["convert", str(hymn), str(hymn)], "one file"),
        (["convert", str(hymn), str(tmp_path / "y.txt"), "--tone", "3"], "own tone"),
    ):
        result = runner.invoke(main, words)
        assert result.exit_code == 1
        assert said in result.output
    bad = tmp_path / "bad.mid"
    bad.write_bytes(b"MThd")
    result = runner.invoke(main, ["convert", str(bad), str(tmp_path / "x.txt"), "--tone", "1"])
    assert result.exit_code == 1
    assert "bad.mid" in result.output
    assert not (tmp_path / "x.txt").exists()
