"""The pieces of work of a season, as a worker does them, and the names of what they make.

A season (`chantwright.parish.season`) is made of three kinds of work: words are *set*, a hymn is
*sung*, and a weekend is *laid out*. What the first two make lies under a name that is worked out
from all that decides it, so that the same hymn in the same tone at the same base is made once, and
a run that was ended goes on where it stopped. Each piece of work writes its last file last; where
that file stands, the work is done.

Layout of the store
-------------------
``set/NAME.txt`` a hymn file; ``sound/NAME.opus`` and the like, then ``sound/NAME.json``, the times
of the recording; ``weeks/DATE.json`` what a weekend was made of, and its files.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from chantwright import safefile
from chantwright.engrave import Booklet, write_booklet
from chantwright.errors import ChantError, Where
from chantwright.parish.madelist import MadeList
from chantwright.parish.singable import Knowledge, load_knowledge, set_words
from chantwright.parish.whole import Prepared
from chantwright.score import Hymn, hymnfile
from chantwright.state import program_state
from chantwright.tones import Tones
from chantwright.voice import draw_cover, sing, write_playlist, write_track

__all__ = [
    "Page",
    "Sound",
    "Week",
    "is_laid_out",
    "lay_out",
    "mark_of",
    "set_hymn_words",
    "set_name",
    "sing_hymn",
    "sound_name",
    "week_name",
]

Page = Callable[[Prepared, Tones], Path]
"""Writes a page beside the booklet and gives its file; must be known by its name to a worker."""

_SETTING = ("tuning", "tones", "score", "words", "setting")
_SINGING = ("tuning", "tones", "score", "voice")
_LIBRARIES = ("hibari-tts", "numpy", "scipy", "soundfile")
_ALL = (*_SETTING, "almanac", "engrave", "voice", "parish", "web")
_ALL_LIBRARIES = (*_LIBRARIES, "typst", "verovio")
_NAMED = 40  # letters of a name


def _digest(state: bytes, parts: Iterable[object]) -> str:
    out = hashlib.sha256(state)
    for part in parts:
        text = part if isinstance(part, bytes) else repr(part).encode()
        out.update(f"{len(text)} ".encode())
        out.update(text)
    return out.hexdigest()[:_NAMED]


def _read(paths: Iterable[Path]) -> list[bytes]:
    """Contents of files; a file that cannot be read counts as none."""
    out = []
    for path in paths:
        try:
            out.append(path.read_bytes())
        except OSError:
            out.append(b"\0")
    return out


def set_name(hymn: Hymn, ison: str, overrides: tuple[Path, ...]) -> str:
    """Name of words that are set: words, tone and branch, ison, rows and program decide it."""
    state = program_state(_SETTING, ("numpy",))
    return _digest(state, (hymn, ison, *_read(overrides)))


def sound_name(hymn: Hymn, album: str, suffixes: tuple[str, ...], own: tuple[Path, ...]) -> str:
    """Name of a recording: notes, base and words decide it, and what is written on it."""
    state = program_state(_SINGING, _LIBRARIES)
    return _digest(state, (hymn, album, suffixes, *_read(own)))


def week_name(parts: Iterable[object], files: Iterable[Path]) -> str:
    """Name of a weekend that was laid out: its plans, hymns, singers, settings and program."""
    return _digest(program_state(_ALL, _ALL_LIBRARIES), (*parts, *_read(files)))


@lru_cache(maxsize=2)
def _knowledge(overrides: tuple[Path, ...], contents: tuple[bytes, ...]) -> Knowledge:  # noqa: ARG001
    return load_knowledge(overrides)


def known(overrides: tuple[Path, ...]) -> Knowledge:
    """Tones and formula books, read once in each process for each state of the parish's rows."""
    return _knowledge(overrides, tuple(_read(overrides)))


def set_hymn_words(hymn: Hymn, ison: str, overrides: tuple[Path, ...], file: Path) -> None:
    """Set words, and write the hymn file.

    Raises
    ------
    ChantError
        If they cannot be set.
    """
    hymnfile.write(file, set_words(hymn, known(overrides), ison=ison)[0].hymn)


@dataclass(frozen=True, slots=True)
class Sound:
    """A recording to be made.

    Attributes
    ----------
    hymn : Hymn
    album : str
        The parish, as written on the recording.
    overrides : tuple of Path
    folder : Path
        Where it lies.
    name : str
        From `sound_name`.
    suffixes : tuple of str
    """

    hymn: Hymn
    album: str
    overrides: tuple[Path, ...]
    folder: Path
    name: str
    suffixes: tuple[str, ...]

    @property
    def files(self) -> tuple[Path, ...]:
        """The recordings, and last the file with their times."""
        return tuple(self.folder / f"{self.name}{s}" for s in (*self.suffixes, ".json"))

    @property
    def is_made(self) -> bool:
        """Whether all its files stand."""
        return all(file.is_file() for file in self.files)


