from __future__ import annotations

import io
import random
import zipfile
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chantwright.errors import ChantError
from chantwright.score import Hymn
from chantwright.score.melody import to_hymn
from chantwright.score.midi import loads_midi, read_midi
from chantwright.score.musicxml import loads_musicxml, read_musicxml
from chantwright.tones import load_tones

TONES = load_tones()

# The whole-note example with which the MusicXML 4.0 tutorial of the W3C group opens.
HELLO = b"""<?xml version="1.0" encoding="UTF-8" standalone="no"?>
<!DOCTYPE score-partwise PUBLIC
    "-//Recordare//DTD MusicXML 4.0 Partwise//EN"
    "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0">
  <part-list><score-part id="P1"><part-name>Music</part-name></score-part></part-list>
  <part id="P1"><measure number="1">
    <attributes><divisions>1</divisions><key><fifths>0</fifths></key>
      <time><beats>4</beats><beat-type>4</beat-type></time>
      <clef><sign>G</sign><line>2</line></clef></attributes>
    <note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration>
      <type>whole</type></note>
  </measure></part>
</score-partwise>"""


def score(notes: str, key: str = "0") -> bytes:
    return (
        '<score-partwise version="4.0"><work><work-title>A tune</work-title></work>'
        '<part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1">'
        f'<measure number="1"><attributes><divisions>2</divisions><key><fifths>{key}</fifths>'
        f"</key></attributes>{notes}</measure></part></score-partwise>"
    ).encode()


def note(
    step: str, octave: int, length: int, words: str = "", more: str = "", alter: int = 0
) -> str:
    kind, _, text = words.rpartition(" ")
    lyric = f"<lyric><syllabic>{kind or 'single'}</syllabic><text>{text}</text></lyric>"
    return (
        f"<note><pitch><step>{step}</step>{f'<alter>{alter}</alter>' if alter else ''}"
        f"<octave>{octave}</octave></pitch><duration>{length}</duration>{more}"
        f"{lyric if text else ''}</note>"
    )


# A melody of tone 1 as a Western editor might write it, on a instead of d; it ends on the base.
ON_A = (
    note("A", 4, 2, "begin A") + note("B", 4, 2, "end men,")
    + note("C", 5, 1, "Lord", "<tie type='start'/>")
    + note("C", 5, 1, "", "<tie type='stop'/>") + note("D", 5, 2, "have") + note("C", 5, 2, "")
    + note("B", 4, 2, "mercy.") + "<note><rest/><duration>2</duration></note>"
    + note("B", 4, 2, "begin A") + note("A", 4, 4, "end men")
)  # fmt: skip


def degrees(hymn: Hymn) -> list[list[tuple[str, int, float]]]:
    return [
        [(s.text, n.degree, float(n.beats)) for s in p.syllables for n in s.notes]
        for p in hymn.phrases
    ]


def test_the_first_published_example() -> None:
    melody = loads_musicxml(HELLO)
    assert [(n.step, int(n.moria), int(n.beats)) for c in melody.cola for n in c.notes] == [
        (0, 0, 4)
    ]
    hymn = to_hymn(melody, TONES, tone=8)
    assert degrees(hymn) == [[("–", 0, 4)]]  # tone 8 ends on ni: common practice


def test_a_melody_is_laid_so_that_it_ends_on_the_final() -> None:
    hymn = to_hymn(loads_musicxml(score(ON_A)), TONES, tone=1)
    assert hymn.title == "A tune"
    first, second = degrees(hymn)
    # Tone 1 ends on pa (common practice): a is pa, b is vou, c is ga, d is di.
    assert first == [("A", 1, 1), ("men,", 2, 1), ("Lord", 3, 1), ("have", 4, 1), ("have", 3, 1),
                     ("mercy.", 2, 1)]  # fmt: skip
    assert second == [("A", 2, 1), ("men", 1, 2)]
    assert hymn.phrases[0].rest == 1
    assert [s.place for s in hymn.phrases[0].syllables] == ["begin", "end", *["single"] * 3]


def test_a_letter_can_be_named_as_ni() -> None:
    hymn = to_hymn(loads_musicxml(score(ON_A)), TONES, tone=1, ni="g")
    assert degrees(hymn)[1] == [("A", 2, 1), ("men", 1, 2)]
    with pytest.raises(ChantError, match="letter"):
        to_hymn(loads_musicxml(score(ON_A)), TONES, tone=1, ni="h")


