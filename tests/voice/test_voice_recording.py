"""Recordings that are kept, covers, lists, verses, and long ones that are not held in memory."""

from __future__ import annotations

import base64
import io
import struct
from dataclasses import replace
from pathlib import Path

import listening
import numpy as np
import pyloudnorm
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from chantwright.errors import ChantError
from chantwright.score import Hymn
from chantwright.tones import load_tones
from chantwright.voice import (
    TrackOptions,
    draw_cover,
    joined,
    looped,
    record,
    sing,
    write_playlist,
    write_track,
)
from chantwright.voice import tape as tapes
from chantwright.voice.files import read_samples
from chantwright.voice.loudness import Meter
from chantwright.voice.recording import store_folder
from chantwright.voice.tape import Tape

TONES = load_tones()
RATE = 48_000
BARE = TrackOptions(
    mode="melody", intonation="none", count_in=0, holders=1, engine="plain", sung="vowel"
)


def test_what_was_sung_once_is_copied(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hymn = listening.psalm(TONES)
    store = tmp_path / "store"
    files = [tmp_path / "a.opus", tmp_path / "a.flac"]
    first = record(hymn, TONES, files, BARE, {"title": "A"}, store=store)

    def never(*args: object, **more: object) -> None:
        raise AssertionError("sung again")

    monkeypatch.setattr("chantwright.voice.recording.sing", never)
    again = record(hymn, TONES, [tmp_path / "b.opus"], BARE, {"title": "A"}, store=store)
    assert not first.kept
    assert again.kept
    assert again.timing == first.timing
    assert (tmp_path / "b.opus").read_bytes() == (tmp_path / "a.opus").read_bytes()
    others: list[tuple[Hymn, TrackOptions, str, bytes | None]] = [
        (hymn, replace(BARE, pace=0.9), "A", None),
        (hymn, BARE, "B", None),
        (replace(hymn, tempo=90), BARE, "A", None),
        (hymn, BARE, "A", b"x"),
    ]
    for other, options, title, picture in others:
        with pytest.raises(AssertionError, match="sung again"):
            record(other, TONES, files, options, {"title": title}, picture=picture, store=store)


def test_a_damaged_store_is_no_fault(tmp_path: Path) -> None:
    hymn, store = listening.psalm(TONES), tmp_path / "store"
    record(hymn, TONES, [tmp_path / "a.flac"], BARE, store=store)
    for file in store.iterdir():
        file.write_bytes(file.read_bytes()[:100])
    assert not record(hymn, TONES, [tmp_path / "b.flac"], BARE, store=store).kept
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    assert not record(hymn, TONES, [tmp_path / "c.flac"], BARE, store=blocked).kept
    assert len(read_samples(tmp_path / "c.flac")[0]) == len(read_samples(tmp_path / "b.flac")[0])


def test_where_recordings_are_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert store_folder() is None  # the tests keep nothing
    monkeypatch.setenv("CHANTWRIGHT_CACHE", str(tmp_path))
    assert store_folder() == tmp_path
    monkeypatch.delenv("CHANTWRIGHT_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr("sys.platform", "linux")
    assert store_folder() == tmp_path / "chantwright" / "recordings"


def test_the_store_makes_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chantwright.voice.recording._MOST", 150_000)
    for tempo in (100, 110, 120):
        hymn = replace(listening.psalm(TONES), tempo=tempo)
        record(hymn, TONES, [tmp_path / "x.opus"], BARE, store=tmp_path / "store")
    assert sum(f.stat().st_size for f in (tmp_path / "store").iterdir()) < 250_000


def test_covers_are_read_back_from_every_kind(tmp_path: Path) -> None:
    track = sing(listening.psalm(TONES), TONES, BARE)
    png = draw_cover("Lord, I have cried — Κύριε", "Saint Nobody, 28 November 2026")
    assert Image.open(io.BytesIO(png)).size == (480, 480)
    for suffix in (".mp3", ".flac", ".opus", ".wav"):
        path = tmp_path / f"x{suffix}"
        write_track(track, path, {"title": "Κύριε"}, png)
        data = path.read_bytes()
        samples, _ = read_samples(path)
        assert len(samples) == len(track)
        with soundfile.SoundFile(path) as file:
            assert file.title == "Κύριε"
        if suffix == ".opus":
            data = base64.b64decode(opus_comments(data)["METADATA_BLOCK_PICTURE"])
        assert (png in data) == (suffix != ".wav")
        if suffix in (".flac", ".opus"):
            # RFC 9639, section 8.8: front cover, its type, and its size in pixels.
            at = data.index(b"image/png")
            assert struct.unpack(">II", data[at - 8 : at]) == (3, 9)
            assert struct.unpack(">II", data[at + 13 : at + 21]) == (480, 480)


def opus_comments(data: bytes) -> dict[str, str]:
    """Comments of an Opus file by RFC 7845, section 5.2, its second page by RFC 3533."""
    at = data.index(b"OggS", 4)
    count = data[at + 26]
    body = data[at + 27 + count : at + 27 + count + sum(data[at + 27 : at + 27 + count])]
    assert body[:8] == b"OpusTags"
    at = 12 + struct.unpack("<I", body[8:12])[0]
    out = {}
    (number,) = struct.unpack("<I", body[at : at + 4])
    at += 4
    for _ in range(number):
        (size,) = struct.unpack("<I", body[at : at + 4])
        key, _, value = body[at + 4 : at + 4 + size].decode().partition("=")
        out[key] = value
        at += 4 + size
    return out


def test_a_cover_that_is_no_picture(tmp_path: Path) -> None:
    track = sing(listening.psalm(TONES), TONES, BARE)
    with pytest.raises(ChantError, match="not a PNG"):
        write_track(track, tmp_path / "x.flac", {}, b"GIF89a")
    assert not list(tmp_path.iterdir())


def test_a_list_names_files_in_order(tmp_path: Path) -> None:
    write_playlist(tmp_path / "x.m3u8", [("01-a.opus", "Ἀ\nB", 61.6)], "Great Vespers")
    assert (tmp_path / "x.m3u8").read_text(encoding="utf-8").splitlines() == [
        "#EXTM3U",
        "#PLAYLIST:Great Vespers",
        "#EXTINF:62,Ἀ B",
        "01-a.opus",
    ]


def test_a_phrase_again_and_again() -> None:
    hymn = listening.psalm(TONES, verses=2)
    track = sing(looped(hymn, 2, 3, rest=4), TONES, BARE)
    starts = [p.start for p in track.timing.parts]
    beats = float(hymn.phrases[1].beats) + 4
    assert np.allclose(np.diff(starts), beats * 60 / track.timing.tempo, atol=1e-4)
    assert len(starts) == 3
    scaled = replace(
        hymn, phrases=(replace(hymn.phrases[0], scale="chromatic_soft"), *hymn.phrases[1:])
    )
    assert looped(scaled, 2, 1).phrases[0].scale == "chromatic_soft"


def test_verse_after_verse() -> None:
    verses = [replace(listening.psalm(TONES), title=f"Verse {i}") for i in range(3)]
    hymn = joined(verses, rest=2)
    assert hymn.beats == 3 * verses[0].beats + 4
    track = sing(hymn, TONES, BARE)
    assert len({n.id for n in track.timing.notes}) == len(track.timing.notes)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda h: looped(h, 9, 2), "no phrase 9"),
        (lambda h: looped(h, 1, 0), "1 to 50 times"),
        (lambda h: looped(h, 1, 2, rest=-1), "0 to 64 beats"),
        (lambda h: joined([]), "no verses"),
        (lambda h: joined([h, replace(h, tone=2)]), "another tone"),
        (lambda h: joined([h, replace(h, base=None)]), "another base"),
        (lambda h: looped(Hymn("x"), 1, 2), "no phrase 1"),
    ],
)
def test_what_cannot_be_repeated_is_said(make: object, said: str) -> None:
    with pytest.raises(ChantError, match=said):
        make(listening.psalm(TONES))  # type: ignore[operator]