def sing_hymn(sound: Sound) -> None:
    """Sing a hymn into its files.

    Raises
    ------
    ChantError
        As `chantwright.voice.sing` and `write_track`.
    """
    track = sing(sound.hymn, known(sound.overrides).tones)
    picture = draw_cover(sound.album or sound.hymn.title, sound.hymn.title)
    tags = {"title": sound.hymn.title, "album": sound.album}
    *recordings, times = sound.files
    for file in recordings:
        write_track(track, file, tags, picture)
    safefile.write_text(times, track.timing.to_json())


@dataclass(frozen=True, slots=True)
class Week:
    """A weekend to be laid out.

    Attributes
    ----------
    prepared : Prepared
        What is sung, and how its files are named.
    booklet : Booklet
    sounds : mapping of int to Sound
        The recordings by the numbers of the pieces.
    mark : Path
        File that says that it is done.
    name : str
        From `week_name`.
    whole : bool
        Whether nothing is wanting; otherwise it is not marked as done.
    page : callable or None
        Writes the page.
    """

    prepared: Prepared
    booklet: Booklet
    sounds: Mapping[int, Sound]
    mark: Path
    name: str
    whole: bool
    page: Page | None


def lay_out(week: Week) -> None:
    """Write booklet, hymn files, recordings, playlists and page of a weekend.

    What an earlier run made and is no longer wanted is taken away (`chantwright.parish.madelist`).

    Raises
    ------
    ChantError
        If something cannot be written.
    """
    prepared, out = week.prepared, week.prepared.out
    tones = known(prepared.folder.overrides).tones
    for folder in ("hymns", "recordings"):
        (out / folder).mkdir(parents=True, exist_ok=True)
    # What cannot be printed is named in its place in the booklet; the rest is not held up.
    files = [write_booklet(week.booklet, prepared.booklet, tones, leave=lambda _: None)]
    for session in prepared.sessions:
        entries = []
        for piece in session.pieces:
            if piece.singable is None:
                continue
            hymnfile.write(out / piece.hymn_file, piece.singable.hymn)
            files.append(out / piece.hymn_file)
            if not piece.recordings:
                continue
            sound = week.sounds[piece.number]
            *recordings, times = sound.files
            for source, name in zip(recordings, piece.recordings, strict=True):
                files.append(_placed(source, out / name))
            first = out / piece.recordings[0]
            files.append(_placed(times, first.with_suffix(".json")))
            seconds = json.loads(times.read_text(encoding="utf-8"))["seconds"]
            entries.append((first.name, piece.singable.hymn.title, float(seconds)))
        if entries:
            day = session.civil_date.isoformat()
            file = out / "recordings" / f"{day}-{session.service}.m3u8"
            write_playlist(file, entries, session.title)
            files.append(file)
    if week.page is not None:
        files.append(week.page(prepared, tones))
    listed = MadeList.open(out)
    listed.add(f for f in files if f.parent != out)
    listed.sweep()
    told = {
        "name": week.name if week.whole else "",
        "missing": len(prepared.missing),
        "files": [[f.relative_to(out).as_posix(), f.stat().st_size] for f in files],
        "sounds": sorted({sound.name for sound in week.sounds.values()}),
    }
    safefile.write_text(week.mark, json.dumps(told, ensure_ascii=False, indent=1))


def _placed(source: Path, target: Path) -> Path:
    """Put a file in its place: as one more name of the same file, or else as a copy."""
    try:
        with contextlib.suppress(FileNotFoundError):
            if target.samefile(source):
                return target
        aside = target.with_name(f".{target.name}.{os.getpid()}")
        aside.unlink(missing_ok=True)
        os.link(source, aside)
        aside.replace(target)
    except OSError:  # another disk, or one that knows no second names
        try:
            with safefile.writing(target) as temporary:
                shutil.copyfile(source, temporary)
        except OSError as exc:
            raise ChantError(
                f"this recording cannot be put in its place ({exc.strerror or exc}).",
                where=Where(str(target)),
                remedy="Check the disk and start the same command again.",
            ) from None
    return target


def mark_of(file: Path) -> dict[str, Any]:
    """Read what was written of a weekend that was laid out; empty where nothing is known."""
    try:
        told = json.loads(file.read_text(encoding="utf-8"))
        return {
            "name": str(told["name"]),
            "missing": int(told["missing"]),
            "files": [(str(name), int(size)) for name, size in told["files"]],
            "sounds": [str(name) for name in told["sounds"]],
        }
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def is_laid_out(mark: Path, name: str, out: Path) -> bool:
    """Whether a weekend was laid out from these very things, and its files are all there."""
    told = mark_of(mark)
    if told.get("name") != name:
        return False
    try:
        return all((out / file).stat().st_size == size for file, size in told["files"])
    except OSError:
        return False
