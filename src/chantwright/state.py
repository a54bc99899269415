"""The state of this program: what was made by another state may come out otherwise.

A digest of the very code and data of some of our packages and of the versions of the libraries
that have a hand in the result. Whatever is kept under a name that is worked out from its
ingredients counts this among them.
"""

from __future__ import annotations

import contextlib
import hashlib
from functools import lru_cache
from importlib import metadata, resources
from importlib.resources.abc import Traversable

from chantwright import __version__

__all__ = ["program_state"]


@lru_cache(maxsize=16)
def program_state(packages: tuple[str, ...], libraries: tuple[str, ...]) -> bytes:
    """Digest of our version, of packages of ours and of libraries.

    Parameters
    ----------
    packages : tuple of str
        Names under ``chantwright``; their data files count, byte by byte.
    libraries : tuple of str
        Names as installed; one that is not installed does not count.

    Returns
    -------
    bytes
        Of 32 octets.
    """
    out = hashlib.sha256(__version__.encode())
    for library in libraries:
        with contextlib.suppress(metadata.PackageNotFoundError):
            out.update(f"{library} {metadata.version(library)}".encode())
    for package in packages:
        _take(out, resources.files("chantwright") / package)
    return out.digest()


def _take(out: hashlib._Hash, folder: Traversable) -> None:
    for entry in sorted(folder.iterdir(), key=lambda e: e.name):
        if entry.is_dir():
            if entry.name != "__pycache__":
                _take(out, entry)
        elif not entry.name.endswith(".pyc"):
            out.update(f"{entry.name}\n".encode())
            out.update(entry.read_bytes())
