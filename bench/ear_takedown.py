"""Taking down synthetic sung hymns: right degrees, beats and syllables; and naming free singing.

Run: python bench/ear_takedown.py [--seeds evaluation|tuning] [--count 8]

Words of our own are set by the tool, sung by tests/ear/singer.py from its own scale tables (each
degree off by 0.7 moria for good, each note by 1.2, lengths by 8 %), and taken down again with the
words and the tone given, base and tempo unknown. Notes are matched in order (longest common row).
"""

from __future__ import annotations

import argparse
import sys
import time
from difflib import SequenceMatcher
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "ear"))

from singer import VOICES, Manner, Scene, free_tune, places, sing

from chantwright.ear.naming import name_singing
from chantwright.ear.takedown import take_down
from chantwright.ear.trace import trace
from chantwright.score import Hymn, Phrase, walk
from chantwright.setting import load_books, set_hymn
from chantwright.tones import load_tones
from chantwright.words import divide

SEEDS = {"tuning": 300, "evaluation": 9300}
WORDS = (
    (
        "The lamp is lit upon the stand,",
        "and all the house is glad with light;",
        "keep watch, O heart, until the morning.",
    ),
    ("Out of the depths have I cried unto thee, O Lord:", "Lord, hear my voice."),
    ("I will lift up mine eyes unto the hills,", "from whence cometh my help."),
    (
        "The earth is the Lord's, and the fulness thereof;",
        "the world, and they that dwell therein.",
    ),
)
START = {"diatonic": 0, "soft_chromatic": 0, "hard_chromatic": 1, "enharmonic": 3}
OWN = {
    "diatonic": "diatonic",
    "soft_chromatic": "soft chromatic",
    "hard_chromatic": "hard chromatic",
    "enharmonic": "enharmonic",
}


def sung_hymn(tone, words, seed, tones, books):
    rng = np.random.default_rng(seed)
    plain = Hymn(title="Test", tone=tone, phrases=tuple(Phrase(text=w) for w in words))
    hymn = set_hymn(divide(plain), tones, books, bends="none")[0].hymn
    branch = tones.branches[hymn.branch]
    ladder = places(OWN[branch.scale], -8, 15, START[branch.scale])
    off = rng.normal(size=7) * 0.7
    beat = 60 / (tones.styles[branch.style].tempo * rng.uniform(0.85, 1.1))
    notes = []
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            for i, note in enumerate(syllable.notes):
                place = ladder[note.degree] - ladder[branch.base] + off[note.degree % 7]
                notes.append((place, float(note.beats) * beat, syllable.text if i == 0 else ""))
        notes.append((None, 0.5, ""))
    voice = list(VOICES)[seed % 4]
    take = sing(
        notes,
        VOICES[voice][1] * rng.uniform(0.9, 1.1),
        seed=seed,
        voice=voice,
        manner=Manner(sigma=1.2, timing=0.08),
        scene=Scene(snr=25),
    )
    return hymn, branch, take


def compared(truth, found):
    """Count notes sung, heard, those whose degree was found in order, and of these right beats."""
    a = [(n.degree, n.beats) for *_, n in walk(truth)]
    b = [(n.degree, n.beats) for *_, n in walk(found)]
    match = SequenceMatcher(None, [d for d, _ in a], [d for d, _ in b], autojunk=False)
    pairs = [(a[i + k], b[j + k]) for i, j, n in match.get_matching_blocks() for k in range(n)]
    return len(a), len(b), len(pairs), sum(x[1] == y[1] for x, y in pairs)


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--seeds", choices=SEEDS, default="evaluation")
    ask.add_argument("--count", type=int, default=16)
    ask.add_argument("--free", type=int, default=6, help="takes of free singing a family")
    asked = ask.parse_args()
    tones, books = load_tones(), load_books()
    total = np.zeros(4, int)
    syllables = same = 0
    for i in range(asked.count):
        seed = SEEDS[asked.seeds] + i
        hymn, branch, take = sung_hymn(i % 8 + 1, WORDS[(i // 2) % len(WORDS)], seed, tones, books)
        found = take_down(
            trace(take.samples, take.rate),
            tones,
            branch,
            words=divide(
                Hymn(title="Test", phrases=tuple(Phrase(text=p.words) for p in hymn.phrases))
            ),
        )
        counts = np.array(compared(hymn, found.hymn))
        total += counts
        pairs = list(
            zip(
                [s for p in hymn.phrases for s in p.syllables],
                [s for p in found.hymn.phrases for s in p.syllables],
                strict=True,
            )
        )
        syllables += len(pairs)
        same += sum([n.degree for n in a.notes] == [n.degree for n in b.notes] for a, b in pairs)
        off = 72 * np.log2(found.base_hz / take.base)
        print(
            f"  {branch.id:24s} notes {counts[0]:3d} heard {counts[1]:3d} degrees {counts[2]:3d} "
            f"beats {counts[3]:3d}  base {off:+.1f} moria  tempo {found.tempo:.0f}"
            f"  doubtful {len(found.doubtful)}",
            flush=True,
        )
    print(
        f"{asked.count} hymns, {total[0]} notes: degrees {total[2] / total[0]:.3f}, "
        f"too many {max(0, total[1] - total[2]) / total[0]:.3f}, "
        f"beats of those {total[3] / max(1, total[2]):.3f}; "
        f"syllables with exactly their notes {same}/{syllables}"
    )
    right = unsure = wrong = 0
    start = time.process_time()
    length = 0.0
    for family in ("diatonic", "soft chromatic", "hard chromatic", "enharmonic"):
        for i in range(asked.free):
            seed = SEEDS[asked.seeds] + 100 + i
            take = free_tune(family, seed)
            length += take.samples.size / take.rate
            named = name_singing(trace(take.samples, take.rate), tones)
            if named.family is None:
                unsure += 1
            elif named.family == family:
                right += 1
            else:
                wrong += 1
            print(
                f"  {family} seed {seed}: {named.family or 'not sure'} "
                f"(likely {named.likely}, margin {named.margin:.1f})",
                flush=True,
            )
    print(
        f"free singing, {4 * asked.free} takes, {length:.0f} s: {right} right, {unsure} not sure, "
        f"{wrong} wrong; {(time.process_time() - start) / max(length, 1):.3f} x real time, "
        "synthesis included"
    )


if __name__ == "__main__":
    main()
