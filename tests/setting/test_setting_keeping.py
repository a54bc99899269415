"""What a search remembers is freed without the collector of cycles."""

from __future__ import annotations

import gc
import weakref

from marked import hymn, psalms

from chantwright.setting import load_books, set_hymn, set_phrase
from chantwright.setting.keeping import MUCH, keeping
from chantwright.tones import Tones


class _Mark:
    """Something that can be watched."""


def test_books_and_all_they_remember_go_with_the_last_reference(tones: Tones) -> None:
    # CPython frees what is in no cycle when its last reference goes, collector or not
    books = load_books()
    (done, *_) = set_hymn(hymn(psalms()[0][1], 3), tones, books, count=2)
    set_phrase(done.hymn, "p2", tones, books)
    marks = []
    for kept in [m for b in books.books.values() for m in (b.memory, *b.memory.values())]:
        if isinstance(kept, dict):
            mark = _Mark()
            kept["mark"] = mark
            marks.append(weakref.ref(mark))
            joins = kept.get("joins")
            if joins is not None:
                for row in joins.rows:
                    row.mark = _Mark()
                    marks.append(weakref.ref(row.mark))
                del row
            del joins, mark
    assert len(marks) > 100
    gc.disable()
    try:
        del books, done, _, kept
        assert not [m for m in marks if m() is not None]
    finally:
        gc.enable()


def test_much_is_set_aside_and_little_is_not() -> None:
    def made(count: int) -> int:
        before = gc.get_freeze_count()
        with keeping():
            kept: list[list[int]] = [[] for _ in range(count)]
            assert not gc.isenabled()
        assert gc.isenabled()
        return gc.get_freeze_count() - before + 0 * len(kept)

    assert made(2 * MUCH) > MUCH
    assert made(MUCH // 4) < MUCH // 4
    gc.disable()
    try:
        assert made_while_still(2 * MUCH) == 0
    finally:
        gc.enable()


def made_while_still(count: int) -> int:
    """The collector was off before, so it is left alone."""
    before = gc.get_freeze_count()
    with keeping():
        kept: list[list[int]] = [[] for _ in range(count)]
    assert not gc.isenabled()
    return gc.get_freeze_count() - before + 0 * len(kept)
