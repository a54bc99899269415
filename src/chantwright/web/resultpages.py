"""Results that singers made at home with the practice pack: pasted, or chosen as files.

For the teacher alone. All of what is sent is taken in, or nothing; what was taken in before is not
taken in twice, so sending it again does no harm. A text that is refused stays on the page.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse

from chantwright.errors import ChantError, Where
from chantwright.parish.handed import Taken, take_in
from chantwright.parish.practice import load_rules
from chantwright.parish.records import Result, person, persons
from chantwright.web.desk import Desk
from chantwright.web.handin import read_handins, told_in
from chantwright.web.render import Render

__all__ = ["LARGEST", "routes"]

LARGEST = 1_000_000
"""Bytes that are taken at once; a result has some three hundred."""
_PART = 4 * LARGEST
"""Bytes of what is pasted, counted while they come; what is larger still is not even looked at."""


def _read(words: str, files: list[UploadFile]) -> list[tuple[str, Result]]:
    """Read all that was sent.

    Raises
    ------
    ChantError
        If nothing was, it is more than `LARGEST`, or something is no result.
    """
    texts = [("", words)] if words.strip() else []
    left = LARGEST - len(words.encode())
    for file in files:
        data = file.file.read(max(0, left) + 1)
        left -= len(data)
        if data or file.filename:  # a browser sends an empty part where no file was chosen
            name = (file.filename or "")[:80]
            texts.append((name, told_in(data, name) if left >= 0 else ""))
        if left < 0:
            break
    if left < 0:
        raise ChantError(
            f"this is more than {LARGEST // 1_000_000} million bytes; a result has a few hundred.",
            where=Where(texts[-1][0]),
            remedy="Send the results alone, without pictures or sound.",
        )
    if not texts:
        raise ChantError(
            "nothing was handed in.", remedy="Paste what the singer sent, or choose the file."
        )
    return [(place, result) for place, text in texts for result in read_handins(text, place)]


def _row(taken: Taken) -> dict[str, Any]:
    result = taken.result
    return {
        "id": taken.who.id,
        "nickname": taken.who.nickname,
        "title": result.detail.get("title") or result.hymn,
        "day": result.sung.date().isoformat() if result.sung else "",
        "notes": result.notes,
        "right": result.notes - result.wrong - result.skipped,
        "is_new": taken.is_new,
    }


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    def page(request: Request, status: int = 200, **values: Any) -> HTMLResponse:
        with desk.store.read() as session:
            people = persons(session)
        blank = {"words": "", "whose": "", "trouble": None, "taken": ()}
        return render.page(
            request, "results.html", status, title="Results handed in", people=people,
            **{**blank, **values},
        )  # fmt: skip

    @router.get("/results", response_class=HTMLResponse)
    def asked(request: Request) -> HTMLResponse:
        return page(request)

    @router.post(
        "/results", response_class=HTMLResponse,
        form_limits={"max_part_size": _PART, "max_files": 100, "max_fields": 10},
    )  # fmt: skip
    def handed_in(
        request: Request,
        words: Annotated[str, Form()] = "",
        singer: Annotated[str, Form()] = "",
        files: Annotated[list[UploadFile] | None, File()] = None,
    ) -> HTMLResponse:
        if singer:
            with desk.store.read() as session:
                person(session, singer)  # no such singer: no such page
        try:
            handed = _read(words, files or [])
            rules = load_rules(desk.folder.overrides)
            with desk.store.write() as session:
                who = person(session, singer) if singer else None
                taken = take_in(session, handed, rules, who, remedy="Choose the singer below.")
        except ChantError as exc:
            given = words if len(words) <= LARGEST else ""
            return page(request, 400, words=given, whose=singer, trouble=exc)
        return page(request, taken=[_row(t) for t in taken])

    return router
