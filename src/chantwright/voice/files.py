"""Recordings as files: Opus, MP3, FLAC and WAV, with tags.

Conventions
-----------
The ending of the name chooses the kind. A file appears whole or not at all, and is read back
before it appears. Tags are those every player shows (title, artist, album, comment, date, track
number); tone and base go into the comment.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from chantwright import safefile
from chantwright.errors import ChantError, Where
from chantwright.voice import cover, id3
from chantwright.voice.singer import Samples
from chantwright.voice.track import Track

__all__ = ["KINDS", "TAGS", "kind_of", "read_samples", "write_track"]

TAGS = ("title", "artist", "album", "comment", "date", "tracknumber", "genre", "copyright")
"""Tags that are written under their own name; ``tone`` and ``base`` join the comment."""

_PIECE = 48_000 * 10


@dataclass(frozen=True, slots=True)
class _Kind:
    """How a kind of file is written. The compression level runs from 0 (largest) to 1."""

    format: str
    subtype: str
    level: float | None = None
    mode: str | None = None


# Measured for one voice: Opus about 45 kbit/s a channel, MP3 about 72.
KINDS: Mapping[str, _Kind] = {
    ".opus": _Kind("OGG", "OPUS", level=0.85),
    ".mp3": _Kind("MP3", "MPEG_LAYER_III", level=0.9, mode="AVERAGE"),
    ".flac": _Kind("FLAC", "PCM_16", level=0.6),
    ".wav": _Kind("WAV", "PCM_16"),
}
"""Ending -> kind of file."""


def kind_of(path: Path) -> str:
    """Ending of a recording's name, in small letters.

    Raises
    ------
    ChantError
        If no recording can be written under such a name.
    """
    if path.suffix.lower() not in KINDS:
        raise ChantError(
            f"a recording cannot be written as “{path.suffix or path.name}”.",
            where=Where(str(path)),
            remedy=f"Choose a name that ends in {', '.join(KINDS)}.",
        )
    return path.suffix.lower()


def write_track(
    track: Track,
    path: str | Path,
    tags: Mapping[str, str] | None = None,
    picture: bytes | None = None,
) -> None:
    """Write a recording.

    Parameters
    ----------
    track : Track
        What to write.
    path : str or Path
        The file; its ending is one of `KINDS`.
    tags : mapping of str to str, optional
        Any of `TAGS`, ``tone`` and ``base``; they are laid over the track's own.
    picture : bytes, optional
        A PNG for the cover; WAV files have none.

    Raises
    ------
    ChantError
        If the ending is unknown, the folder cannot be written to, or the disk is full. Nothing
        is left behind then, and an older file stays as it was.
    """
    path = Path(path)
    kind = KINDS[kind_of(path)]
    with safefile.writing(path) as temporary:
        try:
            _write(track, temporary, kind, _tags(track, tags or {}), picture)
            _verify(track, temporary)
        except (soundfile.LibsndfileError, RuntimeError) as exc:
            raise ChantError(
                f"this recording cannot be written ({exc}).",
                where=Where(str(path)),
                remedy="Check that the disk has room, and try again.",
            ) from None


def read_samples(path: str | Path) -> tuple[Samples, int]:
    """Read a recording back: samples, shape (n,) or (n, channels), and their rate."""
    samples, rate = soundfile.read(str(path), dtype="float32")
    return samples, int(rate)


def _tags(track: Track, tags: Mapping[str, str]) -> dict[str, str]:
    merged = {"artist": "practice voice", "genre": "Chant", **track.about, **tags}
    extra = [merged.pop(key, "") for key in ("tone", "base")]
    comment = ", ".join(filter(None, (merged.get("comment", ""), *extra)))
    out = {key: " ".join(value.split()) for key, value in merged.items() if key in TAGS}
    return {**out, "comment": comment}


def _write(
    track: Track, path: Path, kind: _Kind, tags: Mapping[str, str], picture: bytes | None
) -> None:
    own_tag = kind.format == "MP3"
    with soundfile.SoundFile(
        str(path),
        "w",
        track.rate,
        track.channels,
        kind.subtype,
        format=kind.format,
        compression_level=kind.level,
        bitrate_mode=kind.mode,
    ) as file:
        for key, value in tags.items():
            if value and not own_tag:
                setattr(file, key, value)
        for piece in track.pieces():
            file.write(piece)
    if own_tag:
        path.write_bytes(id3.tag(tags, picture) + path.read_bytes())
    elif picture and kind.format == "FLAC":
        path.write_bytes(cover.with_flac_picture(path.read_bytes(), picture))
    elif picture and kind.format == "OGG":
        path.write_bytes(cover.with_opus_picture(path.read_bytes(), picture))
    if kind.format == "OGG":
        path.write_bytes(cover.with_own_serial(path.read_bytes()))


def _verify(track: Track, path: Path) -> None:
    """Read the file back: full length, and sound where there was sound."""
    with soundfile.SoundFile(str(path)) as file:
        count, loud = 0, 0.0
        for block in file.blocks(_PIECE, dtype="float32"):
            count += len(block)
            loud = max(loud, float(np.max(np.abs(block), initial=0.0)))
    if count != len(track) or (loud == 0.0 and any(p.any() for p in track.pieces())):
        raise RuntimeError(f"{count} of {len(track)} samples could be read back")
