"""The fourteen points of a service, and the layer of each value."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.almanac import items, points, points_json, points_text, service_day, week

ADVENT = date(2026, 11, 29)


def test_fourteen_points_with_what_hangs_on_the_eothinon() -> None:
    # Encyclopedia of Eastern Orthodox Christianity, art. Eothina: the Great Doxology goes with
    # the doxastikon; from memory: the doxastikon of the fourth eothinon is tone 4.
    orthros = week(ADVENT)[1]
    found = points(orthros)
    assert [p.number for p in found] == list(range(1, 15))
    known = {k.name: k.value for k in found[3].known}
    assert known["eothinon"] == 4
    assert known["tone of the doxastikon"] == 4
    assert known["tone of the Great Doxology"] == 4
    assert all(k.layer == "computed" and not k.confirmed for p in found for k in p.known)


def test_each_service_fills_its_own_points() -> None:
    vespers, orthros, liturgy = (
        {p.number: len(p.known) for p in points(day)} for day in week(ADVENT)
    )
    assert vespers[5] and vespers[6] and not vespers[9] and not vespers[11]
    assert orthros[8] and orthros[9] and orthros[10] and not orthros[5] and not orthros[11]
    assert liturgy[11] and not liturgy[5] and not liturgy[10]


def test_layers_are_told(tmp_path: Path) -> None:
    table = tmp_path / "days.toml"
    table.write_text(
        '[[day]]\nid = "a"\ndate = "2026-11-29"\neothinon = 5\nsrc = "yearbook"\nconf = "high"\n\n'
        '[[day]]\nid = "b"\ndate = "2026-11-29"\ntone = 3\nby = "priest"\nservice = "orthros"\n'
        'src = "priest"\nconf = "high"\n',
        encoding="utf-8",
    )
    day = service_day(ADVENT, "orthros", overrides=[table])
    known = {k.name: k for p in points(day, [table]) for k in p.known}
    assert (known["eothinon"].value, known["eothinon"].layer) == (5, "parish")
    assert not known["eothinon"].confirmed
    assert known["tone"].layer == "priest" and known["tone"].confirmed
    assert known["tone of the count"].value == 1 and known["tone of the count"].layer == "computed"


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 73_000), st.sampled_from(["vespers", "orthros", "liturgy", "presanctified"]))
def test_text_and_json_of_any_day(step: int, service: str) -> None:
    day = service_day(date(1900, 1, 1) + timedelta(step), service)
    assert len(json.loads(json.dumps(points_json(day)))["points"]) == 14
    assert all(len(line) <= 88 for line in points_text(day).splitlines())


# What a reader reads or a service always has needs no point; all else must be under one.
ALWAYS = (
    "opening-psalm", "kathisma", "evening-verses", "simeon", "six-psalms", "blessed-is-the-man",
    "gospel", "having-beheld",
)  # fmt: skip


def test_everything_that_is_sung_stands_under_a_point() -> None:
    for step in range(0, 366, 2):
        day = date(2025, 9, 1) + timedelta(step)
        for service in ("great-vespers", "vespers", "orthros", "liturgy", "presanctified"):
            record = service_day(day, service)
            names = {k.name for p in points(record) for k in p.known}
            for item in items(record):
                assert item.title in names or item.id.endswith(ALWAYS), item.id


def test_a_vigil_fills_the_points_of_both_its_services() -> None:
    vigil = service_day(date(2026, 11, 28), "vigil")
    vespers, orthros, _ = week(ADVENT)
    both: dict[int, set[str]] = {}
    for day in (vespers, orthros):
        for point in points(day):
            if 5 <= point.number <= 10:
                both.setdefault(point.number, set()).update(k.name for k in point.known)
    for point in points(vigil):
        if 5 <= point.number <= 10:
            assert {k.name for k in point.known} == both[point.number]


def test_labels_and_grouping_are_data(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[point]]\nid = "tone"\ntitle = "Tone of the day"\nvalues = ["tone: sung in"]\n\n'
        '[[question]]\nid = "bells"\nask = "Who rings?"\non = ["sunday"]\n',
        encoding="utf-8",
    )
    record = week(ADVENT, overrides=[own])[1]
    third = points(record, [own])[2]
    assert (third.title, [k.name for k in third.known]) == ("Tone of the day", ["sung in"])
    assert "bells" in [key for p in points(record, [own]) for key in p.keys]
