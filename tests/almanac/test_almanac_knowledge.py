"""The almanac's rows, and the parish's laid over them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from chantwright.almanac import check, eothinon, items, load_almanac, service_day, text, week
from chantwright.almanac.knowledge import FILES
from chantwright.errors import ChantError
from chantwright.rows import load_rows

ADVENT = date(2026, 11, 29)


def _parish(folder: Path, rows: str) -> list[Path]:
    path = folder / "parish.toml"
    path.write_text(rows, encoding="utf-8")
    return [path]


def test_every_row_names_source_and_confidence() -> None:
    rows = load_rows("chantwright.almanac", FILES)
    for table in rows.values():
        for row in table.values():
            assert row.src, row.id
            assert row.values.get("conf") in ("high", "medium", "low"), row.id


def test_our_own_rows_are_sound() -> None:
    assert check() == ()
    almanac = load_almanac()
    marks = {m.id for many in almanac.movables.values() for m in many}
    marks |= {x.id for x in almanac.feasts} | {s.id for s in almanac.seasons}
    for row in almanac.propers:
        assert row.when.on <= marks, row.id
        hymns = {i.get("hymn") for many in almanac.items.values() for i in many}
        assert row.item or row.hymn in hymns


def test_parish_moves_an_eothinon(tmp_path: Path) -> None:
    ours = _parish(tmp_path, '[[practice]]\nid = "romanian"\neothina = "slavic"\n')
    day = date(2026, 4, 26)  # Myrrh-bearers
    assert eothinon(day, practice="romanian") == 4
    assert eothinon(day, practice="romanian", overrides=ours) == 3
    # The parish decided, so nothing is left to ask.
    told = service_day(day, "orthros", practice="romanian", overrides=ours).open_questions
    assert not any("not sure" in q for q in told)


def test_parish_settles_a_local_item(tmp_path: Path) -> None:
    ours = _parish(tmp_path, '[[item]]\nid = "liturgy.cherubic"\ntone_from = "fixed:5"\n')
    _, _, liturgy = week(ADVENT, overrides=ours)
    sung = {i.id: i for i in items(liturgy, ours)}["liturgy.cherubic"]
    assert (sung.tone, sung.origin, sung.conf) == (5, "parish", "high")
    assert "parish" in sung.reason


def test_parish_adds_an_item_a_feast_and_a_proper(tmp_path: Path) -> None:
    ours = _parish(
        tmp_path,
        """
[[feast]]
id = "patron"
date = "11-29"
title = "Patron of the parish"
rank = "T"

[[proper]]
id = "patron.apolytikion"
day = ["patron"]
hymn = "apolytikion"
tone = 3

[[item]]
id = "liturgy.hymn-of-the-children"
service = "liturgy"
order = 125
title = "Hymn of the children"
tone_from = "fixed:8"
""",
    )
    _, _, liturgy = week(ADVENT, overrides=ours)
    assert liturgy.hymns == "mixed"
    assert "Patron of the parish" in liturgy.day_name
    sung = {i.id: i for i in items(liturgy, ours)}
    assert sung["liturgy.apolytikia"].also == ("Patron of the parish: tone 3.",)
    names = list(sung)
    at = names.index("liturgy.hymn-of-the-children")
    assert names[at - 1] == "liturgy.communion"
    assert "Patron of the parish" in text([liturgy], ours)


def test_parish_katavasia_goes_before_ours(tmp_path: Path) -> None:
    rows = '[[katavasia]]\nid = "own"\ntitle = "of our patron"\nfrom = "11-25"\nto = "11-30"\n'
    ours = _parish(tmp_path, rows + "tone = 6\n")
    orthros = week(ADVENT, overrides=ours)[1]
    assert {i.id: i.tone for i in items(orthros, ours)}["orthros.katavasiae"] == 6
    assert {i.id: i.tone for i in items(orthros)}["orthros.katavasiae"] == 1


def test_parish_then_priest_decide(tmp_path: Path) -> None:
    ours = _parish(
        tmp_path,
        """
[[day]]
id = "yearbook"
date = "2026-11-29"
tone = 3
eothinon = 5

