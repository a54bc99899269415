"""Work that was asked for, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from record_stores import database_server, records_store

from chantwright.errors import ChantError
from chantwright.parish.records import Store, jobs, open_store
from chantwright.parish.records.tables import JobRow, now

__all__ = ["database_server", "records_store"]


def test_work_is_asked_for_once_and_again_after_it_ended(store: Store) -> None:
    with store.write() as session:
        assert jobs.last(session, "prepare") is None
        first, fresh = jobs.ask(session, "prepare", {"day": "2026-11-25"})
        assert fresh
        assert first.is_open
    with store.write() as session:
        again, fresh = jobs.ask(session, "prepare", {"day": "2026-11-26"})
        assert not fresh
        assert again.id == first.id
        _, other = jobs.ask(session, "something else", {})
        assert other
    with store.write() as session:
        jobs.tell(session, first.id, {"part": 0.5})
    with store.write() as session:
        assert jobs.job(session, first.id).about == {"day": "2026-11-25", "part": 0.5}
        jobs.end(session, first.id)
    with store.write() as session:
        done = jobs.job(session, first.id)
        assert (done.state, done.trouble) == ("done", "")
        assert done.ended is not None
        assert done.ended >= done.asked
        second, fresh = jobs.ask(session, "prepare", {})
        assert fresh
        jobs.end(session, second.id, "the disk is full.")
        assert jobs.last(session, "prepare") == jobs.job(session, second.id)
        assert jobs.job(session, second.id).state == "failed"


def test_work_of_a_server_that_is_gone_is_taken_up_once(store: Store) -> None:
    silent = timedelta(seconds=10)
    with store.write() as session:
        done, _ = jobs.ask(session, "a", {}, "first")
        jobs.end(session, done.id)
        cut, _ = jobs.ask(session, "b", {"part": 0.4}, "first")
    with store.write() as session:
        # It showed a sign just now: nobody takes it away.
        assert jobs.take_up(session, "b", "second", silent) is None
        assert jobs.beat(session, cut.id, "first")
        assert not jobs.beat(session, cut.id, "second")
    with store.write() as session:
        row = session.get(JobRow, cut.id)
        assert row is not None
        row.alive = now() - timedelta(seconds=11)
    with store.write() as session:
        taken = jobs.take_up(session, "b", "second", silent)
        assert taken is not None
        assert (taken.id, taken.about) == (cut.id, {"part": 0.4})
    with store.write() as session:
        assert jobs.take_up(session, "b", "third", silent) is None
        assert not jobs.beat(session, cut.id, "first")  # the first hears that it lost it
        jobs.let_go(session, cut.id, "first")  # and cannot give away what is not its own
        assert jobs.take_up(session, "b", "third", silent) is None
        jobs.let_go(session, cut.id, "second")
        assert jobs.take_up(session, "a", "third", silent) is None
    with store.write() as session:
        assert jobs.take_up(session, "b", "third", silent) is not None
        jobs.end(session, cut.id)
        assert not jobs.beat(session, cut.id, "third")
        with pytest.raises(ChantError, match="no such work"):
            jobs.job(session, "nothing")


def test_of_many_who_take_it_up_one_gets_it(store: Store) -> None:
    with store.write() as session:
        cut, _ = jobs.ask(session, "b", {}, "gone")
        jobs.let_go(session, cut.id, "gone")
    url = store.engine.url.render_as_string(hide_password=False)
    others = [open_store(url) for _ in range(4)]

    def take(number: int) -> bool:
        with others[number].write() as session:
            return jobs.take_up(session, "b", f"h{number}", timedelta(seconds=10)) is not None

    try:
        with ThreadPoolExecutor(4) as pool:
            assert sum(pool.map(take, range(4))) == 1
    finally:
        for one in others:
            one.close()
