"""From a hymn to a file on the disk, made once.

A recording is kept under a name that is worked out from all that decides its sound: the notes in
time, the options, the tags, the picture, and the state of this program. Asked for again, it is
copied. A store that cannot be written to is no fault: the recording is then made anew.

The environment may say where the store is (``CHANTWRIGHT_CACHE``; ``off`` for none); otherwise it
is the user's own cache folder.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from chantwright import safefile
from chantwright.errors import ChantError
from chantwright.score.model import Hymn
from chantwright.state import program_state
from chantwright.tones import Tones
from chantwright.voice.files import kind_of, write_track
from chantwright.voice.options import TrackOptions
from chantwright.voice.sounds import Spelling
from chantwright.voice.timing import Timing
from chantwright.voice.track import plan_of, sing

__all__ = ["Recorded", "record", "store_folder"]

_MOST = 1_000_000_000  # octets kept
_NAMED = 40  # letters of a name
_LIBRARIES = ("hibari-tts", "numpy", "scipy", "soundfile")


@dataclass(frozen=True, slots=True)
class Recorded:
    """A recording that was written.

    Attributes
    ----------
    paths : tuple of Path
        The files.
    timing : Timing
        When everything sounds.
    remarks : tuple of str
        What the listener should know.
    kept : bool
        Whether all of them were made before and only copied.
    """

    paths: tuple[Path, ...]
    timing: Timing
    remarks: tuple[str, ...]
    kept: bool


def store_folder() -> Path | None:
    """Folder in which recordings are kept, or None where none are to be kept."""
    named = os.environ.get("CHANTWRIGHT_CACHE")
    if named:
        return None if named == "off" else Path(named)
    if sys.platform == "win32":
        root = os.environ.get("LOCALAPPDATA")
        return Path(root) / "chantwright" / "recordings" if root else None
    try:
        home = Path.home()
    except RuntimeError:
        return None
    usual = home / ("Library/Caches" if sys.platform == "darwin" else ".cache")
    return Path(os.environ.get("XDG_CACHE_HOME") or usual) / "chantwright" / "recordings"


def record(
    hymn: Hymn,
    tones: Tones,
    paths: Sequence[Path],
    options: TrackOptions | None = None,
    tags: Mapping[str, str] | None = None,
    *,
    picture: bytes | None = None,
    spelling: Spelling | None = None,
    store: Path | None = None,
) -> Recorded:
    """Sing a hymn into files, or copy those that were made before.

    Parameters
    ----------
    hymn : Hymn
        Set.
    tones : Tones
        The tones.
    paths : sequence of Path
        The files; the ending of each chooses its kind. The hymn is sung once at most.
    options : TrackOptions, optional
        How.
    tags : mapping of str to str, optional
        As in `write_track`.
    picture : bytes, optional
        A PNG for the cover.
    spelling : Spelling, optional
        Tables of sounds with a parish's own rows.
    store : Path, optional
        Folder for what is kept; by default that of `store_folder`.

    Raises
    ------
    ChantError
        As `sing` and `write_track`.
    """
    options, tags = options or TrackOptions(), dict(tags or {})
    kinds = [kind_of(path) for path in paths]
    folder = store or store_folder()
    stem = _name(hymn, tones, options, tags, picture, spelling)
    found: Recorded | None = None
    wanted: list[tuple[Path, str]] = []
    for path, suffix in zip(paths, kinds, strict=True):
        kept = None if folder is None else _found(folder, stem, suffix, path)
        found = found or kept
        if kept is None:
            wanted.append((path, suffix))
    if not wanted and found is not None:
        return replace(found, paths=tuple(paths))
    track = sing(hymn, tones, options, spelling=spelling)
    for path, suffix in wanted:
        write_track(track, path, tags, picture)
        if folder is not None:
            _keep(folder, stem, suffix, path, track.timing, track.remarks)
    return Recorded(tuple(paths), track.timing, track.remarks, False)


def _name(
    hymn: Hymn,
    tones: Tones,
    options: TrackOptions,
    tags: Mapping[str, str],
    picture: bytes | None,
    spelling: Spelling | None,
) -> str:
    plan, tempo, about = plan_of(hymn, tones, options, spelling=spelling)
    out = hashlib.sha256(program_state(("voice",), _LIBRARIES))
    for part in (plan, tempo, about, options, sorted(tags.items())):
        out.update(repr(part).encode())
    out.update(picture or b"")
    if spelling is not None:
        out.update(repr(spelling.rows).encode())
    return out.hexdigest()[:_NAMED]


def _found(folder: Path, name: str, suffix: str, path: Path) -> Recorded | None:
    sound, notes = folder / f"{name}{suffix}", folder / f"{name}{suffix}.json"
    try:
        told = json.loads(notes.read_text(encoding="utf-8"))
        timing = Timing.from_rows(told["timing"])
        size = sound.stat().st_size
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if size != told.get("size"):
        return None
    with safefile.writing(path) as temporary:
        shutil.copyfile(sound, temporary)
    with contextlib.suppress(OSError):
        os.utime(sound)
    return Recorded((path,), timing, tuple(told["remarks"]), True)


def _keep(
    folder: Path, name: str, suffix: str, path: Path, timing: Timing, remarks: tuple[str, ...]
) -> None:
    with contextlib.suppress(OSError, ChantError):
        folder.mkdir(parents=True, exist_ok=True)
        _make_room(folder, path.stat().st_size)
        with safefile.writing(folder / f"{name}{suffix}") as temporary:
            shutil.copyfile(path, temporary)
        told = {"timing": timing.as_rows(), "remarks": remarks, "size": path.stat().st_size}
        safefile.write_text(folder / f"{name}{suffix}.json", json.dumps(told, ensure_ascii=False))


def _make_room(folder: Path, wanted: int) -> None:
    """Throw away what was asked for longest ago, until there is room."""
    files = [(f.stat().st_mtime, f.stat().st_size, f) for f in folder.iterdir() if f.is_file()]
    total = sum(size for _, size, _ in files) + wanted
    for _, size, file in sorted(files, key=lambda f: f[0]):
        if total <= _MOST:
            return
        file.unlink(missing_ok=True)
        total -= size
