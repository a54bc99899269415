"""Files written whole or not at all.

A file is first written under another name in the same folder, forced to the disk, and only then
renamed to its own name, so a reader never meets half a file and a full disk never costs the old
one. With ``keep=True`` the version before the last change stays beside it as ``name~``. These are
two renames: a program that is killed between them leaves the file unchanged and ``name~`` equal to
it, and the version before that is gone.

A symbolic link is followed: the file it points to is replaced, and the link stays.

A program that is killed while it writes leaves its temporary file behind: a scrap, whose name has
a dot before it and ``.saving-`` with eight letters in it. Whoever writes into the folder next
sweeps it away, once it is older than any save takes and no living program holds it.

References
----------
POSIX.1-2017, ``rename()``: the old file or the new one is seen at every moment, never neither.
"""

from __future__ import annotations

import contextlib
import errno
import filecmp
import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from chantwright.errors import ChantError, Where

if sys.platform != "win32":
    import fcntl

__all__ = [
    "backup_name",
    "finished",
    "is_scrap",
    "make_folder",
    "sweep",
    "write_bytes",
    "write_text",
    "writing",
]

_SCRAP = re.compile(r"\..*\.saving-[a-z0-9_]{8}(?:\.[^.]*|~)?")
_SETTLED = 3600.0
"""Seconds after which what nobody holds was left by a program that was killed."""
_swept: dict[Path, float] = {}

_REASONS = {
    errno.ENOSPC: ("the disk is full", "Make room and try again; the old file is untouched."),
    errno.EDQUOT: ("your share of the disk is used up", "Make room and try again."),
    errno.EFBIG: ("the file would be larger than is allowed", "Make it shorter, or in parts."),
    errno.EROFS: ("the disk can only be read", "Choose another folder."),
    errno.EACCES: ("this folder may not be written to", "Choose another folder, or ask its owner."),
    errno.EPERM: ("this folder may not be written to", "Choose another folder, or ask its owner."),
    errno.ENOENT: ("its folder does not exist", "Make the folder first, or check its name."),
    errno.ENOTDIR: ("a part of its path is a file, not a folder", "Check the path."),
    errno.EISDIR: ("a folder of that name stands there", "Choose another name."),
    errno.ENAMETOOLONG: ("the name is too long", "Choose a shorter name."),
    errno.EIO: ("the disk does not answer properly", "Try another disk."),
}


def _error(path: Path, exc: OSError) -> ChantError:
    reason, remedy = _REASONS.get(
        exc.errno or 0, (exc.strerror or str(exc), "Check the folder and try again.")
    )
    return ChantError(
        f"this file cannot be written: {reason}.", where=Where(str(path)), remedy=remedy
    )


def backup_name(path: Path) -> Path:
    """Name under which the version before the last change is kept."""
    return path.with_name(path.name + "~")


def make_folder(path: Path) -> None:
    """Make a folder, and those above it, where they are not there yet.

    Raises
    ------
    ChantError
        If it cannot be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as exc:
        raise _error(path, exc) from None


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _mode(target: Path) -> int:
    """Rights of the file to be: those it has, or those a new file gets."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def is_scrap(name: str) -> bool:
    """Whether a file of this name is being written, or was left by a save that was cut off."""
    return _SCRAP.fullmatch(name) is not None


def finished(folder: Path, pattern: str) -> tuple[Path, ...]:
    """Files of a folder, in order of their names, without any that are just being written.

    Parameters
    ----------
    folder : Path
        The folder; there are none where it does not exist.
    pattern : str
        Such as ``*.txt``, or ``**/*.txt`` for those in its own folders too. Names that begin with a
        dot are never meant: scraps, and what other programs hide.
    """
    return tuple(sorted(p for p in folder.glob(pattern) if not p.name.startswith(".")))


def _scrap(target: Path, suffix: str) -> tuple[int, Path]:
    """Make an empty file beside the target; it is held for as long as its handle is open."""
    handle, name = tempfile.mkstemp(
        prefix=f".{target.stem[:80]}.saving-", suffix=suffix, dir=target.parent
    )
    if sys.platform == "win32":  # no file that is open can be renamed there
        os.close(handle)
        return -1, Path(name)
    with contextlib.suppress(OSError):  # some disks know no locks; there its age must do
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    return handle, Path(name)


