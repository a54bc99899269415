"""Pasted text made ready to divide: what is not sung goes out, and everything is listed.

What comes out holds only words, punctuation, the teacher's marks (``| || ||| ~ · ‿ {}`` and
accents), single newlines at ends of lines and double ones between verses. Nothing is dropped in
silence: see `Tracked`.

References
----------
The defects handled are those of e-mail, word-processor and PDF pastes; common practice.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

from chantwright.words.layout import meant_line_ends, title_of
from chantwright.words.lexicon import Lists
from chantwright.words.tracked import Tracked

__all__ = ["LITERAL", "MARKS", "clean", "literal"]

LITERAL = 0xE000
"""A sign after a backslash is carried as this private code point plus its own."""
_AS_IT_IS = chr(LITERAL + ord("\\"))
"""A backslash before a word: sung as it stands, whatever it looks like."""
MARKS = "|~·‿{}*/\\[]()#¦•†‖&`"
"""Signs that are read as marks, or changed, unless a backslash stands before them."""
_SPACES = "\u00a0\u2000-\u200a\u202f\u205f\u3000\t"
_NOTHING = "\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2064\ufeff\ufe00-\ufe0f"
_LIGATURES = {
    "ﬀ": "ff", "ﬁ": "fi", "ﬂ": "fl", "ﬃ": "ffi", "ﬄ": "ffl", "ﬅ": "st", "ﬆ": "st",
    "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "ſ": "s",
}  # fmt: skip
_KEEP = "\\w\\s.,;:!?'\"“”‘’«»()\\[\\]{}|~·‿*/–—…\\-&;·\u0300-\u036f\ue000-\uf8ff"
_GREEK = "[\u0370-\u03ff\u1f00-\u1fff\u0300-\u036f’'᾽᾿]"
_TIMES = {"twice": 2, "thrice": 3, "three times": 3, "two times": 2, "four times": 4}
_MAX_REPEAT = 40
_SHAPES = {
    "initial": (r"WORDS\.(?=[ ])",),
    "opening": (r"WORDS(?:[ ]\d+)?[ ]?[.…]*:(?=[ \n])",),
    "numbered": (r"(?:the )?WORDS[ ]+(?:\d+[\d:, –-]*|[ivxlcdm]+)(?: \([\d:]+\))?[.:]?[ ]*$",),
    "alone": (r"WORDS[ ]?[.…:]*[ ]*$", r"WORDS[ ]?…[.:]?"),
}
"""Shapes of headings, by the ``kind`` of their row."""


def literal(text: str) -> str:
    """Turn carried literal signs back into themselves."""
    return "".join(chr(ord(c) - LITERAL) if LITERAL <= ord(c) < LITERAL + 256 else c for c in text)


def clean(raw: str, lists: Lists, known: Callable[[str], bool], language: str = "en") -> Tracked:
    """Clean a pasted text.

    Parameters
    ----------
    raw : str
        As pasted.
    lists : Lists
        For the headings.
    known : callable
        Whether a lower-case word is known; decides about hyphens.
    language : str
        ``en`` also turns small-capital LORD into Lord and mends hyphens.

    Returns
    -------
    Tracked
        The clean text with places and changes.
    """
    text = Tracked(raw.replace("\r\n", "\n").replace("\r", "\n").replace("\f", "\n\n"))
    _letters(text)
    _greek_signs(text)
    _rubrics(text, lists)
    _marks(text, known)
    _pages(text)
    if title := title_of(text.text):
        note = "sung as it stands; if it is a title, write “title: ” before it"
        text.note("title?", text.text.index(title), title, title, note)
    _line_ends(text)
    _numbers(text)
    _brackets(text)  # before the hyphens: one may stand beside a bracket
    if language == "en":
        _capitals(text)
        _hyphens(text, known)
    _strange(text)
    text.sub(r"(?<=\w)\s?--+\s?(?=\w)|(?<=\s)--+(?=\s)|(?<=[,;:.!?])--+", "—", "dash")
    return text


def _pages(t: Tracked) -> None:
    """Page numbers go with their line, so that no verse begins there."""
    note = "figures are not sung"
    t.sub(r"^[ ]*[-–—]+[ ]*\d+[ ]*[-–—]+[ ]*(?:\n|$)", "", "page number", note, flags=re.M)


def _greek_signs(t: Tracked) -> None:
    """Signs of Greek print: the raised dot is a stop, not a mark; the apostrophe of elision."""
    t.sub(rf"(?<={_GREEK})·(?![^\W\d_])", chr(LITERAL + ord("·")))
    t.sub("[᾽᾿]", "’", "apostrophe")


def _line_ends(t: Tracked) -> None:
    """Line ends that are meant become bars."""
    meant = set(meant_line_ends(t.text))

    def bar(found: re.Match[str]) -> str | None:
        if found.end() - 1 not in meant:
            return None
        before = t.text[: found.start()].rstrip("”’\"')]")
        return " ||\n" if before.endswith((".", ";", ":", "!", "?", "…")) else " |\n"

    t.sub(r"[ ]*\n", bar, "line end", "taken as the end of a phrase")


def _letters(t: Tracked) -> None:
    """Characters: composed accents, spaces, ligatures, invisible signs, backslashes."""
    t.sub("[\ue000-\uf8ff]", "", "unknown sign", "it cannot be sung", rubrics=True)
    t.sub(f"[{_NOTHING}]", "", "invisible sign", rubrics=True)
    t.sub(
        r"\\([^\w\s])",
        lambda m: chr(LITERAL + ord(m[1])) if ord(m[1]) < 256 else m[1],
        rubrics=True,
    )
    t.sub(r"\\(?=[^\W\d_])", _AS_IT_IS, rubrics=True)
    t.sub(r".[\u0300-\u036f]+", lambda m: unicodedata.normalize("NFC", m[0]), rubrics=True)
    accent = "it stands on no letter"
    t.sub(r"(?<![^\W\d_])(?<![\u0300-\u036f])[\u0300-\u036f]+", "", "stray mark", accent)
    t.sub("[\u2028\u2029\u0085\x0b]", "\n", "line end", rubrics=True)
    t.sub(
        f"(?!\t)[{_SPACES}]",
        " ",
        "special space",
        "a plain space now; write ~ where a phrase must not end",
        rubrics=True,
    )
    t.sub("\t", " ", rubrics=True)
    t.sub("|".join(_LIGATURES), lambda m: _LIGATURES[m[0]], "ligature", rubrics=True)
    t.sub("[`´ʼʹ′]", "’", "apostrophe", rubrics=True)
    t.sub(r"\.\.\.+|(?:\. ){2,}\.", "…", "dots")
    t.sub("[‐‑−]", "-", "hyphen sign")
    t.sub("•", "·", "middle dot")
    t.sub("[͜⁀﹏]", "‿", "undertie")
    t.sub("¦", "|", "phrase bar")


def _rubrics(t: Tracked, lists: Lists) -> None:
    """Headings and directions become rubrics in braces."""
    for row in lists.headings:
        words = "|".join(
            re.escape(w).replace(r"\ ", r"[ ,.…]+") for w in sorted(row.words, key=len)[::-1]
        )
        for shape in _SHAPES[row.kind]:
            t.sub(
                "^[ ]*" + shape.replace("WORDS", f"(?:{words})"),
                lambda m: "{" + m[0].strip() + "}",
                "heading",
                "printed in red, not sung",
                flags=re.M | re.I,
            )
    t.sub(
        r"\(([^()]{3,600}?)\)[ ]?(?:[x×][ ]?(\d+)|(\d+)[ ]?[x×])",
        _repeated,
        "repeat",
        "written out",
    )
    times = "|".join(_TIMES)
    t.sub(
        rf"\((?:{times}|\d+[ ]?[x×]|[x×][ ]?\d+|\d+ times|repeat|again)\)"
        r"|(?<![^\s.,;:!?])(?:[x×][ ]?\d+|\d+[ ]?[x×])(?=\s|$)",
        lambda m: "{" + m[0].strip("() ") + "}",
        "repeat",
        "printed in red; the words stand once",
        flags=re.I,
    )


def _repeated(found: re.Match[str]) -> str | None:
    count = int(found[2] or found[3])
    if not 1 <= count <= _MAX_REPEAT:
        return None
    words = found[1].strip()
    words = words if words[-1] in ".!?;:" else words + "."
    return " || ".join([words] * count) + " ||"


def _marks(t: Tracked, known: Callable[[str], bool]) -> None:
    """Phrase marks of other habits become bars."""
    t.sub(r"[ ]*(?://+|‖)", " ||", "phrase mark")
    t.sub(r"[ ]*(?:\*+|/|†)", " |", "phrase mark")
    t.sub(r"\|{4,}", "|||", "phrase mark")

    def inside(found: re.Match[str]) -> str | None:
        whole = (found[1] + found[3]).lower()
        return f"{found[1]}{found[3]} {found[2]}" if known(whole) else None

    t.sub(
        r"(?<![^\W\d_])([^\W\d_]+)(\|{1,3})([^\W\d_]+)",
        inside,
        "phrase bar inside a word",
        "moved after the word",
    )


def _numbers(t: Tracked) -> None:
    """Verse numbers begin a verse; other figures are not sung."""
    note = "figures are not sung"
    t.sub(r"^[ ]*\d+[ ]*$", "", "number", note, flags=re.M)
    t.sub(
        r"^[ ]*[(\[]?(?:\d{1,3}:)?\d{1,3}[a-d]?[)\].:]?(?:[ ]+|(?=[A-Za-z“\"'‘]))(?=\S)",
        lambda m: "\n" if t.text[: m.start()].strip() else "",
        "verse number",
        note,
        flags=re.M,
    )
    t.sub(
        r"(?<=[.,;:!?”’\"'])[ ]+[(\[]?(?:\d{1,3}:)?\d{1,3}[)\].]?[ ]+(?=[A-Za-z“\"'‘\[])",
        "\n\n",
        "verse number",
        note,
    )
    # superscripts: a verse number before a word, a footnote after one
    t.sub(r"(?<=[\w.,;:!?”’])[⁰¹²³⁴-⁹]+", "", "footnote mark", note)
    t.sub(r"[⁰¹²³⁴-⁹]+[ ]?", "\n\n", "verse number", note)
    t.sub(
        r"[(\[]\d+[)\]]|\d[\d:.,]*",
        "",
        "number",
        "figures are not sung; write the number as a word",
    )


def _all_capitals(line: str) -> bool:
    """Whether a line of several words is in capitals throughout, LORD apart."""
    rest = re.sub(r"\b(?:LORD|GOD|JEHOVAH|YAHWEH|JAH|O|I)\b", "", line)
    return rest.isupper()


def _capitals(t: Tracked) -> None:
    """LORD and GOD in small capitals are printed Lord and God."""
    line_note = "printed with one capital"

    loud = [m.span() for m in re.finditer(r"[^\n]+", t.text) if _all_capitals(m[0])]

    def one(found: re.Match[str]) -> str | None:
        if found[0][0] == _AS_IT_IS or any(a <= found.start() < b for a, b in loud):
            return None  # a whole line in capitals: the writer's own choice
        return found[0][0] + found[0][1:].lower()

    t.sub(
        _AS_IT_IS + r"?\b(?:L[OÓ]RD|GOD|JEHOVAH|YAHWEH|JAH)(?:['’]S)?\b",
        one,
        "small capitals",
        line_note,
    )
    t.sub(r"(?<!\w)&(?!\w)", "and", "sign")


def _hyphens(t: Tracked, known: Callable[[str], bool]) -> None:
    """Hyphens of line ends and of text that was divided already."""

    def ends(found: re.Match[str]) -> str | None:
        left, right = found[1], found[2]
        joined = (left + right).lower()
        if known(joined) or not (known(left.lower()) and known(right.lower())):
            return left + right + " "
        return f"{left}-{right} "

    t.sub(
        r"(?<!\w)(\w+)-[ ]*\n[ ]*(\w+)",
        lambda m: (ends(m) or "").rstrip(),
        "line-end hyphen",
        "check that it is one word",
    )
    # looking back keeps the search from starting anew at every letter of a word
    spaced = r"(?<![^\W\d_])[^\W\d_]+(?:[ ]?-{1,2}[ ]?[^\W\d_]+)+"
    divided = sum(
        _is_divided(re.split(r"[ -]+", m), known, sure=True) for m in re.findall(spaced, t.text)
    )

    def inside(found: re.Match[str]) -> str | None:
        parts = re.split(r"[ -]+", found[0])
        if _is_divided(parts, known, sure=divided < 2):
            return "".join(parts)
        if " " in found[0] or "--" in found[0]:
            loose = len(parts) > 2 and known("".join(parts).lower())
            return "".join(parts) if loose else None
        t.note("hyphen", found.start(), found[0], found[0], "kept as one word with its hyphen")
        return None

    t.sub(spaced, inside, "divided word", "joined; it is divided anew")


def _is_divided(parts: list[str], known: Callable[[str], bool], *, sure: bool) -> bool:
    low = [p.lower() for p in parts]
    if not known("".join(low)):
        return False
    return not sure or not all(len(p) > 2 and known(p) for p in low) or len(low) > 2


def _brackets(t: Tracked) -> None:
    """Square brackets mark supplied words, which are sung; round ones stay out of print."""
    t.sub(r"\[([^\[\]\n]*)\]", lambda m: m[1], "brackets", "supplied words are sung")
    t.sub(r"\(([^()]*)\)", lambda m: m[1], "brackets", "taken as sung; use { } for what is not")
    t.sub(r"[\[\]()]", "", "bracket")
    for found in re.finditer(r"\bSelah\b", t.text):
        note = "kept and sung; write {Selah} if it is only a direction"
        t.note("Selah", found.start(), found[0], found[0], note)


def _strange(t: Tracked) -> None:
    """Signs that are not part of any words."""
    t.sub(f"[^{_KEEP}]", "", "unknown sign", "it cannot be sung")
    t.sub(
        r"[^\W\d]",
        lambda m: None if m[0].isalpha() or LITERAL <= ord(m[0]) < LITERAL + 256 else "",
        "unknown sign",
        "it cannot be sung",
    )
    t.sub(r"(?<![^\W\d_-])[·‿]+|[·‿]+(?![^\W\d_])", "", "stray mark", "it stands in no word")
    accents = r"(?<![^\W\d_])(?<![\u0300-\u036f])[\u0300-\u036f]+"
    t.sub(accents, "", "stray mark", "it stands on no letter")
    t.sub(_AS_IT_IS + r"(?=[^\W\d_])", "")
    # a brace without its partner
    t.sub(r"\{(?![^{}]*\})|\}", "", "brace without its partner", "a rubric is written { ... }")
