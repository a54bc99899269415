"""The verbs of dates, run as a teacher runs them."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner
from icalendar import Calendar

from chantwright.cli import main


def test_calendar_points_and_yearbook(tmp_path: Path) -> None:
    out = tmp_path / "year.ics"
    run = CliRunner().invoke(main, ["calendar", "2026-11-01", "2026-11-30", "-o", str(out)])
    assert run.exit_code == 0
    # November 2026 has five Sundays: a tone and three services each.
    assert len(list(Calendar.from_ical(out.read_bytes()).walk("VEVENT"))) == 20
    run = CliRunner().invoke(main, ["week", "2026-11-28", "--points"])
    assert run.exit_code == 0 and run.output.count("14. Confirmation") == 3
    table = tmp_path / "book.csv"
    table.write_text("date,eothinon\n2026-11-29,5\n", encoding="utf-8")
    run = CliRunner().invoke(main, ["yearbook", str(table)])
    assert run.exit_code == 0
    assert "the yearbook gives eothinon 5, the almanac 4" in run.output