def test_an_accidental_of_a_semitone_becomes_a_bend_of_six_moria() -> None:
    text = score(note("D", 4, 2, "a") + note("F", 4, 2, "b", alter=1) + note("D", 4, 4, "c"))
    hymn = to_hymn(loads_musicxml(text), TONES, tone=1)
    assert [n.bend for s in hymn.phrases[0].syllables for n in s.notes] == [0, 6, 0]


def test_chords_grace_notes_and_other_voices_are_left_out() -> None:
    notes = (
        "<note><grace/><pitch><step>E</step><octave>4</octave></pitch><voice>1</voice></note>"
        + note("D", 4, 2, "a", "<voice>1</voice>")
        + "<note><chord/><pitch><step>F</step><octave>4</octave></pitch><duration>2</duration>"
        "<voice>1</voice></note>"
        + note("C", 3, 2, "", "<voice>2</voice>") + note("D", 4, 2, "b", "<voice>1</voice>")
    )  # fmt: skip
    hymn = to_hymn(loads_musicxml(score(notes)), TONES, tone=1)
    assert [d for _, d, _ in degrees(hymn)[0]] == [3, 1]


def packed(data: bytes, name: str = "tune.musicxml") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr(
            "META-INF/container.xml",
            f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>',
        )
        zipped.writestr(name, data)
    return out.getvalue()


def test_packed_files_read_like_plain_ones() -> None:
    assert loads_musicxml(packed(HELLO)) == loads_musicxml(HELLO)


def test_a_packed_bomb_is_refused() -> None:
    with pytest.raises(ChantError, match="unfolds"):
        loads_musicxml(packed(b"0" * 30_000_000))


def test_entities_are_refused_and_nothing_outside_is_read(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("hidden")
    bomb = (
        b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><score-partwise>&b;</score-partwise>'
    )
    outside = (
        f'<!DOCTYPE x [<!ENTITY a SYSTEM "{secret.as_uri()}">]><score-partwise>&a;</score-partwise>'
    )
    for data in (bomb, outside.encode()):
        with pytest.raises(ChantError) as caught:
            loads_musicxml(data)
        assert "hidden" not in str(caught.value)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"<score-timewise/>", "score-timewise"),
        (b"<score-partwise/>", "no part 1"),
        (b"nothing of the kind", "no XML"),
        (score(note("H", 4, 2)), "note letter"),
        (score(note("D", 4, 0)), "no length"),
        (score("<note><pitch><step>D</step><octave>x</octave></pitch><duration>1</duration></note>"),
         "octave"),
        (b"PK\x03\x04damaged", "damaged"),
    ],
)  # fmt: skip
def test_bad_files_are_told_in_a_sentence(data: bytes, words: str, tmp_path: Path) -> None:
    file = tmp_path / "tune.musicxml"
    file.write_bytes(data)
    with pytest.raises(ChantError, match=words) as caught:
        to_hymn(read_musicxml(file), TONES, tone=1, file=str(file))
    assert "tune.musicxml" in str(caught.value)


def test_no_tone_is_asked_for() -> None:
    with pytest.raises(ChantError, match="tone"):
        to_hymn(loads_musicxml(HELLO), TONES)


def test_damaged_bytes_never_break_the_reader() -> None:
    chance = random.Random(5)
    for data in (score(ON_A), packed(score(ON_A))):
        for _ in range(300):
            broken = bytearray(data)
            for _ in range(chance.randint(1, 4)):
                broken[chance.randrange(len(broken))] = chance.randrange(256)
            if chance.random() < 0.3:
                del broken[chance.randrange(len(broken)) :]
            try:
                to_hymn(loads_musicxml(bytes(broken)), TONES, tone=1)
            except ChantError:
                continue


