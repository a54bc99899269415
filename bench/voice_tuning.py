"""How true, how even and how fast the practice voice is: the full grid that the tests sample.

Run from the repository's root:

    python bench/voice_tuning.py            # every branch, bases 80 to 400 Hz
    python bench/voice_tuning.py --quick    # one base for each branch
    python bench/voice_tuning.py --picture docs/pictures/sound.png

The listeners are those of the tests (``tests/voice/listening.py``): WORLD's DIO with StoneMask,
and autocorrelation.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pyloudnorm
import pyworld
from figures import FULL, Figure
from PIL import Image, ImageDraw
from scipy import signal

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "voice"))
import listening

from chantwright.score import Hymn
from chantwright.tones import load_tones
from chantwright.voice import MODES, Track, TrackOptions, sing
from chantwright.voice.loudness import true_peak

RATE = 48_000
BASES = (80.0, 120.0, 180.0, 270.0, 400.0)
BARE = TrackOptions(mode="melody", intonation="none", count_in=0)
TONES = load_tones()


def tuning(bases: tuple[float, ...], text: tuple[str, ...]) -> dict[str, np.ndarray]:
    """Print and return how far off the pitch is, in cents, by each listener."""
    off: dict[str, list[np.ndarray]] = {"DIO and StoneMask": [], "autocorrelation": []}
    count = 0
    for branch in TONES.branches.values():
        for base in bases:
            hymn = listening.ladder(TONES, branch.id, base, text)
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
    print(f"tuning: {len(TONES.branches)} branches, {len(bases)} bases, {count} notes, on {text}")
    for name, parts in off.items():
        cents = np.concatenate(parts)
        print(
            f"  {name}: {len(cents)} moments, median {np.median(cents):.4f}, "
            f"95 % {np.percentile(cents, 95):.3f}, 99 % {np.percentile(cents, 99):.2f} cents"
        )
    return {name: np.concatenate(parts) for name, parts in off.items()}


def figures(size: str) -> Iterator[Figure]:
    """Yield how far off the pitch is in all branches, on words, by two listeners."""
    bases = BASES if size == FULL else (146.8,)
    words = ("glo", "ry", "to", "thee", "O", "Lord", "sing", "praise")
    for text, told in ((("la",), "a vowel"), (words, "syllables")):
        for name, cents in tuning(bases, text).items():
            count = f"{len(TONES.branches)} branches, {len(cents)} moments"
            for what, share, limit in (("median", 50, 1.0), ("95 %", 95, 3.0)):
                yield Figure("sound", f"pitch of {told}, {what}, by {name}",
                             float(np.percentile(cents, share)), "cents", most=limit,
                             count=count)  # fmt: skip


def starts() -> None:
    late = []
    for branch_id in ("t1.heirmologic", "t8.heirmologic"):
        track = sing(listening.ladder(TONES, branch_id, 146.8, ("a",)), TONES, BARE)
        grid = np.arange(0.3, track.seconds - 0.6, 0.001)
        pitch = np.log2(listening.by_autocorrelation(track.samples, grid, high=400).clip(1))
        notes = track.timing.notes
        for a, b in pairwise(notes):
            near = np.abs(grid - b.start) < 0.06
            if a.stop == a.end and abs(np.log2(b.hz / a.hz)) > 0.05:
                beyond = (pitch[near] - 0.5 * np.log2(a.hz * b.hz)) * np.sign(b.hz - a.hz) > 0
                late.append(1000 * (grid[near][np.argmax(beyond)] - b.start))
    print(f"starts: {len(late)} steps, from {min(late):+.1f} to {max(late):+.1f} ms off the map")


def clicks() -> None:
    worst = 0.0
    for voice in ("low", "high", "child"):
        for branch_id in ("t1.heirmologic", "t6.sticheraric", "t8.heirmologic"):
            if branch_id not in TONES.branches:
                continue
            hymn = listening.ladder(TONES, branch_id, None, tuple("aeiou"))
            track = sing(hymn, TONES, replace(BARE, mode="full", voice=voice))
            step = np.abs(np.diff(track.samples))
            notes = track.timing.notes
            for a, b in pairwise(notes):
                typical = max(
                    step[round((n.start + 0.1) * RATE) : round((n.stop - 0.1) * RATE)].max()
                    for n in (a, b)
                )
                join = step[round((a.stop - 0.08) * RATE) : round((b.start + 0.08) * RATE)].max()
                worst = max(worst, float(join / typical))
    print(f"clicks: largest step at a join is {worst:.3f} of the largest inside its two notes")


def levels() -> None:
    meter = pyloudnorm.Meter(RATE)
    found, peaks = [], []
    for voice in ("low", "high", "child"):
        for mode in MODES:
            for tone in range(1, 9):
                hymn = replace(listening.psalm(TONES, tone), base=None)
                track = sing(hymn, TONES, TrackOptions(mode=mode, voice=voice))
                found.append(meter.integrated_loudness(track.samples.astype(np.float64)))
                peaks.append(true_peak(track.samples))
    print(
        f"loudness: {len(found)} tracks, {min(found):.2f} to {max(found):.2f} LUFS (pyloudnorm), "
        f"true peak at most {max(peaks):.2f} dB"
    )


def _timed(hymn: Hymn, options: TrackOptions) -> tuple[Track, float]:
    start = time.process_time()
    track = sing(hymn, TONES, options)
    return track, time.process_time() - start


def speed() -> None:
    sing(listening.psalm(TONES), TONES)
    hymn = listening.psalm(TONES, verses=12)
    for mode in MODES:
        track, spent = min(
            (_timed(hymn, TrackOptions(mode=mode)) for _ in range(3)), key=lambda p: p[1]
        )
        print(
            f"speed: {mode} {track.seconds:.0f} s in {spent:.2f} s = {track.seconds / spent:.0f} x"
        )
    long = listening.psalm(TONES, verses=200)
    track, spent = _timed(long, TrackOptions())
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"speed: {track.seconds / 60:.0f} minutes in {spent:.1f} s, {most:.0f} MB at most")


def picture(path: Path) -> None:
    """Draw a phrase: spectrogram with syllables, and the pitch heard over the pitch asked."""
    track = sing(listening.psalm(TONES), TONES, TrackOptions(count_in=2, mode="melody"))
    sound = track.samples.astype(np.float64)
    frequencies, _, power = signal.spectrogram(sound, RATE, "hann", 1536, 1536 - 240)
    level = 10 * np.log10(power[frequencies <= 5000] + 1e-14)
    grey = 255 - 255 * np.clip((level - level.max() + 65) / 65, 0, 1)
    width, upper, lower = 1500, 400, 300
    sheet = Image.new("RGB", (width, upper + lower), "white")
    sheet.paste(Image.fromarray(grey[::-1].astype(np.uint8)).resize((width, upper)), (0, 0))
    draw = ImageDraw.Draw(sheet)
    pitches = [n.hz for n in track.timing.notes]
    low, high = np.log2(min(pitches)) - 0.15, np.log2(max(pitches)) + 0.15

    def place(seconds: float, hz: float) -> tuple[float, float]:
        share = (np.log2(hz) - low) / (high - low)
        return seconds / track.seconds * width, upper + lower * (1 - share)

    for note in track.timing.notes:
        draw.line([place(note.start, note.hz), place(note.stop, note.hz)], "orange", 7)
    for syllable in track.timing.syllables:
        left = syllable.start / track.seconds * width
        draw.line([(left, 0), (left, upper + lower)], "lightblue")
        draw.text((left + 3, 3), syllable.text, "blue")
    hz, at = pyworld.dio(sound, RATE, f0_floor=80.0, f0_ceil=500.0, frame_period=2.0)
    for seconds, value in zip(at, pyworld.stonemask(sound, hz, at, RATE), strict=True):
        if value > 0:
            x, y = place(seconds, value)
            draw.ellipse([x - 1, y - 1, x + 1, y + 1], "black")
    sheet.quantize(64).save(path, optimize=True)
    print(f"picture: {path}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--picture", type=Path)
    chosen = parser.parse_args()
    if chosen.picture:
        picture(chosen.picture)
        return
    bases = (146.8,) if chosen.quick else BASES
    tuning(bases, ("la",))
    tuning((146.8,), ("glo", "ry", "to", "thee", "O", "Lord", "sing", "praise"))
    starts()
    clicks()
    levels()
    speed()


if __name__ == "__main__":
    main()