[[day]]
id = "priest"
date = 2026-11-29
service = "orthros"
by = "priest"
eothinon = "none"
confirmed = true
note = "the bishop serves"
""",
    )
    vespers, orthros, liturgy = week(ADVENT, overrides=ours)
    assert (vespers.tone, vespers.nominal_tone, vespers.eothinon) == (3, 1, 5)
    assert (orthros.tone, orthros.eothinon, orthros.confirmed) == (3, None, True)
    assert not liturgy.confirmed
    layers = {(r.value, r.layer) for r in orthros.reasons}
    assert layers >= {("tone", "computed"), ("tone", "parish"), ("eothinon", "priest")}
    # A difference from the count is told, not silently taken.
    told = " ".join(r.sentence for r in orthros.reasons)
    assert "sets tone 3, where the almanac gives 1" in told
    assert "The priest sets eothinon none, where the parish file parish.toml gives 5" in told
    assert {i.id: i.tone for i in items(orthros, ours)}["orthros.god-is-the-lord"] == 3
    page = text([vespers, orthros, liturgy], ours)
    assert "for this service: Tone 3, Third, eothinon none" in page


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ('[[item]]\nid = "liturgy.cherubic"\ntone_from = "fixed:9"\n', "fixed:9"),
        ('[[item]]\nid = "liturgy.cherubic"\ntone_form = "week"\n', "Did you mean “tone_from”?"),
        ('[[feast]]\nid = "patron"\ndate = "31-02"\ntitle = "x"\n', "month and day"),
        ('[[feast]]\nid = "patron"\ndate = "02-30"\ntitle = "x"\n', "no such day"),
        ('[[feast]]\nid = "patron"\ndate = "02-03"\ntitle = "x"\nrank = "Z"\n', "“rank” is “Z”"),
        ('[[feast]]\nid = "patron"\ntitle = "x"\n', "has no “date”"),
        ('[[day]]\nid = "d"\ndate = "29 November"\n', "Write it like"),
        ('[[day]]\nid = "d"\ndate = "2026-11-29"\ntone = 9\n', "from 1 to 8"),
        ('[[day]]\nid = "d"\ndate = "2026-11-29"\nservice = "mass"\n', "“service” is “mass”"),
        ('[[movable]]\nid = "m"\noffset = "3"\ntitle = "x"\n', "whole number"),
        ('[[proper]]\nid = "p"\nhymn = "kontakion"\ntone = 2\n', "when it holds"),
        ('[[season]]\nid = "lent"\ntone = "often"\n', "count, daily, none"),
        ('[[practice]]\nid = "ours"\ntitle = "Our use"\neothina = "latin"\n', "“eothina”"),
        ('[[item]]\nid = "x"\nservice = "liturgy"\ntitle = 5\norder = 1\n', "between quotes"),
        ("[[item]\n", "cannot be read"),
    ],
)
def test_slips_are_told_with_their_line(tmp_path: Path, rows: str, told: str) -> None:
    ours = _parish(tmp_path, "# our own\n" + rows)
    with pytest.raises(ChantError) as error:
        week(ADVENT, overrides=ours)
    assert told in str(error.value)
    assert "parish.toml" in str(error.value)
    assert error.value.where.line >= 2


def test_check_tells_every_slip(tmp_path: Path) -> None:
    rows = (
        '[[item]]\nid = "liturgy.cherubic"\ntone_from = "x"\n\n[[feast]]\nid = "y"\ntitle = "y"\n'
    )
    problems = check(_parish(tmp_path, rows))
    assert sorted(p.where.line for p in problems) == [1, 5]


def test_tables_of_other_packages_are_left_alone(tmp_path: Path) -> None:
    ours = _parish(tmp_path, '[[formula]]\nid = "x"\nanything = 1\n')
    assert week(ADVENT, overrides=ours) == week(ADVENT)


def test_only_the_priest_confirms(tmp_path: Path) -> None:
    # Common practice: what is sung is for the priest to decide; a table only proposes.
    own = tmp_path / "own.toml"
    for by in ("", 'by = "parish"\n'):
        own.write_text(f'[[day]]\nid = "a"\ndate = "2026-11-29"\n{by}tone = 1\nconfirmed = true\n')
        with pytest.raises(ChantError, match="only the priest can confirm") as caught:
            service_day(date(2026, 11, 29), "orthros", overrides=(own,))
        assert caught.value.where.line == 1
