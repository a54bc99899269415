"""A list of recordings in the order of singing, as every player reads it.

References
----------
RFC 8216 (2017), section 4: the M3U list in UTF-8, one line for each file and before it its length
and title.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from chantwright import safefile

__all__ = ["write_playlist"]


def write_playlist(
    path: str | Path, entries: Sequence[tuple[str, str, float]], title: str = ""
) -> None:
    """Write a list.

    Parameters
    ----------
    path : str or Path
        The file, ending in ``.m3u8``.
    entries : sequence of (file name, title, seconds)
        Names relative to the list.
    title : str
        Of the whole.

    Raises
    ------
    ChantError
        If the file cannot be written.
    """
    out = ["#EXTM3U"]
    if title:
        out.append(f"#PLAYLIST:{' '.join(title.split())}")
    for name, about, seconds in entries:
        out += [f"#EXTINF:{seconds:.0f},{' '.join(about.split())}", name]
    safefile.write_text(path, "\n".join(out) + "\n")
