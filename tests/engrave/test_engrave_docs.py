"""The example of the page on print is run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chantwright.engrave import READINGS, StaffOptions
from chantwright.engrave.letters import ison_text
from chantwright.engrave.neumes import load_tables

PAGE = (Path(__file__).parents[2] / "docs" / "print.md").read_text(encoding="utf-8")


def test_the_example_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (code,) = re.findall(r"^```python\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    exec(compile(code, "docs/print.md", "exec"), {})
    assert (tmp_path / "vespers.pdf").read_bytes().startswith(b"%PDF")
    assert "p1s2n1" in (tmp_path / "line-1.svg").read_text(encoding="utf-8")
    assert "<mei" in (tmp_path / "hymn.mei").read_text(encoding="utf-8")


def test_the_page_names_what_is_there() -> None:
    for choice in ("conventional", "exact", "none"):
        assert f"| `{choice}` |" in PAGE
        StaffOptions(accidentals=choice)
    assert f"`{ison_text('unison')}`, `{ison_text(None)}` above the staff" in PAGE


def test_the_example_on_neumes_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    page = (Path(__file__).parents[2] / "docs" / "neumes.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"^```python\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    names: dict[str, object] = {}
    exec(compile(code, "docs/neumes.md", "exec"), names)
    assert names["steps"] == [0, 0, 3, -1, -1, -1, 1, 1, -2]
    assert (tmp_path / "neumes-1.svg").read_text(encoding="utf-8").startswith("<svg")
    said = capsys.readouterr().out
    assert "oligon+kentema.above" in said
    assert "['staff', 'neumes', 'words']" in said
    for name in READINGS:
        assert f"| `{name}` |" in page


def test_the_parish_rows_on_the_page_are_accepted(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "neumes.md").read_text(encoding="utf-8")
    (rows,) = re.findall(r"^```toml\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    own = tmp_path / "own.toml"
    own.write_text(rows, encoding="utf-8")
    tables = load_tables((own,))
    assert tables.rows["neume_quality"]["B3"]["sign"] == "none"
    assert tables.rows["martyria"]["soft_chromatic.di"]["sign"] == "1D0A4"
