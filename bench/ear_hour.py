"""An hour of sound: how long reading and tracing it takes, and how much memory at most.

Run: python bench/ear_hour.py [--minutes 60] [--drone]

The hour is a minute of synthetic singing (tests/ear/singer.py) over and over, in a wav file of
44,100 samples a second and two channels. Memory is the highest resident size of a process of its
own that does nothing else, the imports (printed first) included.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "ear"))

import numpy as np
import soundfile
from singer import Drone, Manner, Scene, melody, places, sing

from chantwright.ear.recording import read_recording
from chantwright.ear.trace import trace

RATE = 44_100


def write_hour(path: Path, minutes: int, *, drone: bool) -> None:
    scale = list(places("diatonic", 0, 7).values())
    scene = Scene(snr=25, drone=Drone(-42, -12) if drone else None)
    take = sing(melody(7, 110, scale), 150.0, seed=7, manner=Manner(sigma=1), scene=scene)
    at = np.arange(int(60 * RATE)) / RATE
    minute = np.interp(at, np.arange(take.samples.size) / take.rate, take.samples, right=0.0)
    both = np.stack((minute, minute), axis=1).astype(np.float32)
    with soundfile.SoundFile(path, "w", RATE, 2, subtype="PCM_16") as file:
        for _ in range(minutes):
            file.write(both)


def peak() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def hear(path: Path, *, drone: bool) -> None:
    trace(np.zeros(16_000, np.float32), 16_000)
    print(f"  imports: {peak():.0f} MB", flush=True)
    start = time.process_time()
    recording = read_recording(path)
    took = time.process_time() - start
    print(f"  reading: {took:.0f} s of one core, at most {peak():.0f} MB", flush=True)
    start = time.process_time()
    heard = trace(recording.samples, recording.rate, drone="detect" if drone else None)
    took = time.process_time() - start
    sung = heard.voiced.sum() * heard.hop / 60
    print(
        f"  tracing: {took:.0f} s of one core ({took / recording.seconds:.3f} of its length), "
        f"at most {peak():.0f} MB; {sung:.1f} of {recording.seconds / 60:.0f} minutes sung",
        flush=True,
    )


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--minutes", type=int, default=60)
    ask.add_argument("--drone", action="store_true", help="with a drone, to be found")
    ask.add_argument("--hear", type=Path, help=argparse.SUPPRESS)
    asked = ask.parse_args()
    if asked.hear is not None:
        hear(asked.hear, drone=asked.drone)
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hour.wav"
        write_hour(path, asked.minutes, drone=asked.drone)
        print(f"{asked.minutes} minutes, {path.stat().st_size / 1e6:.0f} MB of wav", flush=True)
        more = ["--drone"] if asked.drone else []
        subprocess.run([sys.executable, __file__, "--hear", str(path), *more], check=True)


if __name__ == "__main__":
    main()
