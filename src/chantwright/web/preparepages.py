"""Preparing the weekend from the browser, with a bar that tells how far it is.

The work runs in a thread of this server and hands the recordings to processes. How far it is
stands in the records, so a page that is loaded again, or a server that is started again, knows.

References
----------
WHATWG HTML, "Server-sent events".
"""

from __future__ import annotations

import asyncio
import json
import re
import threading
import time
from collections.abc import AsyncIterator, Callable
from concurrent.futures import Executor
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)

from chantwright.errors import ChantError
from chantwright.parish import prepare
from chantwright.parish.records import jobs
from chantwright.parish.workers import workers
from chantwright.web.desk import Desk
from chantwright.web.page import write_page
from chantwright.web.render import Render

__all__ = ["Preparing", "routes"]

WHAT = "prepare"
_LOOK_SECONDS, _ALIVE_SECONDS, _WRITE_SECONDS = 0.2, 15.0, 0.5
_SETTING_SHARE = 0.1  # of the bar, for what comes before the recordings
_FILE = re.compile(r"[a-z0-9-]{1,80}\.(opus|mp3)")
_MIME = {"opus": "audio/ogg", "mp3": "audio/mpeg"}


@dataclass(slots=True)
class Preparing:
    """Prepares weekends one at a time.

    Attributes
    ----------
    desk : Desk
        The parish.
    pool : callable
        Opens what runs the recordings.
    """

    desk: Desk
    pool: Callable[[], AbstractContextManager[Executor]] = workers
    thread: threading.Thread | None = None
    _written: float = field(default=0.0)
    _one: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        with self.desk.store.write() as session:
            jobs.mark_stopped(session)

    def last(self) -> jobs.Job | None:
        """What was asked for last."""
        with self.desk.store.read() as session:
            return jobs.last(session, WHAT)

    def begin(self) -> None:
        """Begin, unless it runs already."""
        day = self.desk.today
        about = {"day": day.isoformat(), "part": 0.0, "label": "begun"}
        with self._one, self.desk.store.write() as session:
            job, fresh = jobs.ask(session, WHAT, about)
        if fresh:
            self.thread = threading.Thread(target=self._work, args=(job.id, day), daemon=True)
            self.thread.start()

    def _work(self, job_id: str, day: date) -> None:
        trouble = ""
        try:
            folder = self.desk.folder
            with self.pool() as pool:
                made = prepare(
                    folder, day, folder.path / "ready" / day.isoformat(), executor=pool,
                    progress=lambda label, done, total: self._told(job_id, label, done, total),
                )  # fmt: skip
            write_page(made, self.desk.knowledge.tones)
        except ChantError as exc:
            trouble = str(exc)
        except Exception as exc:
            trouble = f"This is a fault of chantwright ({type(exc).__name__}); ask again."
        with self.desk.store.write() as session:
            jobs.tell(session, job_id, {"part": 1.0, "label": "ready"} if not trouble else {})
            jobs.end(session, job_id, trouble)

    def _told(self, job_id: str, label: str, done: int, total: int) -> None:
        part = done / max(total, 1)
        recorded = label.startswith("recorded")
        if label == "booklet":
            part = _SETTING_SHARE
        else:
            part = _SETTING_SHARE + (1 - _SETTING_SHARE) * part if recorded else (
                _SETTING_SHARE * part
            )  # fmt: skip
        now = time.monotonic()
        if not recorded and now - self._written < _WRITE_SECONDS:
            return
        self._written = now
        with self.desk.store.write() as session:
            jobs.tell(session, job_id, {"part": round(part, 3), "label": label})


def _said(job: jobs.Job | None) -> dict[str, Any]:
    if job is None:
        return {"state": "", "part": 0.0, "label": "", "trouble": ""}
    return {
        "state": job.state,
        "part": job.about.get("part", 0.0),
        "label": job.about.get("label", ""),
        "trouble": job.trouble,
    }


def routes(desk: Desk, render: Render, preparing: Preparing) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    @router.get("/prepare", response_class=HTMLResponse)
    def page(request: Request) -> HTMLResponse:
        job = preparing.last()
        folder, names = "", []
        if job is not None and job.state == "done":
            place = desk.path / "ready" / str(job.about["day"])
            folder = str(place)
            names = sorted(p.name for p in (place / "recordings").glob("*.mp3"))
        return render.page(
            request, "prepare.html", title="Prepare the weekend", said=_said(job),
            running=job is not None and job.is_open, folder=folder, names=names,
        )  # fmt: skip

    @router.post("/prepare")
    def begin() -> RedirectResponse:
        preparing.begin()
        return RedirectResponse("/prepare", 303)

    @router.get("/prepare/events")
    async def events(request: Request) -> StreamingResponse:
        return StreamingResponse(
            _events(request, preparing), media_type="text/event-stream",
            headers={"x-accel-buffering": "no"},
        )  # fmt: skip

    @router.get("/prepare/recordings/{name}")
    def recording(name: str) -> Response:
        job = preparing.last()
        fits = _FILE.fullmatch(name)
        if job is not None and fits:
            path = desk.path / "ready" / str(job.about["day"]) / "recordings" / name
            if path.is_file():
                return FileResponse(path, media_type=_MIME[fits[1]], filename=name)
        raise ChantError("there is no such recording.", remedy="Prepare the weekend first.")

    return router


async def _events(request: Request, preparing: Preparing) -> AsyncIterator[str]:
    """Tell every change until the work has ended or the page is gone."""
    shown: dict[str, Any] = {}
    told = time.monotonic()
    while not await request.is_disconnected():
        job = await asyncio.to_thread(preparing.last)
        said = _said(job)
        if said != shown:
            shown, told = said, time.monotonic()
            yield f"data: {json.dumps(said)}\n\n"
        if job is None or not job.is_open:
            return
        if time.monotonic() - told > _ALIVE_SECONDS:
            told = time.monotonic()
            yield ": still here\n\n"
        await asyncio.sleep(_LOOK_SECONDS)
