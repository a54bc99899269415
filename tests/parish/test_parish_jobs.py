"""Work that was asked for, on both databases."""

from __future__ import annotations

import pytest
from record_stores import database_server, records_store

from chantwright.errors import ChantError
from chantwright.parish.records import Store, jobs

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


def test_work_of_a_server_that_is_gone_is_marked(store: Store) -> None:
    with store.write() as session:
        done, _ = jobs.ask(session, "a", {})
        jobs.end(session, done.id)
        cut, _ = jobs.ask(session, "b", {})
    with store.write() as session:
        assert jobs.mark_stopped(session) == 1
        assert jobs.mark_stopped(session) == 0
    with store.read() as session:
        assert jobs.job(session, done.id).state == "done"
        found = jobs.job(session, cut.id)
        assert (found.state, found.trouble) == ("failed", jobs.STOPPED)
        with pytest.raises(ChantError, match="no such work"):
            jobs.job(session, "nothing")
