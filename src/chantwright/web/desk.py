"""The teacher's desk: a parish folder, what is known, and what is sung next, kept while unchanged.

Setting a weekend takes a second or two, so it is done once and kept until a file of the parish
changes. Everything here is plain data for the pages.
"""

from __future__ import annotations

import os
import threading
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path, PurePosixPath

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.parish import (
    Knowledge,
    ParishFolder,
    Session,
    Singer,
    gather,
    load_knowledge,
    make_singable,
    open_folder,
    singers_of,
)
from chantwright.parish.records import Store, open_store, purge, store_url
from chantwright.score import Hymn, hymnfile

__all__ = ["Desk", "Weekend"]

_WATCHED = ("parish.toml", "singers.toml", "records.sqlite", "records.sqlite-wal")


@dataclass(frozen=True, slots=True)
class Weekend:
    """The coming services, what still lacks words, and sentences about pitch."""

    sessions: tuple[Session, ...]
    missing: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(slots=True)
class Desk:
    """An open parish.

    Attributes
    ----------
    path : Path
        The parish folder.
    store : Store
        Records of its singers.
    day : date or None
        Day that counts as today; None takes the clock's.
    """

    path: Path
    store: Store
    day: date | None = None
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _stamp: tuple[object, ...] = ()
    _weekend: Weekend | None = None
    _knowledge: Knowledge | None = None
    _known_from: tuple[object, ...] = ()

    @classmethod
    def open(cls, path: Path, day: date | None = None) -> Desk:
        """Open a parish folder and its records.

        Raises
        ------
        ChantError
            If the folder or its records cannot be opened.
        """
        open_folder(path)
        desk = cls(path, open_store(store_url(path)), day)
        desk.tidy()
        return desk

    def tidy(self) -> int:
        """Delete recordings whose time is over, and scraps of saves; returns how many recordings.

        A scrap is what a save leaves that was cut off by a crash; see `chantwright.safefile`.
        """
        for place, _, _ in os.walk(self.path):
            safefile.sweep(Path(place))
        with self.store.write() as session:
            return purge(session, self.path / "recordings")

    @property
    def today(self) -> date:
        """Today, or the day that stands for it."""
        return self.day or date.today()

    @property
    def folder(self) -> ParishFolder:
        """The parish's settings, read anew each time."""
        return open_folder(self.path)

    @property
    def knowledge(self) -> Knowledge:
        """Tones and formula books with the parish's own rows."""
        with self._lock:
            own = self.folder.overrides
            stamp = tuple((p, p.stat().st_mtime_ns) for p in own)
            if self._knowledge is None or stamp != self._known_from:
                self._knowledge, self._known_from = load_knowledge(own), stamp
            return self._knowledge

    @property
    def singers(self) -> tuple[Singer, ...]:
        """Singers with a range: of the records, else of the singers file, else a typical group."""
        return singers_of(self.folder, self.knowledge.tones, self.store)

    def _now(self) -> tuple[object, ...]:
        rows: list[object] = [self.today]
        folder = self.folder
        files = [folder.path / n for n in _WATCHED]
        files += sorted((*folder.hymns.rglob("*.txt"), *folder.services.glob("*.txt")))
        files += list(folder.overrides)
        for path in files:
            try:
                found = path.stat()
            except OSError:
                continue
            rows.append((str(path), found.st_mtime_ns, found.st_size))
        return tuple(rows)

    def weekend(self) -> Weekend:
        """What is sung on the coming Saturday evening and Sunday.

        Raises
        ------
        ChantError
            If a plan or a hymn file is not understood.
        """
        with self._lock:
            stamp = self._now()
            if self._weekend is None or stamp != self._stamp:
                found = gather(
                    self.folder, self.today, self.knowledge, self.singers, lambda *_: None
                )
                self._weekend = Weekend(*found)
                self._stamp = self._now()  # plans that were missing have been written now
            return self._weekend

    def hymn_path(self, name: str) -> Path:
        """Path of a hymn file of the parish, by its name under ``hymns/``.

        Raises
        ------
        ChantError
            If the name leads elsewhere, or there is no such file.
        """
        plain = PurePosixPath(name)
        hymns = self.folder.hymns.resolve()
        path = hymns / plain
        try:
            inside = path.resolve().is_relative_to(hymns) and path.suffix == ".txt"
            there = inside and path.is_file()
        except (OSError, ValueError):  # names no file can have
            there = False
        if plain.is_absolute() or ".." in plain.parts or not there:
            raise ChantError(
                "there is no such hymn in this parish.",
                where=Where(name[:80]),
                remedy="Look at the list of hymns.",
            )
        return path

    def hymns(self) -> tuple[str, ...]:
        """Names of the hymn files, in alphabetical order."""
        hymns = self.folder.hymns
        found = safefile.finished(hymns, "**/*.txt")
        return tuple(sorted(p.relative_to(hymns).as_posix() for p in found))

    def title(self, name: str) -> str:
        """A hymn's title; its file's name where it cannot be read."""
        try:
            return hymnfile.read(self.hymn_path(name)).title or name
        except ChantError:
            return name

    def singable(self, name: str) -> Hymn:
        """A hymn, set and pitched as it is sung next, else as its file has it.

        Raises
        ------
        ChantError
            If there is none, or it has no tone and is not planned.
        """
        path = self.hymn_path(name)
        for session in self.weekend().sessions:
            for piece in session.pieces:
                if piece.singable is not None and self.folder.path / piece.file == path:
                    return piece.singable.hymn
        hymn = hymnfile.read(path)
        tone = next((s.day.tone for s in self.weekend().sessions if s.day and s.day.tone), None)
        return make_singable(
            hymn, self.knowledge, self.singers, tone=tone, ison=self.folder.ison
        ).hymn

    def close(self) -> None:
        """Close the records."""
        self.store.close()
