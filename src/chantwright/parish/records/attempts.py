"""Attempts that are counted in a window of time, so that guessing is slow.

They are rows of the database, so several processes that serve one parish count together. Of what
is counted (a name, a place) only a digest is kept, and only until its window is over.

References
----------
OWASP cheat sheets, "Authentication" and "Denial of Service".
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import delete, func, select

from chantwright.parish.records.store import Store
from chantwright.parish.records.tables import AttemptRow, now

__all__ = ["Attempts"]


@dataclass(frozen=True, slots=True)
class Attempts:
    """Counts attempts.

    Attributes
    ----------
    store : Store
        Where they are counted.
    limit : int
        How many a window of time may have.
    seconds : float
        Its length.
    clock : callable
        Gives the time, UTC.
    """

    store: Store
    limit: int = 10
    seconds: float = 300.0
    clock: Callable[[], datetime] = now

    def again(self, key: str) -> bool:
        """Count one more; False when there were too many, and it is then not counted.

        It is written down first and counted afterwards, so that two processes that ask at the same
        moment never both take the last place.
        """
        at = self.clock()
        digest = hashlib.sha256(key.encode()).hexdigest()
        row = AttemptRow(digest=digest, made=at, until=at + timedelta(seconds=self.seconds))
        with self.store.write() as session:
            session.execute(delete(AttemptRow).where(AttemptRow.until <= at))
            session.add(row)
            session.flush()
            mine = row.id
        with self.store.write() as session:
            count = session.scalar(
                select(func.count()).select_from(AttemptRow).where(AttemptRow.digest == digest)
            )
            if (count or 0) <= self.limit:
                return True
            session.execute(delete(AttemptRow).where(AttemptRow.id == mine))
            return False
