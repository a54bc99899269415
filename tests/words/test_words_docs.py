"""The examples of docs/words.md are true."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from chantwright.cli import main
from chantwright.words import read_words

PAGE = (Path(__file__).parents[2] / "docs" / "words.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", PAGE, re.S)


def blocks(kind: str) -> list[str]:
    return [body for own, body in BLOCKS if own == kind]


def said(*arguments: str) -> str:
    result = CliRunner().invoke(main, ["words", *arguments])
    assert result.exit_code == 0, result.output
    return result.output


def test_the_first_answer_shown_is_given() -> None:
    assert blocks("text")[0].rstrip() in said("--psalm", "141:1")


def test_the_python_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    exec(blocks("python")[0], {})
    told = capsys.readouterr().out
    assert "make haste unto me; full" in told
    assert "small capitals" in told


def test_a_reading_of_ones_own_in_the_parish_folder(tmp_path: Path) -> None:
    (tmp_path / "parish.toml").write_text('name = "Example"\n', encoding="utf-8")
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "words.toml").write_text(blocks("toml")[0], encoding="utf-8")
    hymn = tmp_path / "hymn.txt"
    hymn.write_text(blocks("hymn")[0], encoding="utf-8")
    shown = blocks("text")[1].rstrip()
    assert said(str(hymn), "--parish", str(tmp_path)).rstrip().endswith(shown)
    assert shown not in said(str(hymn))


# each mark of the table, and what it does to its own example
def test_every_example_of_the_table_of_marks() -> None:
    rows = re.findall(r"^\| (.+?) \| (.+?) \| `(.+)` \|$", PAGE, re.M)
    examples = [cell.replace("\\|", "|") for _, _, cell in rows]
    plain = {"that walketh not | in the counsel", "of the ungodly. || Alleluia.", r"\*", "{twice}"}
    words = {e: read_words(e).words for e in examples if e not in plain}
    assert plain <= set(examples)
    assert {e: w[-1].reading for e, w in words.items()} == {
        "O~Lord": "Lord:1",
        r"\Glory": "Glo-ry:10",
        "incénse": "in-cense:01",
        "blessèd": "bless-ed:10",
        "thòu": "thou:0",
        "al·le·lu·i·a": "al-le-lu-i-a:00100",
        "heav'n": "heav'n:1",
        "glo·ri‿ous": "glo-rious:10",
    }
    assert [w.bar for w in read_words(examples[0]).words] == ["", "", "|", "", "", ""]
    assert [w.bar for w in read_words(examples[1]).words] == ["", "", "||", ""]


def test_every_source_is_explained() -> None:
    for source in ("teacher", "parish", "preference", "lexicon", "rule", "guess"):
        assert re.search(rf"^\d\. `{source}`:", PAGE, re.M)
