"""The intonation before a hymn: a few notes by the leader alone that give the tone and the pitch.

It is sung without ison. Usage differs: in many houses it is never sung in a service, and it is
always useful at practice.
"""

from __future__ import annotations

from chantwright.errors import ChantError
from chantwright.score import Hymn, Note
from chantwright.tones import Tones

__all__ = ["intonation_notes"]


def intonation_notes(
    hymn: Hymn, tones: Tones, *, long: bool = False
) -> tuple[tuple[str, Note], ...]:
    """Return the intonation of a hymn.

    Parameters
    ----------
    hymn : Hymn
        Its own intonation is taken, else its branch's.
    tones : Tones
        The tones.
    long : bool
        The longer form, for slower hymns.

    Returns
    -------
    tuple of (str, Note)
        Text under each note (empty where a syllable goes on) and the note.

    Raises
    ------
    ChantError
        If the hymn has neither tone nor branch, or its intonation is unknown.
    """
    name = hymn.intonation
    if not name:
        if hymn.branch:
            name = tones.branch(hymn.branch).intonation
        elif hymn.tone is not None:
            name = tones.default_branch(hymn.tone, hymn.style or "heirmologic").intonation
        else:
            raise ChantError("the hymn has no tone.", remedy="Write a line such as “tone: 2”.")
    if name not in tones.intonations:
        raise ChantError(
            f"there is no intonation “{name}”.",
            remedy=f"Known are {', '.join(tones.intonations)}.",
        )
    found = tones.intonations[name]
    return tuple(
        (text, Note(degree, beats)) for text, degree, beats in (found.long if long else found.short)
    )
