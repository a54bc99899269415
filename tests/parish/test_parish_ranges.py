"""Who sings: one answer for every verb and page, wherever a range was written down."""

from __future__ import annotations

from pathlib import Path

import pytest

from chantwright.parish import ParishFolder, found_folder, open_folder, singers_of
from chantwright.parish.records import add_person, open_store, store_url, take_range
from chantwright.tones import Tones, load_tones


@pytest.fixture(scope="module")
def tones() -> Tones:
    return load_tones()


@pytest.fixture
def folder(tmp_path: Path) -> ParishFolder:
    found_folder(tmp_path / "parish", "A chapel by the harbour")
    return open_folder(tmp_path / "parish")


def test_without_ranges_the_group_sings_and_no_database_is_made(
    folder: ParishFolder, tones: Tones
) -> None:
    assert [s.name for s in singers_of(folder, tones)] == ["men", "women", "children"]
    assert not (folder.path / "records.sqlite").exists()


def test_the_list_wins_over_the_group_and_the_records_over_the_list(
    folder: ParishFolder, tones: Tones
) -> None:
    (folder.path / "singers.toml").write_text(
        '[[singer]]\nname = "Bran"\nvoice = "man"\nlowest = "A2"\nhighest = "D4"\n', "utf-8"
    )
    assert [s.name for s in singers_of(folder, tones)] == ["Bran"]
    store = open_store(store_url(folder.path))
    with store.write() as session:
        ita = add_person(session, "Ita", "child").id
    # A singer without a range says nothing about pitch: the list still stands.
    assert [s.name for s in singers_of(folder, tones)] == ["Bran"]
    with store.write() as session:
        take_range(session, ita, 261.6, 523.3)
    assert [s.name for s in singers_of(folder, tones)] == ["Ita"]
    assert singers_of(folder, tones, store) == singers_of(folder, tones)
    store.close()
