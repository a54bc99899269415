"""How well the sung words are understood, how true, fast and slim the voice with words is.

Run from the repository's root:

    python bench/voice_words.py              # everything, some minutes
    python bench/voice_words.py words        # one of: words, tuning, starts, speed, memory, store

**Words.** Lines of the King James psalms are sung one beat to a syllable, up and down three steps
of the first tone. A speech recogniser (pocketsphinx, its own American model) must say which of all
the lines it heard. It was trained on speech and is deaf to long vowels, so it hears each recording
twice: as sung, and with the middle of every vowel cut out until the vowel has the length of
speech. Beside it stands the same engine's plain speech.

**Tuning.** Two trackers of pitch, those of the tests, on words in all 34 branches.
"""

from __future__ import annotations

import re
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
from figures import FULL, Figure, clocked
from pocketsphinx import Config, Decoder, get_model_path
from scipy import signal

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "voice"))
import listening

from chantwright.score import Base, Hymn, Note, Phrase
from chantwright.tones import load_tones
from chantwright.voice import Track, TrackOptions, record, sing
from chantwright.voice.speech import speaker
from chantwright.words import read_words, to_phrases
from chantwright.words.psalter import verses_of

RATE = 48_000
TONES = load_tones()
BARE = TrackOptions(mode="melody", intonation="none", count_in=0)
PSALMS = (141, 103, 23, 51, 104, 118, 130, 142, 146, 150, 34, 27, 63, 121, 8, 19, 84, 91, 95, 96)
LINES = 48
PLOSIVES = (  # every word ends without voice, so that only the vowel is heard to begin
    "take cape keep pet cat tip pot",
    "tape cut part cook tuck pit cup",
    "pack talk coat type court pope put",
)
HOUR = 660  # lines
SPEECH = 0.16  # seconds of a vowel as spoken
TEXT = ("glo", "ry", "to", "thee", "O", "Lord", "sing", "praise")


def lines() -> list[str]:
    """Lines of five to eight words that the recogniser's dictionary holds."""
    path = Path(get_model_path("en-us/cmudict-en-us.dict"))
    known = {row.split()[0].split("(")[0] for row in path.read_text("utf-8").splitlines()}
    out: list[str] = []
    for number in PSALMS:
        for verse in verses_of(number)[:8]:
            for part in re.split(r"[,;:.?!]", verse):
                words = re.findall(r"[a-z']+", part.lower())
                text = " ".join(words)
                if 5 <= len(words) <= 8 and all(w in known for w in words) and text not in out:
                    out.append(text)
                    break
    return out[:LINES]


def listener(texts: list[str]) -> Decoder:
    """A recogniser that knows these lines and no others."""
    decoder = Decoder(
        Config(
            hmm=get_model_path("en-us/en-us"),
            dict=get_model_path("en-us/cmudict-en-us.dict"),
            lm=None,
            loglevel="FATAL",
            samprate=16000.0,
        )
    )
    decoder.add_jsgf_string("lines", f"#JSGF V1.0; grammar g; public <l> = {' | '.join(texts)};")
    decoder.activate_search("lines")
    return decoder


def understood(decoder: Decoder, sound: np.ndarray) -> str:
    quiet = np.zeros(4000)
    sound = np.concatenate((quiet, signal.resample_poly(sound.astype(float), 1, 3), quiet))
    sound *= 0.5 / max(np.max(np.abs(sound)), 1e-9)
    decoder.start_utt()
    decoder.process_raw((32767 * sound).astype("<i2").tobytes(), full_utt=True)
    decoder.end_utt()
    found = decoder.hyp()
    return found.hypstr if found else ""


def squeezed(track: Track) -> np.ndarray:
    """Cut the middle out of every vowel, at a place where the waves meet."""
    sound, out, at = track.samples, [], 0
    join = int(0.03 * RATE)
    for syllable in track.timing.syllables:
        # Half of a note at most is the next syllable's consonants.
        end = syllable.end - min(0.32, 0.5 * (syllable.end - syllable.start))
        if end - syllable.start <= SPEECH + 0.03:
            continue
        first = round((syllable.start + SPEECH / 2) * RATE)
        last = round((end - SPEECH / 2) * RATE)
        kept = sound[first : first + join]
        turns = range(last - 300, last + 301, 3)
        best = max(turns, key=lambda i: float(np.dot(kept, sound[i : i + join])))
        fade = np.linspace(0, 1, join)
        out += [sound[at:first], kept * (1 - fade) + sound[best : best + join] * fade]
        at = best + join
    return np.concatenate([*out, sound[at:]])


