"""Records of people: who sings, in which range, what they have practised, what they agreed to.

Hymns, plans and a parish's own rows are plain files; what concerns persons is kept in a database,
so that it can be found, exported and deleted without rest. SQLite in the parish folder is the
usual one; a setting names a PostgreSQL server instead.

Conventions
-----------
Times are UTC. Pitches are Hz, deviations moria. Ids are random and say nothing about the person;
a nickname is enough, no surname or address is asked for. Deleting a singer deletes every row that
belongs to them, and the caller deletes the files that are named in the answer.
"""

from chantwright.parish.records.assignments import (
    Assignment,
    assign,
    assignments,
    learned,
    take_back,
)
from chantwright.parish.records.backup import back_up, restore
from chantwright.parish.records.consent import RECORDING, agree, agreed, withdraw
from chantwright.parish.records.people import (
    Person,
    add_person,
    delete_person,
    everything,
    person,
    persons,
    rename,
    take_range,
)
from chantwright.parish.records.recordings import (
    KEPT_DAYS,
    keep_recording,
    purge,
    recordings_of,
    share,
)
from chantwright.parish.records.results import Result, add_result, results_of
from chantwright.parish.records.store import Store, open_store, store_url

__all__ = [
    "KEPT_DAYS",
    "RECORDING",
    "Assignment",
    "Person",
    "Result",
    "Store",
    "add_person",
    "add_result",
    "agree",
    "agreed",
    "assign",
    "assignments",
    "back_up",
    "delete_person",
    "everything",
    "keep_recording",
    "learned",
    "open_store",
    "person",
    "persons",
    "purge",
    "recordings_of",
    "rename",
    "restore",
    "results_of",
    "share",
    "store_url",
    "take_back",
    "take_range",
    "withdraw",
]
