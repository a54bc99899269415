"""Attempts counted together, on both databases."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

from record_stores import database_server, records_store
from sqlalchemy import select

from chantwright.parish.records import Store, open_store
from chantwright.parish.records.attempts import Attempts
from chantwright.parish.records.tables import AttemptRow

__all__ = ["database_server", "records_store"]

START = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_a_window_moves_on(store: Store) -> None:
    clock = [START]
    counted = Attempts(store, limit=2, seconds=60, clock=lambda: clock[0])
    assert counted.again("a")
    clock[0] += timedelta(seconds=30)
    assert counted.again("a")
    assert not counted.again("a")
    assert counted.again("b")  # each is counted for itself
    clock[0] += timedelta(seconds=31)
    assert counted.again("a")  # the first is over; what was refused was not counted
    assert not counted.again("a")
    with store.read() as session:
        rows = list(session.scalars(select(AttemptRow)))
    assert "a" not in {r.digest for r in rows}


def test_connections_at_the_same_moment_never_let_too_many_through(store: Store) -> None:
    url = store.engine.url.render_as_string(hide_password=False)
    others = [open_store(url) for _ in range(4)]
    try:
        with ThreadPoolExecutor(4) as pool:
            tries = [
                pool.submit(Attempts(others[i % 4], limit=5, clock=lambda: START).again, "x")
                for i in range(24)
            ]
            let = sum(t.result() for t in tries)
    finally:
        for one in others:
            one.close()
    assert let <= 5
    with store.read() as session:
        assert len(list(session.scalars(select(AttemptRow)))) == let
