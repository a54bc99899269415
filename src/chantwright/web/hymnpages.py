"""A hymn: its score in four readings, its sound, and every edit, each heard at once."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from chantwright.engrave import READINGS, Booklet, Entry, booklet_pdf
from chantwright.errors import ChantError
from chantwright.parish import dressed, tone_text, trail, with_look
from chantwright.parish.comfort import comfort_picture
from chantwright.parish.pitch import fits_at
from chantwright.score import Hymn, Phrase
from chantwright.tuning import degree_name
from chantwright.voice import MODES
from chantwright.web.desk import Desk
from chantwright.web.editing import CHANGES, change, other_ways, save, take_way
from chantwright.web.looks import Asked
from chantwright.web.render import Render
from chantwright.web.views import hymn_link, score

__all__ = ["fits_view", "routes"]


def _letters(phrase: Phrase) -> str:
    return " ".join("+".join(degree_name(n.degree) for n in s.notes) for s in phrase.syllables)


def fits_view(hymn: Hymn, desk: Desk) -> tuple[list[dict[str, Any]], str]:
    """Who sings how much of the hymn in comfort at its base, in numbers and as a picture."""
    if hymn.base is None:
        return [], ""
    tones, singers = desk.knowledge.tones, desk.singers
    if hymn.branch is None or hymn.base.degree != tones.branch(hymn.branch).base:
        return [], ""
    fits = fits_at(hymn, tones, singers, hymn.base.hz)
    picture = comfort_picture(hymn, tones, singers, fits)
    return [
        {
            "name": fit.name,
            "percent": round(100 * fit.comfortable),
            "octave": fit.octave,
            "below": round(fit.below_cents / 100, 1),
            "above": round(fit.above_cents / 100, 1),
        }
        for fit in fits
    ], picture


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    def back(name: str, anchor: str = "") -> RedirectResponse:
        return RedirectResponse(hymn_link(name) + (f"#{anchor}" if anchor else ""), 303)

    @router.get("/hymn/{name:path}/print.pdf")
    def paper(name: str, asked: Asked) -> Response:
        hymn = desk.singable(name)
        dress = with_look(desk.folder, **asked)
        booklet = Booklet(
            title=hymn.title,
            parish=desk.folder.name,
            entries=(
                Entry("hymn", hymn.title, hymn, tone_text=tone_text(hymn, desk.knowledge.tones)),
            ),
        )
        pdf = booklet_pdf(dressed(booklet, dress), desk.knowledge.tones)
        return Response(pdf, media_type="application/pdf")

    @router.get("/hymn/{name:path}/ways/{phrase}", response_class=HTMLResponse)
    def ways(request: Request, name: str, phrase: str) -> HTMLResponse:
        hymn = desk.singable(name)
        found = other_ways(hymn, phrase, desk.knowledge, desk.folder.ison)
        now = next(p for p in hymn.phrases if p.id == phrase)
        rows = [_letters(next(p for p in h.phrases if p.id == phrase)) for h in found]
        return render.page(
            request, "ways.html", title=f"{hymn.title}: another way", name=name, phrase=now,
            now=_letters(now), rows=rows, link=hymn_link(name),
        )  # fmt: skip

    @router.get("/hymn/{name:path}", response_class=HTMLResponse)
    def hymn_page(request: Request, name: str, reading: str = "") -> HTMLResponse:
        if reading and reading not in READINGS:
            raise ChantError(
                f"“{reading}” is no way to write music here.",
                remedy=f"Use one of: {', '.join(READINGS)}.",
            )
        hymn = desk.singable(name)
        fits, picture = fits_view(hymn, desk)
        return render.page(
            request,
            "hymn.html",
            title=hymn.title,
            name=name,
            link=hymn_link(name),
            score=score(hymn, desk.knowledge.tones, desk.folder, reading=reading or "staff"),
            # Without a reading asked for, the paper has those of the parish.
            printed=f"?reading={reading}" if reading else "",
            hymn=hymn,
            fits=fits,
            comfort=picture,
            readings=READINGS,
            changes=CHANGES,
            modes=MODES,
            trail=trail.standing(desk.hymn_path(name)),
        )

    @router.post("/hymn/{name:path}/note")
    def note(name: str, id: str = Form(), what: str = Form()) -> RedirectResponse:
        path = desk.hymn_path(name)
        edited = change(desk.singable(name), id, what)
        save(path, edited)
        return back(name, f"note-{id}")  # inside the editor, which a browser opens for it

    @router.post("/hymn/{name:path}/way")
    def way(name: str, phrase: str = Form(), number: int = Form()) -> RedirectResponse:
        path = desk.hymn_path(name)
        taken = take_way(desk.singable(name), phrase, number, desk.knowledge, desk.folder.ison)
        save(path, taken)
        return back(name, f"edit-{phrase}")

    @router.post("/hymn/{name:path}/keep")
    def keep(name: str) -> RedirectResponse:
        save(desk.hymn_path(name), desk.singable(name))
        return back(name)

    @router.post("/hymn/{name:path}/undo")
    def undo(name: str) -> RedirectResponse:
        trail.take_back(desk.hymn_path(name))
        return back(name, "changes")

    @router.post("/hymn/{name:path}/again")
    def again(name: str) -> RedirectResponse:
        trail.bring_back(desk.hymn_path(name))
        return back(name, "changes")

    return router
