"""A singer's comfortable range, taken by singing and kept when somebody has looked at it.

The sound is listened to and thrown away. Nothing is written down before the singer, or the teacher
beside them, has seen what was heard and said that it is right.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from fastapi import APIRouter, Form, UploadFile
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse

from chantwright.ear.compass import Compass, take_compass
from chantwright.ear.recording import read_recording
from chantwright.ear.trace import trace
from chantwright.ear.voicing import nothing_sung
from chantwright.errors import ChantError
from chantwright.parish import note_hz
from chantwright.parish.rangepicture import pitch_text, range_picture
from chantwright.parish.records import person, take_range
from chantwright.web.desk import Desk
from chantwright.web.render import Render
from chantwright.web.soundpages import LONGEST_SECONDS, taken_in

__all__ = ["routes"]


@dataclass(frozen=True, slots=True)
class _Found:
    compass: Compass
    picture: str
    remarks: tuple[str, ...]


def _listen(data: bytes, file_name: str) -> _Found:
    suffix = Path(file_name).suffix.lower()[:8] or ".wav"
    with tempfile.TemporaryDirectory(prefix="chant-range-") as folder:
        path = Path(folder) / f"take{suffix}"
        path.write_bytes(data)
        taken = read_recording(path, longest=LONGEST_SECONDS)
    contour = trace(taken.samples, taken.rate)
    if nothing_sung(contour):
        raise ChantError(
            "nothing sung can be heard in this recording.",
            remedy="Sing held notes close to the microphone.",
        )
    compass = take_compass(contour)
    remarks = (*taken.about.remarks, *compass.remarks)
    return _Found(compass, range_picture(contour, compass), remarks)


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    @router.get("/singers/{person_id}/range", response_class=HTMLResponse)
    def ask(request: Request, person_id: str) -> HTMLResponse:
        with desk.store.read() as session:
            who = person(session, person_id)
        return render.page(
            request, "range.html", title=f"The range of {who.nickname}", who=who, found=None
        )

    @router.post("/singers/{person_id}/range/sung", response_class=HTMLResponse)
    async def hear(request: Request, person_id: str, take: UploadFile) -> HTMLResponse:
        with desk.store.read() as session:
            who = person(session, person_id)
        found = await run_in_threadpool(_listen, await taken_in(take), take.filename or "take.wav")
        return render.page(
            request, "range.html", title=f"The range of {who.nickname}", who=who, found=found,
            said=pitch_text,
        )  # fmt: skip

    @router.post("/singers/{person_id}/range")
    def keep(
        person_id: str, low: str = Form(), high: str = Form(), how: str = Form(default="typed")
    ) -> RedirectResponse:
        sung = "sung" if how == "sung" else "typed"
        with desk.store.write() as session:
            take_range(session, person_id, note_hz(low), note_hz(high), how=sung)
        return RedirectResponse(f"/singers/{person_id}", 303)

    return router
