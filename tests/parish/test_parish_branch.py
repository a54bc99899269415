"""The branch that words take by their kind of hymn, and the priest's word on single items."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from chantwright.almanac import items, load_almanac, week
from chantwright.parish import found_folder, gather, group_singers, load_knowledge, open_folder
from chantwright.parish.order import in_branch
from chantwright.score import Hymn, hymnfile
from chantwright.tones import load_tones

ADVENT = date(2026, 11, 29)
WORDS = "title: Words of our own\n\nThe evening falls upon the garden,\nand we give thanks.\n"


def _rows() -> Iterator[tuple[str, str]]:
    for many in load_almanac().items.values():
        for row in many:
            yield row.id, str(row.get("kind", ""))


def test_every_item_has_a_kind_that_the_tones_know() -> None:
    # The tones' own table of use is the outside list here; nothing else may stand in an item.
    known = {str(row["kind"]) for row in load_tones().usage.values()} | {"plain"}
    for item, kind in _rows():
        assert kind in known, item
    assert len({kind for _, kind in _rows()}) > 10


@pytest.mark.parametrize(
    ("tone", "branch"), [(2, "t2.heirmologic_soft"), (4, "t4.heirmologic_legetos")]
)
def test_an_apolytikion_takes_the_branch_of_its_tone(tone: int, branch: str) -> None:
    # Common practice: apolytikia of tone 2 in its soft chromatic scale, of tone 4 in Legetos.
    knowledge = load_knowledge()
    sung = {i.id: i for i in items(week(ADVENT)[0])}
    item = sung["great-vespers.apolytikion"]
    assert item.kind == "dismissal hymn"
    hymn, said = in_branch(Hymn(title="x"), item, tone, knowledge)
    if branch in knowledge.books.books:
        assert (hymn.branch, said) == (branch, "")
    else:
        assert hymn.branch is None and "no formulas" in said.replace(" heirmologic", "")
    assert in_branch(Hymn(branch="t1.heirmologic"), item, tone, knowledge)[0].branch == (
        "t1.heirmologic"
    )


def test_where_there_are_no_formulas_it_is_said(tmp_path: Path) -> None:
    found_folder(tmp_path / "p", "Ours")
    folder = open_folder(tmp_path / "p")
    hymnfile.write(folder.hymns / "a.txt", hymnfile.loads(WORDS))
    (folder.services / "2026-11-28-great-vespers.txt").write_text(
        "service: great-vespers\ndate: 2026-11-28\n"
        "priest item stichera file: a.txt\npriest item litia omitted: yes\n"
        "priest item apolytikion tone: 4\n"
        "stichera:\nlitia: nothing.txt\napolytikion: a.txt\n",
        encoding="utf-8",
    )
    knowledge = load_knowledge()
    sessions, _, _ = gather(
        folder, ADVENT, knowledge, group_singers(knowledge.tones, "mixed"), lambda *_: None
    )
    stichera, litia, apolytikion = sessions[0].pieces
    assert stichera.singable is not None and stichera.file == "hymns/a.txt"
    wanted = knowledge.tones.branch_for(1, "stichera with verses")
    assert (wanted.id in knowledge.books.books) or f"no {wanted.style} formulas" in stichera.note
    assert litia.singable is None and litia.note == "left out by the priest"
    assert apolytikion.singable is not None
    assert apolytikion.singable.hymn.tone == 4