def _let_go(handle: int) -> None:
    if handle >= 0:
        os.close(handle)


def _held(path: Path) -> bool:
    """Whether a living program holds a scrap, on systems where that can be told."""
    if sys.platform == "win32":
        return False
    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except OSError:
        return False
    finally:
        os.close(handle)
    return False


def sweep(folder: Path, older: float = _SETTLED) -> int:
    """Take away the scraps of a folder that are old and that nobody holds; see above.

    Parameters
    ----------
    folder : Path
        The folder; not those in it.
    older : float
        Age in seconds.

    Returns
    -------
    int
        How many. What cannot be looked at or taken away stays, and is no error.
    """
    gone = 0
    with contextlib.suppress(OSError), os.scandir(folder) as found:
        for entry in found:
            if entry.name[0] != "." or not is_scrap(entry.name):
                continue
            with contextlib.suppress(OSError):
                about = entry.stat(follow_symlinks=False)
                # What is set aside has the time of the version that it was copied from.
                old = time.time() - max(about.st_mtime, about.st_ctime) > older
                if old and entry.is_file(follow_symlinks=False) and not _held(Path(entry.path)):
                    os.unlink(entry.path)  # noqa: PTH108 (a name of scandir, thousands of times)
                    gone += 1
    return gone


def _sweep_now_and_then(folder: Path) -> None:
    now = time.monotonic()
    if now - _swept.get(folder, -_SETTLED) >= _SETTLED:
        _swept[folder] = now
        sweep(folder)


def _keep(target: Path) -> None:
    """Set the present version aside without a moment in which the file is missing."""
    handle, aside = _scrap(target, "~")
    try:
        shutil.copy2(target, aside)
        aside.replace(backup_name(target))
    finally:
        _let_go(handle)
        aside.unlink(missing_ok=True)


@contextmanager
def writing(path: str | Path, *, keep: bool = False, private: bool = False) -> Iterator[Path]:
    """Give a temporary file to write to; put it in place when the block ends well.

    Parameters
    ----------
    path : str or Path
        The file to be. Its folder must exist.
    keep : bool
        Keep the present version as ``name~``. A version that does not differ from the new one is
        not kept, so that writing twice never loses the last real change.
    private : bool
        Let nobody but its owner read the file.

    Yields
    ------
    Path
        An empty file in the same folder, with the same ending, for the block to fill.

    Raises
    ------
    ChantError
        If the file cannot be written; whatever stood there before is untouched.
    """
    path = Path(path)
    try:
        target = path.resolve()
        if target.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
        mode = 0o600 if private else _mode(target)
        handle, temporary = _scrap(target, target.suffix)
    except OSError as exc:
        raise _error(path, exc) from None
    except (ValueError, RuntimeError):  # a zero byte in the name; links that run in a ring
        raise ChantError(
            "this file name cannot be used.", where=Where(str(path)), remedy="Choose another name."
        ) from None
    try:
        yield temporary
        _sync(temporary)
        temporary.chmod(mode)
        if keep and target.exists() and not filecmp.cmp(temporary, target, shallow=False):
            _keep(target)
        temporary.replace(target)
        # Some disks cannot sync a folder; the file itself is safe by now.
        with contextlib.suppress(OSError):
            _sync(target.parent)
    except OSError as exc:
        own = exc.filename is None or str(exc.filename) == str(temporary)
        if own or exc.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO):
            raise _error(path, exc) from None
        raise
    finally:
        _let_go(handle)
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
    _sweep_now_and_then(target.parent)


def write_bytes(
    path: str | Path, data: bytes, *, keep: bool = False, private: bool = False
) -> None:
    """Write bytes, whole or not at all; see `writing`."""
    with writing(path, keep=keep, private=private) as temporary:
        temporary.write_bytes(data)


def write_text(path: str | Path, text: str, *, keep: bool = False) -> None:
    r"""Write UTF-8 text with ``\n`` line ends, whole or not at all; see `writing`.

    Raises
    ------
    ChantError
        If the file cannot be written, or the text holds half a character (a lone surrogate).
    """
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as exc:
        raise ChantError(
            "the text holds a broken character that cannot be saved.",
            where=Where(str(path), text.count("\n", 0, exc.start) + 1),
            remedy="Delete it and type it again.",
        ) from None
    write_bytes(path, data, keep=keep)
