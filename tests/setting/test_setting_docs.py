"""The examples of docs/setting.md are true."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from chantwright.score import hymnfile
from chantwright.setting import Books, Formula, check_books, load_books, set_hymn
from chantwright.tones import load_tones
from chantwright.words import divide

_PAGE = (Path(__file__).parents[2] / "docs" / "setting.md").read_text(encoding="utf-8")
_BLOCKS = re.findall(r"```(\w+)\n(.*?)```", _PAGE, re.S)


def test_the_python_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    exec(next(body for kind, body in _BLOCKS if kind == "python"), {})
    told = capsys.readouterr().out
    assert told.count("tone 1, t1.heirmologic") == 3
    assert "'Bless=" in told


def test_the_row_shown_is_the_row_we_have(tmp_path: Path, books: Books) -> None:
    shown = next(body for kind, body in _BLOCKS if kind == "toml")
    path = tmp_path / "shown.toml"
    path.write_text(shown, encoding="utf-8")

    def told(found: Formula) -> tuple[object, ...]:
        return found.slots, found.shape, found.role, found.weight, found.conf, found.src

    name = "t1.full.pa.10a"
    again = load_books([path]).book("t1.heirmologic").formula(name)
    assert told(again) == told(books.book("t1.heirmologic").formula(name))


def test_the_parish_file_is_in_order(tmp_path: Path) -> None:
    own = [body for kind, body in _BLOCKS if kind == "toml"][1]
    path = tmp_path / "own.toml"
    path.write_text(own, encoding="utf-8")
    assert check_books([path]) == []
    book = load_books([path]).book("t1.heirmologic")
    assert book.formula("saint-luke.t1.final").origin == "parish"
    assert "t1.open.d" not in {f.id for f in book.role("open")}


def test_every_book_is_named_on_the_page(books: Books) -> None:
    assert all(f"`{name}`" in _PAGE for name in books.books)


def test_the_hymn_shown_takes_up_its_first_phrase(books: Books) -> None:
    shown = next(body for kind, body in _BLOCKS if kind == "hymn")
    words = divide(hymnfile.loads(shown + "peak: hearest\n"))
    assert [p.same_as for p in words.phrases] == ["", "", "p1", ""]
    for tone in range(1, 9):
        done = set_hymn(replace(words, tone=tone), load_tones(), books)[0]
        one, three = done.hymn.phrases[0], done.hymn.phrases[2]
        assert [s.notes for s in one.syllables] == [s.notes for s in three.syllables]
        assert done.answers[2] == (0, "marked")
