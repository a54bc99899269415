"""The rhythm of the middle style: how long its stresses last, and whether they differ.

Read off the finished notes of every text in every sticheraric book; the last stress of a phrase,
which a close makes long, is left out. That light stresses are short and that long ones differ from
their neighbours is common practice, from memory; 3 to 4 notes a syllable is a published figure
(an appendix on the styles).

    python bench/setting_rhythm.py
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from figures import Figure
from setting_texts import texts

from chantwright.score import Syllable
from chantwright.setting import load_books, set_hymn
from chantwright.tones import load_tones

_LONG = 3
_SECONDARY = 2


def _beats(syllable: Syllable) -> float:
    return float(sum(n.beats for n in syllable.notes))


def _counted(branch: str) -> Counter[str]:
    """Count what is asked over all texts in one book."""
    tones, books, found = load_tones(), load_books(), Counter[str]()
    for _, hymn in texts():
        done = set_hymn(replace(hymn, tone=int(branch[1]), branch=branch), tones, books, count=1)[0]
        for phrase in done.hymn.phrases:
            found["syllables"] += len(phrase.syllables)
            found["notes"] += sum(len(s.notes) for s in phrase.syllables)
            stressed = [s for s in phrase.syllables if s.stress][:-1]
            light = [s for s in stressed if s.stress == _SECONDARY]
            found["light"] += len(light)
            found["long light"] += sum(_beats(s) >= _LONG for s in light)
            beats = [_beats(s) for s in stressed]
            threes = list(zip(beats, beats[1:], beats[2:], strict=False))
            found["threes"] += len(threes)
            found["alike"] += sum(a == b == c >= _LONG for a, b, c in threes)
    return found


def figures(size: str) -> Iterator[Figure]:
    """Yield shares over all sticheraric books; `size` changes nothing."""
    del size
    names = [b.id for b in load_books().books.values() if ".sticheraric" in b.id]
    found = sum((_counted(name) for name in names), Counter[str]())
    count = f"{len(texts())} texts x {len(names)} books"
    yield Figure("setting", "middle style: three long stresses in a row that last alike",
                 found["alike"] / found["threes"], most=0.05, count=count)  # fmt: skip
    yield Figure("setting", "middle style: light stresses of three beats or more",
                 found["long light"] / found["light"], most=0.25, count=count)  # fmt: skip
    yield Figure("setting", "middle style: notes a syllable",
                 found["notes"] / found["syllables"], least=2.5, most=4, peer="published, at least",
                 peer_value=3, count=count)  # fmt: skip


def main() -> None:
    """Print."""
    for figure in figures(""):
        print(f"{figure.what}: {figure.value:.3g} ({figure.count})")


if __name__ == "__main__":
    main()
