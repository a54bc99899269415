"""Files written whole or not at all.

A file is first written under another name in the same folder, forced to the disk, and only then
renamed to its own name, so a reader never meets half a file and a full disk never costs the old
one. With ``keep=True`` the version before the last change stays beside it as ``name~``.

A symbolic link is followed: the file it points to is replaced, and the link stays.

References
----------
POSIX.1-2017, ``rename()``: the old file or the new one is seen at every moment, never neither.
"""

from __future__ import annotations

import contextlib
import errno
import filecmp
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from chantwright.errors import ChantError, Where

__all__ = ["backup_name", "make_folder", "write_bytes", "write_text", "writing"]

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


def _keep(target: Path) -> None:
    """Set the present version aside without a moment in which the file is missing."""
    aside = backup_name(target)
    handle, name = tempfile.mkstemp(prefix=f".{target.stem[:80]}.", suffix="~", dir=target.parent)
    os.close(handle)
    try:
        shutil.copy2(target, name)
        Path(name).replace(aside)
    finally:
        Path(name).unlink(missing_ok=True)


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
        handle, name = tempfile.mkstemp(
            prefix=f".{target.stem[:80]}.", suffix=target.suffix, dir=target.parent
        )
        os.close(handle)
    except OSError as exc:
        raise _error(path, exc) from None
    except (ValueError, RuntimeError):  # a zero byte in the name; links that run in a ring
        raise ChantError(
            "this file name cannot be used.", where=Where(str(path)), remedy="Choose another name."
        ) from None
    temporary = Path(name)
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
        own = exc.filename is None or str(exc.filename) == name
        if own or exc.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EIO):
            raise _error(path, exc) from None
        raise
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


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
