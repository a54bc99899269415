"""Sound files in: any common kind, and a sentence for what cannot be heard."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from chantwright.ear.recording import RATE, read_recording
from chantwright.ear.trace import trace
from chantwright.errors import ChantError

KINDS = {
    "wav": ("WAV", "PCM_16"),
    "flac": ("FLAC", "PCM_16"),
    "mp3": ("MP3", "MPEG_LAYER_III"),
    "ogg": ("OGG", "VORBIS"),
    "opus": ("OGG", "OPUS"),
}


def tone(hz: float = 220.0, seconds: float = 1.0, rate: int = 48_000) -> np.ndarray:
    t = np.arange(int(seconds * rate)) / rate
    return np.asarray(
        np.sum([0.2 / k * np.sin(2 * np.pi * k * hz * t) for k in range(1, 8)], axis=0)
    )


@pytest.mark.parametrize("ending", KINDS)
@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000])
def test_every_kind_and_rate_gives_the_same_pitch(tmp_path: Path, ending: str, rate: int) -> None:
    if ending == "opus" and rate == 44_100:
        pytest.skip("Opus has no such rate")
    path = tmp_path / f"take.{ending}"
    kind, subtype = KINDS[ending]
    soundfile.write(path, tone(rate=rate), rate, format=kind, subtype=subtype)
    recording = read_recording(path)
    assert recording.rate == RATE
    assert recording.seconds == pytest.approx(1.0, abs=0.1)
    contour = trace(recording.samples, recording.rate)
    middle = contour.f0[20:80]
    assert np.nanmedian(np.abs(1200 * np.log2(middle / 220.0))) < 15


def test_stereo_that_cancels_itself_is_still_heard(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    one = tone()
    soundfile.write(path, np.stack([one, -one], axis=1), 48_000)
    recording = read_recording(path)
    assert np.sqrt(np.mean(recording.samples**2)) > 0.1


def test_an_offset_is_taken_out(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, tone() * 0.5 + 0.4, 48_000)
    assert abs(read_recording(path).samples[8_000:].mean()) < 1e-3


def test_clipping_is_said(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, np.clip(tone() * 6, -1, 1), 48_000)
    assert "too loud" in read_recording(path).about.remarks[0]


@pytest.mark.parametrize("rate", [RATE, 48_000])
def test_damaged_numbers_are_left_out(tmp_path: Path, rate: int) -> None:
    # a float file with samples no microphone gives: greatest float32, not a number, endless
    path = tmp_path / "take.wav"
    samples = tone(rate=rate).astype(np.float32)
    samples[[700, 701, 702, 703]] = [3.4e38, np.nan, np.inf, -1e30]
    soundfile.write(path, samples, rate, subtype="FLOAT")
    heard = read_recording(path).samples
    assert np.abs(heard).max() < 2
    contour = trace(heard, RATE)
    assert np.nanmedian(np.abs(1200 * np.log2(contour.f0[20:80] / 220.0))) < 15


@pytest.mark.parametrize("ending", ["wav", "flac", "mp3", "ogg"])
def test_a_file_cut_short_is_read_as_far_as_it_goes(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"take.{ending}"
    kind, subtype = KINDS[ending]
    noise = np.random.default_rng(1).normal(0, 0.01, 30 * 48_000)
    soundfile.write(path, tone(seconds=30) + noise, 48_000, format=kind, subtype=subtype)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    recording = read_recording(path)
    assert 5 < recording.seconds < 25


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("a.wav", b"", "empty"),
        ("a.wav", b"RIFF\x00\x00", "no sound file"),
        ("a.mp3", b"these are words, not sound " * 40, "no sound file"),
        ("a.m4a", b"\x00\x00\x00\x20ftypM4A " + b"\0" * 64, "no sound file"),
        ("a.webm", b"\x1a\x45\xdf\xa3" + b"\0" * 64, "no sound file"),
        ("a.aac", b"\xff\xf1" + b"\0" * 64, "no sound file"),
        ("a.wma", b"\x30\x26\xb2\x75" + b"\0" * 64, "no sound file"),
    ],
)
def test_what_cannot_be_heard_is_a_sentence(
    tmp_path: Path, name: str, data: bytes, said: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(ChantError, match=said) as caught:
        read_recording(path)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("samples", "said"), [(np.zeros(48_000), "silent"), (np.zeros(100), "too short")]
)
def test_silence_is_a_sentence(tmp_path: Path, samples: np.ndarray, said: str) -> None:
    path = tmp_path / "take.wav"
    soundfile.write(path, samples, 48_000)
    with pytest.raises(ChantError, match=said):
        read_recording(path)


def test_no_file_and_a_folder_are_sentences(tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="no such recording"):
        read_recording(tmp_path / "none.wav")
    with pytest.raises(ChantError, match="folder"):
        read_recording(tmp_path)
