"""The house: packages import only what stands before them, and no file holds two ideas."""

from __future__ import annotations

from pathlib import Path

from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parents[2]


def test_nothing_flows_back() -> None:
    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True) == 0


def test_no_module_is_longer_than_500_lines() -> None:
    too_long = {
        str(path.relative_to(ROOT)): lines
        for path in (ROOT / "src").rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 500
    }
    assert not too_long, "past 500 lines a file holds two ideas; find the second's name"
