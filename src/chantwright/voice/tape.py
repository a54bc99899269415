"""A recording in the making: written once from beginning to end, read as often as wanted.

A short one stays in memory. A long one is laid down in a temporary file that vanishes with it, so
that an hour takes no more memory than a minute.
"""

from __future__ import annotations

import tempfile
import weakref
from collections.abc import Iterator
from typing import IO

import numpy as np

from chantwright.errors import ChantError
from chantwright.voice.singer import Samples
from chantwright.voice.tract import RATE

__all__ = ["PIECE", "Tape"]

PIECE = 10 * RATE
"""Samples handed over at a time."""

_SHORT = 5 * 60 * RATE  # samples kept in memory


class Tape:
    """Samples, shape (n,) or (n, channels), float32.

    Parameters
    ----------
    channels : int
        One or two.
    """

    def __init__(self, channels: int = 1) -> None:
        self.channels = channels
        self._pieces: list[Samples] = []
        self._file: IO[bytes] | None = None
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def add(self, piece: Samples) -> None:
        """Write the next piece.

        Raises
        ------
        ChantError
            If the disk that temporary files are kept on is full.
        """
        self._count += len(piece)
        if self._file is None:
            self._pieces.append(piece)
            if self._count * self.channels <= _SHORT:
                return
            waiting, self._pieces = self._pieces, []
        else:
            waiting = [piece]
        try:
            if self._file is None:
                self._file = tempfile.TemporaryFile(prefix="chantwright-")  # noqa: SIM115
                weakref.finalize(self, self._file.close)
            for part in waiting:
                self._file.write(np.ascontiguousarray(part, np.float32).tobytes())
            self._file.flush()
        except OSError as exc:
            raise ChantError(
                f"there is no room for this recording while it is made ({exc.strerror}).",
                remedy=f"Make room on the disk that holds {tempfile.gettempdir()}.",
            ) from None

    def pieces(self, size: int = PIECE) -> Iterator[Samples]:
        """Read from the beginning, `size` samples at a time."""
        shape = (-1,) if self.channels == 1 else (-1, self.channels)
        if self._file is None:
            whole = self.whole()
            for start in range(0, len(whole), size):
                yield whole[start : start + size]
            return
        width = 4 * self.channels
        for start in range(0, self._count, size):
            self._file.seek(start * width)
            yield np.frombuffer(self._file.read(size * width), np.float32).reshape(shape)

    def whole(self) -> Samples:
        """Everything at once, in memory."""
        if self._file is not None:
            return np.concatenate(list(self.pieces()))
        if len(self._pieces) != 1:
            shape = (0,) if self.channels == 1 else (0, self.channels)
            self._pieces = [np.concatenate([np.zeros(shape, np.float32), *self._pieces])]
        return self._pieces[0]
