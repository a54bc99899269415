"""What a hymn file held before each change, so that changes can be taken back and brought back.

The versions of ``hymns/NAME.txt`` stand in ``earlier/NAME.json`` of the parish folder, oldest
first, with the place of the one that the file holds now. They outlive the program, and every
program that serves the parish sees the same ones. A change made by another program (an editor, the
command line) is a change like any other: it is noticed the next time, and is taken back first.

The versions are always written before the hymn file. Whatever is cut off between the two leaves the
file at a version beside the noted place, which is where it is then taken to be.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from chantwright import safefile
from chantwright.errors import ChantError
from chantwright.parish.folder import EARLIER, PARISH_FILE

if sys.platform != "win32":
    import fcntl

__all__ = ["DEPTH", "Trail", "bring_back", "forget", "keep", "standing", "take_back", "trail_file"]

DEPTH = 50
"""Changes that can be taken back."""
_LARGEST = 1_000_000
"""Bytes that the versions of a hymn may have together; the oldest go first."""
_one = threading.Lock()


@dataclass(frozen=True, slots=True)
class Trail:
    """Versions of a file.

    Attributes
    ----------
    versions : tuple of bytes
        Oldest first; at least one.
    at : int
        The one that the file holds.
    outside : bool
        Whether that one was written by another program, as far as can be known.
    """

    versions: tuple[bytes, ...]
    at: int
    outside: bool = False

    @property
    def back(self) -> int:
        """How many changes can be taken back."""
        return self.at

    @property
    def ahead(self) -> int:
        """How many that were taken back can be brought back."""
        return len(self.versions) - 1 - self.at

    def seen(self, held: bytes) -> Trail:
        """The same trail for a file that holds `held`, whoever wrote it."""
        if held == self.versions[self.at]:
            return self
        for near in (self.at - 1, self.at + 1):  # a save that was cut off
            if 0 <= near < len(self.versions) and held == self.versions[near]:
                return Trail(self.versions, near)
        return Trail((*self.versions[: self.at + 1], held), self.at + 1, outside=True)

    def with_change(self, new: bytes) -> Trail:
        """After a change: what was taken back before it cannot be brought back any more."""
        if new == self.versions[self.at]:
            return self
        versions = (*self.versions[: self.at + 1], new)
        return Trail(versions, len(versions) - 1)

    def bounded(self) -> Trail:
        """Without the oldest versions, where there are too many or they are too large."""
        first = max(0, self.at - DEPTH)
        while first < self.at and sum(map(len, self.versions[first:])) > _LARGEST:
            first += 1
        return Trail(self.versions[first:], self.at - first, self.outside)


def trail_file(path: Path) -> Path:
    """Where the versions of a hymn file stand."""
    root = next((p for p in path.parents if (p / PARISH_FILE).is_file()), path.parent)
    place = path.relative_to(root)
    inside = place.relative_to("hymns") if place.parts[0] == "hymns" else place
    return root / EARLIER / inside.with_suffix(".json")


def _read(path: Path, held: bytes) -> Trail:
    """Read the trail of a file; of one without, the version that a save kept beside it counts."""
    try:
        told = json.loads(trail_file(path).read_text(encoding="utf-8"))
        versions = tuple(_bytes(text) for text in told["versions"])
        at = int(told["at"])
        if 0 <= at < len(versions):
            return Trail(versions, at).seen(held)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        pass  # none yet, or spoilt: it begins anew
    with contextlib.suppress(OSError):
        before = safefile.backup_name(path).read_bytes()
        if before != held:
            return Trail((before, held), 1, outside=True)
    return Trail((held,), 0)


def _bytes(text: object) -> bytes:
    if not isinstance(text, str):
        raise TypeError(text)
    return text.encode("utf-8", errors="surrogateescape")


def _write(path: Path, trail: Trail) -> None:
    file, trail = trail_file(path), trail.bounded()
    versions = [v.decode("utf-8", errors="surrogateescape") for v in trail.versions]
    safefile.make_folder(file.parent)
    safefile.write_text(file, json.dumps({"at": trail.at, "versions": versions}, indent=1))


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Let no other thread, and no other program of ours, change hymns of that folder meanwhile."""
    with _one, contextlib.ExitStack() as stack:
        if sys.platform != "win32":
            # Some disks know no locks; then two programs at once may lose a version, never a file.
            with contextlib.suppress(OSError):
                handle = os.open(path.parent, os.O_RDONLY)
                stack.callback(os.close, handle)
                fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def standing(path: Path) -> Trail:
    """Versions of a hymn file as it stands now.

    Raises
    ------
    OSError
        If there is no such file.
    """
    return _read(path, path.read_bytes())


def keep(path: Path, text: str) -> None:
    """Write the text of a hymn file, and keep what it held.

    Raises
    ------
    ChantError
        If it cannot be written; the file is then unchanged.
    """
    try:
        new = text.encode()
    except UnicodeEncodeError:
        safefile.write_text(path, text)  # says where the broken character is
        raise
    with _alone(path):
        _write(path, standing(path).with_change(new))
        safefile.write_bytes(path, new, keep=True)


def _go(path: Path, by: int, nothing: ChantError) -> None:
    with _alone(path):
        trail = standing(path)
        at = trail.at + by
        if not 0 <= at < len(trail.versions):
            raise nothing
        _write(path, Trail(trail.versions, at))
        safefile.write_bytes(path, trail.versions[at], keep=True)


def take_back(path: Path) -> None:
    """Put back what a hymn file held before the last change, whoever made it.

    Raises
    ------
    ChantError
        If there is nothing to take back, or the file cannot be written.
    """
    remedy = f"This is the oldest version that is known; at most {DEPTH} changes are kept."
    _go(path, -1, ChantError("there is nothing to take back.", remedy=remedy))


def bring_back(path: Path) -> None:
    """Make the change again that was taken back last.

    Raises
    ------
    ChantError
        If nothing was taken back since the last change, or the file cannot be written.
    """
    remedy = "After a new change, what was taken back before it is gone."
    _go(path, 1, ChantError("there is nothing to bring back.", remedy=remedy))


def forget(path: Path) -> None:
    """Forget the versions of a hymn that was in a file of this name before."""
    with contextlib.suppress(OSError):
        trail_file(path).unlink(missing_ok=True)
