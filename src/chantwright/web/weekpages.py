"""The week: what is sung, in which tone and why, and the booklet."""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import Any

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from chantwright.engrave import Handout, booklet_pdf, handout_pdf
from chantwright.errors import ChantError
from chantwright.parish import (
    PAPERS,
    Piece,
    Session,
    tone_text,
    weekend_booklet,
    with_look,
)
from chantwright.parish.course import make_course
from chantwright.score import hymnfile
from chantwright.web.desk import Desk
from chantwright.web.kept import Kept
from chantwright.web.looks import Asked, look_choices
from chantwright.web.render import LIGHTS, Render
from chantwright.web.views import hymn_link

__all__ = ["day_words", "piece_view", "routes"]

_YEAR = 31_536_000
_HANDOUTS = 16


def day_words(session: Session) -> str:
    """The date of a session in words."""
    day = session.civil_date
    return f"{day:%A} {day.day} {day:%B %Y}"


def piece_view(piece: Piece, desk: Desk) -> dict[str, Any]:
    """One line of the order."""
    hymn = piece.singable.hymn if piece.singable is not None else None
    name = PurePosixPath(piece.file).relative_to("hymns").as_posix() if piece.file else ""
    return {
        "item": piece.item,
        "note": piece.note,
        "number": piece.number,
        "title": hymn.title if hymn else "",
        "tone": tone_text(hymn, desk.knowledge.tones) if hymn else "",
        "first": hymn.phrases[0].words if hymn and hymn.phrases else "",
        "link": hymn_link(name) if hymn and name else "",
    }


def _session(session: Session, desk: Desk, place: int) -> dict[str, Any]:
    return {
        "place": place,
        "title": session.title,
        "date": day_words(session),
        "reasons": [r.sentence for r in session.day.reasons] if session.day else [],
        "questions": [_question(q) for q in session.day.open_questions] if session.day else [],
        "pieces": [piece_view(p, desk) for p in session.pieces],
        "sung": any(p.singable is not None for p in session.pieces),
    }


def _question(question: Any) -> str:
    return str(getattr(question, "sentence", question))


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()
    handouts: Kept[bytes] = Kept(_HANDOUTS)

    @router.get("/", response_class=HTMLResponse)
    def week(request: Request) -> HTMLResponse:
        weekend = desk.weekend()
        return render.page(
            request,
            "week.html",
            title=desk.folder.name or "This week",
            parish=desk.folder,
            sessions=[_session(s, desk, i) for i, s in enumerate(weekend.sessions)],
            missing=weekend.missing,
            warnings=weekend.warnings,
            look=look_choices(desk.folder),
        )

    @router.get("/hymns", response_class=HTMLResponse)
    def hymns(request: Request) -> HTMLResponse:
        names = [(name, hymn_link(name)) for name in desk.hymns()]
        return render.page(request, "hymns.html", title="Hymns", names=names)

    @router.get("/booklet.pdf")
    def booklet(asked: Asked) -> Response:
        dress = with_look(desk.folder, **asked)
        made = weekend_booklet(dress, desk.weekend().sessions, desk.knowledge.tones)
        return Response(booklet_pdf(made, desk.knowledge.tones), media_type="application/pdf")

    @router.get("/course", response_class=HTMLResponse)
    def course(request: Request) -> HTMLResponse:
        made = make_course(desk.folder, desk.today, desk.knowledge, desk.singers)
        weeks = [
            {
                "number": w.number,
                "starts": f"{w.starts:%A} {w.starts.day} {w.starts:%B %Y}",
                "tone": tone_text(w.model.hymn, desk.knowledge.tones),
                "tone_number": w.tone,
                "by_heart": w.model,
                "lessons": w.lessons,
            }
            for w in made.weeks
        ]
        return render.page(
            request, "course.html", title="Course", weeks=weeks, warnings=made.warnings,
            link=hymn_link,
        )  # fmt: skip

    @router.get("/course/{number}.pdf")
    def handout(number: int) -> Response:
        folder, tones = desk.folder, desk.knowledge.tones
        made = make_course(folder, desk.today, desk.knowledge, desk.singers, only=number)
        if not made.weeks:
            raise ChantError("there is no such week in the course.", remedy="Look at the course.")
        hymn = made.weeks[0].model.hymn
        page = Handout(hymn, parish=folder.name, paper=PAPERS[folder.paper])
        key = (hymnfile.dumps(hymn), folder.name, folder.paper)
        pdf = handouts.get(key, tones, lambda: handout_pdf(page, tones))
        return Response(pdf, media_type="application/pdf")

    @router.post("/light")
    def light(look: str = Form(), back: str = Form(default="/")) -> RedirectResponse:
        chosen = look if look in LIGHTS else "auto"
        # Only a place of ours may be gone back to.
        place = back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"
        answer = RedirectResponse(place, 303)
        answer.set_cookie("light", chosen, max_age=_YEAR, httponly=True, samesite="lax")
        return answer

    return router
