"""Recordings on disk."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import listening
import numpy as np
import pytest
import soundfile

from chantwright.errors import ChantError
from chantwright.tones import load_tones
from chantwright.voice import KINDS, Track, TrackOptions, sing, write_track
from chantwright.voice.files import read_samples
from chantwright.voice.tape import Tape

TONES = load_tones()
RATE = 48_000
BARE = TrackOptions(mode="melody", intonation="none", count_in=0)


@pytest.fixture(scope="module")
def track() -> Track:
    return sing(listening.ladder(TONES, "t1.heirmologic", 146.8), TONES, BARE)


@pytest.mark.parametrize("suffix", KINDS)
def test_every_kind_reads_back_in_full_length_and_in_tune(
    suffix: str, track: Track, tmp_path: Path
) -> None:
    path = tmp_path / f"hymn{suffix}"
    write_track(track, path, {"album": "Great Vespers", "title": "Κύριε ἐκέκραξα"})
    samples, rate = read_samples(path)
    assert rate == 48_000
    assert len(samples) == len(track.samples)
    spans = listening.inside(track, consonants=True)
    times = np.concatenate([t for _, t in spans])
    off = np.abs(listening.errors(track, listening.by_autocorrelation(samples, times), spans))
    assert np.median(off) < 1.0
    assert np.percentile(off, 95) < 3.0
    with soundfile.SoundFile(path) as file:
        assert file.title == "Κύριε ἐκέκραξα"
        assert file.album == "Great Vespers"
        assert "Tone 1" in file.comment
        assert "pa = 146.80 Hz" in file.comment
    assert os.listdir(tmp_path) == [path.name]  # noqa: PTH208


def test_the_sound_of_a_file_begins_where_it_should(track: Track, tmp_path: Path) -> None:
    # Encoders may shift a recording; the timing map would then point beside the syllables.
    for suffix in KINDS:
        write_track(track, tmp_path / f"x{suffix}")
        samples, _ = read_samples(tmp_path / f"x{suffix}")
        size = 1 << 18
        like = np.fft.irfft(
            np.fft.rfft(samples[:100_000], size)
            * np.conj(np.fft.rfft(track.samples[:100_000], size))
        )
        lag = int(np.argmax(like))
        lag = lag - size if lag > size // 2 else lag
        assert abs(lag) < 0.002 * 48_000, suffix


def test_voice_files_are_small(track: Track, tmp_path: Path) -> None:
    for suffix, most in ((".opus", 64_000), (".mp3", 96_000)):
        write_track(track, tmp_path / f"x{suffix}")
        assert (tmp_path / f"x{suffix}").stat().st_size * 8 / track.seconds < most


def test_two_channels(tmp_path: Path) -> None:
    wide = sing(listening.psalm(TONES), TONES, TrackOptions(stereo=True, intonation="none"))
    assert wide.samples.shape[1] == 2
    for suffix in KINDS:
        write_track(wide, tmp_path / f"x{suffix}")
        assert read_samples(tmp_path / f"x{suffix}")[0].shape == wide.samples.shape


@pytest.mark.parametrize("name", ["hymn.xyz", "hymn", "hymn.ogg", ".opus"])
def test_unknown_endings(name: str, track: Track, tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="cannot be written as"):
        write_track(track, tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_a_folder_that_is_not_there(track: Track, tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="folder does not exist"):
        write_track(track, tmp_path / "none" / "hymn.opus")


def test_a_folder_of_that_name(track: Track, tmp_path: Path) -> None:
    (tmp_path / "hymn.opus").mkdir()
    with pytest.raises(ChantError, match="folder of that name"):
        write_track(track, tmp_path / "hymn.opus")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_leaves_the_old_file(
    track: Track, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "hymn.wav"
    path.write_bytes(b"old")
    real = soundfile.SoundFile

    def full(file: str, mode: str = "r", *args: object, **more: object) -> object:
        return real("/dev/full" if mode == "w" else file, mode, *args, **more)

    monkeypatch.setattr(soundfile, "SoundFile", full)
    with pytest.raises(ChantError, match="cannot be written"):
        write_track(track, path)
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["hymn.wav"]  # noqa: PTH208


def test_a_file_that_reads_back_short_is_refused(
    track: Track, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "chantwright.voice.files._write",
        lambda t, p, k, g, c: soundfile.write(str(p), t.samples[:1000], t.rate, format="WAV"),
    )
    with pytest.raises(ChantError, match="1000 of"):
        write_track(track, tmp_path / "hymn.wav")
    assert not list(tmp_path.iterdir())


def test_silence_may_be_written(track: Track, tmp_path: Path) -> None:
    tape = Tape()
    tape.add(np.zeros(RATE, np.float32))
    quiet = replace(track, tape=tape)
    write_track(quiet, tmp_path / "quiet.flac")
    assert not read_samples(tmp_path / "quiet.flac")[0].any()
