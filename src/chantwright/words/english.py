"""English: from tokens to divided words, the teacher's marks first."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace

from chantwright.errors import ChantError, Where
from chantwright.words.division import cuts, pieces
from chantwright.words.lexicon import Lists, Written
from chantwright.words.reading import Reading, readings
from chantwright.words.stems import code_of
from chantwright.words.stress import key
from chantwright.words.text import Syl, Word
from chantwright.words.tokens import Token

__all__ = ["read_english"]

ACUTE, GRAVE = "\u0301", "\u0300"


@dataclass(frozen=True, slots=True)
class _Marked:
    """A word's letters without marks, and where the marks stood."""

    letters: str
    plain: str
    acutes: tuple[int, ...]
    grave: int | None
    dots: tuple[int, ...]
    joins: tuple[int, ...]

    @property
    def told(self) -> bool:
        return bool(self.dots or self.joins or self.acutes) or self.grave is not None


def read_english(found: Sequence[Token], lists: Lists, file: str = "") -> tuple[Word, ...]:
    """Divide English words; their stress is that of their readings (see `stress.accent`).

    Parameters
    ----------
    found : sequence of Token
        Words as written.
    lists : Lists
        Preferred readings and levels.
    file : str
        For errors.

    Raises
    ------
    ChantError
        If a word is written in other letters than Latin ones.
    """
    words: list[Word] = []
    for token in found:
        previous = words[-1] if words and not token.verse_start else None
        words.append(_word(token, previous, lists, file))
    return tuple(words)


def _marks(token: Token, file: str) -> _Marked:
    letters, plain = "", ""
    acutes: list[int] = []
    grave: int | None = None
    dots: list[int] = []
    joins: list[int] = []
    for sign in token.marked:
        if sign == "·":
            dots.append(len(letters))
        elif sign == "‿":
            joins.append(len(letters))
        else:
            parts = unicodedata.normalize("NFD", sign)
            base, accents = parts[0], parts[1:]
            if base.isalpha() and "LATIN" not in unicodedata.name(base, ""):
                raise _foreign(token, base, file)
            if not base.isalpha() and base not in "'’‘-":
                continue  # a stray accent on no letter
            if ACUTE in accents:
                acutes.append(len(letters))
            if GRAVE in accents:
                grave = len(letters)
            kept = "".join(a for a in accents if a not in (ACUTE, GRAVE))
            shown = unicodedata.normalize("NFC", base + kept)
            letters += shown if len(shown) == 1 else base
            plain += base if base.isascii() else _ASCII.get(base, "o")
    return _Marked(letters, key(plain), tuple(acutes), grave, tuple(dots), tuple(joins))


_ASCII = {
    "’": "'", "‘": "'", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "ð": "d", "þ": "t", "ß": "s",
    "ı": "i", "đ": "d",
}  # fmt: skip


def _foreign(token: Token, letter: str, file: str) -> ChantError:
    script = unicodedata.name(letter, "A STRANGE LETTER").split()[0].capitalize()
    remedy = (
        "If the text is Greek, say so: language el."
        if script == "Greek"
        else "Write it in Latin letters, with middle dots between the syllables."
    )
    return ChantError(
        f"this word has {script} letters, but the text is read as English.",
        where=Where(file, token.line, token.column, token.marked),
        remedy=remedy,
    )


def _word(token: Token, previous: Word | None, lists: Lists, file: str) -> Word:
    marks = _marks(token, file)
    options = readings(marks.plain, lists)
    chosen = _in_context(marks.plain, options, previous, lists)
    fixed = False
    if marks.told:
        told = _told(marks, chosen, options)
        fixed = bool(marks.acutes) or marks.grave is not None
        alternatives = tuple(str(o) for o in options if str(o) != str(told))
        chosen = told
    else:
        alternatives = tuple(str(o) for o in options if o != chosen)
    at = 0
    syllables = []
    for part, stress in zip(chosen.syllables, chosen.stress, strict=True):
        syllables.append(Syl(marks.letters[at : at + len(part)], 0, stress))
        at += len(part)
    return Word(
        text=marks.letters,
        syllables=tuple(syllables),
        source=chosen.source,
        alternatives=alternatives,
        line=token.line,
        column=token.column,
        before=token.before,
        after=token.after,
        marked=token.marked,
        bar=token.bar,
        keep=token.keep,
        verse_start=token.verse_start,
        rubric=token.rubric,
        fixed=fixed,
    )