def hymn_of(text: str, base: float, tempo: int) -> Hymn:
    syllables = [s for p in to_phrases(read_words(text)) for s in p.syllables]
    sung = tuple(replace(s, notes=(Note(1 + i % 3),)) for i, s in enumerate(syllables))
    return Hymn(text, 1, base=Base(1, base), tempo=tempo, phrases=(Phrase(sung),))


def words() -> None:
    texts = lines()
    decoder = listener(texts)
    plain = sum(understood(decoder, speaker().speak(t)) == t for t in texts)
    print(f"words: {len(texts)} lines; plain speech of the same engine: {plain}")
    for voice, base, tempo in (
        ("low", 147.0, 132), ("low", 147.0, 60), ("low", 98.0, 90),
        ("high", 220.0, 132), ("high", 220.0, 60), ("child", 262.0, 90),
    ):  # fmt: skip
        whole = cut = 0
        for text in texts:
            track = sing(hymn_of(text, base, tempo), TONES, replace(BARE, voice=voice))
            whole += understood(decoder, track.samples) == text
            cut += understood(decoder, squeezed(track)) == text
        print(
            f"  {voice} at {base:.0f} Hz, {tempo} beats a minute: as sung {whole}, vowels "
            f"squeezed {cut}, {cut / plain:.2f} of plain speech",
            flush=True,
        )
    faint = sum(
        understood(
            decoder, sing(hymn_of(t, 147.0, 132), TONES, replace(BARE, engine="plain")).samples
        )
        == t
        for t in texts
    )
    print(f"  the plain voice (vowels and soft consonants), as sung: {faint}")


def tuning() -> None:
    off: dict[str, list[np.ndarray]] = {"DIO and StoneMask": [], "autocorrelation": []}
    count = 0
    for index, branch in enumerate(TONES.branches.values()):
        base = (80.0, 120.0, 180.0, 270.0, 400.0)[index % 5]
        hymn = replace(listening.ladder(TONES, branch.id, base, TEXT), language="en")
        voice = "low" if base < 170 else "high" if base < 300 else "child"
        track = sing(hymn, TONES, replace(BARE, voice=voice))
        spans = listening.inside(track, consonants=True)
        times = np.concatenate([t for _, t in spans])
        pitches = [n.hz for n in track.timing.notes]
        low, high = max(40.0, min(pitches) / 1.8), min(1200.0, max(pitches) * 1.8)
        for name, heard in (
            ("DIO and StoneMask", listening.by_world(track.samples, times, low, high)),
            ("autocorrelation", listening.by_autocorrelation(track.samples, times, low, high)),
        ):
            off[name].append(np.abs(listening.errors(track, heard, spans)))
        count += len(track.timing.notes)
    print(f"tuning with words: {len(TONES.branches)} branches, {count} notes, bases 80 to 400 Hz")
    for name, parts in off.items():
        cents = np.concatenate(parts)
        print(
            f"  {name}: {len(cents)} moments, median {np.median(cents):.3f}, "
            f"95 % {np.percentile(cents, 95):.2f}, 99 % {np.percentile(cents, 99):.2f} cents"
        )


def starts() -> None:
    """After k, t and p the first strength of the vowel tells when it begins."""
    late: list[tuple[float, str]] = []
    for voice, base in (("low", 110.0), ("low", 150.0), ("high", 220.0), ("child", 280.0)):
        for text in PLOSIVES:
            for tempo in (60, 100, 140):
                late += vowel_starts(hymn_of(text, base, tempo), replace(BARE, voice=voice))
    off = 1000 * np.array([t for t, _ in late])
    print(
        f"starts: {len(off)} vowels after k, t and p: 95 % within "
        f"{np.percentile(np.abs(off), 95):.1f} ms of the map, median {np.median(off):+.1f}, "
        f"from {off.min():+.1f} to {off.max():+.1f}"
    )
    for seconds, where in sorted(late, key=lambda p: -abs(p[0]))[:5]:
        print(f"  {1000 * seconds:+.1f} ms: {where}")


def vowel_starts(hymn: Hymn, options: TrackOptions) -> list[tuple[float, str]]:
    """By how much each vowel but the first is late, in seconds, and which it is."""
    track = sing(hymn, TONES, options)
    level = listening.voicing(track.samples)
    out = []
    for note, syllable in list(zip(track.timing.notes, track.timing.syllables, strict=True))[1:]:
        where = f"{syllable.text} at {note.hz:.0f} Hz, {hymn.tempo} beats a minute"
        out.append((listening.onset(level, note.start, note.end), where))
    return out


def long_hymn(count: int) -> Hymn:
    """Psalm lines one after the other, no two alike."""
    texts = lines()
    phrases = tuple(
        replace(hymn_of(texts[i % len(texts)], 147.0, 100).phrases[0], rest=Fraction(1))
        for i in range(count)
    )
    return Hymn("Psalm lines", 1, base=Base(1, 147.0), tempo=100, phrases=phrases)


