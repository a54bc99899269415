"""What a weekend's booklet holds: the order of each service, and its hymns in turn."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from chantwright.engrave import Booklet, Entry
from chantwright.parish.folder import ParishFolder
from chantwright.parish.look import dressed
from chantwright.parish.order import Session
from chantwright.score import Hymn
from chantwright.tones import Tones

__all__ = ["day_text", "tone_text", "weekend_booklet"]

NOTES = (
    "The tones and the order printed here are computed: a proposal until the priest confirms them. "
    "What is sung is for the priest and the typikon of the place to decide.",
    "Melodies marked as set by rule come from formulas written from memory. An experienced chanter "
    "should look them through before they are taught.",
    "Sing softly and rest before you tire. If a note lies too low or too high for you, leave it "
    "out or hold the ison.",
)


def tone_text(hymn: Hymn, tones: Tones) -> str:
    """Both names of a hymn's tone, such as "Tone 5 · Plagal First"."""
    if hymn.tone is None:
        return ""
    english = tones.tones[hymn.tone].english
    plain = next((n for n in english if n.startswith("Tone")), f"Tone {hymn.tone}")
    # “First Tone” beside “Tone 1” says nothing new; “Plagal First” beside “Tone 5” does.
    other = next((n for n in english if not n.endswith((" Tone", " Mode")) and n != plain), "")
    return f"{plain} · {other}" if other else plain


def day_text(day: date) -> str:
    """A date as people say it: "Saturday 28 November 2026"."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def weekend_booklet(folder: ParishFolder, sessions: Sequence[Session], tones: Tones) -> Booklet:
    """Describe the booklet of a weekend.

    Parameters
    ----------
    folder : ParishFolder
        For the cover and for how the hymns look.
    sessions : sequence of Session
        Services and lessons in order.
    tones : Tones
        For the names of the tones.

    Returns
    -------
    Booklet
    """
    entries = []
    for session in sessions:
        entries.append(
            Entry(
                kind="section",
                title=session.title,
                item_text=day_text(session.civil_date),
            )
        )
        for piece in session.pieces:
            if piece.singable is None:
                entries.append(Entry(kind="note", title=piece.item, rubric=piece.note))
                continue
            hymn = piece.singable.hymn
            entries.append(
                Entry(
                    kind="hymn",
                    title=hymn.title,
                    hymn=hymn,
                    tone_text=tone_text(hymn, tones),
                    item_text=piece.item,
                    rubric=piece.note,
                )
            )
    days = [s.day for s in sessions if s.day is not None]
    tone = next((d.tone for d in days if d.tone is not None), None)
    first = min(s.civil_date for s in sessions)
    booklet = Booklet(
        title=folder.name or "Chant for the week",
        subtitle=folder.place,
        parish=folder.name,
        service=" · ".join(s.title for s in sessions if s.day is not None),
        date_text=day_text(first),
        tone_text=tone_text(Hymn(tone=tone), tones) if tone is not None else "",
        entries=tuple(entries),
        notes=NOTES,
    )
    return dressed(booklet, folder)
