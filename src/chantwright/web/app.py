"""The web app on the teacher's own computer: ``chantwright serve``.

Pages are made on the server and work without scripts wherever there is no sound and no live state;
small modules add the sound, the highlighting and the stand. No request leaves the machine.
"""

from __future__ import annotations

import base64
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from importlib import resources
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, Response
from starlette.staticfiles import StaticFiles

from chantwright import __version__
from chantwright.errors import ChantError
from chantwright.parish.records.attempts import Attempts
from chantwright.web import (
    assignpages,
    doors,
    hymnpages,
    planpages,
    preparepages,
    rangepages,
    recordpages,
    resultpages,
    singerpages,
    soundpages,
    standpages,
    weekpages,
    writingpages,
)
from chantwright.web.desk import Desk
from chantwright.web.doors import at_the_door
from chantwright.web.guard import LOOPBACK, guarded
from chantwright.web.preparepages import Preparing
from chantwright.web.render import Render

__all__ = ["make_app"]

_FORM = 2_000_000
"""Bytes that a form may have beside a recording."""
_NOT_FOUND = "there is no such"


_REFUSED = {
    404: ("There is no such page.", "Go back to the week."),
    413: (
        "That is larger than can be taken at once.",
        "Send one thing at a time: one recording, one message.",
    ),
}


def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("chantwright.web"),
        autoescape=select_autoescape(("html",)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    # In the page itself: a stand without its server must not ask for it.
    mark = (resources.files("chantwright.web") / "static" / "mark.svg").read_bytes()
    made.filters["upper_first"] = lambda text: text[:1].upper() + text[1:]
    made.globals["mark"] = f"data:image/svg+xml;base64,{base64.b64encode(mark).decode()}"
    return made


def make_app(
    desk: Desk,
    *,
    hosts: tuple[str, ...] = LOOPBACK,
    hosted: bool = False,
    attempts: Attempts | None = None,
    preparing: Preparing | None = None,
) -> FastAPI:
    """Make the app of one parish.

    Parameters
    ----------
    desk : Desk
        The open parish.
    hosts : tuple of str
        Names under which it may be asked; loopback ones on the teacher's own computer.
    hosted : bool
        Whether people sign in (`chantwright.web.doors`).
    attempts : Attempts, optional
        Counts attempts to sign in.
    preparing : Preparing, optional
        Prepares weekends.
    """
    work = preparing or Preparing(desk)

    @asynccontextmanager
    async def living(_: FastAPI) -> AsyncIterator[None]:
        work.start()
        try:
            yield
        finally:
            await run_in_threadpool(work.stop)

    app = FastAPI(
        title="chantwright", version=__version__, docs_url=None, openapi_url=None, lifespan=living,
        max_body_size=soundpages.LARGEST + _FORM,  # counted while it comes, before it is kept
    )  # fmt: skip
    render = Render(_environment(), desk, hosted=hosted)
    if hosted:

        @app.middleware("http")
        async def door(
            request: Request, call_next: Callable[[Request], Awaitable[Response]]
        ) -> Response:
            return await at_the_door(request, call_next, desk, render)

    @app.middleware("http")
    async def guard(
        request: Request, call_next: Callable[[Request], Awaitable[Response]]
    ) -> Response:
        return await guarded(request, call_next, hosts)

    @app.exception_handler(ChantError)
    async def told(request: Request, exc: ChantError) -> HTMLResponse:
        status = 404 if _NOT_FOUND in exc.what else 400
        return render.trouble(request, exc.what, exc.remedy, status)

    @app.exception_handler(HTTPException)
    async def refused(request: Request, exc: HTTPException) -> HTMLResponse:
        what, remedy = _REFUSED.get(exc.status_code, (str(exc.detail), "Go back to the week."))
        return render.trouble(request, what, remedy, exc.status_code)

    @app.exception_handler(RequestValidationError)
    async def unread(request: Request, _exc: RequestValidationError) -> HTMLResponse:
        what = "Something in that form could not be read."
        return render.trouble(request, what, "Go back and fill it in again.", 422)

    for module in (
        hymnpages, writingpages, weekpages, planpages, soundpages, recordpages, singerpages,
        rangepages, assignpages, resultpages, standpages,
    ):  # fmt: skip
        app.include_router(module.routes(desk, render))
    app.include_router(preparepages.routes(desk, render, work))
    if hosted:
        app.include_router(doors.routes(desk, render, attempts or Attempts(desk.store)))
    folder = Path(str(resources.files("chantwright.web") / "static"))
    app.mount("/static", StaticFiles(directory=folder), name="static")
    return app
