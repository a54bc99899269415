"""Preparing the weekend from the browser, with a bar that tells how far it is.

The work runs in a thread of this server and hands the recordings to processes. How far it is
stands in the records, so a page that is loaded again knows; and a server that is started again, or
another that serves the same parish, goes on by itself with what was half done.

References
----------
WHATWG HTML, "Server-sent events".
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
import threading
import time
from collections.abc import AsyncIterator, Callable
from concurrent.futures import Executor
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from fastapi import APIRouter
from sqlalchemy.exc import DBAPIError
from starlette.requests import Request
from starlette.responses import (
    FileResponse,
    HTMLResponse,
    RedirectResponse,
    Response,
    StreamingResponse,
)

from chantwright import safefile
from chantwright.errors import ChantError
from chantwright.parish import prepare, weekend_folder
from chantwright.parish.records import jobs
from chantwright.parish.records.tables import new_id
from chantwright.parish.workers import workers
from chantwright.web.desk import Desk
from chantwright.web.page import write_page
from chantwright.web.render import Render

__all__ = ["Preparing", "routes"]

WHAT = "prepare"
_LOOK_SECONDS, _ALIVE_SECONDS, _WRITE_SECONDS = 0.2, 15.0, 0.5
_STOP_SECONDS = 2.0
_OVER = timedelta(days=7)
_MOST_TIMES = 3
_STOPPED = "The server was stopped again and again while it worked. What was finished is kept."
_SETTING_SHARE = 0.1  # of the bar, for what comes before the recordings
_FILE = re.compile(r"[a-z0-9-]{1,80}\.(opus|mp3)")
_MIME = {"opus": "audio/ogg", "mp3": "audio/mpeg"}


class _LeftError(Exception):
    """The work is left to somebody else."""


@dataclass(slots=True)
class Preparing:
    """Prepares weekends one at a time, and takes up what a server that is gone left half done.

    Attributes
    ----------
    desk : Desk
        The parish.
    pool : callable
        Opens what runs the recordings.
    silent : timedelta
        Work without a sign of life for so long belongs to a server that is gone.
    """

    desk: Desk
    pool: Callable[[], AbstractContextManager[Executor]] = workers
    silent: timedelta = timedelta(seconds=10)
    thread: threading.Thread | None = None
    _holder: str = field(default_factory=new_id)
    _job: jobs.Job | None = None
    _running: Executor | None = None
    _part: float = 0.0
    _written: float = 0.0
    _lost: bool = False
    _one: threading.Lock = field(default_factory=threading.Lock)
    _stopping: threading.Event = field(default_factory=threading.Event)
    _watch: threading.Thread | None = None

    def start(self) -> None:
        """Begin to watch: for work to take up, and over one's own."""
        self._watch = threading.Thread(target=self._watched, daemon=True)
        self._watch.start()

    def stop(self) -> None:
        """Stop: what is finished is kept, and the rest is left for whoever comes next."""
        self._stopping.set()
        job, running = self._job, self._running
        if running is not None:
            running.shutdown(wait=False, cancel_futures=True)
        if job is not None:
            with self.desk.store.write() as session:
                jobs.let_go(session, job.id, self._holder)
        for thread in (self._watch, self.thread):
            if thread is not None:
                thread.join(_STOP_SECONDS)

    def last(self) -> jobs.Job | None:
        """What was asked for last."""
        with self.desk.store.read() as session:
            return jobs.last(session, WHAT)

    def begin(self) -> None:
        """Begin, unless it runs already."""
        about = {"day": self.desk.today.isoformat(), "part": 0.0, "label": "begun"}
        with self._one, self.desk.store.write() as session:
            job, fresh = jobs.ask(session, WHAT, about, self._holder)
        if fresh:
            self._run(job)

    def take_up(self) -> bool:
        """Go on with what a server that is gone left; returns whether there was something."""
        with self._one, self.desk.store.write() as session:
            job = jobs.take_up(session, WHAT, self._holder, self.silent)
            if job is None:
                return False
            times = int(job.about.get("times", 0)) + 1
            over = self.desk.today - date.fromisoformat(str(job.about["day"])) > _OVER
            if over or times > _MOST_TIMES:
                jobs.end(session, job.id, "Its weekend is over." if over else _STOPPED)
                return False
            jobs.tell(session, job.id, {"times": times, "label": "going on where it stopped"})
        self._run(job)
        return True

    def _run(self, job: jobs.Job) -> None:
        self._job, self._lost = job, False
        self._part = float(job.about.get("part", 0.0))
        self.thread = threading.Thread(target=self._work, args=(job,), daemon=True)
        self.thread.start()

    def _watched(self) -> None:
        while not self._stopping.is_set():
            # A database that does not answer now may answer later.
            with contextlib.suppress(DBAPIError):
                job = self._job
                if job is None:
                    self.take_up()
                else:
                    with self.desk.store.write() as session:
                        self._lost = not jobs.beat(session, job.id, self._holder)
            self._stopping.wait(self.silent.total_seconds() / 5)

    def _work(self, job: jobs.Job) -> None:
        day = date.fromisoformat(str(job.about["day"]))
        trouble = ""
        try:
            folder = self.desk.folder
            out = weekend_folder(folder, day)
            with self.pool() as pool:
                self._running = pool
                made = prepare(
                    folder, day, out, executor=pool,
                    progress=lambda label, done, total: self._told(job.id, label, done, total),
                )  # fmt: skip
            write_page(made, self.desk.knowledge.tones)
        except ChantError as exc:
            trouble = str(exc)
        except _LeftError:
            return
        except Exception as exc:
            trouble = f"This is a fault of chantwright ({type(exc).__name__}); ask again."
        finally:
            self._job = self._running = None
        if trouble and (self._stopping.is_set() or self._lost):
            return  # it was ended with the server, and is no fault of its own
        with self.desk.store.write() as session:
            if not trouble:
                jobs.tell(session, job.id, {"part": 1.0, "label": "ready", "out": out.name})
            jobs.end(session, job.id, trouble)

    def _told(self, job_id: str, label: str, done: int, total: int) -> None:
        if self._stopping.is_set() or self._lost:
            raise _LeftError
        part = done / max(total, 1)
        recorded = label.startswith("recorded")
        if label == "booklet":
            part = _SETTING_SHARE
        else:
            part = _SETTING_SHARE + (1 - _SETTING_SHARE) * part if recorded else (
                _SETTING_SHARE * part
            )  # fmt: skip
        # What was finished before a stop is still finished: the bar never goes back.
        self._part = max(self._part, part)
        now = time.monotonic()
        if not recorded and now - self._written < _WRITE_SECONDS:
            return
        self._written = now
        with self.desk.store.write() as session:
            jobs.tell(session, job_id, {"part": round(self._part, 3), "label": label})


def _place(desk: Desk, job: jobs.Job) -> Path:
    """Where lies what was made; earlier it was named by the day on which it was asked for."""
    return desk.path / "ready" / str(job.about.get("out", job.about["day"]))


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
            place = _place(desk, job)
            folder = str(place)
            names = [p.name for p in safefile.finished(place / "recordings", "*.mp3")]
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
            path = _place(desk, job) / "recordings" / name
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
