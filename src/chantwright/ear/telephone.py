"""Recordings as telephones and browsers make them: m4a, mp4, 3gp, aac, amr, webm.

Read in blocks like any other sound file, by the same calls as a `soundfile.SoundFile`. Only sound
is decoded, and only by the decoders named here; pictures and other streams are passed over. What a
damaged or malicious file claims of itself is not believed: packets that cannot be decoded are
passed over up to a number, and a file that holds far more than its own size is given up.

Conventions
-----------
Blocks are float32 of shape (n, channels) at `rate` samples a second; more than two channels are
mixed to two.

References
----------
ISO/IEC 14496-12 (mp4 and its kin), 14496-3 (AAC, its ADTS form); RFC 9559 (Matroska, webm);
RFC 4867 (AMR).
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from chantwright.errors import ChantError, Where

__all__ = ["PhoneFile", "phone_kind"]

_DEMUXERS = {"m4a": "mov", "webm": "matroska", "aac": "aac", "amr": "amr"}
_BARE = ("aac", "amr")  # a row of packets: what they promise of their length is a guess
_DECODERS = "aac,alac,opus,vorbis,mp3,mp3float,amrnb,amrwb,flac,pcm_s16le,pcm_s16be"
_RATES = (8_000, 48_000)
_BAD = 200  # packets that cannot be decoded
_SWOLLEN = 4  # times its own size that a file may hold
_UNKNOWN = 2**62


def phone_kind(head: bytes) -> str | None:
    """Kind of a recording by its first bytes (16 or more), or None where it is not one of ours."""
    if head[4:8] == b"ftyp":
        return "m4a"
    if head[:4] == b"\x1a\x45\xdf\xa3":
        return "webm"
    if head[:5] == b"#!AMR":
        return "amr"
    if head[:1] == b"\xff" and len(head) > 1 and head[1] & 0xF6 == 0xF0:
        return "aac"
    return None


class PhoneFile:
    """One such recording, open for reading.

    Parameters
    ----------
    path : Path
        The file.
    kind : str
        From `phone_kind`.

    Raises
    ------
    ChantError
        If the library that decodes it, an extra, is not installed.
    RuntimeError
        If it holds no sound that can be decoded; its text says why.

    Attributes
    ----------
    samplerate, channels : int
        Of the blocks.
    frames : int
        Samples that the file promises; 2**62 where it promises none.
    format : str
        Its kind, in capitals.
    """

    def __init__(self, path: Path, kind: str) -> None:
        try:
            self._av: Any = importlib.import_module("av")
        except ImportError:
            raise ChantError(
                f"a recording of this kind ({kind}) cannot be read here: what decodes it is not "
                "installed.",
                where=Where(str(path)),
                remedy='Install it with pip install "chantwright[telephones]", or record as wav, '
                "flac, mp3, ogg or opus.",
            ) from None
        self.format = kind.upper()
        self._most = _SWOLLEN * path.stat().st_size + 65_536
        self._file = path.open("rb")
        try:
            self._open(_DEMUXERS[kind])
        except self._av.FFmpegError as exc:
            self._file.close()
            raise RuntimeError(_plain(exc)) from None
        except RuntimeError:
            self._file.close()
            raise
        self._pieces = self._decoded()
        self._failed = ""
        self._left: npt.NDArray[np.float32] = np.empty((0, self.channels), np.float32)

    def _open(self, demuxer: str) -> None:
        # The open file, not its name, is handed over: nothing that a file names is ever opened.
        self._container = self._av.open(
            self._file,
            format=demuxer,
            metadata_errors="ignore",
            options={"codec_whitelist": _DECODERS, "max_streams": "16"},
        )
        streams = self._container.streams.audio
        if not streams or streams[0].codec_context is None:
            raise RuntimeError("there is no sound in it")
        self._stream = streams[0]
        codec = self._stream.codec_context
        if codec.name not in _DECODERS.split(","):
            raise RuntimeError(f"its sound is of a kind that is not decoded here, {codec.name}")
        if not codec.sample_rate or not codec.channels:
            raise RuntimeError("it does not say how its sound is kept")
        least, most = _RATES
        self.samplerate = int(np.clip(codec.sample_rate, least, most))
        self.channels = 2 if codec.channels > 1 else 1
        self.frames = self._promised()
        layout = "stereo" if self.channels == 2 else "mono"
        self._even = self._av.AudioResampler(format="flt", layout=layout, rate=self.samplerate)

    def _promised(self) -> int:
        seconds = 0.0
        if self._container.format.name in _BARE:
            return _UNKNOWN
        if self._stream.duration and self._stream.time_base:
            seconds = float(self._stream.duration * self._stream.time_base)
        elif self._container.duration:
            seconds = self._container.duration / self._av.time_base
        return round(seconds * self.samplerate) if seconds > 0 else _UNKNOWN

    def __enter__(self) -> PhoneFile:
        """Use in a with statement."""
        return self

    def __exit__(self, *_exc: object) -> None:
        """Close."""
        self._container.close()
        self._file.close()

    def _decoded(self) -> Iterator[npt.NDArray[np.float32]]:
        """Pieces of shape (n, channels), as they come."""
        bad = 0
        for packet in self._container.demux(self._stream):
            self._most -= packet.size
            if self._most < 0:
                raise RuntimeError("it swells to far more than its own size")
            try:
                frames = [even for frame in packet.decode() for even in self._even.resample(frame)]
            except (self._av.FFmpegError, ValueError):
                bad += 1
                if bad > _BAD:
                    raise RuntimeError("too much of it cannot be decoded") from None
                continue
            for frame in frames:
                yield frame.to_ndarray().reshape(-1, self.channels)
        for frame in self._even.resample(None):
            yield frame.to_ndarray().reshape(-1, self.channels)

    def read(self, frames: int, **_kind: object) -> npt.NDArray[np.float32]:
        """Read so many samples of every channel, fewer at the end.

        Raises
        ------
        RuntimeError
            Where the file is damaged.
        """
        pieces, got = [self._left], len(self._left)
        while got < frames and not self._failed:
            try:
                piece = next(self._pieces, None)
            except (self._av.FFmpegError, RuntimeError) as exc:
                self._failed = _plain(exc)
                break
            if piece is None:
                break
            pieces.append(piece)
            got += len(piece)
        if self._failed and not got:  # what came before the damage has been read
            raise RuntimeError(self._failed)
        whole = np.concatenate(pieces)
        self._left = whole[frames:]
        return whole[:frames]


def _plain(exc: Exception) -> str:
    """What went wrong, without numbers and file names."""
    return str(getattr(exc, "strerror", None) or exc or "damaged").lower()