def _in_context(
    word: str, options: Sequence[Reading], previous: Word | None, lists: Lists
) -> Reading:
    own = lists.words.get(word)
    if own is None or previous is None or previous.after or previous.bar:
        return options[0]
    before = key(previous.text)
    wanted: Written | None = None
    if own.finite is not None and lists.is_a(before, "finite_sign"):
        wanted = own.finite
    elif own.verb is not None and lists.is_a(before, "verb_sign"):
        wanted = own.verb
    if wanted is None:
        return options[0]
    return Reading(wanted.syllables, wanted.stress, own.source)


def _ends(parts: Sequence[str]) -> list[int]:
    out, at = [], 0
    for part in parts:
        at += len(part)
        out.append(at)
    return out


def _holding(parts: Sequence[str], letter: int) -> int:
    """Which part holds a letter."""
    return next((i for i, end in enumerate(_ends(parts)) if letter < end), len(parts) - 1)


def _told(marks: _Marked, chosen: Reading, options: Sequence[Reading]) -> Reading:
    """Lay the teacher's marks over a reading."""
    word = marks.plain
    parts, stress = chosen.syllables, chosen.stress
    if marks.acutes and not marks.dots:
        for option in (chosen, *options):
            if option.stress[_holding(option.syllables, marks.acutes[0])] == 1:
                parts, stress = option.syllables, option.stress
                break
    if marks.dots:
        parts, stress = _dotted(word, marks.dots, options)
    elif marks.grave is not None and word.endswith("ed") and marks.grave == len(word) - 2:
        parts, stress = _sounded(word, parts, stress)
    if marks.joins and not marks.dots:
        parts, stress = _joined(parts, stress, marks.joins)
    if marks.grave is not None and not (word.endswith("ed") and marks.grave == len(word) - 2):
        at = _holding(parts, marks.grave)
        stress = (*stress[:at], 0, *stress[at + 1 :])
    if marks.acutes:
        strong = {_holding(parts, a) for a in marks.acutes}
        stress = tuple(1 if i in strong else (0 if s == 1 else s) for i, s in enumerate(stress))
    return replace(chosen, syllables=tuple(parts), stress=tuple(stress), source="teacher")


def _dotted(
    word: str, dots: Sequence[int], options: Sequence[Reading]
) -> tuple[tuple[str, ...], tuple[int, ...]]:
    parts = pieces(word, [d for d in dots if 0 < d < len(word)])
    for option in options:
        if len(option.syllables) == len(parts):
            return parts, option.stress
    best = options[0]
    code, _ = code_of(Written(best.syllables, best.stress))
    strong = code.find("1")
    at = _holding(parts, strong) if strong >= 0 else 0
    return parts, tuple(1 if i == at else 0 for i in range(len(parts)))


def _sounded(
    word: str, parts: Sequence[str], stress: Sequence[int]
) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """Make the -ed at the end a syllable of its own."""
    last = parts[-1]
    if last.endswith("ed") and len(last) <= 3 and len(parts) > 1:
        return tuple(parts), tuple(stress)
    code, forced = code_of(Written(tuple(parts), tuple(stress)))
    at = len(word) - 2
    code = code[:at] + "0" + code[at + 1 :]
    doubled = word[at - 1] == word[at - 2] and word[at - 1] not in "slfz"
    found = cuts(word, code, forced | {at - 1 if doubled else at})
    new = pieces(word, found)
    return new, (*stress, *([0] * (len(new) - len(stress))))


def _joined(
    parts: Sequence[str], stress: Sequence[int], joins: Sequence[int]
) -> tuple[tuple[str, ...], tuple[int, ...]]:
    own, levels = list(parts), list(stress)
    for join in joins:
        if len(own) < 2:
            break
        ends = _ends(own)[:-1]
        at = min(range(len(ends)), key=lambda i: abs(ends[i] - join))
        own[at : at + 2] = [own[at] + own[at + 1]]
        pair = levels[at : at + 2]
        levels[at : at + 2] = [1 if 1 in pair else max(pair)]
    return tuple(own), tuple(levels)
