"""A recording of somebody singing: any common sound file, as one channel at one rate.

Conventions
-----------
Samples are float32 in one channel at `RATE` samples a second, full scale at 1. Everything below
`HIGH_PASS` Hz (a constant offset, rumble, wind on the microphone) is taken out. A file is read in
blocks, so that what is held is the result and never the file in its own rate and channels:
an hour takes 230 MB.

What is odd about a recording but does not prevent listening (clipped, cut short) is said in its
remarks; what prevents it is a `ChantError`.

References
----------
Formats are those of libsndfile (wav, aiff, au, caf, flac, mp3, ogg with Vorbis or Opus) and of
`chantwright.ear.telephone`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr
from scipy.signal import butter, sosfilt

from chantwright.ear.telephone import PhoneFile, phone_kind
from chantwright.errors import ChantError, Where

__all__ = ["HIGH_PASS", "LONGEST", "RATE", "About", "Recording", "Samples", "read_recording"]

Samples = npt.NDArray[np.float32]

RATE = 16_000
"""Samples a second of every recording: harmonics up to 8 kHz are more than pitch needs."""
HIGH_PASS = 30.0
"""Hz; the lowest voice sings at about 65."""
LONGEST = 3 * 3600
"""Seconds of the longest recording that is read."""

_BLOCK_SECONDS = 10.0
_SILENT = 2e-4  # about the noise of a 16-bit file that holds nothing
_SHORTEST = 0.1
_LOUDEST = np.float32(2.0**31)  # of whole numbers; a greater float is a damaged sample
_CLIP_RUN = 3  # samples in a row at one extreme value
_CLIP_SHARE = 1e-3
_LOOSE = 0.25  # seconds that may be missing at the end before it is said
_TOO_MUCH_CANCELLED = 0.1  # of the energy of the louder channel left in the mean of both


@dataclass(frozen=True, slots=True)
class About:
    """What is known of the file a recording came from.

    Attributes
    ----------
    name : str
        File name as given.
    seconds : float
        Length that could be read.
    rate, channels : int
        Of the file itself.
    kind : str
        Such as WAV or OGG.
    remarks : tuple of str
        Sentences about what is odd: clipped, cut short.
    """

    name: str
    seconds: float
    rate: int
    channels: int
    kind: str
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """Samples in one channel, float32 of shape (n,), their rate, and what is known of the file."""

    samples: Samples
    rate: int
    about: About

    @property
    def seconds(self) -> float:
        """Length."""
        return self.samples.size / self.rate


def read_recording(
    path: str | Path,
    *,
    progress: Callable[[float], None] | None = None,
    longest: float = LONGEST,
) -> Recording:
    """Read a recording.

    Parameters
    ----------
    path : str or Path
        A sound file.
    progress : callable, optional
        Called after each block with the share read, 0 to 1.
    longest : float
        Seconds; a longer recording is refused before it is unpacked.

    Returns
    -------
    Recording
        At `RATE` samples a second.

    Raises
    ------
    ChantError
        If there is no such file, it is no sound file that can be read, it is empty, silent, far
        too short or far too long.
    """
    path = Path(path)
    kind = phone_kind(_must_be_readable(path))
    try:
        recording, cancelled = _read(path, kind, None, progress, longest)
        if cancelled is not None:
            recording, _ = _read(path, kind, cancelled, progress, longest)
    except (soundfile.LibsndfileError, RuntimeError) as exc:
        raise _not_sound(path, str(exc)) from None
    heard = recording.samples
    peak = float(max(heard.max(initial=0.0), -heard.min(initial=0.0)))
    if recording.seconds < _SHORTEST:
        raise ChantError(
            f"this recording lasts {recording.seconds:.2f} seconds, too short to hear anything.",
            where=Where(str(path)),
            remedy="Record again, and let it run until the last note has died away.",
        )
    if peak < _SILENT:
        raise ChantError(
            "this recording is silent.",
            where=Where(str(path)),
            remedy="Check that the microphone is on and is the one that was chosen.",
        )
    return recording


def _must_be_readable(path: Path) -> bytes:
    """Return its first bytes."""
    where = Where(str(path))
    if not path.exists():
        raise ChantError(
            "there is no such recording.",
            where=where,
            remedy="Check the name and the folder you are in.",
        )
    if path.is_dir():
        raise ChantError("this is a folder, not a recording.", where=where, remedy="Name a file.")
    try:
        with path.open("rb") as file:
            head = file.read(16)
    except OSError as exc:
        raise ChantError(
            f"this recording cannot be opened ({exc.strerror or exc}).",
            where=where,
            remedy="Check that you may read it.",
        ) from None
    if not head:
        raise ChantError(
            "this recording is empty: the file holds nothing.",
            where=where,
            remedy="Record again; the recorder may have been stopped before it could save.",
        )
    return head


def _not_sound(path: Path, detail: str) -> ChantError:
    reason = detail.rstrip(".").rpartition(": ")[2] or "unknown kind"
    return ChantError(
        f"this is no sound file that can be read ({reason}).",
        where=Where(str(path)),
        remedy="Use a wav, flac, mp3, ogg or m4a file; if it is one, it may have been damaged on "
        "its way, or the recorder was stopped before it was saved: fetch it again.",
    )


def _blocks(
    file: soundfile.SoundFile | PhoneFile, cut: list[str]
) -> Iterator[npt.NDArray[np.float32]]:
    """Blocks of shape (n, channels); an error after the first block ends them with a remark."""
    size = max(1, int(_BLOCK_SECONDS * file.samplerate))
    got = 0
    while True:
        try:
            block = file.read(size, dtype="float32", always_2d=True)
        except (soundfile.LibsndfileError, RuntimeError) as exc:
            if not got:
                raise
            cut.append(str(exc))
            return
        if not len(block):
            return
        got += len(block)
        block = np.nan_to_num(block, nan=0.0, posinf=1.0, neginf=-1.0)
        block[np.abs(block) > _LOUDEST] = 0.0
        yield block


def _long(seconds: float) -> str:
    return f"{seconds / 3600:.1f} hours" if seconds >= 3600 else f"{seconds / 60:.0f} minutes"


class _Tape:
    """Samples as they come, in one array that is made as long as they should be from the first."""

    def __init__(self) -> None:
        self._room: Samples = np.empty(0, np.float32)
        self._used = 0

    def expect(self, count: int) -> None:
        """Make room; what is never written to takes no memory."""
        self._room = np.empty(count, np.float32)

    def add(self, block: npt.NDArray[np.floating]) -> None:
        end = self._used + block.size
        if end > self._room.size:
            wider = np.empty(max(end, self._room.size * 3 // 2), np.float32)
            wider[: self._used] = self._room[: self._used]
            self._room = wider
        self._room[self._used : end] = block
        self._used = end

    @property
    def samples(self) -> Samples:
        return self._room[: self._used]


def _clipped(block: npt.NDArray[np.float32], limit: float) -> int:
    """Count samples that stand in a run at the extreme value."""
    at = np.abs(block) >= limit
    run = at[2:] & at[1:-1] & at[:-2]
    return int(run.sum())


def _opened(path: Path, kind: str | None) -> soundfile.SoundFile | PhoneFile:
    return soundfile.SoundFile(str(path)) if kind is None else PhoneFile(path, kind)


def _read(
    path: Path,
    phone: str | None,
    channel: int | None,
    progress: Callable[[float], None] | None,
    longest: float,
) -> tuple[Recording, int | None]:
    """Read one channel, or the mean of all; say which to take when the mean cancels itself."""
    cut: list[str] = []
    tape = _Tape()
    with _opened(path, phone) as file:
        rate, channels, frames = int(file.samplerate), int(file.channels), int(file.frames)
        kind = str(file.format)
        if frames > longest * rate and frames < 2**62:
            raise ChantError(
                f"this recording lasts {_long(frames / rate)}; at most {_long(longest)} can be "
                "heard at once.",
                where=Where(str(path)),
                remedy="Cut it into parts.",
            )
        stream = None if rate == RATE else soxr.ResampleStream(rate, RATE, 1, dtype="float32")
        sos = butter(2, HIGH_PASS, "highpass", fs=RATE, output="sos")
        state = np.zeros((sos.shape[0], 2))
        energy, mean_energy = np.zeros(channels), 0.0
        clipped = count = 0
        if frames < 2**62:
            tape.expect(frames * RATE // rate + RATE)

        def take(mono: Samples, *, last: bool) -> None:
            nonlocal state
            if stream is not None:
                mono = stream.resample_chunk(mono, last=last)
            if mono.size:
                clean, state = sosfilt(sos, mono, zi=state)
                tape.add(clean)

        for block in _blocks(file, cut):
            mono = (
                block.mean(axis=1) if channel is None else np.ascontiguousarray(block[:, channel])
            )
            centred = block - block.mean(axis=0)
            energy += np.sum(np.square(centred, dtype=np.float64), axis=0)
            mean_energy += float(np.sum(np.square(mono - mono.mean(), dtype=np.float64)))
            clipped += max(
                _clipped(block[:, c], max(0.5, float(np.abs(block[:, c]).max()) * 0.9999))
                for c in range(channels)
            )
            count += len(block)
            if count > longest * rate:
                cut.append("too long")
                break
            take(mono.astype(np.float32), last=False)
            if progress is not None:
                progress(min(1.0, count / frames) if frames > 0 else 0.0)
        take(np.zeros(0, np.float32), last=True)
    if channel is None and channels > 1:
        best = int(np.argmax(energy))
        if mean_energy < _TOO_MUCH_CANCELLED * energy[best]:
            return Recording(np.zeros(0, np.float32), RATE, About("", 0, rate, 0, kind)), best
    samples = tape.samples
    remarks = []
    # Telephones promise a moment more than they keep.
    if cut or (0 < count < frames - _LOOSE * rate and frames < 2**62):
        remarks.append(
            f"The file breaks off: {count / rate:.0f} seconds could be read"
            + (f" of {frames / rate:.0f}." if frames > count and frames < 2**62 else ".")
        )
    if count and clipped / count > _CLIP_SHARE:
        remarks.append(
            "The recording is too loud in places (clipped); stand farther from the microphone."
        )
    about = About(str(path), samples.size / RATE, rate, channels, kind, tuple(remarks))
    return Recording(samples, RATE, about), None
