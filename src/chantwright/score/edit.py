"""Edits: from a hymn to a new hymn.

Every edit is a pure function. It names what it changes by id, leaves all other ids as they are,
and gives a fresh id (see `number`) to what is new. A note's id counts its place in the syllable,
so putting a note in or taking one out moves the ids of the notes after it in that syllable, and
of no others. The result is checked (`validate`): an edit that would make an unsound hymn raises a
`ChantError` and changes nothing, as does an id that the hymn does not have.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from chantwright.errors import ChantError, Where
from chantwright.score.model import (
    Base,
    Cadence,
    Ending,
    Hymn,
    Ison,
    Note,
    Phrase,
    Place,
    Syllable,
)
from chantwright.score.places import (
    change_phrase,
    change_syllable,
    done,
    find_note,
    find_phrase,
    find_syllable,
    with_phrases,
    with_syllables,
)

__all__ = [
    "change_note",
    "find_note",
    "find_phrase",
    "find_syllable",
    "insert_note",
    "insert_phrase",
    "join_phrases",
    "join_syllables",
    "move_base",
    "remove_note",
    "remove_phrase",
    "replace_phrase",
    "retitle",
    "set_cadence",
    "set_ending",
    "set_ison",
    "set_notes",
    "set_rest",
    "set_rubric",
    "set_scale",
    "set_stress",
    "set_tempo",
    "set_words",
    "split_phrase",
    "split_syllable",
]

_SPLIT: dict[Place, tuple[Place, Place]] = {
    "single": ("begin", "end"),
    "begin": ("begin", "middle"),
    "middle": ("middle", "middle"),
    "end": ("middle", "end"),
}


# --- notes ----------------------------------------------------------------------------------


def change_note(
    hymn: Hymn,
    note_id: str,
    *,
    degree: int | None = None,
    beats: Fraction | None = None,
    bend: Fraction | None = None,
) -> Hymn:
    """Change what is given of one note: degree, beats or bend (moria)."""
    i, j, k = find_note(hymn, note_id)
    syllable = hymn.phrases[i].syllables[j]
    old = syllable.notes[k]
    new = Note(
        old.degree if degree is None else degree,
        old.beats if beats is None else beats,
        old.bend if bend is None else bend,
    )
    return set_notes(hymn, syllable.id, (*syllable.notes[:k], new, *syllable.notes[k + 1 :]))


def insert_note(hymn: Hymn, syllable_id: str, index: int, note: Note) -> Hymn:
    """Put a note into a syllable before its note number `index` (from 0; the count: at the end)."""
    i, j = find_syllable(hymn, syllable_id)
    notes = hymn.phrases[i].syllables[j].notes
    if not 0 <= index <= len(notes):
        raise ChantError(
            f"the syllable has {len(notes)} notes; there is no place {index} among them.",
            where=Where(word=syllable_id),
            remedy=f"Give a place from 0 to {len(notes)}.",
        )
    return set_notes(hymn, syllable_id, (*notes[:index], note, *notes[index:]))


def remove_note(hymn: Hymn, note_id: str) -> Hymn:
    """Take a note away; a syllable may be left without any."""
    i, j, k = find_note(hymn, note_id)
    syllable = hymn.phrases[i].syllables[j]
    return set_notes(hymn, syllable.id, (*syllable.notes[:k], *syllable.notes[k + 1 :]))


def set_notes(hymn: Hymn, syllable_id: str, notes: Sequence[Note]) -> Hymn:
    """Give a syllable other notes, or none."""
    return change_syllable(hymn, syllable_id, lambda s: replace(s, notes=tuple(notes)))


# --- syllables ------------------------------------------------------------------------------


def set_words(hymn: Hymn, syllable_id: str, text: str) -> Hymn:
    """Write other letters for a syllable; its place in the word stays."""
    return change_syllable(hymn, syllable_id, lambda s: replace(s, text=text))


def set_stress(hymn: Hymn, syllable_id: str, stress: int) -> Hymn:
    """Stress a syllable: 0 none, 1 primary, 2 secondary."""
    return change_syllable(hymn, syllable_id, lambda s: replace(s, stress=stress))


def set_ison(hymn: Hymn, syllable_ids: str | Iterable[str], ison: Ison) -> Hymn:
    """Let the drone holders keep `ison` under one syllable or under several."""
    names = [syllable_ids] if isinstance(syllable_ids, str) else list(syllable_ids)
    for name in names:
        hymn = change_syllable(hymn, name, lambda s: replace(s, ison=ison))
    return hymn


def split_syllable(
    hymn: Hymn, syllable_id: str, at: int, *, notes_at: int | None = None, stress: int = 0
) -> Hymn:
    """Cut a syllable in two within its word.

    Parameters
    ----------
    hymn : Hymn
        The hymn.
    syllable_id : str
        The syllable; its first part keeps this id, its stress and its ison.
    at : int
        Letters that stay in the first part: more than 0, less than all.
    notes_at : int, optional
        Notes that stay with the first part. By default the first half of them, the middle one
        among them; of a single note the second part takes a copy, since every syllable is sung.
    stress : int
        Stress of the second part.

    Raises
    ------
    ChantError
        If a part would be empty.
    """
    i, j = find_syllable(hymn, syllable_id)
    old = hymn.phrases[i].syllables[j]
    if not 0 < at < len(old.text):
        raise ChantError(
            f"“{old.text}” cannot be cut after {at} letters.",
            where=Where(word=syllable_id),
            remedy="Leave at least one letter on either side.",
        )
    if notes_at is None:
        cut = (len(old.notes) + 1) // 2
        ours, theirs = old.notes[:cut], old.notes[cut:] or old.notes
    elif 0 <= notes_at <= len(old.notes):
        ours, theirs = old.notes[:notes_at], old.notes[notes_at:]
    else:
        raise ChantError(
            f"the syllable has {len(old.notes)} notes; {notes_at} of them cannot stay.",
            where=Where(word=syllable_id),
            remedy=f"Give a count from 0 to {len(old.notes)}.",
        )
    first, second = _SPLIT[old.place]
    parts = (
        replace(old, text=old.text[:at], place=first, notes=ours),
        Syllable(old.text[at:], second, stress, theirs, old.ison),
    )
    return with_syllables(hymn, i, j, j + 1, parts)


def join_syllables(hymn: Hymn, syllable_id: str) -> Hymn:
    """Sing a syllable and the one after it as one.

    The joined syllable keeps the id and the ison of the first, has the notes of both, and the
    stronger of the two stresses. Across the gap between two words a blank stays among its letters
    (``the a``), so the words read as before.

    Raises
    ------
    ChantError
        If it is the last syllable of its phrase.
    """
    i, j = find_syllable(hymn, syllable_id)
    syllables = hymn.phrases[i].syllables
    if j + 1 == len(syllables):
        raise ChantError(
            f"no syllable stands after “{syllables[j].text}” in its phrase.",
            where=Where(word=syllable_id),
            remedy="Join the two phrases first.",
        )
    a, b = syllables[j], syllables[j + 1]
    is_gap = a.place in ("single", "end")
    begins, ends = a.place in ("single", "begin"), b.place in ("single", "end")
    place: Place = ("single" if ends else "begin") if begins else ("end" if ends else "middle")
    stresses = {a.stress, b.stress}
    joined = replace(
        a,
        text=f"{a.text} {b.text}" if is_gap else a.text + b.text,
        place=place,
        stress=1 if 1 in stresses else max(stresses),
        notes=a.notes + b.notes,
    )
    return with_syllables(hymn, i, j, j + 2, [joined])


# --- phrases --------------------------------------------------------------------------------


def _unused(phrases: Iterable[Phrase], taken: set[str]) -> list[Phrase]:
    """Take away the ids that are in use already, or stand twice."""

    def own(name: str) -> str:
        if name in taken:
            return ""
        taken.add(name)
        return name

    out = []
    for phrase in phrases:
        name = own(phrase.id)
        out.append(
            replace(
                phrase,
                id=name,
                syllables=tuple(replace(s, id=own(s.id)) for s in phrase.syllables),
            )
        )
    return out


def _ids(phrases: Iterable[Phrase]) -> set[str]:
    return {name for p in phrases for name in (p.id, *(s.id for s in p.syllables))}


def replace_phrase(hymn: Hymn, phrase_id: str, *phrases: Phrase) -> Hymn:
    """Put one or more phrases in the place of one.

    The first of them takes over the id when it has none of its own. Ids that other phrases of the
    hymn use are replaced by fresh ones.
    """
    if not phrases:
        return remove_phrase(hymn, phrase_id)
    i = find_phrase(hymn, phrase_id)
    first = phrases[0] if phrases[0].id else replace(phrases[0], id=phrase_id)
    others = (*hymn.phrases[:i], *hymn.phrases[i + 1 :])
    new = _unused((first, *phrases[1:]), _ids(others))
    return with_phrases(hymn, i, i + 1, new)


def insert_phrase(hymn: Hymn, index: int, phrase: Phrase) -> Hymn:
    """Put a phrase before phrase number `index` (from 0; the count: at the end)."""
    if not 0 <= index <= len(hymn.phrases):
        raise ChantError(
            f"the hymn has {len(hymn.phrases)} phrases; there is no place {index} among them.",
            remedy=f"Give a place from 0 to {len(hymn.phrases)}.",
        )
    return with_phrases(hymn, index, index, _unused([phrase], _ids(hymn.phrases)))


def remove_phrase(hymn: Hymn, phrase_id: str) -> Hymn:
    """Take a phrase away, with its notes, rubric and remarks."""
    i = find_phrase(hymn, phrase_id)
    return with_phrases(hymn, i, i + 1, [])


def split_phrase(hymn: Hymn, syllable_id: str, *, cadence: Cadence | None = None) -> Hymn:
    """Begin a new phrase at a syllable that begins a word.

    The first part keeps the id and what stands before a phrase (rubric, verse start, scale,
    remarks) and closes with `cadence`. The second keeps the old close and the rest after it.

    Raises
    ------
    ChantError
        If the syllable stands inside a word, or begins the phrase already.
    """
    i, j = find_syllable(hymn, syllable_id)
    old = hymn.phrases[i]
    if j == 0 or old.syllables[j].place not in ("single", "begin"):
        raise ChantError(
            f"no phrase can begin at “{old.syllables[j].text}”.",
            where=Where(word=syllable_id),
            remedy="Choose a syllable that begins a word, and not the first of the phrase.",
        )
    first = replace(old, syllables=old.syllables[:j], cadence=cadence, rest=Fraction(0))
    second = Phrase(old.syllables[j:], cadence=old.cadence, rest=old.rest)
    if old.peak and old.peak not in first.words.split():
        first, second = replace(first, peak=""), replace(second, peak=old.peak)
    return with_phrases(hymn, i, i + 1, [first, second])


def join_phrases(hymn: Hymn, phrase_id: str) -> Hymn:
    """Sing a phrase and the one after it in one breath.

    The joined phrase keeps the first's id, scale and verse start, the second's close and rest,
    and the rubrics and remarks of both. The first's own close and rest go.

    Raises
    ------
    ChantError
        If it is the last phrase, only one of the two is divided into syllables, or the second
        changes the scale.
    """
    i = find_phrase(hymn, phrase_id)
    if i + 1 == len(hymn.phrases):
        raise ChantError(
            "no phrase stands after this one.",
            where=Where(word=phrase_id),
            remedy="Choose the first of the two phrases.",
        )
    a, b = hymn.phrases[i : i + 2]
    if bool(a.syllables) != bool(b.syllables):
        raise ChantError(
            "one of the two phrases is divided into syllables and the other is not.",
            where=Where(word=phrase_id),
            remedy="Divide the words first.",
        )
    if b.scale not in (None, a.scale):
        raise ChantError(
            f"the second phrase changes to the scale “{b.scale}”.",
            where=Where(word=b.id),
            remedy="Take the change of scale away first, or leave the phrases apart.",
        )
    joined = replace(
        a,
        syllables=a.syllables + b.syllables,
        text=a.text if a.syllables else f"{a.text} {b.text}",
        cadence=b.cadence,
        rest=b.rest,
        rubric="\n".join(filter(None, (a.rubric, b.rubric))),
        remarks=a.remarks + b.remarks,
        peak=a.peak or b.peak,
    )
    return with_phrases(hymn, i, i + 2, [joined])


def set_cadence(hymn: Hymn, phrase_id: str, cadence: Cadence | None) -> Hymn:
    """Say how a phrase closes: medial, full, final or long; None leaves it to the setter."""
    return change_phrase(hymn, phrase_id, lambda p: replace(p, cadence=cadence))


def set_rest(hymn: Hymn, phrase_id: str, beats: Fraction) -> Hymn:
    """Set the silence after a phrase, in beats."""
    return change_phrase(hymn, phrase_id, lambda p: replace(p, rest=beats))


def set_scale(hymn: Hymn, phrase_id: str, scale: str | None) -> Hymn:
    """Begin another scale with a phrase; None goes on with the one before."""
    return change_phrase(hymn, phrase_id, lambda p: replace(p, scale=scale))


def set_rubric(hymn: Hymn, phrase_id: str, rubric: str) -> Hymn:
    """Write what is printed in red before a phrase; empty for nothing."""
    return change_phrase(hymn, phrase_id, lambda p: replace(p, rubric=rubric))


# --- the whole hymn -------------------------------------------------------------------------


def retitle(hymn: Hymn, title: str) -> Hymn:
    """Give the hymn another title."""
    return done(replace(hymn, title=title))


def set_tempo(hymn: Hymn, tempo: int | None) -> Hymn:
    """Set the beats a minute; None takes the style's own."""
    return done(replace(hymn, tempo=tempo))


