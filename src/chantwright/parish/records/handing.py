"""All that is kept of one singer, as a file they may have: every row, and their recordings."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

from chantwright import safefile
from chantwright.parish.records.people import everything
from chantwright.parish.records.recordings import recordings_of
from chantwright.parish.records.store import Store

__all__ = ["hand_over"]


def hand_over(
    store: Store, person_id: str, recordings: Path, target: Path, *, shared: bool = False
) -> int:
    """Write a zip of everything that is kept of a singer.

    Parameters
    ----------
    store : Store
        The records.
    person_id : str
        The singer.
    recordings : Path
        Folder in which recordings lie.
    target : Path
        The zip; written whole or not at all.
    shared : bool
        Take only the recordings that the teacher may hear.

    Returns
    -------
    int
        How many recordings are in it.

    Raises
    ------
    ChantError
        If there is no such singer, or the file cannot be written.
    """
    with store.read() as session:
        told = everything(session, person_id)
        kept = [
            r
            for r in recordings_of(session, person_id, shared=shared)
            if (recordings / r.file).is_file()
        ]
    with (
        safefile.writing(target, private=True) as temporary,
        zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as zipped,
    ):
        zipped.writestr("singer.json", json.dumps(told, ensure_ascii=False, indent=1) + "\n")
        for one in kept:
            zipped.write(recordings / one.file, f"recordings/{one.file}")
    return len(kept)
