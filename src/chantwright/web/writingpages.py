"""Writing: words for a new hymn, or the text of a hymn file, looked at before they are kept.

What is typed is never lost: a text that cannot be read comes back as it was, with the sentence that
says what to mend; a file that was changed meanwhile, by another window or another program, is not
written over.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from chantwright import words as words_of
from chantwright.errors import ChantError
from chantwright.parish import trail
from chantwright.parish.placing import with_hymn
from chantwright.parish.plan import Plan, read_plan, write_plan
from chantwright.parish.whole import file_name
from chantwright.score import Hymn, hymnfile, titled
from chantwright.web.desk import Desk
from chantwright.web.render import Render
from chantwright.web.views import hymn_link

__all__ = ["plan_of", "routes", "seen"]

_LONGEST = 100_000
"""Letters that a text may have; the longest psalm has some thirteen thousand."""
_NEW = "A new hymn"
_PLACE = re.compile(r"[0-9]{1,3}")  # “²” is a digit too, and no number


def seen(path: Path) -> str:
    """Short digest of a file, so that a later write can tell whether it is still the same."""
    return hashlib.sha256(path.read_bytes()).hexdigest()[:24]


def plan_of(desk: Desk, place: int) -> Plan:
    """Return the plan of one of the coming services.

    Raises
    ------
    ChantError
        If there is no such service, or its plan is not understood.
    """
    sessions = desk.weekend().sessions
    if not 0 <= place < len(sessions):
        raise ChantError("there is no such service this week.", remedy="Look at the week.")
    return read_plan(Path(sessions[place].plan_file))


@dataclass(frozen=True, slots=True)
class Divided:
    """How words were read: a line a phrase, what was tidied, and which words were guessed."""

    lines: tuple[str, ...]
    changes: tuple[str, ...]
    guessed: tuple[str, ...]


def _divided(hymn: Hymn, overrides: tuple[Path, ...]) -> Divided:
    text = words_of.read_words(
        words_of.source_text(hymn), language=hymn.language, overrides=overrides
    )
    phrases = words_of.to_phrases(text)
    return Divided(
        tuple(words_of.divided_line(p) for p in phrases),
        tuple(str(change) for change in text.changes),
        tuple(dict.fromkeys(w.text for w in text.words if w.source == "guess")),
    )


def _read(text: str, title: str, tone: str, file: str) -> Hymn:
    """Read what was typed; a title or tone of the form is taken where the text has none."""
    if len(text) > _LONGEST:
        raise ChantError(
            f"these are more than {_LONGEST:,} letters.", remedy="Write one hymn at a time."
        )
    if not text.strip():
        raise ChantError("there are no words yet.", remedy="Write or paste the words of a hymn.")
    hymn = hymnfile.loads(text.replace("\r\n", "\n"), file=file)
    if not hymn.phrases:
        raise ChantError("there are no words yet.", remedy="Write or paste the words of a hymn.")
    if title.strip() and not hymn.title:
        hymn = replace(hymn, title=" ".join(title.split()))
    if tone.strip() and hymn.tone is None:
        if tone.strip() not in tuple("12345678"):
            raise ChantError(f"there is no tone {tone[:8]}.", remedy="Tones are 1 to 8.")
        hymn = replace(hymn, tone=int(tone))
    return titled(hymn)


def _free_name(folder: Path, title: str) -> str:
    """Return a name that no file of the folder has yet."""
    stem = file_name(title)
    names = (f"{stem}.txt" if i == 1 else f"{stem}-{i}.txt" for i in range(1, 10_000))
    return next(name for name in names if not (folder / name).exists())


def _still(path: Path, stamp: str) -> None:
    if stamp != seen(path):
        raise ChantError(
            "the file was changed meanwhile, in another window or by another program.",
            remedy="Copy your text, open the file again, and put it in there.",
        )


def _file_form(name: str) -> dict[str, str]:
    return {
        "title": f"The text of {name}",
        "action": f"/text/{name}",
        "link": hymn_link(name),
    }


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    def form(
        request: Request,
        given: Mapping[str, str],
        status: int = 200,
        trouble: ChantError | None = None,
        divided: Divided | None = None,
    ) -> HTMLResponse:
        blank = dict.fromkeys(("words", "name", "tone", "place", "item", "stamp", "link"), "")
        return render.page(
            request, "write.html", status, tones=range(1, 9), trouble=trouble, divided=divided,
            longest=_LONGEST, **{**blank, **given},
        )  # fmt: skip

    @router.get("/write", response_class=HTMLResponse)
    def blank(request: Request, place: str = "", item: str = "") -> HTMLResponse:
        return form(request, {"title": _NEW, "action": "/write", "place": place, "item": item})

    @router.post("/write")
    def write(
        request: Request,
        words: Annotated[str, Form()] = "",
        name: Annotated[str, Form()] = "",
        tone: Annotated[str, Form()] = "",
        place: Annotated[str, Form()] = "",
        item: Annotated[str, Form()] = "",
        do: Annotated[str, Form()] = "keep",
    ) -> Response:
        given = {
            "title": _NEW, "action": "/write", "words": words, "name": name, "tone": tone,
            "place": place, "item": item,
        }  # fmt: skip
        try:
            hymn = _read(words, name, tone, "the words")
            divided = _divided(hymn, desk.folder.overrides)
            if do == "look":
                return form(request, given, divided=divided)
            folder = desk.folder.hymns
            folder.mkdir(parents=True, exist_ok=True)
            file = _free_name(folder, hymn.title)
            plan = plan_of(desk, int(place)) if _PLACE.fullmatch(place) and item else None
            placed = with_hymn(plan, item, file) if plan is not None else None
            hymnfile.write(folder / file, hymn)
            trail.forget(folder / file)  # of another hymn that had this name once
            if placed is not None:
                write_plan(Path(placed.file), placed)
        except ChantError as exc:
            return form(request, given, 400, exc)
        return RedirectResponse(hymn_link(file), 303)

    @router.get("/text/{name:path}", response_class=HTMLResponse)
    def text(request: Request, name: str) -> HTMLResponse:
        path = desk.hymn_path(name)
        old = path.read_bytes().decode("utf-8-sig", errors="replace")
        return form(request, {**_file_form(name), "words": old, "stamp": seen(path)})

    @router.post("/text/{name:path}")
    def keep(
        request: Request,
        name: str,
        words: Annotated[str, Form()] = "",
        stamp: Annotated[str, Form()] = "",
        do: Annotated[str, Form()] = "keep",
    ) -> Response:
        path = desk.hymn_path(name)
        given = {**_file_form(name), "words": words, "stamp": stamp}
        try:
            hymn = _read(words, "", "", name)
            divided = None if hymn.is_set else _divided(hymn, desk.folder.overrides)
            if do == "look":
                return form(request, given, divided=divided)
            _still(path, stamp)
            trail.keep(path, words.replace("\r\n", "\n"))
        except ChantError as exc:
            return form(request, given, 400, exc)
        return RedirectResponse(hymn_link(name), 303)

    return router
