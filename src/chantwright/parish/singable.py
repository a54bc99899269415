"""From a hymn file to a hymn that can be sung: divided, set, with its ison, at a pitch."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from chantwright.errors import ChantError
from chantwright.parish.pitch import PitchChoice, choose_base
from chantwright.parish.singers import Singer
from chantwright.score import Hymn, called, titled
from chantwright.setting import Books, Setting, load_books, set_hymn
from chantwright.tones import Tones, load_tones
from chantwright.words import divide

__all__ = ["Knowledge", "Singable", "load_knowledge", "make_singable", "set_words"]


_MOST = 200
_before: OrderedDict[tuple[Hymn, str, int], tuple[Knowledge, tuple[Setting, ...]]] = OrderedDict()
"""Settings found before with the same knowledge, newest last: one edit sets one hymn anew."""
_turn = threading.Lock()


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything that is known of the tones, ours with the parish's own rows over it."""

    tones: Tones
    books: Books
    overrides: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class Singable:
    """A hymn ready to sing.

    Attributes
    ----------
    hymn : Hymn
        Set and pitched.
    setting : Setting or None
        How the setter came to it; None where the teacher's own melody was kept.
    pitch : PitchChoice or None
        How the base was chosen; None where the hymn file already said it.
    """

    hymn: Hymn
    setting: Setting | None
    pitch: PitchChoice | None


def load_knowledge(overrides: Sequence[Path] = ()) -> Knowledge:
    """Load tones and formula books.

    Parameters
    ----------
    overrides : sequence of Path
        The parish's own data files.
    """
    own = tuple(overrides)
    return Knowledge(load_tones(own), load_books(own), own)


def with_tone(hymn: Hymn, tone: int | None) -> Hymn:
    """Give a hymn its tone where its file does not say one.

    Raises
    ------
    ChantError
        If neither the file nor the service says a tone.
    """
    if hymn.tone is not None or hymn.branch is not None:
        return hymn
    if tone is None:
        raise ChantError(
            f"“{called(hymn)}” has no tone, and the service does not give it one.",
            remedy="Write a line such as “tone: 2” at the top of its file, or use --tone.",
        )
    return replace(hymn, tone=tone)


def set_words(
    hymn: Hymn, knowledge: Knowledge, *, ison: str = "simple", count: int = 1
) -> tuple[Setting, ...]:
    """Divide the words where they are not divided, and set them.

    Parameters
    ----------
    hymn : Hymn
        With a tone or a branch.
    knowledge : Knowledge
        Tones and books.
    ison : str
        simple or moving.
    count : int
        How many different settings to give, best first.
    """
    key = (hymn, ison, count)
    with _turn:
        known = _before.get(key)
        if known is not None and known[0] is knowledge:
            _before.move_to_end(key)
            return known[1]
    divided = divide(hymn, overrides=knowledge.overrides)
    made = tuple(set_hymn(divided, knowledge.tones, knowledge.books, count=count, ison=ison))
    with _turn:
        _before[key] = (knowledge, made)
        while len(_before) > _MOST:
            _before.popitem(last=False)
    return made


def make_singable(
    hymn: Hymn,
    knowledge: Knowledge,
    singers: Sequence[Singer],
    *,
    tone: int | None = None,
    ison: str = "simple",
) -> Singable:
    """Do whatever a hymn still lacks; without a title it is called by its first words.

    Parameters
    ----------
    hymn : Hymn
        Words alone, or with a melody already; a melody in the file is kept.
    knowledge : Knowledge
        Tones and books.
    singers : sequence of Singer
        For the pitch.
    tone : int, optional
        The service's tone, taken where the hymn does not say its own.
    ison : str
        simple or moving.
    """
    setting: Setting | None = None
    if not hymn.is_set:
        setting = set_words(with_tone(hymn, tone), knowledge, ison=ison)[0]
        hymn = setting.hymn
    elif hymn.branch is None:
        known = with_tone(hymn, tone)
        if known.tone is None:  # with_tone has raised by now; this is for the reader of the types
            raise ChantError("the hymn has no tone.")
        branch = knowledge.tones.default_branch(known.tone)
        hymn = replace(known, branch=branch.id)
    pitch: PitchChoice | None = None
    if hymn.base is None:
        pitch = choose_base(hymn, knowledge.tones, singers)
        hymn = replace(hymn, base=pitch.base)
    return Singable(titled(hymn), setting, pitch)
