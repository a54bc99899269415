"""Who sings, and how far each can sing with ease: the one answer for every verb and page.

Conventions
-----------
Ranges in the records (taken at the desk or with ``singers``) win; where nobody has one there, the
list ``singers.toml`` of the parish folder; where that is missing too, the usual ranges of its
group.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from chantwright.parish.folder import RECORDS_FILE, RECORDS_SETTING, ParishFolder
from chantwright.parish.singers import Singer, group_singers, read_singers
from chantwright.tones import Tones

if TYPE_CHECKING:
    from chantwright.parish.records import Store

__all__ = ["recorded_singers", "singers_of"]


def recorded_singers(store: Store) -> tuple[Singer, ...]:
    """Return the singers of the records who have a range, by nickname."""
    from chantwright.parish.records import persons  # noqa: PLC0415 (see `singers_of`)

    with store.read() as session:
        return tuple(s for p in persons(session) if (s := p.singer) is not None)


def singers_of(
    folder: ParishFolder, tones: Tones, store: Store | None = None
) -> tuple[Singer, ...]:
    """Return who sings in a parish.

    Parameters
    ----------
    folder : ParishFolder
        The parish.
    tones : Tones
        Holds the usual ranges of groups.
    store : Store, optional
        Its records, where they are open already. They are opened for a moment where they exist,
        and never made.

    Raises
    ------
    ChantError
        If the records cannot be opened, or the list of singers is not understood.
    """
    known: tuple[Singer, ...] = ()
    if store is not None:
        known = recorded_singers(store)
    elif os.environ.get(RECORDS_SETTING, "").strip() or (folder.path / RECORDS_FILE).is_file():
        # What speaks to a database loads slower than a hymn is set: only where there is one.
        from chantwright.parish.records import open_store, store_url  # noqa: PLC0415

        opened = open_store(store_url(folder.path))
        try:
            known = recorded_singers(opened)
        finally:
            opened.close()
    if known:
        return known
    if folder.singers_file is not None:
        return read_singers(folder.singers_file)
    return group_singers(tones, folder.group)
