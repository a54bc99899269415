"""Measure how each phone of the speech engine's voice sounds: `python tools/measure_phones.py`.

Lines of the King James psalms are said, phones are laid on them by the engine's own plan, and
means and deviations of what is heard are taken; then the phones are laid anew by these, and so on
until nothing moves. Writes ``src/chantwright/voice/data/acoustics.toml``.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from chantwright.score import Syllable
from chantwright.voice.aligning import SILENCE, Model, features, path, states_of
from chantwright.voice.diction import TAIL, said_of
from chantwright.voice.phones import phone_rows
from chantwright.voice.speech import Spoken, speaker
from chantwright.words import read_words, to_phrases
from chantwright.words.psalter import verses_of

PSALMS = (1, 8, 15, 19, 23, 24, 27, 34, 42, 46, 51, 63, 67, 84, 90, 95, 103, 104, 121, 139)
LINES, ROUNDS = 260, 6
LEAST = np.array([2.5] * 9 + [4.0])
TARGET = Path(__file__).resolve().parents[1] / "src/chantwright/voice/data/acoustics.toml"


def lines() -> list[Spoken]:
    """Say some lines."""
    out: list[Spoken] = []
    for number in PSALMS:
        for verse in verses_of(number):
            for part in re.split(r"[,;:.?!]", verse):
                if 4 <= len(part.split()) <= 9 and len(out) < LINES:
                    phrase = to_phrases(read_words(part.strip()))[0]
                    syllables: tuple[Syllable, ...] = phrase.syllables
                    out.append(speaker().say(_text(syllables)))
    return out


def _text(syllables: tuple[Syllable, ...]) -> str:
    groups, _ = said_of(syllables, "en")
    begins = [s.place in ("single", "begin") for s in syllables]
    said = "".join((" " if b else "") + g.said for g, b in zip(groups, begins, strict=True))
    return f"{said.strip()} {TAIL}"


def measured(said: list[Spoken], cuts: list[np.ndarray]) -> Model:
    """Means and deviations of all phones; a rare one leans on all the others of its kind."""
    heard: dict[str, list[np.ndarray]] = {}
    kinds: dict[str, list[np.ndarray]] = {}
    for spoken, cut in zip(said, cuts, strict=True):
        sheet = features(spoken)
        names, _ = states_of(spoken)
        # The tail that is cut off every phrase creaks: nothing is learnt from it.
        count = len(names) - 1 - len([c for c in TAIL if c in phone_rows()]) - 1
        for name, a, b in zip(names[:count], cut[:count], cut[1 : count + 1], strict=True):
            if round(b) <= round(a):
                continue
            piece = sheet[round(a) : round(b)]
            heard.setdefault(name, []).append(piece)
            kind = SILENCE if name == SILENCE else str(phone_rows()[name]["kind"])
            kinds.setdefault(kind, []).append(piece)
    out = {}
    for name in (SILENCE, *phone_rows()):
        kind = SILENCE if name == SILENCE else str(phone_rows()[name]["kind"])
        own = np.concatenate([*heard.get(name, []), np.zeros((0, 10))])
        whole = np.concatenate(kinds[kind])
        few = 20 / (20 + len(own))
        mean = few * whole.mean(axis=0) + (1 - few) * (own.mean(axis=0) if len(own) else 0)
        spread = own.std(axis=0) if len(own) > 3 else whole.std(axis=0)
        out[name] = (mean, np.maximum(few * whole.std(axis=0) + (1 - few) * spread, LEAST))
    return out


def main() -> None:
    """Train and write."""
    said = lines()
    cuts = [states_of(s)[1] for s in said]
    for _ in range(ROUNDS):
        model = measured(said, cuts)
        new = [path(s, states_of(s)[0], states_of(s)[1], model) for s in said]
        moved = np.mean([np.abs(a - b).mean() for a, b in zip(cuts, new, strict=True)])
        print(f"{len(said)} lines, boundaries moved by {moved:.2f} frames")
        cuts = new
    model = measured(said, cuts)
    out = [
        "# How each phone of the speech engine's voice sounds, frame by frame.",
        "#",
        "# mean, deviation  of five bands of tone (0, 500, 1000, 1800, 2800, 5000 Hz), of four",
        "#                  of breath (0, 1000, 3000, 6000, 11 000 Hz), both in decibels, and of",
        "#                  pitch (20 where there is any). “_” is silence.",
        "#",
        "# measured  by tools/measure_phones.py on lines of the King James psalms",
    ]
    for count, (symbol, (mean, deviation)) in enumerate(model.items()):
        name = "silence" if symbol == SILENCE else phone_rows()[symbol].id
        assert count or name == "silence"
        out += [
            "[[sound]]",
            f'id = "{name}"',
            f'symbol = "{symbol}"',
            f"mean = {[round(float(v), 1) for v in mean]}",
            f"deviation = {[round(float(v), 1) for v in deviation]}",
            'conf = "high"',
            'src = "measured"',
        ]
    TARGET.write_text("\n".join(out) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
