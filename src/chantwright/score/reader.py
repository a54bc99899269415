"""From the text of a hymn file to a hymn.

The reading has three steps: lines, then blocks (`chantwright.score.blocks`), then phrases.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from chantwright.errors import ChantError, Where
from chantwright.score.blocks import WORDS_REMEDY, Block, Body
from chantwright.score.header import is_header, read_header
from chantwright.score.model import (
    CADENCES,
    UNISON,
    Cadence,
    Hymn,
    Ison,
    Note,
    Phrase,
    Place,
    Syllable,
    number,
)
from chantwright.score.tokens import (
    Line,
    Piece,
    read_degree,
    read_fraction,
    read_group,
    split_groups,
    split_words,
    take_mark,
    unguard,
)
from chantwright.score.validate import ID, MAX_BEATS, MAX_DENOMINATOR, validate

__all__ = ["read_hymn"]

_DIVIDED = ("notes", "ison", "stress")
_NUCLEUS = re.compile("[aeiouyαεηιουω]+")
_MARKS: tuple[Cadence | None, ...] = (None, "medial", "full", "final")


# --- counting -------------------------------------------------------------------------------


def _ordinal(n: int) -> str:
    ending = "th" if 10 <= n % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
    return f"{n}{ending}"


def _count(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"


def _nuclei(text: str) -> int:
    """Rough number of syllables of a word, good enough to point a finger."""
    letters = "".join(c for c in unicodedata.normalize("NFD", text.lower()) if c.isalpha())
    found = _NUCLEUS.findall(letters)
    silent = len(found) > 1 and letters.endswith("e") and found[-1] == "e"
    return len(found) - silent


def _mismatch(
    line: Line, words: list[list[Piece]], got: Sequence[Piece], what: str, remedy: str
) -> ChantError:
    """Say that a line does not have one sign for each syllable, and where it may go wrong."""
    flat = [(n, word, s) for n, word in enumerate(words, start=1) for s in word]
    total = f"{_count(len(flat), 'syllable')} but {_count(len(got), what)}"
    if len(got) > len(flat):
        extra = got[len(flat)]
        suspects = [
            (n, word) for n, word in enumerate(words, 1) if _nuclei(_plain(word)) > len(word)
        ]
        hint = (
            f"the {_ordinal(suspects[0][0])} word “{_plain(suspects[0][1])}” may lack a hyphen"
            if suspects
            else f"the first {what} too many is “{extra.text}”"
        )
        return line.error(f"{total}; {hint}.", remedy, at=extra.at, word=extra.text)
    n, word, syllable = flat[len(got)]
    name = f"“{syllable.text}”" + (f" of “{_plain(word)}”" if len(word) > 1 else "")
    return line.error(
        f"{total}; nothing is left for {name}, the {_ordinal(n)} word.",
        remedy,
        at=len(line.text),
        word=syllable.text,
    )


def _plain(word: list[Piece]) -> str:
    return "".join(s.text for s in word)


# --- phrases --------------------------------------------------------------------------------


def _notes(block: Block, words: list[list[Piece]], count: int) -> list[tuple[Note, ...]]:
    if "notes" not in block.keys:
        return [()] * count
    line, _ = take_mark(block.keys["notes"])
    groups = split_groups(line)
    notes = [read_group(line, g) for g in groups]
    if len(groups) != count:
        raise _mismatch(
            line,
            words,
            groups,
            "note group",
            "Give one group to each syllable: join notes of one syllable with + (pa+vou), and "
            "write - for a syllable without notes.",
        )
    return notes


def _isons(block: Block, words: list[list[Piece]], count: int, held: Ison) -> list[Ison]:
    if "ison" not in block.keys:
        return [None] * count
    line, tokens = block.keys["ison"], block.tokens("ison")
    isons: list[Ison] = []
    for token in tokens:
        name = token.text.lower()
        if name == UNISON:
            held = UNISON
        elif name == "none":
            held = None
        elif name != ".":
            held = read_degree(line, token.text, token.at)
        isons.append(held)
    if len(isons) != count:
        raise _mismatch(
            line,
            words,
            tokens,
            "ison sign",
            "Give one to each syllable: a degree, unison, none, or . for the same as before.",
        )
    return isons


def _stresses(block: Block, words: list[list[Piece]], count: int) -> list[int]:
    if "stress" not in block.keys:
        return [0] * count
    line = block.keys["stress"]
    digits = [Piece(c, t.at + i) for t in block.tokens("stress") for i, c in enumerate(t.text)]
    for digit in digits:
        if digit.text not in ("0", "1", "2"):
            raise line.error(
                f"“{digit.text}” is not a stress.",
                "Write a figure for each syllable: 1 main stress, 2 light stress, 0 none.",
                at=digit.at,
                word=digit.text,
            )
    if len(digits) != count:
        raise _mismatch(
            line, words, digits, "stress figure", "Write one figure (0, 1 or 2) for each syllable."
        )
    return [int(d.text) for d in digits]


def _cadence(block: Block, bars: int) -> Cadence | None:
    marked = _MARKS[bars]
    line = block.keys.get("cadence")
    if line is None or not line.text:
        return marked
    name = line.text.lower()
    if name not in CADENCES:
        raise line.error(
            f"“{line.text[:20]}” is not a cadence.",
            f"Write one of: {', '.join(CADENCES)}.",
            at=0,
            word=line.text,
        )
    cadence: Cadence = name
    # A long close is a final one drawn out, so ||| may stand with it.
    if marked not in (None, cadence) and (marked, cadence) != ("final", "long"):
        raise line.error(
            f"the phrase mark says {marked} but this line says {cadence}.",
            "Take one of the two away.",
            at=0,
            word=line.text,
        )
    return cadence


def _rest(block: Block) -> Fraction:
    line = block.keys.get("rest")
    if line is None or not line.text:
        return Fraction(0)
    value = read_fraction(line.text)
    if value is None or value > MAX_BEATS or value.denominator > MAX_DENOMINATOR:
        raise line.error(
            f"“{line.text[:20]}” is not a number of beats.",
            f"Write the beats of silence after the phrase, such as 1. {WORDS_REMEDY}",
            at=0,
            word=line.text,
        )
    return value


def _scale(block: Block) -> str | None:
    line = block.keys.get("scale")
    if line is None or not line.text:
        return None
    text = unguard(line.text)
    if text.split() != [text]:
        raise line.error(
            "the name of a scale is one word.",
            f"Write it without blanks. {WORDS_REMEDY}",
            at=0,
            word=line.text,
        )
    return text


def _same_as(block: Block) -> str:
    """Id of the phrase meant: its own name, or its number (2 is p2)."""
    line = block.keys.get("same as")
    if line is None or not line.text:
        return ""
    name = f"p{line.text}" if line.text.isascii() and line.text.isdigit() else line.text
    if not ID.fullmatch(name):
        raise line.error(
            f"“{line.text[:20]}” does not name a phrase.",
            f"Write the number of an earlier phrase: same as: 1. {WORDS_REMEDY}",
            at=0,
            word=line.text,
        )
    return name


def _peak(block: Block) -> str:
    line = block.keys.get("peak")
    if line is None or not line.text:
        return ""
    text = unguard(line.text)
    if text.split() != [text]:
        raise line.error(
            "the peak is one word of the phrase.",
            f"Write a single word. {WORDS_REMEDY}",
            at=0,
            word=line.text,
        )
    return text


def _divided(block: Block) -> bool:
    if any(key in block.keys for key in _DIVIDED):
        return True
    return "ids" in block.keys and len(block.tokens("ids")) > 1


class _Builder:
    """Turns blocks into phrases, one after another; knows the ison held so far and ids in use."""

    def __init__(self) -> None:
        self.held: Ison = None
        self.ids: set[str] = set()

    def phrase(self, block: Block) -> Phrase:
        words, bars = take_mark(block.words)
        # A lone backslash is the guard of an empty undivided line, and a letter in a divided one.
        if not words.text.strip() or (not _divided(block) and not unguard(words.text)):
            raise block.words.error(
                "a phrase mark stands without words.",
                "Write it at the end of the line of words that it closes.",
                at=0,
                word=block.words.text,
            )
        common = Phrase(
            cadence=_cadence(block, bars),
            scale=_scale(block),
            rubric=block.rubric,
            verse_start=block.verse_start,
            rest=_rest(block),
            remarks=tuple(block.remarks),
            same_as=_same_as(block),
            peak=_peak(block),
        )
        if not _divided(block):
            text = unguard(words.text)
            if not text.strip():
                raise words.error("this line holds no words.", "Write them, or take it out.")
            self.held = None
            return replace(common, text=text, id=self._ids(block, [])[0])
        pieces = split_words(words)
        count = sum(len(word) for word in pieces)
        notes = _notes(block, pieces, count)
        isons = _isons(block, pieces, count, self.held)
        stresses = _stresses(block, pieces, count)
        self.held = isons[-1]
        name, *names = self._ids(block, pieces)
        syllables: list[Syllable] = []
        for word in pieces:
            for at, piece in enumerate(word):
                i = len(syllables)
                if not piece.text.strip():
                    raise words.error(
                        "a syllable holds no letters.",
                        "Write them, or take the backslash away.",
                        at=piece.at,
                    )
                syllables.append(
                    Syllable(
                        piece.text, _place(at, len(word)), stresses[i], notes[i], isons[i], names[i]
                    )
                )
        return replace(common, syllables=tuple(syllables), id=name)

    def _ids(self, block: Block, words: list[list[Piece]]) -> list[str]:
        """Ids of the phrase and its syllables; empty where `number` will give the plain one."""
        count = sum(len(word) for word in words)
        if "ids" not in block.keys:
            return [""] * (count + 1)
        line, tokens = block.keys["ids"], block.tokens("ids")
        if len(tokens) > 1 and len(tokens) != count + 1:
            raise line.error(
                f"{_count(count, 'syllable')} but {len(tokens) - 1} ids after the phrase's own.",
                "Take the ids line away; new ids are given by themselves.",
                word=tokens[-1].text,
                at=tokens[-1].at,
            )
        for token in tokens:
            if token.text == ".":
                continue
            if not ID.fullmatch(token.text) or token.text in self.ids:
                raise line.error(
                    "this id is used twice."
                    if token.text in self.ids
                    else "this is not an id: it begins with a letter and goes on with letters, "
                    "digits, “_”, “.” or “-”.",
                    "Take the ids line away; new ids are given by themselves.",
                    word=token.text,
                    at=token.at,
                )
            self.ids.add(token.text)
        names = ["" if t.text == "." else t.text for t in tokens]
        return names if len(names) == count + 1 else (names or [""]) + [""] * count


def _place(at: int, length: int) -> Place:
    if length == 1:
        return "single"
    if at == 0:
        return "begin"
    return "end" if at == length - 1 else "middle"


# --- the whole ------------------------------------------------------------------------------


def _lines(text: str, file: str) -> list[Line]:
    if not text.isascii():
        try:
            text.encode("utf-8")
        except UnicodeEncodeError as exc:
            raise ChantError(
                "the text holds a broken character.",
                where=Where(file, len(text[: exc.start].splitlines()) or 1),
                remedy="Delete it and type it again.",
            ) from None
    rows = text.removeprefix("\ufeff").splitlines()
    return [Line(row, n, file) for n, row in enumerate(rows, start=1)]


def read_hymn(text: str, file: str = "") -> Hymn:
    """Read the text of a hymn file; see `chantwright.score.hymnfile.loads`."""
    lines = _lines(text, file)
    blank = [not line.text.strip() for line in lines]
    start = next((i for i, empty in enumerate(blank) if not empty), len(lines))
    stop = next((i for i in range(start, len(lines)) if blank[i]), len(lines))
    more = not all(blank[stop:])
    hymn, verse_start = Hymn(), start > 0
    if is_header(lines[start:stop], more=more):
        hymn = read_header(lines[start:stop])
        start = next((i for i in range(stop, len(lines)) if not blank[i]), len(lines))
        verse_start = start - stop > 1
    body = Body(verse_start=verse_start)
    for line, empty in zip(lines[start:], blank[start:], strict=True):
        if empty:
            body.blank()
        else:
            body.line(line)
    left = body.end()
    builder = _Builder()
    phrases = tuple(builder.phrase(b) for b in body.blocks)
    hymn = number(replace(hymn, phrases=phrases, remarks=(*hymn.remarks, *left)))
    validate(hymn)
    return hymn
