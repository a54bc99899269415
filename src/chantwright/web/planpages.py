"""The plan of a service: which hymn file is sung at which item, in which tone, and what is not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from chantwright.errors import ChantError, Where
from chantwright.parish.placing import changed, left_over
from chantwright.parish.plan import LESSON, Plan, PlanLine, write_plan
from chantwright.web.desk import Desk
from chantwright.web.render import Render
from chantwright.web.writingpages import plan_of, seen

__all__ = ["routes"]


def _new_line(line: PlanLine, file: str, tone: str, hymns: tuple[str, ...]) -> PlanLine:
    if file and file not in hymns and file != line.file:
        raise ChantError(
            "there is no such hymn in this parish.",
            where=Where(file[:80]),
            remedy="Choose one of the list.",
        )
    if tone and tone not in tuple("12345678"):
        raise ChantError(f"there is no tone {tone[:8]}.", remedy="Tones are 1 to 8.")
    return replace(line, file=file, tone=int(tone) if tone else None)


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    def rest(plan: Plan, place: int) -> dict[str, str]:
        day = desk.weekend().sessions[place].day
        return {} if day is None else left_over(plan, day, desk.folder.overrides)

    @router.get("/plan/{place}", response_class=HTMLResponse)
    def plan_page(request: Request, place: int) -> HTMLResponse:
        plan = plan_of(desk, place)
        session = desk.weekend().sessions[place]
        # One piece for each line of the plan, in its order.
        rows = list(zip(plan.lines, session.pieces, strict=True))
        return render.page(
            request, "plan.html", title=f"Plan: {session.title}", session=session, place=place,
            rows=rows, hymns=desk.hymns(), tones=range(1, 9), stamp=seen(Path(plan.file)),
            rest=rest(plan, place), lesson=plan.service == LESSON, file=plan.file,
        )  # fmt: skip

    @router.post("/plan/{place}")
    async def save(request: Request, place: int) -> Response:
        form = {k: str(v) for k, v in (await request.form()).items() if isinstance(v, str)}
        plan = plan_of(desk, place)
        if form.get("stamp") != seen(Path(plan.file)):
            raise ChantError(
                "this plan was changed meanwhile, in another window or by another program.",
                remedy="Go back, load the page again, and change it there.",
            )
        hymns = desk.hymns()
        lines: dict[str, PlanLine | None] = {}
        for number, line in enumerate(plan.lines):
            file, tone = form.get(f"file{number}", line.file), form.get(f"tone{number}", "")
            out = form.get(f"out{number}") == "true"
            lines[line.item] = None if out else _new_line(line, file, tone, hymns)
        added = form.get("added", "")
        if added in rest(plan, place):
            lines[added] = PlanLine(added)
        write_plan(Path(plan.file), changed(plan, lines))
        return RedirectResponse(f"/plan/{place}" if added else "/", 303)

    return router
