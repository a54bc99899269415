r"""The small signs of the hymn file: numbers, notes, phrase marks, hyphens, and the backslash.

Conventions
-----------
A *guarded* text is one whose own first or last characters could be taken for signs of the file: a
backslash before it and a backslash after it say "exactly what stands between". In divided words a
backslash says the same of the one character after it. All positions count characters from 0
inside the text they are given with; `Line` turns them into columns counted from 1.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from chantwright.errors import ChantError, Where
from chantwright.score.model import Note, Syllable
from chantwright.score.validate import HIGHEST, LOWEST, MAX_BEATS, MAX_BEND, MAX_DENOMINATOR
from chantwright.tuning import degree_name, parse_degree

__all__ = [
    "HEADER_KEYS",
    "PHRASE_KEYS",
    "Line",
    "Piece",
    "guard",
    "is_near",
    "key_of",
    "nearest",
    "read_degree",
    "read_fraction",
    "read_group",
    "split_groups",
    "split_words",
    "take_mark",
    "takes_for_key",
    "unguard",
    "write_fraction",
    "write_group",
    "write_words",
]

HEADER_KEYS = (
    "title",
    "tone",
    "branch",
    "style",
    "language",
    "tempo",
    "base",
    "ending",
    "intonation",
    "words from",
    "melody from",
    "melody kind",
)
PHRASE_KEYS = (
    "notes",
    "ison",
    "stress",
    "scale",
    "rest",
    "cadence",
    "same as",
    "peak",
    "ids",
)

_KEY = re.compile(r"\s*([A-Za-z][A-Za-z ]{0,23}?)\s*:")
_MARK = re.compile(r"(?<![\\|])(\|+)\s*\Z")
_WHOLE = re.compile(r"[0-9]{1,6}")
_RATIO = re.compile(r"([0-9]{1,8})\s*/\s*([0-9]{1,6})")
_DECIMAL = re.compile(r"([0-9]{0,6})[.,]([0-9]{1,4})")
_VULGAR = re.compile(r"([0-9]{0,3})([½¼¾⅓⅔⅛])")
_GROUP = re.compile(r"(?:\([^()]*\)|\S)(?:\([^()]*\)|\s*\+\s*(?=\S)|\S)*")
_PLUS = re.compile(r"((?:\([^()]*\)|[^+])*)(?:\+|\Z)")
_BEND = re.compile(r"\(([^()]*)\)")
_BYTE_ORDER_MARK = "\ufeff"


def _strip_end(text: str) -> str:
    """Drop the blanks at the end, but not one that a backslash keeps."""
    bare = text.rstrip()
    backslashes = len(bare) - len(bare.rstrip("\\"))
    return text[: len(bare) + backslashes % 2]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the file; makes errors that point into it.

    Attributes
    ----------
    text : str
        The line without its end.
    number : int
        Counted from 1.
    file : str
        Name of the file; empty when there is none.
    start : int
        Where `text` begins in the written line, for a part of a line.
    """

    text: str
    number: int
    file: str = ""
    start: int = 0

    def error(self, what: str, remedy: str, *, at: int = -1, word: str = "") -> ChantError:
        """Make an error that points at character `at` (-1: the line as a whole)."""
        column = self.start + at + 1 if at >= 0 else 0
        return ChantError(
            what, where=Where(self.file, self.number, column, word[:40]), remedy=remedy
        )

    def part(self, begin: int, end: int | None = None) -> Line:
        """Cut out a part, without the blanks around it."""
        text = self.text[begin:end]
        blanks = len(text) - len(text.lstrip())
        return Line(_strip_end(text.lstrip()), self.number, self.file, self.start + begin + blanks)


@dataclass(frozen=True, slots=True)
class Piece:
    """A word, syllable or group and where it stands in its line."""

    text: str
    at: int


# --- keys -----------------------------------------------------------------------------------


def key_of(text: str) -> tuple[str, int] | None:
    """Name before the first colon, in lower case with single spaces, and where the value begins.

    None when the line does not begin like ``key:``.
    """
    if (found := _KEY.match(text)) is None:
        return None
    return " ".join(found[1].lower().split()), found.end()