def speed() -> None:
    hymn = long_hymn(40)
    sing(hymn_of("the lord is my light", 147.0, 100), TONES)
    for name, options in (
        ("words with ison of three", TrackOptions()),
        ("words alone", replace(BARE)),
        ("vowel with ison of three", TrackOptions(sung="vowel")),
        ("vowel alone", replace(BARE, sung="vowel")),
        ("ison of three alone", TrackOptions(mode="drone")),
    ):
        best = 1e9
        for _ in range(2):
            start = time.process_time()
            track = sing(hymn, TONES, options)
            best = min(best, time.process_time() - start)
        print(f"speed: {name}: {track.seconds / best:.0f} times real time on one core")


def memory() -> None:
    code = (
        "import sys; sys.path.insert(0, 'bench'); import voice_words as b; b.one_hour(sys.argv[1])"
    )
    for sung in ("words", "vowel"):
        subprocess.run([sys.executable, "-c", code, sung], check=True)


def one_hour(sung: str) -> None:
    """Sing and write an hour; print the most memory that was held."""
    hymn = long_hymn(HOUR)
    start = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        options = TrackOptions(sung=sung)
        made = record(hymn, TONES, [Path(folder) / "hour.opus"], options)
    spent = time.process_time() - start
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"memory: {made.timing.seconds / 60:.0f} minutes of {sung} as Opus, {most:.0f} MB at most, "
        f"{made.timing.seconds / spent:.0f} times real time with the encoder"
    )


def store() -> None:
    hymn = long_hymn(12)
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder)
        spent, worked = [], []
        for count in range(12):
            start, busy = time.perf_counter(), time.process_time()
            made = record(hymn, TONES, [where / f"{count}.opus"], store=where / "store")
            spent.append(1000 * (time.perf_counter() - start))
            worked.append(1000 * (time.process_time() - busy))
    print(
        f"store: {made.timing.seconds:.0f} s of words: first {worked[0]:.0f} ms of the processor, "
        f"again {np.median(worked[1:]):.0f} ms (by the clock {np.median(spent[1:]):.0f} ms)"
    )


SUNG = (
    ("words with ison of three", TrackOptions(), 20.0),
    ("words alone", BARE, 20.0),
    ("vowel with ison of three", TrackOptions(sung="vowel"), 100.0),
    ("vowel alone", replace(BARE, sung="vowel"), 100.0),
)


def figures(size: str) -> Iterator[Figure]:
    """Yield speed, the store, and how well the words are understood."""
    hymn = long_hymn(40)
    sing(hymn_of("the lord is my light", 147.0, 100), TONES)
    seconds = sing(hymn, TONES, SUNG[0][1]).seconds
    plain = clocked(lambda: speaker().speak(" ".join(lines()[:8])))
    spoken = len(speaker().speak(" ".join(lines()[:8]))) / RATE
    for name, options, limit in SUNG:
        spent = clocked(lambda o=options: sing(hymn, TONES, o), 2)
        sung = options.sung == "words"
        yield Figure("sound", f"{name}", seconds / spent, "times real time", least=limit,
                     peer="the engine's plain speech" if sung else "",
                     peer_value=spoken / plain if sung else None,
                     count=f"{seconds:.0f} s, best of 2")  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder)
        short = long_hymn(12)
        paths = [[where / f"{n}.opus"] for n in range(6)]
        store = where / "store"
        first = clocked(lambda: record(short, TONES, paths[0], store=store))
        again = min(
            clocked(lambda p=path: record(short, TONES, p, store=store)) for path in paths[1:]
        )
    yield Figure("sound", "a recording asked for again", 1000 * again, "ms", most=50,
                 peer="the first time", peer_value=1000 * first, count="best of 5")  # fmt: skip
    texts = lines() if size == FULL else lines()[::2]
    decoder = listener(texts)
    known = sum(understood(decoder, speaker().speak(t)) == t for t in texts)
    heard = sum(
        understood(
            decoder, squeezed(sing(hymn_of(t, 147.0, 132), TONES, replace(BARE, voice="low")))
        ) == t
        for t in texts
    )  # fmt: skip
    yield Figure("sound", "lines understood, vowels squeezed to speech", heard / known, "of plain speech",
                 least=0.8, peer="the engine's plain speech", peer_value=known / len(texts),
                 count=f"{len(texts)} lines, low voice")  # fmt: skip
    if size == FULL:
        memory()


def main() -> None:
    chosen = sys.argv[1:] or ["words", "tuning", "starts", "speed", "memory", "store"]
    for name in chosen:
        globals()[name]()


if __name__ == "__main__":
    main()