def midi(rows: list[tuple[int, int, int, str]], *, bends: bool = False, beat: int = 480) -> bytes:
    """Key, ticks, silence after, words; written by mido."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name="Tune", time=0))
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(120), time=0))
    silence = 0
    for key, ticks, after, words in rows:
        track.append(mido.MetaMessage("lyrics", text=words, time=silence))
        if bends:
            # Down by 200/3 cents: a third of the usual reach of two semitones.
            track.append(mido.Message("pitchwheel", pitch=-2731, time=0))
        track.append(mido.Message("note_on", note=key, velocity=80, time=0))
        track.append(mido.Message("note_off", note=key, velocity=0, time=ticks))
        silence = after
    file = mido.MidiFile(ticks_per_beat=beat, charset="utf-8")
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


ROWS = [
    (62, 470, 10, "Lord,"), (65, 480, 0, "have "), (67, 240, 0, "mer-"), (65, 240, 0, ""),
    (64, 480, 480, "cy."), (64, 480, 0, "Α-"), (62, 960, 0, "μήν"),
]  # fmt: skip


def test_midi_melody_with_words() -> None:
    hymn = to_hymn(loads_midi(midi(ROWS)), TONES, tone=1)
    assert degrees(hymn) == [
        [("Lord,", 1, 1), ("have", 3, 1), ("mer", 4, 0.5), ("mer", 3, 0.5),
         ("cy.", 2, 1)],
        [("Α", 2, 1), ("μήν", 1, 2)],
    ]  # fmt: skip
    assert hymn.phrases[0].rest == 1
    assert hymn.tempo == 120
    assert [s.place for s in hymn.phrases[0].syllables] == ["single", "single", "begin", "end"]


def test_midi_bend_moves_the_whole_melody_and_no_degree() -> None:
    plain = to_hymn(loads_midi(midi(ROWS)), TONES, tone=1)
    bent = loads_midi(midi(ROWS, bends=True))
    # MIDI 1.0: 8192 is the full reach, two semitones (12 moria) by default.
    assert bent.cola[0].notes[0].moria == 12 - Fraction(12 * 2731, 8192)
    assert to_hymn(bent, TONES, tone=1) == plain


@settings(deadline=None, max_examples=40)
@given(st.integers(-20, 20), st.sampled_from([1, 4, 5, 8]))
def test_midi_in_any_key_gives_the_same_degrees(shift: int, tone: int) -> None:
    final = next(iter(TONES.default_branch(tone).final))
    scale = TONES.scales[TONES.default_branch(tone).scale]
    line = [final, final + 1, final + 2, final + 1, final + 3, final]
    keys = [60 + shift + round(float(scale.moria(d) - scale.moria(final)) / 6) for d in line]
    hymn = to_hymn(loads_midi(midi([(k, 480, 0, "la ") for k in keys])), TONES, tone=tone)
    assert [n.degree for p in hymn.phrases for s in p.syllables for n in s.notes] == line


def test_midi_at_no_speed_has_no_tempo() -> None:
    # Standard MIDI Files 1.0: FF 51 03 and the microseconds of a quarter note.
    whole = midi(ROWS)
    at = whole.index(bytes((0xFF, 0x51, 3)))
    still = whole[: at + 3] + bytes(3) + whole[at + 6 :]
    assert to_hymn(loads_midi(still), TONES, tone=1).tempo != 120


def test_midi_in_no_key_there_is_names_the_damage() -> None:
    # SMF: FF 59 02 sf mi, where mi is 0 or 1; 161 is neither
    track = bytes.fromhex("00ff590207a1") + bytes.fromhex("00ff2f00")
    head = b"MThd" + bytes.fromhex("00000006000000010060")
    with pytest.raises(ChantError, match="damaged or no MIDI"):
        loads_midi(head + b"MTrk" + len(track).to_bytes(4, "big") + track)


def test_damaged_midi_never_breaks_the_reader(tmp_path: Path) -> None:
    chance = random.Random(6)
    data = midi(ROWS)
    for _ in range(400):
        broken = bytearray(data)
        for _ in range(chance.randint(1, 4)):
            broken[chance.randrange(len(broken))] = chance.randrange(256)
        if chance.random() < 0.3:
            del broken[chance.randrange(len(broken)) :]
        try:
            to_hymn(loads_midi(bytes(broken)), TONES, tone=1)
        except ChantError:
            continue
    empty = tmp_path / "empty.mid"
    empty.write_bytes(b"")
    with pytest.raises(ChantError, match="empty"):
        read_midi(empty)
    with pytest.raises(ChantError, match="cannot be read"):
        read_midi(tmp_path / "none.mid")
