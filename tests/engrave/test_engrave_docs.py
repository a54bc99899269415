"""The example of the page on print is run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chantwright.engrave import StaffOptions
from chantwright.engrave.letters import ison_text

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