def set_ending(hymn: Hymn, ending: Ending) -> Hymn:
    """Close the hymn in the ordinary or the long way."""
    return done(replace(hymn, ending=ending))


def move_base(
    hymn: Hymn,
    *,
    hz: float | None = None,
    moria: Fraction | float | None = None,
    degree: int | None = None,
) -> Hymn:
    """Sing the whole hymn higher or lower; no note of it changes its name.

    Parameters
    ----------
    hymn : Hymn
        The hymn.
    hz : float, optional
        New frequency of the base.
    moria : Fraction or float, optional
        Instead of `hz`: moria to go up (below 0: down) from where the base sounds now; 72 to the
        octave, so 6 are an equal-tempered semitone.
    degree : int, optional
        Degree of the base, for a hymn that has no base yet.

    Raises
    ------
    ChantError
        Unless exactly one of `hz` and `moria` is given, and the rest can be known from the hymn.
    """
    old = hymn.base
    if (hz is None) == (moria is None):
        raise ChantError(
            "a base moves either to a pitch or by a distance.",
            remedy="Give a pitch in Hz or a distance in moria, and not both.",
        )
    if degree is None:
        if old is None:
            raise ChantError(
                "the hymn has no base yet.", remedy="Say which degree it is, such as pa."
            )
        degree = old.degree
    if moria is not None:
        if old is None or old.degree != degree:
            raise ChantError(
                "this base does not sound yet, so it cannot be moved by a distance.",
                remedy="Give its pitch in Hz.",
            )
        return done(replace(hymn, base=Base(degree, old.hz * 2 ** (float(moria) / 72))))
    return done(replace(hymn, base=Base(degree, hz or 0.0)))
