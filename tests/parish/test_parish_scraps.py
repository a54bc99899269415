"""What a save that was killed has left is no hymn, no plan and no row, from the first moment on."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from small_parish import DAY, HYMNS, small_parish

from chantwright import safefile
from chantwright.parish import gather, group_singers, load_knowledge, open_folder
from chantwright.parish.course import make_course
from chantwright.web.desk import Desk


def test_scraps_are_taken_for_nothing(tmp_path: Path) -> None:
    parish = small_parish(tmp_path / "parish")
    known = load_knowledge()
    singers = tuple(group_singers(known.tones, "men"))

    def sung() -> list[tuple[str, list[str]]]:
        sessions, *_ = gather(open_folder(parish), DAY, known, singers, lambda *_: None)
        return [(s.title, [p.file for p in s.pieces]) for s in sessions]

    before = sung()
    scraps = (
        parish / "hymns" / ".short.saving-x7f_2abc.txt",
        parish / "services" / ".2026-11-29-lesson.saving-x7f_2abc.txt",
        parish / "services" / ".2026-11-29-lesson.saving-x7f_2abd~",
        parish / "own" / ".prices.saving-x7f_2abc.toml",
    )
    lesson = (parish / "services" / "2026-11-29-lesson.txt").read_text()
    for scrap in scraps:
        assert safefile.is_scrap(scrap.name)
        scrap.write_text("[[weight" if scrap.suffix == ".toml" else lesson.replace("Three", "Four"))
    folder = open_folder(parish)
    assert folder.overrides == ()
    assert sung() == before
    course = make_course(folder, date(2026, 11, 25), known, singers, order=(4,))
    assert course.warnings == ()
    assert {x.file for w in course.weeks for x in (w.model, *w.lessons)} - {""} == set(HYMNS)
    desk = Desk.open(parish, DAY)
    try:
        assert set(desk.hymns()) == set(HYMNS)
    finally:
        desk.close()
    assert all(scrap.is_file() for scrap in scraps)  # they are young, and may be somebody's work
