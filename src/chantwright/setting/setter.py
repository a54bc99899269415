"""Words set to the formulas of a tone: the whole of it, from a divided hymn to a sung one.

`set_hymn` takes a hymn whose words are divided into syllables with their stresses, and gives it a
melody, an ison and the written attractions; every note can be traced to the formula it comes from,
and every awkwardness that was accepted is named with its price.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

from chantwright.errors import ChantError, Where
from chantwright.score import Hymn, Note, Phrase, Syllable, number
from chantwright.score.model import Ending
from chantwright.setting.account import account, sums
from chantwright.setting.book import Book, Books
from chantwright.setting.choice import Choice, Fixed, Planned, Task
from chantwright.setting.codes import codes_of
from chantwright.setting.ison import lay_ison
from chantwright.setting.line import Frame, Prices
from chantwright.setting.parallel import answered, bare_words
from chantwright.setting.plan import best_plans, phrase_options
from chantwright.tones import Branch, Tones
from chantwright.tones import bends as bends_of

__all__ = ["STYLES", "Figure", "Setting", "prices_of", "set_hymn", "set_phrase"]

STYLES = ("hymn", "verses")
_FULL_STOPS = ".;:!?"
_BEYOND = 4.0
"""Price of a note beyond a compass that was asked for."""
_MOST_SYLLABLES = 64
"""Of a phrase: nobody sings more in a breath, and the search through more takes minutes."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A formula where it was used.

    Attributes
    ----------
    formula, role : str
        Its id and role.
    first, last : int
        First and last syllable it covers, counted from 0 within the phrase.
    terms : tuple of (str, float)
        What is awkward inside it, each with its price.
    slots : tuple of int
        For each of its syllables the slot of the formula.
    """

    formula: str
    role: str
    first: int
    last: int
    terms: tuple[tuple[str, float], ...] = ()
    slots: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Setting:
    """One way to set a hymn.

    Attributes
    ----------
    hymn : Hymn
        With its melody and ison; ids of phrases and syllables as they came.
    figures : tuple of tuple of Figure
        For each phrase the formulas it is made of; none where the teacher's melody was kept.
    cost : float
        The whole price; lower is better, and only settings of the same words compare.
    terms : tuple of tuple of (str, float)
        For each phrase what was paid for, by name.
    plan : tuple of Planned
        What it was made from, phrase by phrase; empty where it was made elsewhere.
    answers : tuple of (int or None, str)
        For each phrase the place of the one whose music it takes up, and why.
    """

    hymn: Hymn
    figures: tuple[tuple[Figure, ...], ...]
    cost: float
    terms: tuple[tuple[tuple[str, float], ...], ...]
    plan: tuple[Planned, ...] = field(default=(), compare=False, repr=False)
    answers: tuple[tuple[int | None, str], ...] = ()


def _where(phrase: Phrase) -> Where:
    return Where(word=phrase.words[:40])


def _divided(hymn: Hymn) -> None:
    if not hymn.phrases:
        raise ChantError("the hymn has no words.", remedy="Write at least one line of words.")
    for phrase in hymn.phrases:
        if not phrase.syllables:
            raise ChantError(
                "these words are not divided into syllables yet.",
                where=_where(phrase),
                remedy="Divide the words first (chantwright.words.divide), then set them.",
            )


def _branch(hymn: Hymn, tones: Tones, books: Books) -> tuple[Branch, Book]:
    if hymn.branch:
        branch = tones.branch(hymn.branch)
        return branch, books.book(branch.id)
    if hymn.tone is None:
        raise ChantError("the hymn has no tone.", remedy="Write a line such as “tone: 2”.")
    branch = tones.default_branch(hymn.tone, hymn.style or "heirmologic")
    return branch, books.book(branch.id)


def _role(phrase: Phrase, *, last: bool, ending: Ending) -> str:
    if last:
        return "long" if ending == "long" or phrase.cadence == "long" else "final"
    if phrase.cadence is not None:
        return "final" if phrase.cadence == "long" else phrase.cadence
    text = phrase.syllables[-1].text.rstrip("'’\"”) ")
    return "full" if text and text[-1] in _FULL_STOPS else "medial"


def _fixed(phrase: Phrase, peak: int | None) -> Fixed:
    degrees = [n.degree for s in phrase.syllables for n in s.notes]
    top = max(degrees)
    peak_top = top if peak is None else max(n.degree for n in phrase.syllables[peak].notes)
    return Fixed(degrees[0], degrees[-1], frozenset(degrees), top, peak_top)


def _halved(hymn: Hymn) -> Hymn:
    """Give the half close to every phrase that ends on the colon, the middle of a psalm verse."""
    phrases = tuple(
        replace(p, cadence="medial")
        if p.cadence == "full" and p.syllables and p.syllables[-1].text.rstrip().endswith(":")
        else p
        for p in hymn.phrases
    )
    return replace(hymn, phrases=phrases)


def _peak(phrase: Phrase) -> int | None:
    """Syllable that carries the marked word: its main stress, else its first."""
    if not phrase.peak:
        return None
    wanted = bare_words(replace(phrase, syllables=(), text=phrase.peak))
    words: list[list[int]] = []
    for place, syllable in enumerate(phrase.syllables):
        if syllable.place in ("single", "begin") or not words:
            words.append([])
        words[-1].append(place)
    for word in words:
        text = "".join(phrase.syllables[i].text for i in word)
        if bare_words(Phrase(text=text)) == wanted:
            return next((i for i in word if phrase.syllables[i].stress == 1), word[0])
    raise ChantError(
        f"the marked word “{phrase.peak}” is not in this phrase.",
        where=_where(phrase),
        remedy="Write a word of the phrase after “peak:”.",
    )


def _kept(hymn: Hymn, locked: Collection[str] | None) -> frozenset[str]:
    """Ids of the phrases whose melody stays."""
    if locked is None:
        return frozenset() if hymn.is_set else frozenset(p.id for p in hymn.phrases if p.is_set)
    names = {p.id: p for p in hymn.phrases}
    for name in locked:
        if name not in names:
            raise ChantError(
                f"there is no phrase “{name}” to keep.", remedy=f"Phrases: {', '.join(names)}."
            )
        if not names[name].is_set:
            raise ChantError(
                "a phrase without a melody cannot be kept as it is.",
                where=_where(names[name]),
                remedy="Write its notes first, or let it be set.",
            )
    return frozenset(locked)


def _tasks(hymn: Hymn, kept: frozenset[str], ending: Ending, light: frozenset[str]) -> list[Task]:
    tasks = []
    end = len(hymn.phrases) - 1
    peaks = [_peak(p) for p in hymn.phrases]
    marked = [i for i, p in enumerate(peaks) if p is not None]
    if len(marked) > 1:
        raise ChantError(
            "two words of this hymn are marked as its peak.",
            where=_where(hymn.phrases[marked[1]]),
            remedy="Mark one word only.",
        )
    likes = answered(hymn.phrases)
    for place, phrase in enumerate(hymn.phrases):
        if len(phrase.syllables) > _MOST_SYLLABLES:
            raise ChantError(
                f"a phrase of {len(phrase.syllables)} syllables is far too long to be sung.",
                where=_where(phrase),
                remedy="Divide it with a bar | where the singers breathe.",
            )
        role = _role(phrase, last=place == end, ending=ending)
        whole = [s.text if s.place == "single" else "" for s in phrase.syllables]
        tasks.append(
            Task(
                codes_of([s.stress for s in phrase.syllables], whole, light),
                role,
                bound=role in ("final", "long"),
                fixed=_fixed(phrase, peaks[place]) if phrase.id in kept else None,
                like=likes[place][0],
                kind=likes[place][1],
                peak=peaks[place],
            )
        )
    return tasks


def _sung(
    phrase: Phrase, notes: Sequence[tuple[Note, ...]], tones: Tones, branch: Branch, level: str
) -> Phrase:
    line = [n.degree for part in notes for n in part]
    bent = iter(bends_of(tones, branch, line, level))
    syllables: list[Syllable] = []
    for syllable, part in zip(phrase.syllables, notes, strict=True):
        own = tuple(replace(n, bend=next(bent)) for n in part)
        syllables.append(replace(syllable, notes=own))
    return replace(phrase, syllables=tuple(syllables))


def _figures(choice: Choice, prices: Prices) -> tuple[Figure, ...]:
    if choice.line is None:
        return ()
    figures = []
    at = 0
    for piece in choice.line.pieces:
        end = at + len(piece.sung) - 1
        own = {"weight": piece.formula.weight, "liking": piece.formula.liking}
        total: dict[str, float] = {name: price for name, price in own.items() if price}
        for _, term in piece.terms:
            total[term] = total.get(term, 0.0) + prices[term]
        figures.append(
            Figure(
                piece.formula.id,
                piece.formula.role,
                at,
                end,
                tuple(sorted(total.items())),
                piece.slots,
            )
        )
        at = end + 1
    return tuple(figures)


def _under_figures(hymn: Hymn, plan: Sequence[Planned]) -> Hymn:
    """Lay the ison that a formula row itself asks for."""
    phrases = []
    for phrase, planned in zip(hymn.phrases, plan, strict=True):
        line = planned.choice.line
        if line is None or not any(p.formula.ison for p in line.pieces):
            phrases.append(phrase)
            continue
        asked = [
            p.formula.ison[slot % len(p.formula.ison)] if p.formula.ison else None
            for p in line.pieces
            for slot in p.slots
        ]
        syllables = tuple(
            s if a is None else replace(s, ison=a)
            for s, a in zip(phrase.syllables, asked, strict=True)
        )
        phrases.append(replace(phrase, syllables=syllables))
    return replace(hymn, phrases=tuple(phrases))


def _setting(job: _Job, plan: Sequence[Planned], tones: Tones, *, ison: str, bends: str) -> Setting:
    hymn, branch, book, prices, kept = job.hymn, job.branch, job.book, job.prices, job.kept
    phrases = tuple(
        phrase
        if p.choice.line is None
        else _sung(phrase, p.choice.line.notes, tones, branch, bends)
        for phrase, p in zip(hymn.phrases, plan, strict=True)
    )
    done = replace(
        hymn,
        phrases=phrases,
        melody_kind="rule",
        melody_source=hymn.melody_source
        if kept and hymn.melody_source
        else f"formulas of tone {book.tone} ({book.id}), {', '.join(book.src)}",
    )
    laid = lay_ison(done, branch, ison, keep=frozenset())
    laid = replace(
        laid,
        phrases=tuple(
            old if old.id in kept and any(s.ison is not None for s in old.syllables) else new
            for old, new in zip(hymn.phrases, laid.phrases, strict=True)
        ),
    )
    if ison == "moving":
        laid = _under_figures(laid, plan)
    terms = tuple(
        (*(sums(account(p.choice.line, prices)) if p.choice.line is not None else ()), *p.terms)
        for p in plan
    )
    cost = sum(price for part in terms for _, price in part)
    figures = tuple(_figures(p.choice, prices) for p in plan)
    answers = tuple((t.like, t.kind) for t in job.tasks)
    return Setting(laid, figures, cost, terms, tuple(plan), answers)


@dataclass(frozen=True, slots=True)
class _Job:
    """A hymn made ready to be set."""

    hymn: Hymn
    branch: Branch
    book: Book
    tasks: tuple[Task, ...]
    prices: Prices
    frame: Frame
    kept: frozenset[str]


def prices_of(books: Books, style: str = "heirmologic") -> dict[str, float]:
    """Prices by name in a style (``verses`` for psalm verses), as the search wants them."""
    return {w.id: w.price(style) for w in books.weights.values()}


def _job(
    hymn: Hymn,
    tones: Tones,
    books: Books,
    ending: Ending | None,
    locked: Collection[str] | None,
    style: str | None,
    compass: tuple[int, int] | None,
) -> _Job:
    _divided(hymn)
    if style not in (None, *STYLES):
        raise ChantError(
            f"“{style}” is not a way of setting.", remedy=f"Use {' or '.join(STYLES)}."
        )
    branch, book = _branch(hymn, tones, books)
    verses = style == "verses" or (style is None and branch.style == "verses")
    if verses and not book.role("vfin"):
        raise ChantError(
            f"the book {book.id} has no formulas for psalm verses.",
            remedy="Choose another branch, or set the words as a hymn.",
        )
    if compass is not None and compass[1] - compass[0] < 3:
        raise ChantError(
            "a compass of less than a fourth is too narrow for any hymn.",
            remedy="Give a lower lowest note or a higher highest one.",
        )
    closing: Ending = ending or hymn.ending
    whole = number(
        replace(
            hymn,
            tone=branch.tone,
            branch=branch.id,
            style=branch.style,
            ending=closing,
            intonation=hymn.intonation or branch.intonation,
        )
    )
    if verses:
        whole = _halved(whole)
    kept = _kept(whole, locked)
    tasks = _tasks(whole, kept, "ordinary" if verses else closing, books.light)
    prices = prices_of(books, "verses" if verses else branch.style)
    if compass is not None:
        prices["compass"] = max(prices["compass"], _BEYOND)
    starts = (branch.base, *branch.dominating)
    frame = Frame(branch.base, True, starts, compass or branch.usual, verses)
    return _Job(whole, branch, book, tuple(tasks), prices, frame, kept)


def set_hymn(
    hymn: Hymn,
    tones: Tones,
    books: Books,
    *,
    count: int = 1,
    ison: str = "simple",
    ending: Ending | None = None,
    bends: str = "beginner",
    locked: Collection[str] | None = None,
    style: str | None = None,
    compass: tuple[int, int] | None = None,
) -> list[Setting]:
    """Set a hymn's words to the formulas of its tone.

    Parameters
    ----------
    hymn : Hymn
        Divided, with a tone or a branch.
    tones : Tones
        The tones.
    books : Books
        The formula books.
    count : int
        How many different settings are wanted. Fewer come when the words allow no more.
    ison : str
        ``simple`` or ``moving`` (`chantwright.setting.ison`).
    ending : str, optional
        ``ordinary`` or ``long``; the hymn's own when left out.
    bends : str
        Attractions written into the melody: ``none``, ``beginner`` (zo only) or ``all``.
    locked : collection of str, optional
        Ids of phrases whose melody stays as it is; their neighbours adapt. When left out, phrases
        that have a melody stay, unless the whole hymn has one: then it is set anew.
    style : str, optional
        ``hymn``, or ``verses`` for psalm verses.
    compass : (int, int), optional
        Lowest and highest degree these singers have; a note beyond is taken only where no formula
        does without it. When left out, the usual compass of the branch is preferred.

    Returns
    -------
    list of Setting
        The cheapest first. The same call gives the same settings.

    Raises
    ------
    ChantError
        If the words are not divided, the tone is missing or unknown, there is no formula book for
        the branch, or an option is not understood.
    """
    if count < 1:
        raise ChantError("at least one setting must be asked for.", remedy="Use 1 or more.")
    job = _job(hymn, tones, books, ending, locked, style, compass)
    plans = best_plans(job.book, job.tasks, job.frame, job.branch.base, job.prices, count)
    return [_setting(job, p, tones, ison=ison, bends=bends) for p in plans]


def set_phrase(
    hymn: Hymn,
    phrase: str,
    tones: Tones,
    books: Books,
    *,
    count: int = 5,
    ison: str = "simple",
    bends: str = "beginner",
    style: str | None = None,
    compass: tuple[int, int] | None = None,
) -> list[Setting]:
    """Find different ways to sing one phrase of a hymn; the others stay exactly as they are.

    Parameters
    ----------
    hymn : Hymn
        Every other phrase has its melody.
    phrase : str
        Id of the phrase, such as ``p2``.
    tones, books, ison, bends, style, compass
        As in `set_hymn`.
    count : int
        How many ways are wanted.

    Returns
    -------
    list of Setting
        The cheapest first; each differs from the others in opening or cadence or, where there are
        not so many, in two syllables. `Setting.cost` counts this phrase and its neighbours' joins.

    Raises
    ------
    ChantError
        If there is no such phrase, or another one has no melody yet.
    """
    whole = number(hymn)
    names = [p.id for p in whole.phrases]
    if phrase not in names:
        raise ChantError(f"there is no phrase “{phrase}”.", remedy=f"Phrases: {', '.join(names)}.")
    if count < 1:
        raise ChantError("at least one setting must be asked for.", remedy="Use 1 or more.")
    job = _job(whole, tones, books, None, [n for n in names if n != phrase], style, compass)
    plans = phrase_options(
        job.book, job.tasks, job.frame, job.branch.base, job.prices, names.index(phrase), count
    )
    done = [_setting(job, p, tones, ison=ison, bends=bends) for p in plans]
    return [
        replace(
            d,
            hymn=replace(
                whole,
                phrases=tuple(
                    new if old.id == phrase else old
                    for old, new in zip(whole.phrases, d.hymn.phrases, strict=True)
                ),
            ),
        )
        for d in done
    ]
