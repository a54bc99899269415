"""From neumes back to notes: what a cluster says.

Nothing of the rules of spelling is used here: steps come from the table of signs of quantity, beats
from the signs of time. So what was written can be checked, and neumes that someone typed can be
read. The text form of a line is the clusters with spaces between, each its signs joined by ``+``:
``petaste+ison.above apostrophos+klasma.above``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from chantwright.engrave.neumes.model import Neume, NeumeScore, Sign, Sung
from chantwright.engrave.neumes.tables import PLACES, Form, Tables, load_tables
from chantwright.engrave.neumes.times import lengths
from chantwright.errors import ChantError, Where

__all__ = ["from_neumes", "neume_text", "read_neumes", "steps_and_beats"]


def neume_text(neumes: Iterable[Neume]) -> str:
    """Write neumes as a line of text."""
    return " ".join(map(str, neumes))


def read_neumes(text: str, tables: Tables | None = None) -> tuple[Neume, ...]:
    """Read a line of text, such as ``oligon+kentema.right apostrophos``.

    Raises
    ------
    ChantError
        If a sign or a place is not known; names the cluster.
    """
    tables = tables or load_tables()
    out = []
    for word in text.split():
        signs = []
        for piece in word.split("+"):
            name, _, place = piece.partition(".")
            if not tables.kind(name):
                raise ChantError(
                    f"there is no neume “{name}”.",
                    where=Where(word=word),
                    remedy="The names stand in the table of signs in the manual.",
                )
            if place and place not in PLACES:
                raise ChantError(
                    f"there is no place “{place}”.",
                    where=Where(word=word),
                    remedy=f"Places are: {', '.join(PLACES)}.",
                )
            signs.append(Sign(name, place or "base"))
        out.append(Neume(tuple(signs)))
    return tuple(out)


def _notes(neume: Neume, tables: Tables) -> list[tuple[int | None, int, str]]:
    """Steps, added beats and sign of a shared beat of each note in a cluster."""
    quantity: list[Sign] = []
    added, slow, part = 0, 0, ""
    signs = tables.rows["neume_sign"]
    rest = 0
    for one in neume.signs:
        row = signs[one.name]
        match row["kind"]:
            case "quantity":
                quantity.append(one)
            case "time":
                added += int(row["beats"])
            case "slow":
                slow = int(row["beats"])
            case "part":
                part = one.name
            case "rest":
                rest = int(row["beats"])
    if rest:
        return [(None, rest - 1, part)]
    form: Form | None = tables.by_signs.get(tuple(quantity))
    if form is None:
        raise ChantError(
            f"“{neume}” is no step that neumes can write.",
            where=Where(word=str(neume)),
            remedy="Put the base sign first and each other sign in its own place.",
        )
    if len(form.steps) == 1:
        return [(form.steps[0], added, part)]
    first, second = form.steps
    if slow:  # the first note has a gorgon's half, the second is held
        return [(first, 0, "gorgon"), (second, slow, "")]
    if form.implied:
        return [(first, 0, form.implied), (second, added, "")]
    # Over kentemata that follow an oligon the sign is theirs; over others it is the first note's.
    if form.signs[-1] == Sign("kentemata", "above"):
        return [(first, 0, ""), (second, added, part)]
    return [(first, 0, part), (second, added, "")]


def steps_and_beats(
    lines: Sequence[Sequence[Neume]], tables: Tables | None = None
) -> tuple[tuple[Sung, ...], ...]:
    """Read lines of neumes: for each line its notes and rests as steps and beats.

    Raises
    ------
    ChantError
        If a cluster cannot be read, or a shared beat has nothing to share.
    """
    tables = tables or load_tables()
    found = [[n for neume in line for n in _notes(neume, tables)] for line in lines]
    held = lengths([(added, part) for line in found for _, added, part in line], tables)
    out, at = [], 0
    for line in found:
        sung: list[Sung] = []
        for step, _, _ in line:
            beats = held[at]
            at += 1
            if step is None and sung and sung[-1].step is None:
                sung[-1] = Sung(None, sung[-1].beats + beats)
            else:
                sung.append(Sung(step, beats))
        out.append(tuple(sung))
    return tuple(out)


def from_neumes(score: NeumeScore, tables: Tables | None = None) -> tuple[tuple[Sung, ...], ...]:
    """Read a hymn's neumes: for each phrase its notes and rests as steps and beats.

    The rest that only fills up the last beat is left out. Errors are those of `steps_and_beats`.
    """
    out = list(steps_and_beats([line.neumes for line in score.lines], tables))
    if score.pad and out:
        *notes, rest = out[-1]
        left = rest.beats - score.pad
        out[-1] = (*notes, Sung(None, left)) if left > 0 else tuple(notes)
    return tuple(out)
