"""How hymns look on paper: one setting holds in the booklet, the prepared page and the commands."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from lxml import html
from small_parish import DAY, small_parish

from chantwright.cli import main
from chantwright.engrave import Booklet
from chantwright.errors import ChantError
from chantwright.parish import (
    LOOK,
    ParishFolder,
    Prepared,
    dressed,
    found_folder,
    gather,
    load_knowledge,
    open_folder,
    singers_of,
    staff_look,
    weekend_booklet,
    with_look,
)
from chantwright.web import write_page

KNOWLEDGE = load_knowledge()

OTHER: dict[str, Any] = {
    "readings": ("neumes", "words"),
    "letters": "western",
    "script": "greek",
    "accidentals": "exact",
    "paper": "letter",
    "form": "folded",
    "size": "usual",
    "ink": "black",
}


def parish(path: Path, *lines: str) -> ParishFolder:
    (path / "parish.toml").write_text('name = "Here"\n' + "\n".join(lines) + "\n", encoding="utf-8")
    return open_folder(path)


@pytest.mark.parametrize(
    ("written", "readings"),
    [
        ('readings = "staff"', ("staff",)),
        ('readings = "neumes, staff"', ("neumes", "staff")),
        ('readings = ["words", "letters"]', ("words", "letters")),
        ("", ("staff",)),
    ],
)
def test_readings_in_the_parish_file(
    tmp_path: Path, written: str, readings: tuple[str, ...]
) -> None:
    assert parish(tmp_path, written).readings == readings


@pytest.mark.parametrize(
    ("line", "what", "choices"),
    [
        ('readings = "tablature"', "“tablature”", "staff, neumes, letters, words"),
        ('readings = "staff, staff"', "named twice", "once"),
        ('readings = ""', "nothing is named", "staff, neumes, letters, words"),
        ("readings = 3", "must be text", 'readings = "staff, neumes"'),
        ("readings = [3]", "must be text", 'readings = "staff, neumes"'),
        ('letters = "german"', "“german”", "byzantine, western, none"),
        ('script = "cyrillic"', "“cyrillic”", "latin, greek"),
        ('form = "scroll"', "“scroll”", "pages, folded, slides, phone"),
        ('size = "huge"', "“huge”", "usual, large"),
        ('ink = "blue"', "“blue”", "red, black"),
        ('accidentals = "many"', "“many”", "conventional, exact, none"),
        ("size = true", "must be text", 'size = "..."'),
        ('readngs = "staff"', "not a setting", "“readings”"),
    ],
)
def test_a_wrong_value_is_named_with_its_line_and_the_choices(
    tmp_path: Path, line: str, what: str, choices: str
) -> None:
    with pytest.raises(ChantError) as caught:
        parish(tmp_path, 'calendar = "new"', line)
    assert what in caught.value.what
    assert choices in caught.value.remedy
    assert caught.value.where.line == 3
    assert "parish.toml" in caught.value.where.file


def test_a_new_parish_file_says_every_choice_and_the_usual_one(tmp_path: Path) -> None:
    found_folder(tmp_path, "New")
    text = (tmp_path / "parish.toml").read_text(encoding="utf-8")
    assert all(f"\n{name} = " in text for name in LOOK)
    made = open_folder(tmp_path)
    usual = ParishFolder(tmp_path)
    assert all(getattr(made, name) == getattr(usual, name) for name in LOOK)


def test_what_is_asked_for_wins_and_the_rest_stays(tmp_path: Path) -> None:
    folder = parish(tmp_path, 'letters = "western"', 'script = "greek"', 'readings = "letters"')
    same = with_look(folder, readings=None, letters="", paper=None)
    assert same == folder
    for name, value in OTHER.items():
        asked = with_look(folder, **{name: value})
        assert getattr(asked, name) == value
    # Under neumes or words alone no letters stand, unless somebody asks for them.
    assert with_look(folder, readings=("neumes",)).letters == "none"
    assert with_look(folder, readings=["words", "neumes"]).letters == "none"
    assert with_look(folder, readings=("neumes", "letters")).letters == "western"
    assert with_look(folder, readings=("neumes",), letters="byzantine").letters == "byzantine"


def test_what_does_not_go_together_is_refused(tmp_path: Path) -> None:
    folder = parish(tmp_path, 'size = "large"')
    with pytest.raises(ChantError, match="large print and slides do not go together"):
        with_look(folder, form="slides")
    with pytest.raises(ChantError, match="no way of writing"):
        with_look(folder, readings=("staff", "braille"))
    with pytest.raises(TypeError):
        with_look(folder, colour="green")


def test_every_setting_reaches_the_booklet(tmp_path: Path) -> None:
    folder = with_look(ParishFolder(tmp_path, overrides=(tmp_path / "own.toml",)), **OTHER)
    made = dressed(Booklet("Title"), folder)
    assert made == Booklet(
        "Title", readings=("neumes", "words"), letters="western", script="greek",
        accidentals="exact", paper="letter", form="folded", black=True,
        overrides=(tmp_path / "own.toml",),
    )  # fmt: skip
    assert dressed(Booklet("T"), with_look(ParishFolder(tmp_path), size="large")).large
    staff = staff_look(folder, width_mm=90, words_pt=14)
    assert (staff.letters, staff.script, staff.accidentals) == ("western", "greek", "exact")
    assert (staff.width_mm, staff.words_pt) == (90, 14)


def test_the_weekend_and_its_page_are_written_as_the_parish_says(tmp_path: Path) -> None:
    folder = with_look(open_folder(small_parish(tmp_path)), readings=("staff", "neumes"))
    tones = KNOWLEDGE.tones
    sessions, missing, warnings = gather(
        folder, DAY, KNOWLEDGE, singers_of(folder, tones), lambda *_: None
    )
    booklet = weekend_booklet(folder, sessions, tones)
    assert booklet.readings == ("staff", "neumes")
    prepared = Prepared(folder, tmp_path, tmp_path / "b.pdf", sessions, missing, warnings)
    # The page lists hymns that have a hymn file.
    page = html.fromstring(write_page(_with_files(prepared), tones).read_bytes())
    said = page.xpath("//img/@alt")
    assert {s.split(":")[0] for s in said} == {"staff", "neumes"}
    for reading in ("staff", "neumes"):
        words = " ".join(s.removeprefix(f"{reading}: ") for s in said if s.startswith(reading))
        assert "Praise ye the Lord." in words
        assert "from whence cometh my help." in words
    # Phrase by phrase: a line of neumes follows the staff of the same words.
    assert said.index("neumes: Praise ye the Lord.") == (
        said.index("staff: Praise ye the Lord.") + 1
    )


def _with_files(prepared: Prepared) -> Prepared:
    sessions = tuple(
        replace(s, pieces=tuple(replace(p, hymn_file="x.txt") if p.number else p for p in s.pieces))
        for s in prepared.sessions
    )
    return replace(prepared, sessions=sessions)


def test_prepare_hands_on_what_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[ParishFolder] = []

    def caught(folder: ParishFolder, *_: Any, **__: Any) -> Prepared:
        given.append(folder)
        raise ChantError("far enough.")

    monkeypatch.setattr("chantwright.cli.whole.prepare", caught)
    found_folder(tmp_path, "Here")
    asked = ["--as", "neumes", "--as", "staff", "--letters", "western", "--script", "greek"]
    asked += ["--form", "pages", "--paper", "letter", "--large", "--black"]
    command = ["prepare", "2026-11-25", "--parish", str(tmp_path)]
    CliRunner().invoke(main, [*command, *asked])
    CliRunner().invoke(main, command)
    first, second = given
    assert [getattr(first, name) for name in LOOK] == [
        ("neumes", "staff"), "western", "greek", "conventional",
        "letter", "pages", "large", "black",
    ]  # fmt: skip
    assert second == open_folder(tmp_path)
    refused = CliRunner().invoke(main, [*command, "--form", "phone", "--large"])
    assert refused.exit_code != 0
    assert "do not go together" in refused.output + str(refused.exception)
