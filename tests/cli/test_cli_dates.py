"""The verbs of dates, run as a teacher runs them."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner
from icalendar import Calendar

from chantwright.cli import main


def test_calendar_points_and_yearbook(tmp_path: Path) -> None:
    out = tmp_path / "year.ics"
    run = CliRunner().invoke(main, ["calendar", "2026-11-01", "2026-11-30", "-o", str(out)])
    assert run.exit_code == 0
    # November 2026 has five Sundays (the first one's Vespers fell on 31 October): a tone each and
    # 14 services; the Entry of the Theotokos on a Saturday adds three.
    assert len(list(Calendar.from_ical(out.read_bytes()).walk("VEVENT"))) == 5 + 14 + 3
    run = CliRunner().invoke(main, ["week", "2026-11-28", "--points"])
    assert run.exit_code == 0 and run.output.count("14. Confirmation") == 3
    table = tmp_path / "book.csv"
    table.write_text("date,eothinon\n2026-11-29,5\n", encoding="utf-8")
    run = CliRunner().invoke(main, ["yearbook", str(table)])
    assert run.exit_code == 0
    assert "the yearbook gives eothinon 5, the almanac 4" in run.output


def _parish(tmp_path: Path) -> Path:
    parish = tmp_path / "p"
    (parish / "services").mkdir(parents=True)
    (parish / "own").mkdir()
    (parish / "parish.toml").write_text('name = "Ours"\nzone = "America/Chicago"\n')
    return parish


def test_the_calendar_reads_the_priests_lines_in_the_plans(tmp_path: Path) -> None:
    parish, out = _parish(tmp_path), tmp_path / "year.ics"
    ask = ["calendar", "2026-11-28", "2026-11-29", "-o", str(out), "--parish", str(parish)]

    def events() -> dict[str, dict[str, object]]:
        run = CliRunner().invoke(main, [*ask, "--json"])
        assert run.exit_code == 0, run.output
        return {e["summary"]: e for e in json.loads(run.output)["events"] if e["kind"] == "event"}

    first = events()
    assert first["Orthros: Tone 1, First"]["start"] == "2026-11-29T08:30:00-06:00"
    assert {(e["status"], e["sequence"]) for e in first.values()} == {("TENTATIVE", 0)}
    same = out.read_bytes()
    assert events() == first and out.read_bytes() == same
    head = "service: {}\ndate: 2026-11-29\n"
    plans = parish / "services"
    (plans / "2026-11-29-orthros.txt").write_text(
        head.format("orthros") + "hour: 7.45\npriest tone: 3\npriest confirmed: 2026-11-20\n"
    )
    (plans / "2026-11-29-liturgy.txt").write_text(
        head.format("liturgy") + "priest cancelled: yes\n"
    )
    second = events()
    orthros = second["Orthros: Tone 3, Third"]
    assert (orthros["status"], orthros["start"]) == ("CONFIRMED", "2026-11-29T07:45:00-06:00")
    assert orthros["uid"] == first["Orthros: Tone 1, First"]["uid"]
    assert isinstance(orthros["sequence"], int) and orthros["sequence"] >= 1
    assert second["Divine Liturgy: Tone 1, First"]["status"] == "CANCELLED"
    # Made anew without the old file, it is still above what was sent before.
    out.unlink()
    assert events()["Orthros: Tone 3, Third"]["sequence"] == 3


def test_week_json_carries_the_plan_and_the_anticipated_day(tmp_path: Path) -> None:
    parish = _parish(tmp_path)
    (parish / "services" / "2026-11-29-orthros.txt").write_text(
        "service: orthros\ndate: 2026-11-29\nliturgical date: 2026-11-30\n"
        "six-psalms:\napolytikion: a.txt (tone 4)\npraises:\n"
    )
    run = CliRunner().invoke(main, ["week", "2026-11-29", "--json", "--parish", str(parish)])
    assert run.exit_code == 0, run.output
    vespers, orthros, _ = json.loads(run.output)
    assert vespers["plan"] is None
    assert (orthros["civil_date"], orthros["liturgical_date"]) == ("2026-11-29", "2026-11-30")
    plan = orthros["plan"]
    assert [(i["item"], i["file"], i["tone"], i["state"]) for i in plan["items"]] == [
        ("six-psalms", "", None, "words still to be found"),
        ("apolytikion", "a.txt", 4, "file"),
        ("praises", "", None, "words still to be found"),
    ]
    run = CliRunner().invoke(main, ["week", "2026-11-29", "--parish", str(parish)])
    assert "apolytikion: a.txt (tone 4)" in run.output


def test_any_service_of_any_day_can_be_asked_for() -> None:
    run = CliRunner().invoke(main, ["week", "2026-03-02", "--service", "liturgy"])
    assert run.exit_code == 0
    told = " ".join(run.output.split())
    assert "NOT SERVED: From Monday to Friday of Great Lent no full Liturgy is served" in told
    run = CliRunner().invoke(main, ["week", "2026-03-04", "--service", "all", "--json"])
    names = [d["service"] for d in json.loads(run.output)]
    assert sorted(names) == ["orthros", "presanctified"]
    for words, told in (
        (["week", "1500-01-01"], "not for 1500"),
        (["week", "31 February 2026"], "there is no 31 February 2026"),
        (["week", "2026-03-04", "--service", "evensong"], "no service called"),
    ):
        run = CliRunner().invoke(main, words)
        assert run.exit_code == 1 and told in run.output and "Traceback" not in run.output


def test_a_broken_own_file_is_told_by_file_and_line(tmp_path: Path) -> None:
    parish = _parish(tmp_path)
    (parish / "own" / "feasts.toml").write_text('[[feast]]\nid = "x"\ndate = "13-40"\n')
    for verb in (["week"], ["calendar", "2026-11-28"], ["week", "--points"]):
        out = ["-o", str(tmp_path / "x.ics")] if verb[0] == "calendar" else []
        run = CliRunner().invoke(main, [*verb, *out, "--parish", str(parish)])
        assert run.exit_code == 1
        assert "feasts.toml, line 1" in run.output
    (parish / "own" / "feasts.toml").write_text("[[feast]\n")
    run = CliRunner().invoke(main, ["week", "--parish", str(parish)])
    assert run.exit_code == 1 and "feasts.toml, line 1" in run.output


def test_a_calendar_never_writes_over_another_file(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear all,")
    run = CliRunner().invoke(main, ["calendar", "2026-11-28", "2026-11-29", "-o", str(letter)])
    assert run.exit_code == 1 and letter.read_text() == "Dear all,"
