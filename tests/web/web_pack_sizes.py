"""How large a pack is on disk, part by part; the pages are taken as they are shipped.

The budget counts every file but sound and fonts, less what is drawn as score and less the notes and
times that stand in each hymn's page (they are told beside it).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

_SCORE = re.compile(rb"<div class=score>.*?</div>(?=<details class=words)", re.DOTALL)
_NOTES = re.compile(rb"(?<=<script class=data type=application/json>).*?(?=</script>)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Octets.

    Attributes
    ----------
    files : dict
        Name -> octets, of every file but sound and fonts.
    score, notes : int
        Drawn scores; notes and times of the recordings.
    sound, fonts, opus : int
        Of the files of those kinds.
    pages : int
        Pages of hymns.
    """

    files: dict[str, int]
    score: int
    notes: int
    sound: int
    fonts: int
    opus: int
    pages: int

    @property
    def scripts(self) -> int:
        """All scripts, those of the worklet and the service worker too."""
        return sum(size for name, size in self.files.items() if name.endswith(".js"))

    @property
    def rest(self) -> int:
        """What the budget counts."""
        return sum(self.files.values()) - self.score - self.notes


def sizes_of(folder: Path) -> Sizes:
    """Weigh a pack; every page of a hymn must have one score and one set of notes."""
    every = {p.relative_to(folder).as_posix(): p for p in folder.rglob("*") if p.is_file()}
    size = {name: path.stat().st_size for name, path in every.items()}
    score, notes, pages = 0, 0, 0
    for name, path in every.items():
        if name.endswith(".html") and name != "index.html":
            page = path.read_bytes()
            (drawn,), (known,) = _SCORE.findall(page), _NOTES.findall(page)
            score += len(drawn)
            notes += len(known)
            pages += 1
    return Sizes(
        {n: s for n, s in size.items() if not n.startswith(("sound/", "fonts/"))},
        score,
        notes,
        sum(s for n, s in size.items() if n.startswith("sound/")),
        sum(s for n, s in size.items() if n.startswith("fonts/")),
        sum(s for n, s in size.items() if n.endswith(".opus")),
        pages,
    )
