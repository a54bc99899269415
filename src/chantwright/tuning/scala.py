"""Scala tuning files: a scale as ``.scl`` text and its place on a keyboard as ``.kbm`` text.

Both are public plain-text formats. Lines that begin with ``!`` are comments. A ``.scl`` text gives
a description, the number of notes, then one pitch a line above the first note, which is not
written: with a dot it is cents (``1200.``), otherwise a ratio (``2/1``, or ``2``). What follows a
pitch on its line is ignored. A ``.kbm`` text gives seven numbers (size of the pattern, first and
last key, key of the scale's first note, reference key, its frequency in Hz, degree of the formal
octave) and then the pattern: a degree of the scale, or ``x``, for each key. Key 60 is middle c,
here ni.

Cents are written with 5 decimals. Read back, a pitch given in cents that lies within half of the
fifth decimal of a simple fraction of a morion is taken as that fraction, so that our own scales
come back exact.

References
----------
The format descriptions that come with the public Scala archive of scales.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from chantwright.errors import ChantError, Where
from chantwright.tuning.names import degree_name
from chantwright.tuning.scale import CENTS_PER_MORION, DIATONIC_PLACES, Scale

__all__ = ["Keyboard", "dump_kbm", "dump_scl", "key_hz", "keyboard_for", "load_kbm", "load_scl"]

_HALF = Fraction(5, 10**6)
_SIMPLE = 102  # denominators of a morion that a table of scales may hold: 17ths and their like
_WHITE = (0, 2, 4, 5, 7, 9, 11)
_MIDDLE = 60
_LAST_KEY = 127


def _pitch_text(moria: Fraction) -> str:
    if moria == 72:
        return "2/1"
    text = f"{float(moria * CENTS_PER_MORION):.5f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def dump_scl(
    scale: Scale,
    *,
    description: str = "",
    ratios: bool = False,
    lowest: int | None = None,
    highest: int | None = None,
) -> str:
    """Write a scale as ``.scl`` text.

    Parameters
    ----------
    scale : Scale
        The scale, with any colouring laid over it.
    description : str
        Its second line; made of its kind and steps when empty.
    ratios : bool
        Write the source's ratios, not the rounded steps.
    lowest, highest : int, optional
        Degrees to write; one span from the scale's start when left out. A longer stretch shows
        what a single span cannot: wheels and colourings beyond it.

    Returns
    -------
    str
        Lines with a newline at the end.

    Raises
    ------
    ChantError
        If the stretch is empty, or no ratios are known for it.
    """
    low = scale.start if lowest is None else lowest
    high = low + len(scale.steps) if highest is None else highest
    if high <= low:
        raise ChantError(
            "there is no note to write.", remedy="Give a highest note above the lowest."
        )
    if ratios:
        if not scale.ratios:
            raise ChantError(
                f"no ratios are known for the scale “{scale.id}”.", remedy="Write it in cents."
            )
        if scale.moved or (low, high) != (scale.start, scale.start + len(scale.steps)):
            raise ChantError(
                "ratios are known for one span of the plain scale only, from "
                f"{degree_name(scale.start)}.",
                remedy="Write it in cents, or without a colouring and from its own first note.",
            )
        product = Fraction(1)
        pitches = []
        for ratio in scale.ratios:
            product *= ratio
            pitches.append(f"{product.numerator}/{product.denominator}")
    else:
        floor = scale.moria(low)
        pitches = [_pitch_text(scale.moria(d) - floor) for d in range(low + 1, high + 1)]
    head = (
        description.lstrip("! ") or f"{scale.genus}, from {degree_name(low)} to {degree_name(high)}"
    )
    lines = [f"! {scale.id}.scl", "!", " ".join(head.split()), f" {len(pitches)}", "!"]
    return "\n".join([*lines, *(f" {p}" for p in pitches)]) + "\n"


def _lines(text: str) -> Iterator[tuple[int, str]]:
    for number, line in enumerate(text.removeprefix("\ufeff").splitlines(), start=1):
        if not line.startswith("!"):
            yield number, line


def _bad(what: str, remedy: str, file: str, line: int, word: str = "") -> ChantError:
    return ChantError(what, where=Where(file, line, 0, word), remedy=remedy)


def _exact(cents: Fraction) -> Fraction:
    """The simple fraction of a morion that these cents stand for, or the cents as moria."""
    moria = cents / CENTS_PER_MORION
    near = moria.limit_denominator(_SIMPLE)
    return near if abs(near - moria) * CENTS_PER_MORION <= _HALF else moria


def _pitch(line: str, file: str, number: int) -> tuple[Fraction, Fraction | None]:
    """Moria of one pitch line, and its ratio where it is one."""
    word = (line.split(maxsplit=1) or [""])[0]
    if re.fullmatch(r"[+-]?([0-9]{1,9}\.[0-9]{0,30}|\.[0-9]{1,30})", word):
        return _exact(Fraction(word)), None
    if found := re.fullmatch(r"\+?([0-9]{1,18})(?:/([0-9]{1,18}))?", word):
        over, under = int(found[1]), int(found[2] or 1)
        if over and under:
            moria = 72 * (math.log2(over) - math.log2(under))
            exact = Fraction(moria).limit_denominator(10**12)
            return exact, Fraction(over, under)
    raise _bad(
        f"“{word}” is no pitch.",
        "Write cents with a dot (200.0) or a ratio (9/8).",
        file,
        number,
        word,
    )


def load_scl(text: str, *, id: str = "", file: str = "", start: int = 0) -> Scale:
    """Read ``.scl`` text.

    Parameters
    ----------
    text : str
        The text.
    id : str
        Name of the scale; its description when empty.
    file : str
        Name used in errors.
    start : int
        Degree on which its first note falls, ni when left out.

    Returns
    -------
    Scale
        With its ratios where every pitch is given as one.

    Raises
    ------
    ChantError
        With the line: a wrong number of notes, a word that is no pitch, notes out of order.
    """
    lines = list(_lines(text))
    if len(lines) < 2:
        raise _bad(
            "this is no Scala scale: it needs a description and a number of notes.",
            "The first line is the description, the second the number of notes.",
            file,
            lines[-1][0] if lines else 0,
        )
    (_, head), (count_line, count_text), *rest = lines
    word = count_text.split()[0] if count_text.split() else ""
    if not re.fullmatch(r"[0-9]{1,4}", word) or int(word) == 0:
        raise _bad(
            f"“{word}” is no number of notes.", "Write a number such as 7.", file, count_line, word
        )
    count = int(word)
    pitches = [(n, line) for n, line in rest if line.strip()]
    if len(pitches) < count:
        raise _bad(
            f"it says {count} notes but gives {len(pitches)}.",
            "Mend the number, or add the missing pitches.",
            file,
            count_line,
        )
    steps: list[Fraction] = []
    ratios: list[Fraction] = []
    place, product = Fraction(0), Fraction(1)
    for number, line in pitches[:count]:
        moria, ratio = _pitch(line, file, number)
        if moria <= place:
            raise _bad(
                "this pitch is not higher than the one before it.",
                "Put the pitches in rising order.",
                file,
                number,
                line.split()[0],
            )
        steps.append(moria - place)
        place = moria
        if ratio is not None:
            ratios.append(ratio / product)
            product = ratio
    octave, step = divmod(start, 7)
    return Scale(
        id=id or head.strip() or "scale",
        genus=head.strip() or "from a Scala file",
        system="scala",
        start=start,
        origin=Fraction(DIATONIC_PLACES[step] + 72 * octave),
        steps=tuple(steps),
        repeat="octave" if place == 72 else "span",
        ratios=tuple(ratios) if len(ratios) == count else (),
        conf="high",
        src=(file,) if file else (),
    )


@dataclass(frozen=True, slots=True)
class Keyboard:
    """How the notes of a scale lie on a keyboard.

    Attributes
    ----------
    pattern : tuple of int or None
        Degree of the scale (0 = its first note) for each key of the pattern; None is a key left
        silent. Empty: every key takes the next note.
    first, last : int
        Lowest and highest key that sounds.
    middle : int
        Key on which the pattern begins.
    reference, hz : int, float
        A key and its frequency.
    octave : int
        Degree after which the pattern is repeated.
    """

    pattern: tuple[int | None, ...]
    first: int
    last: int
    middle: int
    reference: int
    hz: float
    octave: int


def _white_key(degree: int) -> int:
    octave, step = divmod(degree, 7)
    return _MIDDLE + 12 * octave + _WHITE[step]


def keyboard_for(scale: Scale, *, base_degree: int, base_hz: float) -> Keyboard:
    """Lay a scale on the keyboard: seven-note scales on the white keys, others key by key.

    Parameters
    ----------
    scale : Scale
        The scale.
    base_degree, base_hz : int, float
        Degree and frequency of the base; its key becomes the reference.

    Returns
    -------
    Keyboard
        With ni on middle c.
    """
    size = len(scale.steps)
    middle = _white_key(scale.start)
    if size != 7:
        return Keyboard((), 0, 127, middle, middle + base_degree - scale.start, base_hz, size)
    keys = {_white_key(scale.start + i) - middle: i for i in range(7)}
    pattern = tuple(keys.get(k) for k in range(12))
    return Keyboard(pattern, 0, 127, middle, _white_key(base_degree), base_hz, 7)


def key_hz(scale: Scale, keyboard: Keyboard, key: int) -> float | None:
    """Frequency of a key in Hz; None where the key is silent.

    Raises
    ------
    ChantError
        If the reference key itself is silent.
    """

    def place(at: int) -> Fraction | None:
        if not keyboard.pattern:
            return scale.moria(scale.start + at - keyboard.middle)
        turns, within = divmod(at - keyboard.middle, len(keyboard.pattern))
        note = keyboard.pattern[within]
        if note is None:
            return None
        return scale.moria(scale.start + note + turns * keyboard.octave)

    reference = place(keyboard.reference)
    if reference is None:
        raise ChantError(
            f"the reference key {keyboard.reference} is silent.", remedy="Choose a key that sounds."
        )
    found = place(key) if keyboard.first <= key <= keyboard.last else None
    return None if found is None else keyboard.hz * 2.0 ** float((found - reference) / 72)


def dump_kbm(keyboard: Keyboard, *, name: str = "keyboard") -> str:
    """Write a keyboard as ``.kbm`` text."""
    rows: Sequence[tuple[str, object]] = (
        ("size of the pattern", len(keyboard.pattern)),
        ("first key", keyboard.first),
        ("last key", keyboard.last),
        ("key of the first note of the scale", keyboard.middle),
        ("reference key", keyboard.reference),
        ("its frequency in Hz", f"{keyboard.hz:.6f}"),
        ("degree of the formal octave", keyboard.octave),
    )
    lines = [f"! {name}.kbm"]
    for label, value in rows:
        lines += [f"! {label}", str(value)]
    lines.append("! degree of the scale for each key, x = silent")
    lines += ["x" if d is None else str(d) for d in keyboard.pattern]
    return "\n".join(lines) + "\n"


_HEAD = ("size", "first key", "last key", "middle key", "reference key", "frequency", "octave")


def load_kbm(text: str, *, file: str = "") -> Keyboard:
    """Read ``.kbm`` text.

    Raises
    ------
    ChantError
        With the line: a missing number, or a word that is none.
    """
    lines = [(n, line.split()[0]) for n, line in _lines(text) if line.split()]
    if len(lines) < len(_HEAD):
        raise _bad(
            f"this keyboard file has no {_HEAD[len(lines)]}.",
            "It needs seven numbers before the pattern.",
            file,
            lines[-1][0] if lines else 0,
        )
    values: list[float] = []
    for label, (number, word) in zip(_HEAD, lines, strict=False):
        whole = label != "frequency"
        form = r"[0-9]{1,4}" if whole else r"[0-9]{1,9}(\.[0-9]*)?|\.[0-9]+"
        value = float(word) if re.fullmatch(form, word) else -1.0
        if value < 0 or (label.endswith("key") and value > _LAST_KEY) or (value == 0 and not whole):
            raise _bad(
                f"“{word}” is no {label}.",
                "Write a key from 0 to 127." if label.endswith("key") else "Write a number.",
                file,
                number,
                word,
            )
        values.append(value)
    size, first, last, middle, reference, hertz, octave = values
    pattern: list[int | None] = []
    for number, word in lines[len(_HEAD) :][: int(size)]:
        if word.lower() != "x" and not re.fullmatch(r"[0-9]{1,4}", word):
            raise _bad(
                f"“{word}” is no degree of the scale.", "Write a number or x.", file, number, word
            )
        pattern.append(None if word.lower() == "x" else int(word))
    pattern += [None] * (
        int(size) - len(pattern)
    )  # the format lets silent keys at the end be left out
    return Keyboard(
        tuple(pattern), int(first), int(last), int(middle), int(reference), hertz, int(octave)
    )