def _distance(a: str, b: str) -> int:
    """Letters to change, add, drop or swap (optimal string alignment)."""
    rows = [list(range(len(b) + 1))]
    for i, x in enumerate(a, start=1):
        row = [i]
        for j, y in enumerate(b, start=1):
            best = min(rows[-1][j] + 1, row[-1] + 1, rows[-1][j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                best = min(best, rows[-2][j - 2] + 1)
            row.append(best)
        rows.append(row)
    return rows[-1][-1]


def nearest(key: str, keys: Iterable[str]) -> str:
    """Return the key that `key` comes nearest to."""
    return min(keys, key=lambda known: _distance(key, known))


def is_near(key: str, keys: Iterable[str]) -> bool:
    """Whether `key` is a slip of the pen for one of `keys`: a letter off, or two of eight."""
    return any(
        abs(len(key) - len(known)) < 3 and 0 < _distance(key, known) <= (2 if len(known) > 7 else 1)
        for known in keys
    )


def takes_for_key(text: str) -> bool:
    """Whether a line of words would be taken for a key, rightly or by a slip of the pen."""
    every = (*HEADER_KEYS, *PHRASE_KEYS)
    return (found := key_of(text)) is not None and (found[0] in every or is_near(found[0], every))


# --- guards and marks -----------------------------------------------------------------------


def guard(text: str, *, words: bool = False) -> str:
    """Put backslashes round a text where its own ends could be misread.

    Parameters
    ----------
    text : str
        One line.
    words : bool
        Whether it will stand as a line of words, where more signs have a meaning.
    """
    head = text[:1].isspace() or text.startswith(("\\", _BYTE_ORDER_MARK))
    tail = text[-1:].isspace() or text.endswith("\\")
    if words:
        head = head or text.startswith(("#", "{")) or takes_for_key(text)
        tail = tail or text.endswith("|")
    return ("\\" if head else "") + text + ("\\" if tail else "")


def unguard(text: str) -> str:
    """Undo `guard`; blanks around the whole are dropped."""
    text = text.strip()
    text = text.removesuffix("\\")
    return text.removeprefix("\\")


def take_mark(line: Line) -> tuple[Line, int]:
    """Take the phrase mark off the end of a line of words.

    Returns
    -------
    (Line, int)
        The words, and the number of bars: 0 none, 1 medial, 2 full, 3 final.

    Raises
    ------
    ChantError
        If there are more than three bars.
    """
    if (found := _MARK.search(line.text)) is None:
        return line, 0
    if len(found[1]) > 3:
        raise line.error(
            "a phrase mark has one, two or three bars.",
            "Write | after a half-way rest, || after a full one, ||| at the end.",
            at=found.start(1),
            word=found[1],
        )
    return line.part(0, found.start(1)), len(found[1])


# --- numbers --------------------------------------------------------------------------------


def write_fraction(value: Fraction) -> str:
    """Write a number of at least 0: ``2``, ``.5``, ``1.25``, ``1/3``."""
    whole, part = divmod(value.numerator, value.denominator)
    if part == 0:
        return str(whole)
    if value.denominator in (2, 4):
        decimals = f"{100 * part // value.denominator:02}".rstrip("0")
        return f"{whole or ''}.{decimals}"
    return f"{value.numerator}/{value.denominator}"


def read_fraction(text: str) -> Fraction | None:
    """Read ``2``, ``.5``, ``1,5``, ``1/3`` or ``1½``; None when it is no number.

    The comma is the decimal mark of many countries.
    """
    if _WHOLE.fullmatch(text):
        return Fraction(int(text))
    if found := _RATIO.fullmatch(text):
        return Fraction(int(found[1]), int(found[2])) if int(found[2]) else None
    if found := _DECIMAL.fullmatch(text):
        return Fraction(int(found[1] or 0)) + Fraction(int(found[2]), 10 ** len(found[2]))
    if found := _VULGAR.fullmatch(text):
        above, below = unicodedata.normalize("NFKC", found[2]).split("\u2044")
        return Fraction(int(found[1] or 0)) + Fraction(int(above), int(below))
    return None


def _beats(line: Line, text: str, at: int) -> Fraction:
    value = read_fraction(text.strip())
    if value is None or not 0 < value <= MAX_BEATS or value.denominator > MAX_DENOMINATOR:
        raise line.error(
            f"“{text.strip()[:20]}” is not a number of beats.",
            "Write it after the colon: pa:2, pa:.5 or pa:1/3.",
            at=at,
            word=text.strip() or ":",
        )
    return value


def _bend(line: Line, text: str, at: int) -> Fraction:
    bare = text.strip()
    sign = -1 if bare[:1] in ("-", "−", "–") else 1
    value = read_fraction(bare[1:].strip() if bare[:1] in ("-", "−", "–", "+") else bare)
    if value is None or value > MAX_BEND or value.denominator > MAX_DENOMINATOR:
        raise line.error(
            f"“{bare[:20]}” is not a bend in moria.",
            "Write it in round brackets with its sign: zo(-4) or ga(+2).",
            at=at,
            word=f"({bare})",
        )
    return sign * value


# --- notes ----------------------------------------------------------------------------------


def read_degree(line: Line, text: str, at: int) -> int:
    """Read the name of a degree; the error points at it."""
    try:
        degree = parse_degree(text)
    except ChantError as exc:
        raise line.error(
            exc.what, exc.remedy or "Write a degree such as pa.", at=at, word=text
        ) from None
    if not LOWEST <= degree <= HIGHEST:
        raise line.error(
            "this degree lies beyond any voice.",
            "Take some of its octave marks away.",
            at=at,
            word=text,
        )
    return degree


def _read_note(line: Line, text: str, at: int) -> Note:
    bend, beats = Fraction(0), Fraction(1)
    bare = text
    if found := _BEND.search(text):
        bend = _bend(line, found[1], at + found.start())
        bare = text[: found.start()] + text[found.end() :]
    name, colon, length = bare.partition(":")
    if colon:
        beats = _beats(line, length, at)
    if not name.strip():
        raise line.error(
            "a note has no name.",
            "Write a degree such as pa; join the notes of one syllable with + and no blanks.",
            at=at,
            word=text or "+",
        )
    return Note(read_degree(line, name.strip(), at), beats, bend)


def split_groups(line: Line) -> list[Piece]:
    """Cut a notes line into the groups that stand under one syllable each."""
    return [Piece(m[0], m.start()) for m in _GROUP.finditer(line.text)]


def read_group(line: Line, group: Piece) -> tuple[Note, ...]:
    """Read the notes of one syllable; ``-`` alone is none."""
    if group.text == "-":
        return ()
    notes: list[Note] = []
    for part in _PLUS.finditer(group.text):
        notes.append(_read_note(line, part[1].strip(), group.at + part.start()))
        if not part[0].endswith("+") or part.end() == part.start():
            break
    return tuple(notes)


def write_group(notes: tuple[Note, ...]) -> str:
    """Write the notes of one syllable, such as ``pa+zo_(-4):.5``."""
    return "+".join(_write_note(n) for n in notes) or "-"


def _write_note(note: Note) -> str:
    text = degree_name(note.degree)
    if note.bend:
        bend = Fraction(note.bend)
        text += f"({'-' if bend < 0 else '+'}{write_fraction(abs(bend))})"
    if note.beats != 1:
        text += f":{write_fraction(Fraction(note.beats))}"
    return text


# --- divided words --------------------------------------------------------------------------

_HYPHEN_REMEDY = (
    "Join the syllables of a word with - and no blanks; a hyphen that is printed is written \\-, "
    "or -- where the word also divides at it."
)


def split_words(line: Line) -> list[list[Piece]]:
    r"""Cut divided words into words and these into syllables, and undo the backslashes.

    Raises
    ------
    ChantError
        At a phrase mark inside the line, a hyphen with nothing before or after it, or a backslash
        with nothing after it.
    """
    text = line.text
    words: list[list[Piece]] = []
    word: list[Piece] = []
    letters: list[str] = []
    start, hyphen, i = 0, -1, 0

    def close(at: int) -> None:
        if not letters:
            raise line.error(
                "a hyphen has no syllable beside it.", _HYPHEN_REMEDY, at=at, word=text[at : at + 1]
            )
        word.append(Piece("".join(letters), start))
        letters.clear()

    while i < len(text):
        char = text[i]
        if not letters:
            start = i
        if char.isspace():
            if letters or hyphen >= 0:
                close(max(hyphen, 0))
                words.append(word)
                word, hyphen = [], -1
        elif char == "\\":
            if i + 1 == len(text):
                raise line.error(
                    "a backslash has nothing after it.",
                    "Write \\\\ for a backslash that is printed, or take it away.",
                    at=i,
                    word=char,
                )
            i += 1
            letters.append(text[i])
        elif char == "|":
            raise line.error(
                "a phrase mark stands in the middle of the words.",
                "Begin a new line after it, with its own notes under it.",
                at=i,
                word=char,
            )
        elif char == "-":
            if text[i + 1 : i + 2] == "-":
                letters.append("-")
                i += 1
            close(i)
            hyphen = i
        else:
            letters.append(char)
        i += 1
    if letters or hyphen >= 0:
        close(max(hyphen, 0))
        words.append(word)
    return words


def _escape(text: str) -> str:
    return "".join(f"\\{c}" if c in "\\|-" or c.isspace() else c for c in text)


def write_words(syllables: tuple[Syllable, ...]) -> str:
    """Write divided words so that `split_words` gives them back."""
    out: list[str] = []
    for syllable in syllables:
        if out and syllable.place in ("single", "begin"):
            out.append(" ")
        text = syllable.text
        if syllable.place in ("single", "end"):
            out.append(_escape(text))
        elif len(text) > 1 and text.endswith("-"):
            out.append(f"{_escape(text[:-1])}--")
        else:
            out.append(f"{_escape(text)}-")
    line = "".join(out)
    if line.startswith(("#", "{", _BYTE_ORDER_MARK)) or takes_for_key(line):
        line = "\\" + line
    return line
