"""Signing in, for a group whose pages are on a server.

Who may go where stands in one table (`ALLOWED`); what is not in it is not there. A singer sees the
hymns, the stand, the course and what is his own; another singer's page answers as if there were
none. On the teacher's own computer none of this is used.

References
----------
OWASP cheat sheets: session management (fresh token at sign-in, HttpOnly and SameSite cookies, the
``__Host-`` prefix of RFC 6265bis), authorization (deny by default).
"""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable

from fastapi import APIRouter, Form
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from chantwright.errors import ChantError
from chantwright.parish.records.accounts import (
    Account,
    account_of,
    end_session,
    invite,
    join,
    open_session,
    sign_in,
)
from chantwright.parish.records.attempts import Attempts
from chantwright.parish.records.people import person
from chantwright.web.desk import Desk
from chantwright.web.render import Render

__all__ = ["ALLOWED", "allowed", "at_the_door", "routes"]

_OPEN = re.compile(r"/(sign-in|join/[A-Za-z0-9_-]{8,80}|static/.*)")
ALLOWED: tuple[tuple[str, str], ...] = (
    ("GET", r"/"),
    ("GET", r"/hymns"),
    ("GET", r"/hymn/(?!.*/ways/).+"),
    ("GET", r"/sound/.+"),
    ("GET", r"/stand/\d+"),
    ("GET", r"/course(/\d+\.pdf)?"),
    ("GET", r"/booklet\.pdf"),
    ("GET", r"/hear/.+"),
    ("POST", r"/hear/.+"),
    ("POST", r"/light"),
    ("POST", r"/sign-out"),
    ("GET", r"/singers/{own}"),
    ("GET", r"/singers/{own}/all\.(json|zip)"),
    ("GET", r"/singers/{own}/range"),
    ("POST", r"/singers/{own}/range(/sung)?"),
    ("POST", r"/singers/{own}/withdraw"),
    ("POST", r"/singers/{own}/delete"),
    ("GET", r"/singers/{own}/recording/[A-Za-z0-9_-]+"),
    ("POST", r"/singers/{own}/recording/[A-Za-z0-9_-]+"),
)
"""What a singer may ask for; a teacher may ask for everything."""


def allowed(account: Account, method: str, path: str) -> bool:
    """Whether somebody may ask for a page."""
    if account.role == "teacher":
        return True
    own = re.escape(account.singer_id or "\x00")
    method = "GET" if method == "HEAD" else method
    return any(
        method == asked and re.fullmatch(pattern.replace("{own}", own), path)
        for asked, pattern in ALLOWED
    )


def _cookie(request: Request) -> str:
    return "__Host-chant" if request.url.scheme == "https" else "chant"


async def at_the_door(
    request: Request,
    call_next: Callable[[Request], Awaitable[Response]],
    desk: Desk,
    render: Render,
) -> Response:
    """Let in who is signed in and may go there."""
    path = request.url.path
    token = request.cookies.get(_cookie(request), "")
    with desk.store.read() as session:
        account = account_of(session, token)
    request.state.account = account
    if _OPEN.fullmatch(path):
        return await call_next(request)
    if account is None:
        if request.method == "GET":
            return RedirectResponse("/sign-in", 303)
        return render.trouble(request, "You are not signed in.", "Sign in and try again.", 401)
    if not allowed(account, request.method, path):
        return render.trouble(request, "There is no such page.", "Go back to the week.", 404)
    return await call_next(request)


def routes(desk: Desk, render: Render, attempts: Attempts) -> APIRouter:
    """Addresses of signing in and out, and of invitations."""
    router = APIRouter()

    def who(request: Request) -> str:
        return request.client.host if request.client else "?"

    def tried(request: Request, login: str = "") -> None:
        by_place = attempts.again(f"from {who(request)}")
        # A name is not even counted from a place that has tried too often.
        if not by_place or (login and not attempts.again(f"as {login.casefold()[:80]}")):
            raise ChantError(
                "there were too many attempts.", remedy="Wait five minutes and try again."
            )

    def signed_in(request: Request, account_id: str) -> RedirectResponse:
        with desk.store.write() as session:
            old = request.cookies.get(_cookie(request), "")
            if old:
                end_session(session, old)
            token, until = open_session(session, account_id)
        answer = RedirectResponse("/", 303)
        answer.set_cookie(
            _cookie(request), token, expires=until, httponly=True, samesite="lax", path="/",
            secure=request.url.scheme == "https",
        )  # fmt: skip
        return answer

    @router.get("/sign-in", response_class=HTMLResponse)
    def door(request: Request) -> HTMLResponse:
        return render.page(request, "sign-in.html", title="Sign in", wrong=False)

    @router.post("/sign-in")
    def enter(request: Request, login: str = Form(), secret: str = Form()) -> Response:
        tried(request, login)
        with desk.store.write() as session:
            account = sign_in(session, login, secret)
        if account is None:
            return render.page(request, "sign-in.html", 403, title="Sign in", wrong=True)
        return signed_in(request, account.id)

    @router.post("/sign-out")
    def leave(request: Request) -> RedirectResponse:
        with desk.store.write() as session:
            end_session(session, request.cookies.get(_cookie(request), ""))
        answer = RedirectResponse("/sign-in", 303)
        answer.delete_cookie(_cookie(request), path="/")
        return answer

    @router.get("/join/{token}", response_class=HTMLResponse)
    def invited(request: Request, token: str) -> HTMLResponse:
        return render.page(request, "join.html", title="Join", token=token)

    @router.post("/join/{token}")
    def accept(
        request: Request, token: str, login: str = Form(), secret: str = Form()
    ) -> RedirectResponse:
        tried(request)
        with desk.store.write() as session:
            account = join(session, token, login, secret)
        return signed_in(request, account.id)

    @router.post("/singers/{person_id}/invite", response_class=HTMLResponse)
    def ask_in(request: Request, person_id: str) -> HTMLResponse:
        with desk.store.write() as session:
            name = person(session, person_id).nickname
            token = invite(session, "singer", person_id)
        link = f"{request.url.scheme}://{request.headers['host']}/join/{token}"
        return render.page(request, "invited.html", title="Invitation", name=name, address=link)

    return router
