"""Three layers for every value: computed, the parish's, the priest's; and answers by key."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from chantwright.almanac import (
    check,
    decide,
    items,
    left_out,
    load_almanac,
    points,
    service_day,
    text,
    to_json,
    week,
)
from chantwright.errors import ChantError

ADVENT = date(2026, 11, 29)

RULES = """
[[decision]]
id = "always-six"
service = "great-vespers"
item = "stichera"
number = 6
split = ["4 tone", "2 saint"]

[[decision]]
id = "loaves"
service = "great-vespers"
item = "artoklasia"
after = "aposticha"
title = "Blessing of loaves"
date = "2026-11-29"

[[decision]]
id = "no-litia"
service = "great-vespers"
item = "litia"
omitted = true

[[answer]]
id = "a"
question = "saint-of-sunday"
answer = "None besides the Sunday."
date = "2026-11-29"

[[feast]]
id = "patron"
date = "11-29"
title = "Our patron"
rank = "T"
"""


def _parish(folder: Path, rows: str) -> list[Path]:
    path = folder / "own.toml"
    path.write_text(rows, encoding="utf-8")
    return [path]


def test_the_split_of_the_stichera_goes_by_the_rank() -> None:
    # A parish typikon table: 7 and 3 on a common Saturday, 6 and 4 with a saint of polyeleos, 4 and
    # 6 on a feast of the Theotokos, nothing of the Octoechos on a feast of the Lord.
    def split(day: date) -> dict[str, int]:
        vespers = week(day)[0]
        item = {i.id: i for i in items(vespers)}["great-vespers.stichera"]
        assert item.total == sum(n for _, n in item.split)
        return dict(item.split)

    assert split(ADVENT) == {"tone": 7, "saint": 3}
    assert split(date(2025, 11, 30)) == {"tone": 6, "saint": 4}  # Saint Andrew, a Sunday
    assert split(date(2027, 8, 15)) == {"tone": 4, "feast": 6}
    assert "tone" not in split(date(2025, 9, 14))


def test_every_split_comes_to_its_total() -> None:
    seen = 0
    for row in load_almanac().divisions:
        if row.split:
            seen += 1
            assert sum(n for _, n in row.split) == row.total, row.id
    assert seen > 30
    known = {r.id for many in load_almanac().items.values() for r in many}
    for division in load_almanac().divisions:
        assert set(division.items) <= known, division.id
    for verses in load_almanac().verses:
        assert set(verses.items) <= known, verses.id


def test_the_parish_decides_single_items(tmp_path: Path) -> None:
    ours = _parish(tmp_path, RULES)
    vespers = week(ADVENT, overrides=ours)[0]
    sung = {i.id: i for i in items(vespers, ours)}
    stichera = sung["great-vespers.stichera"]
    assert (stichera.total, dict(stichera.split)) == (6, {"tone": 4, "saint": 2})
    assert stichera.layer("split") == "parish" and not stichera.sure("split")
    assert "great-vespers.litia" not in sung and left_out(vespers) == {"litia": "parish"}
    names = list(sung)
    assert names[names.index("great-vespers.artoklasia") - 1] == "great-vespers.aposticha"
    assert sung["great-vespers.artoklasia"].title == "Blessing of loaves"
    # Another week has the standing rule but not that of the day.
    later = {i.id for i in items(week(date(2026, 12, 13), overrides=ours)[0], ours)}
    assert "great-vespers.artoklasia" not in later and "great-vespers.litia" not in later


def test_a_feast_of_the_parish_shows_as_its_own(tmp_path: Path) -> None:
    ours = _parish(tmp_path, RULES + 'src = "ours"\n')
    orthros = week(ADVENT, overrides=ours)[1]
    (patron,) = [x for x in orthros.feasts if x.id == "patron"]
    assert patron.layer == "parish"
    assert orthros.layer("day") == "parish"
    known = {k.name: k for p in points(orthros, ours) for k in p.known}
    assert known["feast"].layer == "parish"
    assert known["season"].layer == "computed"
    lord = _parish(tmp_path, RULES.replace('rank = "T"', 'rank = "L"'))
    hidden = week(ADVENT, overrides=lord)[1]
    assert (hidden.tone, hidden.nominal_tone, hidden.layer("tone")) == (None, 1, "parish")
    assert to_json(hidden, lord)["values"]["tone"] == {"layer": "parish", "confirmed": False}
    found = {i.id: i for i in items(hidden, lord)}
    assert found["orthros.hypakoe"].layer("tone") == "parish"


def test_the_priest_has_the_last_word_on_an_item(tmp_path: Path) -> None:
    ours = _parish(tmp_path, RULES)
    day = week(ADVENT, overrides=ours)[0]
    for about, value in (
        ("item stichera split", "5 tone, 3 saint"),
        ("item aposticha tone", "2"),
        ("item glory file", "doxastikon.txt"),
        ("item litia omitted", "no"),
        ("item polychronion added", "after apolytikion"),
        ("item polychronion tone", "8"),
    ):
        day = decide(day, about, value, overrides=ours)
    sung = {i.id.removeprefix("great-vespers."): i for i in items(day, ours)}
    stichera = sung["stichera"]
    assert (stichera.total, stichera.split) == (8, (("tone", 5), ("saint", 3)))
    assert stichera.layer("split") == "priest" and stichera.sure("split")
    assert (sung["aposticha"].tone, sung["aposticha"].layer("tone")) == (2, "priest")
    assert "where tone 1 stood" in sung["aposticha"].reason
    assert sung["glory"].file == "doxastikon.txt"
    assert "litia" in sung
    assert list(sung)[-1] == "polychronion" and sung["polychronion"].tone == 8
    # Nothing else is touched, and all of it is told.
    assert sung["dogmatikon"].layer("tone") == "computed"
    page = text([day], ours)
    assert "tone by the priest" in page and "8: 5 tone + 3 saint" in page
    known = {k.name: k for p in points(day, ours) for k in p.known}
    assert known["decision on aposticha"].layer == "priest"
    told = {i["id"]: i for i in to_json(day, ours)["items"]}["great-vespers.aposticha"]
    assert told["item_layers"]["tone"] == {"layer": "priest", "confirmed": True}
    assert told["item_layers"]["title"] == {"layer": "computed", "confirmed": False}


def test_a_question_is_closed_by_its_key(tmp_path: Path) -> None:
    ours = _parish(tmp_path, RULES)
    vespers = week(ADVENT)[0]
    keys = [q.key for q in vespers.questions]
    assert "saint-of-sunday" in keys and "service.great-vespers" in keys
    assert all(q.layer == "computed" and not q.answer for q in vespers.questions)
    answered = week(ADVENT, overrides=ours)[0]
    by_key = {q.key: q for q in answered.questions}
    # The patron's feast is given, so it is not asked which saint is kept.
    assert "saint-of-sunday" not in by_key
    closed = decide(vespers, "answer service.great-vespers", "Eight, four and four.")
    assert len(closed.open_questions) == len(vespers.open_questions) - 1
    one = {q.key: q for q in closed.questions}["service.great-vespers"]
    assert (one.answer, one.layer) == ("Eight, four and four.", "priest")
    shown = points(closed)
    assert "service.great-vespers" not in [key for p in shown for key in p.keys]
    assert "Answered" in text([closed])
    with pytest.raises(ChantError, match="no question called “colour”"):
        decide(vespers, "answer colour", "red")


def test_a_saint_that_a_table_names_closes_the_question(tmp_path: Path) -> None:
    day = date(2026, 11, 18)
    assert "saint" in [q.key for q in service_day(day, "orthros").questions]
    ours = _parish(
        tmp_path,
        '[[day]]\nid = "y"\ndate = "2026-11-18"\nsaint = "Saint Clement"\nrank = "D"\n',
    )
    record = service_day(day, "orthros", overrides=ours)
    assert "Saint Clement" in [x.title for x in record.feasts]
    assert "rank:D" in record.marks and record.layer("saint") == "parish"
    question = {q.key: q for q in record.questions}["saint"]
    assert (question.answer, question.layer) == ("Saint Clement", "parish")
    vespers = service_day(date(2026, 11, 17), "vespers", overrides=ours)
    stichera = {i.id: i for i in items(vespers, ours)}["vespers.stichera"]
    assert stichera.split == (("saint", 6),)
    # A patron with vigil brings Great Vespers and the festal order with him.
    patron = _parish(
        tmp_path, '[[day]]\nid = "y"\ndate = "2026-11-18"\nsaint = "Our patron"\nrank = "P"\n'
    )
    eve = date(2026, 11, 17)
    assert service_day(eve, "great-vespers", overrides=patron).served
    daily = service_day(eve, "vespers", overrides=patron)
    assert not daily.served and daily.layer("served") == "parish"
    assert not service_day(eve, "great-vespers").served
    festal = service_day(day, "orthros", overrides=patron)
    assert "orthros.feast.polyeleos" in [i.id for i in items(festal, patron)]
    named = decide(service_day(day, "orthros"), "saint", "Saint Plato")
    assert named.feasts[0].layer == "priest"
    assert "saint" not in [q.key for q in named.questions if not q.answer]


def test_the_priest_takes_a_service_out_or_puts_it_in() -> None:
    liturgy = week(ADVENT)[2]
    out = decide(liturgy, "cancelled", "yes")
    assert (out.served, out.cancelled, out.layer("served")) == (False, True, "priest")
    assert "TAKEN OUT" in text([out])
    back = decide(out, "served", "yes")
    assert (back.served, back.cancelled) == (True, False)
    lent = service_day(date(2026, 3, 2), "liturgy")
    assert items(lent) == ()
    assert items(decide(lent, "served", "yes"))


@pytest.mark.parametrize(
    ("about", "value", "told"),
    [
        ("item aposticha", "3", "what of the item"),
        ("item nowhere tone", "3", "no item “nowhere”"),
        ("item aposticha tone", "9", "no tone “9”"),
        ("item stichera number", "many", "no number of stichera"),
        ("item stichera split", "three of the saint", "no part of a split"),
        ("item loaves added", "before aposticha", "no item"),
        ("item loaves added", "aposticha", "where the item stands"),
        ("item litia omitted", "perhaps", "Write yes or no"),
        ("served", "perhaps", "Write yes or no"),
        ("colour", "red", "nothing the priest decides"),
    ],
)
def test_what_cannot_be_decided_is_told(about: str, value: str, told: str) -> None:
    with pytest.raises(ChantError) as caught:
        decide(week(ADVENT)[0], about, value)
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ('[[decision]]\nid = "d"\nservice = "orthros"\nitem = "x"\n', "decides nothing"),
        ('[[decision]]\nid = "d"\nservice = "mass"\nitem = "x"\ntone = 3\n', "“service”"),
        ('[[division]]\nid = "d"\nitems = ["x"]\ntotal = 8\nsplit = ["7 tone"]\n', "come to 7"),
        ('[[habit]]\nid = "h"\nservice = "vespers"\nweekdays = ["funday"]\n', "no weekday"),
        ('[[habit]]\nid = "h"\nservice = "vespers"\nhour = "25:00"\n', "“hour”"),
        ('[[serve]]\nid = "s"\nservice = "vespers"\nwhy = "x."\non = ["lente"]\n', "“lente”"),
        ('[[serve]]\nid = "s"\nservice = "vespers"\nwhy = "x"\nstart = -3\nend = 4\n', "two rows"),
        ('[[day]]\nid = "d"\ndate = "2026-11-29"\nrank = "Z"\n', "“rank” is “Z”"),
        ('[[point]]\nid = "dates"\nvalues = ["tone"]\n', "names no label"),
        ('[[answer]]\nid = "a"\nquestion = 3\nanswer = "x"\n', "between quotes"),
    ],
)
def test_slips_of_the_new_tables_name_file_and_line(tmp_path: Path, rows: str, told: str) -> None:
    ours = _parish(tmp_path, "# ours\n" + rows)
    with pytest.raises(ChantError) as caught:
        load_almanac(ours)
    assert told in str(caught.value)
    assert "own.toml" in str(caught.value) and caught.value.where.line == 2


def test_files_are_read_once_until_they_change(tmp_path: Path) -> None:
    ours = _parish(tmp_path, RULES)
    first = load_almanac(ours)
    assert load_almanac(ours) is first
    ours[0].write_text(RULES + "\n# one line more\n", encoding="utf-8")
    assert load_almanac(ours) is not first


def test_the_rows_and_the_priests_lines_of_the_manual_are_understood(tmp_path: Path) -> None:
    manual = (Path(__file__).parents[2] / "docs" / "almanac.md").read_text("utf-8")
    rows = re.findall(r"```toml\n(.*?)```", manual, re.DOTALL)
    ours = _parish(tmp_path, "\n".join(rows))
    assert check(ours) == ()
    orthros = week(ADVENT, overrides=ours)[1]
    assert orthros.confirmed and orthros.layer("eothinon") == "priest"
    lines = re.search(r"lines such as\n\n```\n(.*?)```", manual, re.DOTALL)
    assert lines is not None
    day = week(ADVENT)[0]
    for line in lines[1].splitlines():
        about, _, value = line.removeprefix("priest ").partition(": ")
        day = decide(day, about, value)
    assert (day.tone, day.confirmed, day.cancelled) == (3, True, True)
    assert [r.item for r in day.decisions][-2:] == ["litia", "blessing-of-loaves"]