@given(
    st.lists(st.integers(1, 3000), min_size=1, max_size=8), st.integers(1, 2), st.integers(1, 999)
)
@settings(deadline=None, max_examples=40)
def test_a_tape_gives_back_what_was_laid_down(sizes: list[int], channels: int, size: int) -> None:
    random = np.random.default_rng(1)
    shape = (sum(sizes),) if channels == 1 else (sum(sizes), channels)
    whole = random.standard_normal(shape).astype(np.float32)
    for short in (10**9, 500):  # in memory, and on the disk
        tape, kept = Tape(channels), tapes._SHORT
        tapes._SHORT = short
        try:
            at = 0
            for count in sizes:
                tape.add(whole[at : at + count])
                at += count
        finally:
            tapes._SHORT = kept
        assert len(tape) == len(whole)
        assert np.array_equal(tape.whole(), whole)
        assert np.array_equal(np.concatenate(list(tape.pieces(size))), whole)


def test_no_room_for_the_tape(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*args: object, **more: object) -> object:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.TemporaryFile", full)
    monkeypatch.setattr(tapes, "_SHORT", RATE)
    with pytest.raises(ChantError, match="no room for this recording"):
        sing(listening.psalm(TONES), TONES, BARE)


def test_a_long_track_is_the_same_on_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    hymn = listening.psalm(TONES, verses=3)
    options = replace(BARE, mode="full", stereo=True)
    held = sing(hymn, TONES, options)
    monkeypatch.setattr(tapes, "_SHORT", RATE)
    laid = sing(hymn, TONES, options)
    assert np.array_equal(held.samples, laid.samples)


def test_twenty_minutes_are_sung(tmp_path: Path) -> None:
    hymn = replace(listening.psalm(TONES, verses=46), tempo=30)
    track = sing(hymn, TONES, BARE)
    assert track.seconds > 20 * 60 - 10
    assert max(float(np.max(np.abs(p))) for p in track.pieces()) < 0.9


@given(st.integers(1, 5), st.integers(1, 2))
@settings(deadline=None, max_examples=8)
def test_the_meter_reads_the_same_in_pieces(cuts: int, channels: int) -> None:
    random = np.random.default_rng(cuts)
    sound = (0.1 * random.standard_normal((3 * RATE, channels))).astype(np.float32)
    sound[RATE : 2 * RATE] *= 0.01
    meter = Meter()
    for piece in np.array_split(sound, cuts * 7):
        meter.add(piece if channels == 2 else piece[:, 0])
    asked = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(np.float64))
    assert meter.loudness == pytest.approx(asked, abs=0.1)
    whole = Meter()
    whole.add(sound)
    assert meter.true_peak == pytest.approx(whole.true_peak, abs=0.05)
