"""The whole job for a weekend: booklet, recordings and hymn files.

`chantwright.parish.order` finds what is sung; here it is made. The heavy step, the recordings,
goes through a standard `concurrent.futures.Executor`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, as_completed
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

from chantwright import safefile
from chantwright.engrave import write_booklet
from chantwright.errors import ChantError, Where
from chantwright.parish.folder import ParishFolder
from chantwright.parish.madelist import MadeList
from chantwright.parish.order import Piece, Progress, Session, gather
from chantwright.parish.paper import day_text, weekend_booklet
from chantwright.parish.ranges import singers_of
from chantwright.parish.singable import load_knowledge
from chantwright.score import Hymn, hymnfile
from chantwright.tones import Tones
from chantwright.voice import Recorded, draw_cover, record, write_playlist

__all__ = ["Prepared", "file_name", "prepare", "saturday_of", "weekend_folder"]


@dataclass(frozen=True, slots=True)
class Prepared:
    """What was made, and where it lies."""

    folder: ParishFolder
    out: Path
    booklet: Path
    sessions: tuple[Session, ...]
    missing: tuple[str, ...]
    warnings: tuple[str, ...]


_SUNDAY = 6


def saturday_of(day: date) -> date:
    """Saturday of the weekend that is prepared on a day: the coming one, or a Sunday's own."""
    return day + timedelta((_SUNDAY - day.weekday()) % 7 - 1)


def weekend_folder(folder: ParishFolder, day: date) -> Path:
    """Where what is made for a weekend lies: named by its Saturday, whatever day it is made on."""
    return folder.path / "ready" / saturday_of(day).isoformat()


def file_name(title: str) -> str:
    """A safe file name of a title: plain letters and hyphens."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:48] or "hymn"


def _record(
    hymn: Hymn, tones: Tones, paths: tuple[Path, ...], tags: dict[str, str], picture: bytes
) -> Recorded:
    made = record(hymn, tones, paths, tags=tags, picture=picture)
    safefile.write_text(paths[0].with_suffix(".json"), made.timing.to_json())
    return made


def _playlist(
    out: Path, session: Session, made: dict[int, Recorded], titles: dict[int, str], suffix: str
) -> tuple[Path, ...]:
    """List the recordings of a service in the order of singing; returns the file, if any."""
    entries = []
    for number in (p.number for p in session.pieces if p.number in made):
        file = next((p for p in made[number].paths if p.suffix == suffix), None)
        if file is not None:
            entries.append((file.name, titles[number], made[number].timing.seconds))
    if not entries:
        return ()
    name = f"{session.civil_date.isoformat()}-{file_name(session.title)}"
    path = out / "recordings" / f"{name}.m3u8"
    write_playlist(path, entries, session.title)
    return (path,)


def sung_pieces(folder: ParishFolder, sessions: Sequence[Session]) -> list[Piece]:
    """Return the pieces that have music, in order.

    Raises
    ------
    ChantError
        If there is none: names the plans to open.
    """
    found = [p for s in sessions for p in s.pieces if p.singable is not None]
    if not found:
        raise ChantError(
            "no item of these services has a hymn file yet.",
            where=Where(str(folder.services)),
            remedy=f"Open {_listed(s.plan_file for s in sessions)} there and write the names of "
            "your files of words, or hymn files, after the colons.",
        )
    return found


def prepare(
    folder: ParishFolder,
    day: date,
    out: Path,
    *,
    executor: Executor,
    progress: Progress,
    suffixes: tuple[str, ...] = (".opus", ".mp3"),
) -> Prepared:
    """Do the whole job for the coming Saturday evening and Sunday.

    Parameters
    ----------
    folder : ParishFolder
        The parish.
    day : date
        A civil date; the coming Saturday evening and Sunday are prepared.
    out : Path
        Folder for what is made; it may exist.
    executor : Executor
        Runs the recordings.
    progress : callable
        Called with a label, steps done and steps in all.
    suffixes : tuple of str
        Kinds of recording.

    Returns
    -------
    Prepared

    Notes
    -----
    Each recording is kept as soon as it is finished (`chantwright.voice.recording`), so a run
    that was ended half-way and is begun again makes only what was missing. When all is made, files
    of a former run that are not sung any more are taken away (`chantwright.parish.madelist`).

    Raises
    ------
    ChantError
        If a plan, a hymn file or a setting is not understood, nothing is planned, or a process
        that records was ended.
    """
    knowledge = load_knowledge(folder.overrides)
    singers = singers_of(folder, knowledge.tones)
    sessions, missing, warnings = gather(folder, day, knowledge, singers, progress)
    pieces = sung_pieces(folder, sessions)
    for name in ("hymns", "recordings"):
        (out / name).mkdir(parents=True, exist_ok=True)
    listed = MadeList.open(out)
    made: dict[int, Piece] = {}
    recorded: dict[int, Recorded] = {}
    picture = draw_cover(folder.name or "Chant for the week", day_text(saturday_of(day)))
    running: dict[Future[Recorded], Piece] = {}
    # The longest first, so that no worker is left alone with it at the end.
    for piece in sorted(pieces, key=_beats, reverse=True):
        hymn = _hymn(piece)
        stem = f"{piece.number:02d}-{file_name(hymn.title)}"
        hymn_file = f"hymns/{stem}.txt"
        hymnfile.write(out / hymn_file, hymn)
        made[piece.number] = replace(piece, hymn_file=hymn_file)
        tags = {"title": hymn.title, "album": folder.name, "tracknumber": str(piece.number)}
        paths = tuple(out / "recordings" / f"{stem}{suffix}" for suffix in suffixes)
        job = executor.submit(_record, hymn, knowledge.tones, paths, tags, picture)
        running[job] = piece
    listed.add(out / piece.hymn_file for piece in made.values())
    booklet = write_booklet(
        weekend_booklet(folder, sessions, knowledge.tones),
        out / "booklet.pdf",
        knowledge.tones,
        leave=lambda error: progress(f"left out of the booklet: {error}", 1, 1),
    )
    progress("booklet", 1, 1)
    for done, job in enumerate(as_completed(running), start=1):
        piece = running[job]
        try:
            recorded[piece.number] = job.result()
        except BrokenExecutor:
            raise ChantError(
                f"a process that records was ended from outside, after {len(recorded)} of "
                f"{len(running)} hymns.",
                remedy="Run it again: what is finished is taken as it is.",
            ) from None
        written = recorded[piece.number].paths
        listed.add((*written, written[0].with_suffix(".json")))
        names = tuple(f"recordings/{p.name}" for p in written)
        made[piece.number] = replace(made[piece.number], recordings=names)
        progress(f"recorded {_hymn(piece).title}", done, len(running))
    titles = {p.number: _hymn(p).title for p in pieces}
    for session in sessions:
        listed.add(_playlist(out, session, recorded, titles, suffixes[0]))
    listed.sweep()
    whole = tuple(
        replace(s, pieces=tuple(made.get(p.number, p) if p.number else p for p in s.pieces))
        for s in sessions
    )
    return Prepared(folder, out, booklet, whole, missing, warnings)


def _listed(names: Iterable[str]) -> str:
    known = [Path(name).name for name in names if name]
    return " or ".join([", ".join(known[:-1]), known[-1]] if len(known) > 1 else known)


def _hymn(piece: Piece) -> Hymn:
    if piece.singable is None:
        raise ValueError("a piece without music has no hymn")
    return piece.singable.hymn


def _beats(piece: Piece) -> Fraction:
    notes = (n for p in _hymn(piece).phrases for s in p.syllables for n in s.notes)
    return sum((n.beats for n in notes), Fraction(0))
