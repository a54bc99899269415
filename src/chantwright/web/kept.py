"""What was made for a page before, kept under its content while the tones it was made with stay."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

from chantwright.tones import Tones

__all__ = ["Kept"]

Made = TypeVar("Made")


class Kept(Generic[Made]):
    """Keeps the last things made.

    Parameters
    ----------
    most : int
        How many; the one asked for longest ago goes first.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._before: OrderedDict[tuple[str, ...], tuple[Tones, Made]] = OrderedDict()
        self._turn = threading.Lock()

    def get(self, key: tuple[str, ...], tones: Tones, make: Callable[[], Made]) -> Made:
        """Give what is kept under a key, or make it.

        Parameters
        ----------
        key : tuple of str
            All that decides what is made, but the tones.
        tones : Tones
            The very object, since a parish's changed rows make another.
        make : callable
            Makes it.
        """
        with self._turn:
            known = self._before.get(key)
            if known is not None and known[0] is tones:
                self._before.move_to_end(key)
                return known[1]
        made = make()
        with self._turn:
            self._before[key] = (tones, made)
            while len(self._before) > self._most:
                self._before.popitem(last=False)
        return made
