"""MIDI read back by another's reader: pitches, times and words."""

from __future__ import annotations

from pathlib import Path

import listening
import mido
import numpy as np
import pytest

from chantwright.errors import ChantError
from chantwright.score import Hymn
from chantwright.tones import load_tones
from chantwright.tuning import hz
from chantwright.voice import TrackOptions
from chantwright.voice.midi import TICKS, write_midi

TONES = load_tones()


def sounding(path: Path, channel: int) -> list[tuple[int, int, float]]:
    """(start, end, Hz) of every note of a channel, the file's own tuning applied."""
    table: dict[int, float] = {}
    out: list[tuple[int, int, float]] = []
    open_: dict[int, tuple[int, float]] = {}
    bend, reach = 0, 2
    for track in mido.MidiFile(path).tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "sysex" and message.data[2:4] == (0x08, 0x02):
                key, whole, high, low = message.data[6:10]
                table[key] = whole + (high * 128 + low) / 16384
            elif message.is_meta or getattr(message, "channel", channel) != channel:
                continue
            elif message.type == "control_change" and message.control == 6 and not table:
                reach = message.value
            elif message.type == "pitchwheel":
                bend = message.pitch
            elif message.type == "note_on":
                semitones = table.get(message.note, message.note + reach * bend / 8192)
                open_[message.note] = (now, 440 * 2 ** ((semitones - 69) / 12))
            elif message.type == "note_off":
                start, pitch = open_.pop(message.note)
                out.append((start, now, pitch))
    return out


@pytest.mark.parametrize(("tuning", "worst"), [("table", 0.02), ("bend", 0.01)])
@pytest.mark.parametrize("tone", range(1, 9))
def test_every_pitch_is_exact(tuning: str, worst: float, tone: int, tmp_path: Path) -> None:
    branch = TONES.default_branch(tone)
    hymn = listening.ladder(TONES, branch.id, 146.8)
    write_midi(hymn, TONES, tmp_path / "x.mid", tuning=tuning)
    scale = TONES.scales[branch.scale]
    written = [n for p in hymn.phrases for s in p.syllables for n in s.notes]
    heard = sounding(tmp_path / "x.mid", 0)
    assert len(heard) == len(written)
    for note, (_, _, pitch) in zip(written, heard, strict=True):
        asked = hz(scale, note.degree, base_degree=branch.base, base_hz=146.8, bend=note.bend)
        assert abs(1200 * np.log2(pitch / asked)) < worst
    held = sounding(tmp_path / "x.mid", 1)
    asked = hz(scale, branch.ison_base, base_degree=branch.base, base_hz=146.8)
    assert abs(1200 * np.log2(held[0][2] / asked)) < worst


def test_beats_and_words_are_in_the_file(tmp_path: Path) -> None:
    hymn = listening.psalm(TONES, verses=2)
    write_midi(hymn, TONES, tmp_path / "x.mid", options=TrackOptions(pace=0.5))
    file = mido.MidiFile(tmp_path / "x.mid", charset="utf-8")
    assert file.ticks_per_beat == TICKS
    words = "".join(m.text for t in file.tracks for m in t if m.type == "lyrics")
    assert words.startswith("Lord, I have cried un-")
    tempo = next(m.tempo for t in file.tracks for m in t if m.type == "set_tempo")
    assert tempo == pytest.approx(60_000_000 / 66, abs=1)  # 132 beats a minute, at half the pace
    starts = [s for s, _, _ in sounding(tmp_path / "x.mid", 0)]
    beats = np.cumsum([0, *[n.beats for p in hymn.phrases for s in p.syllables for n in s.notes]])
    assert np.allclose(starts, [float(b) * TICKS for b in beats[:-1]], atol=1)


def test_one_part_alone(tmp_path: Path) -> None:
    hymn = listening.psalm(TONES)
    for mode, channel in (("melody", 1), ("drone", 0)):
        write_midi(hymn, TONES, tmp_path / f"{mode}.mid", options=TrackOptions(mode=mode))
        assert not sounding(tmp_path / f"{mode}.mid", channel)
        assert sounding(tmp_path / f"{mode}.mid", 1 - channel)


def test_what_cannot_be_written_is_said(tmp_path: Path) -> None:
    hymn = listening.psalm(TONES)
    with pytest.raises(ChantError, match=r"cannot be called “x\.opus”"):
        write_midi(hymn, TONES, tmp_path / "x.opus")
    with pytest.raises(ChantError, match="no tuning"):
        write_midi(hymn, TONES, tmp_path / "x.mid", tuning="equal")
    with pytest.raises(ChantError, match="no words and no notes"):
        write_midi(Hymn("Empty", tone=1), TONES, tmp_path / "x.mid")
    with pytest.raises(ChantError, match="folder does not exist"):
        write_midi(hymn, TONES, tmp_path / "none" / "x.mid")
    assert not list(tmp_path.iterdir())


def test_greek_words_survive(tmp_path: Path) -> None:
    hymn = listening.ladder(TONES, "t1.heirmologic", 146.8, ("Κύ", "ρι", "ε"))
    write_midi(hymn, TONES, tmp_path / "x.mid")
    file = mido.MidiFile(tmp_path / "x.mid", charset="utf-8")
    words = "".join(m.text for t in file.tracks for m in t if m.type == "lyrics")
    assert words.startswith("Κύ ρι ε")
