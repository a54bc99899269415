"""What a run of `prepare` wrote, so that the next one can take away what is not sung any more.

The list lies in the folder itself, as JSON: each file with the digest of what was written. A file
is taken away only when it stands in the list of a former run, is not made by this one, and is
still byte for byte what was written then: what somebody changed or put there stays.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from chantwright import safefile

__all__ = ["NAME", "MadeList"]

NAME = ".made.json"
_FOLDERS = ("hymns", "recordings")
_PIECE = 1 << 20


def _digest(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_PIECE):
            found.update(piece)
    return found.hexdigest()


def _read(out: Path) -> dict[str, str]:
    try:
        told = json.loads((out / NAME).read_text(encoding="utf-8"))["files"]
        return {str(k): str(v) for k, v in told.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}  # no list, or one that was spoilt: nothing is known, so nothing is taken away


@dataclass(slots=True)
class MadeList:
    """The list of one folder.

    Attributes
    ----------
    out : Path
        The folder.
    before : dict of str to str
        Files of former runs that are still there as they were written, and their digests.
    made : dict of str to str
        Files of this run.
    """

    out: Path
    before: dict[str, str] = field(default_factory=dict)
    made: dict[str, str] = field(default_factory=dict)

    @classmethod
    def open(cls, out: Path) -> MadeList:
        """Read the list of a folder; it may have none."""
        return cls(out, _read(out))

    def add(self, paths: Iterable[Path]) -> None:
        """Write down files that were just made, at once, so that a run that is ended is known."""
        for path in paths:
            self.made[path.relative_to(self.out).as_posix()] = _digest(path)
        self._write({**self.before, **self.made})

    def sweep(self) -> tuple[str, ...]:
        """Take away what former runs made and this one did not; returns the names."""
        gone = []
        for name, digest in self.before.items():
            path = self._own(name)
            if name in self.made or path is None or _digest(path) != digest:
                continue
            path.unlink()
            gone.append(name)
        self.before = {}
        self._write(self.made)
        return tuple(gone)

    def _own(self, name: str) -> Path | None:
        """Path of a listed file; None where the name leads elsewhere or nothing plain is there."""
        plain = PurePosixPath(name)
        if len(plain.parts) != 2 or plain.parts[0] not in _FOLDERS or ".." in plain.parts:
            return None
        path = self.out / plain
        plainly = path.is_file() and not path.is_symlink() and not path.parent.is_symlink()
        return path if plainly else None

    def _write(self, files: dict[str, str]) -> None:
        told = {"files": dict(sorted(files.items()))}
        safefile.write_text(self.out / NAME, json.dumps(told, indent=1) + "\n")
