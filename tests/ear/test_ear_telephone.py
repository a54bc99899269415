"""Recordings as telephones and browsers make them, written here by the decoder's own library."""

import sys
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from chantwright.ear.recording import RATE, read_recording
from chantwright.ear.telephone import phone_kind
from chantwright.ear.trace import trace
from chantwright.errors import ChantError

# What telephones and browsers write (common practice): ending, muxer, encoder, rate, layout.
KINDS = {
    "m4a": ("ipod", "aac", 48_000, "stereo"),
    "mp4": ("mp4", "aac", 44_100, "mono"),
    "3gp": ("3gp", "aac", 16_000, "mono"),
    "aac": ("adts", "aac", 44_100, "mono"),
    "webm": ("webm", "libopus", 48_000, "mono"),
    "lossless.m4a": ("ipod", "alac", 48_000, "mono"),
    "amr": ("amr", "libopencore_amrnb", 8_000, "mono"),
}


def tone(rate: int, seconds: float, hz: float = 220.0) -> np.ndarray:
    t = np.arange(int(seconds * rate)) / rate
    parts = [0.2 / k * np.sin(2 * np.pi * k * hz * t) for k in range(1, 8)]
    return np.asarray(np.sum(parts, axis=0))


def write(path: Path, ending: str, seconds: float = 2.0) -> Path:
    """Write a tone as a file of a kind."""
    muxer, encoder, rate, layout = KINDS[ending]
    path = path / f"take.{ending}"
    with av.open(str(path), "w", format=muxer) as container:
        stream = container.add_stream(encoder, rate=rate, layout=layout)
        assert isinstance(stream, av.AudioStream)
        fitted = av.AudioResampler(stream.codec_context.format.name, layout, rate)
        channels = len(stream.codec_context.layout.channels)
        both = np.tile(tone(rate, seconds), (channels, 1)).astype(np.float32)
        for a in range(0, both.shape[1], 1024):
            piece = np.ascontiguousarray(both[:, a : a + 1024])
            frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout=layout)
            frame.sample_rate, frame.pts = rate, a
            for even in fitted.resample(frame):
                container.mux(stream.encode(even))
        container.mux(stream.encode(None))
    return path


@pytest.mark.parametrize("ending", KINDS)
def test_what_a_telephone_records_is_heard_at_its_pitch(tmp_path: Path, ending: str) -> None:
    recording = read_recording(write(tmp_path, ending))
    assert recording.rate == RATE
    assert recording.seconds == pytest.approx(2.0, abs=0.1)
    assert recording.about.remarks == ()
    heard = trace(recording.samples, recording.rate).f0[40:160]
    assert np.nanmedian(np.abs(1200 * np.log2(heard / 220.0))) < 15


@pytest.mark.parametrize("ending", ["aac", "webm", "amr"])
def test_one_that_breaks_off_is_read_as_far_as_it_goes(tmp_path: Path, ending: str) -> None:
    path = write(tmp_path, ending, 6.0)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    assert 2.0 < read_recording(path).seconds < 4.0


def test_one_that_was_never_finished_is_a_sentence(tmp_path: Path) -> None:
    path = write(tmp_path, "m4a")
    path.write_bytes(path.read_bytes()[:-400])  # its table of contents stands at the end
    with pytest.raises(ChantError, match="no sound file") as caught:
        read_recording(path)
    assert "stopped before it was saved" in str(caught.value)


def test_a_film_without_sound_is_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "film.mp4"
    with av.open(str(path), "w", format="mp4") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 32, 32, "yuv420p"
        picture = np.zeros((32, 32, 3), np.uint8)
        for _ in range(5):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        container.mux(stream.encode(None))
    with pytest.raises(ChantError, match="no sound in it"):
        read_recording(path)


def test_no_more_is_decoded_than_the_longest_recording(tmp_path: Path) -> None:
    with pytest.raises(ChantError, match="minutes"):  # it promises 30 seconds
        read_recording(write(tmp_path, "m4a", 30.0), longest=10.0)
    # Its kind promises nothing.
    recording = read_recording(write(tmp_path, "aac", 30.0), longest=10.0)
    assert 8 < recording.seconds < 21
    assert "breaks off" in recording.about.remarks[0]


@pytest.mark.parametrize("ending", ["m4a", "webm", "aac"])
def test_damage_never_breaks_anything(tmp_path: Path, ending: str) -> None:
    path = write(tmp_path, ending, 0.5)
    data = path.read_bytes()
    rng = np.random.default_rng(7)
    heard = 0
    for k in range(12):
        spoilt = bytearray(data)
        reach = len(data) if k % 2 else min(len(data), 1500)
        for place in rng.integers(16, reach, 15):
            spoilt[place] = rng.integers(256)
        path.write_bytes(bytes(spoilt))
        try:
            recording = read_recording(path)
        except ChantError as wrong:
            assert wrong.remedy
        else:
            heard += 1
            assert recording.seconds < 60
            assert np.isfinite(recording.samples).all()
    assert heard


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"RIFF\0\0\0\0WAVEfmt ", None),
        (b"OggS\0\2\0\0\0\0\0\0\0\0\0\0", None),
        (b"\xff\xfb\x90\x64" + b"\0" * 12, None),  # mp3: layer III, not ADTS
        (b"\xff\xf9\x50\x80" + b"\0" * 12, "aac"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0", "m4a"),
        (b"#!AMR-WB\n" + b"\0" * 7, "amr"),
        (b"", None),
    ],
)
def test_the_kind_is_told_by_the_first_bytes(head: bytes, kind: str | None) -> None:
    assert phone_kind(head) == kind


def test_without_the_decoder_it_is_a_sentence_and_other_kinds_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)  # what Python takes for not installed
    for ending in ("m4a", "webm"):
        path = write(tmp_path, ending)
        with pytest.raises(ChantError, match="not installed") as caught:
            read_recording(path)
        assert caught.value.where.file == str(path)
        assert "chantwright[telephones]" in caught.value.remedy
    soundfile.write(tmp_path / "a.wav", np.full(RATE, 0.1), RATE)
    assert read_recording(tmp_path / "a.wav").seconds == pytest.approx(1.0)
