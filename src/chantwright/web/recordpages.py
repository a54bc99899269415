"""Kept recordings: heard by the singer, and by the teacher only when they are shared."""

from __future__ import annotations

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response

from chantwright.errors import ChantError
from chantwright.parish.records import recordings_of, share
from chantwright.web.desk import Desk
from chantwright.web.render import Render

__all__ = ["is_own", "routes"]


def is_own(request: Request, person_id: str) -> bool:
    """Whether the singer is the one who is signed in."""
    account = getattr(request.state, "account", None)
    return account is not None and account.singer_id == person_id


def routes(desk: Desk, render: Render) -> APIRouter:  # noqa: ARG001 (all pages are asked alike)
    """Addresses of recordings."""
    router = APIRouter()

    @router.get("/singers/{person_id}/recording/{recording_id}")
    def play(request: Request, person_id: str, recording_id: str) -> Response:
        with desk.store.read() as session:
            mine = is_own(request, person_id)
            kept = recordings_of(session, person_id, shared=not mine)
        for one in kept:
            path = desk.path / "recordings" / one.file
            if one.id == recording_id and path.is_file():
                return FileResponse(path, headers={"cache-control": "private, no-store"})
        raise ChantError("there is no such recording.", remedy="It may have been deleted.")

    @router.post("/singers/{person_id}/recording/{recording_id}")
    def let_hear(
        request: Request, person_id: str, recording_id: str, shared: bool = Form(default=False)
    ) -> RedirectResponse:
        account = getattr(request.state, "account", None)
        with desk.store.write() as session:
            known = {r.id for r in recordings_of(session, person_id)}
            if recording_id not in known or (
                account is not None and not is_own(request, person_id)
            ):
                raise ChantError("there is no such recording.", remedy="Look at your own page.")
            share(session, recording_id, shared=shared)
        return RedirectResponse(f"/singers/{person_id}", 303)

    return router
