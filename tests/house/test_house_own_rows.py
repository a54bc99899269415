"""Rows of a parish that are of the wrong kind: a sentence that names the row, never a traceback."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from chantwright.ear.sentences import load_speech
from chantwright.errors import ChantError, Where
from chantwright.parish import open_folder
from chantwright.parish.hardness import hardness, load_weights
from chantwright.parish.practice import grade, load_rules
from chantwright.parish.records import Result
from chantwright.rows import parse_rows, parse_toml
from chantwright.score import hymnfile
from chantwright.setting.book import load_books
from chantwright.setting.taste import read_taste
from chantwright.voice.sounds import load_spelling

Use = Callable[[list[Path]], object]
HYMN = hymnfile.loads("title: A\ntone: 1\n\nA-men.\nnotes: pa ga+vou\n\nA-men.\nnotes: pa pa\n")

FORMULA = '[[formula]]\nid = "x"\nbook = "t1.heirmologic"\nrole = "open"\n'


def graded(own: list[Path]) -> object:
    sung = datetime(2026, 11, 25, tzinfo=UTC)
    return grade(Result("a.txt", 10, 1, 0, 2.0, sung=sung), load_rules(own))


@pytest.mark.parametrize(
    ("rows", "use", "said"),
    [
        ('[[book]]\nid = "t1.heirmologic"\nfull = true', load_books, "full"),
        ('[[book]]\nid = "t1.heirmologic"\nfull = 0.5', load_books, "full"),
        (f"{FORMULA}slots = 7", load_books, "slots"),
        (f"{FORMULA}slots = [1]", load_books, "slots"),
        ('[[letter]]\nid = "x"\nletters = "x"\nsounds = true', load_spelling, "sounds"),
        ('[[letter]]\nid = "x"\nletters = 1\nsounds = ["s"]', load_spelling, "letters"),
        ('[[spelling]]\nid = "x"\nlanguage = "en"\nletters = "x"\nsounds = ["ah"]\nkeep = 1',
         load_spelling, "keep"),
        ('[[grade]]\nid = "easy"\noff_moria = [1]', graded, "off_moria"),
        ('[[hardness]]\nid = "leap"\nweight = ["x"]',
         lambda own: hardness(HYMN, load_weights(own)), "weight"),
        ('[[sentence]]\nid = "nothing"\ntext = "{x.y}"',
         lambda own: load_speech(own).say("nothing", x="a"), "value"),
    ],
)  # fmt: skip
def test_rows_of_a_wrong_kind_are_named(rows: str, use: Use, said: str, tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(rows + "\n", encoding="utf-8")
    with pytest.raises(ChantError) as caught:
        use([path])
    assert said in str(caught.value)
    assert "own.toml" in str(caught.value)


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "9" * 5000, "a = 2026-02-30", "="])
def test_settings_without_end_end_in_a_sentence(text: str, tmp_path: Path) -> None:
    with pytest.raises(ChantError, match=r"x\.toml"):
        parse_toml(text, Where("x.toml"))
    with pytest.raises(ChantError):
        parse_rows(text, file="x.toml", origin="parish")
    (tmp_path / "parish.toml").write_text(text, encoding="utf-8")
    with pytest.raises(ChantError, match=r"parish\.toml"):
        open_folder(tmp_path)
    with pytest.raises(ChantError, match="forget"):
        read_taste(tmp_path / "parish.toml")
