"""Giving hymns to singers: what, by when, and who leads; what each still lacks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from pathlib import PurePosixPath
from typing import Annotated, Any

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse

from chantwright.errors import ChantError
from chantwright.parish import tone_text
from chantwright.parish.practice import Rules, load_rules, readiness
from chantwright.parish.records import (
    Assignment,
    assign,
    assignments,
    learned,
    persons,
    take_back,
)
from chantwright.parish.records.store import Store
from chantwright.web.desk import Desk
from chantwright.web.render import Render
from chantwright.web.views import day_text, hymn_link

__all__ = ["routes"]

Many = Annotated[tuple[str, ...], Form()]


@dataclass(frozen=True, slots=True)
class _Choice:
    """A hymn that can be given, and the day on which it is sung, if it is planned."""

    name: str
    title: str
    about: str
    day: date | None


def _choices(desk: Desk) -> tuple[tuple[_Choice, ...], tuple[_Choice, ...]]:
    """Hymns of the coming weekend in the order of singing, and all others."""
    planned: dict[str, _Choice] = {}
    for session in desk.weekend().sessions:
        for piece in session.pieces:
            if piece.singable is None:
                continue
            name = PurePosixPath(piece.file).relative_to("hymns").as_posix()
            hymn = piece.singable.hymn
            about = f"{tone_text(hymn, desk.knowledge.tones)}, {session.title}"
            planned.setdefault(name, _Choice(name, hymn.title, about, session.civil_date))
    others = (
        _Choice(name, desk.title(name), "", None) for name in desk.hymns() if name not in planned
    )
    return tuple(planned.values()), tuple(others)


def _day(text: str) -> date | None:
    if not text.strip():
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise ChantError(
            f"“{text[:20]}” is no day.", remedy="Write it like 2026-11-29, or leave it empty."
        ) from None


def _given(store: Store, rules: Rules, desk: Desk) -> list[dict[str, Any]]:
    """What is open, hymn by hymn, each singer with what readiness still lacks."""
    out = []
    with store.read() as session:
        found = assignments(session)
        for (by, hymn), rows in groupby(found, key=lambda a: (a.by, a.hymn)):
            singers = []
            for one in rows:
                asked = readiness(session, one.singer_id, hymn, rules)
                singers.append(_singer(one, sum(c.met for c in asked), len(asked)))
            out.append(
                {
                    "title": desk.title(hymn),
                    "link": hymn_link(hymn),
                    "by": day_text(by) if by else "",
                    "singers": singers,
                }
            )
    return out


def _singer(one: Assignment, met: int, asked: int) -> dict[str, Any]:
    return {
        "id": one.id,
        "person": one.singer_id,
        "nickname": one.nickname,
        "leads": one.leads,
        "met": met,
        "asked": asked,
    }


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    def back() -> RedirectResponse:
        return RedirectResponse("/assign#given", 303)

    @router.get("/assign", response_class=HTMLResponse)
    def page(request: Request, hymn: str = "", singer: str = "") -> HTMLResponse:
        week, others = _choices(desk)
        with desk.store.read() as session:
            people = persons(session)
        return render.page(
            request, "assign.html", title="Assign hymns", week=week, others=others, people=people,
            given=_given(desk.store, load_rules(desk.folder.overrides), desk),
            chosen=hymn, who=singer,
        )  # fmt: skip

    @router.post("/assign")
    def give(
        hymns: Many = (), singers: Many = (),
        by: str = Form(default=""), leader: str = Form(default=""),
    ) -> RedirectResponse:  # fmt: skip
        if not hymns or not (singers or leader):
            raise ChantError(
                "nothing was given.", remedy="Choose at least one hymn and one singer."
            )
        week, _ = _choices(desk)
        sung = {c.name: c.day for c in week}
        day = _day(by)
        for name in hymns:
            desk.hymn_path(name)
        with desk.store.write() as session:
            for name in hymns:
                assign(session, singers, name, day or sung.get(name), leader)
        return back()

    @router.post("/assign/{assignment_id}/take-back")
    def not_any_more(assignment_id: str) -> RedirectResponse:
        with desk.store.write() as session:
            take_back(session, assignment_id)
        return back()

    @router.post("/assign/{assignment_id}/learned")
    def done(assignment_id: str) -> RedirectResponse:
        with desk.store.write() as session:
            learned(session, assignment_id)
        return back()

    return router
