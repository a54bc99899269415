"""Read a single-line melody, with words if it has them, from a MIDI file.

What is read: the track that has words, else the one with the most notes; its highest sounding
note where several sound together. Pitch bend (with its range) and single-note tuning messages are
heard, so a file in exact tuning keeps it. Starts are laid on twelfths of a beat, small gaps
between notes are closed, and a silence of half a beat or more ends a phrase. Words end a phrase
where they carry a stop or a line break.

References
----------
MIDI 1.0 and Standard MIDI Files 1.0: pitch bend, registered parameter 0 (bend range), lyric meta
events. MIDI Tuning Standard: real-time single-note tuning change (sub-ID 08 02). Hyphens at the
end of a lyric event where the word goes on: MMA recommended practice RP-017.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

import mido
from mido.midifiles.meta import KeySignatureError

from chantwright.errors import ChantError, Where
from chantwright.score.melody import Colon, Melody, Sung
from chantwright.score.model import Place
from chantwright.score.packed import read_limited

__all__ = ["loads_midi", "read_midi"]

_GRID = 12
"""Parts of a beat."""
_SILENCE = Fraction(1, 2)
_MIDDLE_C = 60
_STOP = re.compile(r"[.;:!?·,]['”’\")]*$")
_FEWEST = 4
_MOST = 20_000
_LARGEST = 4_000_000
_TUNING = (0x08, 0x02)


@dataclass(slots=True)
class _Key:
    """A key that went down: when, how long (ticks), how high (moria above middle c)."""

    start: int
    end: int
    moria: Fraction


@dataclass(slots=True)
class _Ear:
    """State of one track while it is read."""

    bend: dict[int, int] = field(default_factory=dict)
    reach: dict[int, Fraction] = field(default_factory=dict)
    chosen: dict[int, tuple[int, int]] = field(default_factory=dict)
    tuned: dict[int, Fraction] = field(default_factory=dict)
    down: dict[tuple[int, int], _Key] = field(default_factory=dict)
    keys: list[_Key] = field(default_factory=list)
    words: dict[int, str] = field(default_factory=dict)
    name: str = ""

    def height(self, channel: int, key: int) -> Fraction:
        semitones = self.tuned.get(key, Fraction(key)) - _MIDDLE_C
        reach = self.reach.get(channel, Fraction(2))
        semitones += reach * Fraction(self.bend.get(channel, 0), 8192)
        return 6 * semitones

    def up(self, now: int, channel: int, key: int) -> None:
        begun = self.down.pop((channel, key), None)
        if begun is not None and now > begun.start:
            begun.end = now

    def on(self, now: int, channel: int, key: int) -> None:
        self.up(now, channel, key)
        begun = _Key(now, now, self.height(channel, key))
        self.down[channel, key] = begun
        self.keys.append(begun)

    def control(self, channel: int, control: int, value: int) -> None:
        coarse, fine = self.chosen.get(channel, (127, 127))
        if control == 101:
            self.chosen[channel] = (value, fine)
        elif control == 100:
            self.chosen[channel] = (coarse, value)
        elif control == 6 and (coarse, fine) == (0, 0):
            self.reach[channel] = Fraction(value)
        elif control == 38 and (coarse, fine) == (0, 0):
            whole = int(self.reach.get(channel, Fraction(2)))
            self.reach[channel] = whole + Fraction(value, 100)

    def tuning(self, data: Sequence[int]) -> None:
        """A single-note tuning change: 7F, device, 08 02, program, count, then key and pitch."""
        if len(data) < 6 or data[0] != 0x7F or tuple(data[2:4]) != _TUNING:
            return
        rows = data[6:]
        for i in range(0, min(len(rows), 4 * data[5]) - 3, 4):
            key, semitone, high, low = rows[i : i + 4]
            if (semitone, high, low) != (127, 127, 127):
                self.tuned[key] = semitone + Fraction(high * 128 + low, 16384)

    def take(self, now: int, message: mido.Message | mido.MetaMessage) -> None:
        kind = message.type
        if kind == "note_on" and message.velocity > 0:
            self.on(now, message.channel, message.note)
        elif kind in ("note_on", "note_off"):
            self.up(now, message.channel, message.note)
        elif kind == "pitchwheel":
            self.bend[message.channel] = message.pitch
            for (channel, key), begun in self.down.items():
                if channel == message.channel and begun.start == now:
                    begun.moria = self.height(channel, key)
        elif kind == "control_change":
            self.control(message.channel, message.control, message.value)
        elif kind == "sysex":
            self.tuning(message.data)
        elif kind == "lyrics":
            self.words[now] = self.words.get(now, "") + message.text
        elif kind == "track_name":
            self.name = " ".join(message.name.split())


_UNREADABLE = (
    OSError, EOFError, ValueError, KeyError, IndexError, TypeError, AttributeError,
    KeySignatureError,
)  # fmt: skip
"""What the reader of MIDI files lets out where a file is damaged."""


def _file(data: bytes, file: str) -> mido.MidiFile:
    try:
        return mido.MidiFile(file=io.BytesIO(data), charset="utf-8")
    except UnicodeDecodeError:
        pass
    except _UNREADABLE as exc:
        raise _damaged(file) from exc
    try:
        return mido.MidiFile(file=io.BytesIO(data), charset="latin-1")
    except _UNREADABLE as exc:
        raise _damaged(file) from exc


def _damaged(file: str) -> ChantError:
    return ChantError(
        "the file is damaged or no MIDI file.",
        where=Where(file),
        remedy="Export it anew from the program that made it.",
    )


def _single(keys: Sequence[_Key]) -> list[_Key]:
    """One line: the highest of those that begin together, each ended by the next."""
    out: list[_Key] = []
    for key in sorted(keys, key=lambda k: (k.start, -k.moria)):
        if key.end <= key.start or (out and key.start == out[-1].start):
            continue
        if out and key.start < out[-1].end:
            out[-1].end = key.start
        out.append(key)
    return out


def _places(words: Sequence[str]) -> list[tuple[str, Place]]:
    """Syllables and their places, whichever custom the file follows."""
    hyphens = any(w.strip().endswith("-") for w in words if w.strip())
    spaces = any(w[:1] == " " or w[-1:] == " " for w in words)
    goes_on: list[bool] = []
    for i, word in enumerate(words):
        following = words[i + 1] if i + 1 < len(words) else ""
        if hyphens:
            goes_on.append(word.strip().endswith("-"))
        elif spaces:
            goes_on.append(bool(following) and word[-1:] not in " \n" and following[:1] != " ")
        else:
            goes_on.append(False)
    out: list[tuple[str, Place]] = []
    before = False
    for word, more in zip(words, goes_on, strict=True):
        text = " ".join(word.replace("\\", " ").replace("/", " ").split())
        place: Place = ("middle" if more else "end") if before else ("begin" if more else "single")
        out.append((text.removesuffix("-") if hyphens and more else text, place))
        before = more
    return out


def _grid(ticks: int, beat: int) -> Fraction:
    return Fraction(round(Fraction(ticks * _GRID, beat)), _GRID)


def _cola(ear: _Ear, beat: int, file: str) -> tuple[Colon, ...]:
    keys = _single(ear.keys)
    if len(keys) > _MOST:
        raise ChantError(
            "there are too many notes.", where=Where(file), remedy="Export one hymn only."
        )
    raw = [ear.words.get(k.start, "") for k in keys]
    spoken = [i for i, w in enumerate(raw) if w.strip()]
    said = dict(zip(spoken, _places([raw[i] for i in spoken]), strict=True))
    cola: list[Colon] = []
    notes: list[Sung] = []
    words = ""
    for i, key in enumerate(keys):
        text, place = said.get(i, ("", "single"))
        breaks = any(mark in raw[i][:1] for mark in ("\\", "/", "\n", "\r")) if raw[i] else False
        if text and notes and (breaks or (len(notes) >= _FEWEST and _STOP.search(words))):
            cola.append(Colon(tuple(notes)))
            notes = []
        words = text or words
        start, end = _grid(key.start, beat), _grid(key.end, beat)
        following = _grid(keys[i + 1].start, beat) if i + 1 < len(keys) else end
        silence = following - end
        beats = end - start if silence >= _SILENCE else following - start
        notes.append(Sung(key.moria, max(beats, Fraction(1, _GRID)), None, text, place))
        if silence >= _SILENCE:
            cola.append(Colon(tuple(notes), silence))
            notes = []
    if notes:
        cola.append(Colon(tuple(notes)))
    return tuple(cola)


def loads_midi(data: bytes, *, file: str = "") -> Melody:
    """Read a melody from the bytes of a Standard MIDI File.

    Parameters
    ----------
    data : bytes
        Format 0 or 1, in ticks of a beat.
    file : str
        Named in errors.

    Returns
    -------
    Melody
        Notes without staff positions.

    Raises
    ------
    ChantError
        If the file is damaged, counts time in frames, or has no note.
    """
    midi = _file(data, file)
    beat = midi.ticks_per_beat
    if not 0 < beat < 0x8000:
        raise ChantError(
            "the file counts film frames, not beats.",
            where=Where(file),
            remedy="Export it with ticks of a beat.",
        )
    tempo: int | None = None
    ears: list[_Ear] = []
    shared = _Ear()
    for track in midi.tracks:
        ear, now = _Ear(), 0
        for message in track:
            now += int(message.time)
            if message.type == "set_tempo" and tempo is None and message.tempo > 0:
                tempo = round(mido.tempo2bpm(message.tempo))
            try:
                ear.take(now, message)
            except (ValueError, IndexError, TypeError) as exc:
                raise _damaged(file) from exc
        ears.append(ear)
        shared.words |= ear.words
        shared.name = shared.name or ear.name
    if not any(ear.keys for ear in ears):
        raise ChantError(
            "there is no note in the file.", where=Where(file), remedy="Choose another file."
        )
    melody = max(ears, key=lambda e: (bool(e.words) and bool(e.keys), len(e.keys)))
    if not melody.words:
        melody.words = shared.words
    return Melody(
        title=melody.name or shared.name,
        cola=_cola(melody, beat, file),
        facts=MappingProxyType({}),
        tempo=tempo if tempo is not None and 10 <= tempo <= 999 else None,
    )


def read_midi(path: str | Path) -> Melody:
    """Read a melody from a MIDI file.

    Errors are those of `loads_midi`, and of a file that cannot be read.
    """
    return loads_midi(read_limited(Path(path), _LARGEST), file=str(path))
