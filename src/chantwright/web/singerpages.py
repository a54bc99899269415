"""Singers: ranges, consent, what they have in hand, what they have shown."""

from __future__ import annotations

import json
import math
import tempfile
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Form
from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from chantwright.parish import note_hz
from chantwright.parish.practice import (
    Rules,
    Turn,
    due,
    load_rules,
    practice_order,
    readiness,
)
from chantwright.parish.rangepicture import pitch_text
from chantwright.parish.records import (
    RECORDING,
    Person,
    add_person,
    agree,
    agreed,
    delete_person,
    everything,
    person,
    persons,
    recordings_of,
    results_of,
    take_range,
    withdraw,
)
from chantwright.parish.records.backup import RECORDINGS
from chantwright.parish.records.handing import hand_over
from chantwright.parish.singers import VOICES
from chantwright.web.desk import Desk
from chantwright.web.recordpages import is_own
from chantwright.web.render import Render
from chantwright.web.views import day_text, hymn_link

__all__ = ["routes"]


def _row(who: Person, session: Session, desk: Desk) -> dict[str, Any]:
    return {
        "id": who.id,
        "nickname": who.nickname,
        "voice": who.voice,
        "minor": who.minor,
        "low": pitch_text(who.low_hz) if who.low_hz else "",
        "high": pitch_text(who.high_hz) if who.high_hz else "",
        "how": who.how,
        "recording": agreed(session, who.id, RECORDING),
        "due": [desk.title(d.hymn) for d in due(session, who.id) if d.late_days >= 0],
    }


def _in_hand(
    turn: Turn, session: Session, person_id: str, rules: Rules, desk: Desk
) -> dict[str, Any]:
    """One hymn of a singer's practice: how it was given, when it is due, what was shown."""
    asked = readiness(session, person_id, turn.hymn, rules)
    given = turn.given
    return {
        "title": desk.title(turn.hymn),
        "name": turn.hymn,
        "link": hymn_link(turn.hymn),
        "by": day_text(given.by) if given is not None and given.by else "",
        "given": given is not None,
        "leads": given is not None and given.leads,
        "now": turn.now,
        "rests": None if turn.late_days is None else max(1, math.ceil(-turn.late_days)),
        "times": len(results_of(session, person_id, turn.hymn)),
        "criteria": asked,
        "met": sum(c.met for c in asked),
    }


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of these pages."""
    router = APIRouter()

    def back(person_id: str = "") -> RedirectResponse:
        return RedirectResponse(f"/singers/{person_id}" if person_id else "/singers", 303)

    @router.get("/singers", response_class=HTMLResponse)
    def everyone(request: Request) -> HTMLResponse:
        with desk.store.read() as session:
            rows = [_row(p, session, desk) for p in persons(session)]
        return render.page(request, "singers.html", title="Singers", rows=rows, voices=VOICES)

    @router.post("/singers")
    def add(
        nickname: str = Form(), voice: str = Form(), minor: bool = Form(default=False),
        low: str = Form(default=""), high: str = Form(default=""),
    ) -> RedirectResponse:  # fmt: skip
        with desk.store.write() as session:
            who = add_person(session, nickname, voice, minor=minor or voice == "child")
            if low.strip() or high.strip():
                take_range(session, who.id, note_hz(low), note_hz(high))
        return back(who.id)

    @router.get("/singers/{person_id}/all.json")
    def told(person_id: str) -> Response:
        with desk.store.read() as session:
            found = everything(session, person_id)
        text = json.dumps(found, ensure_ascii=False, indent=1)
        return Response(
            text,
            media_type="application/json",
            headers={"content-disposition": 'attachment; filename="singer.json"'},
        )

    @router.get("/singers/{person_id}/all.zip")
    def handed(request: Request, person_id: str) -> Response:
        with tempfile.TemporaryDirectory(prefix="chant-singer-") as folder:
            target = Path(folder) / "singer.zip"
            # The teacher gets no sound that the singer has not shared.
            hand_over(
                desk.store, person_id, desk.path / RECORDINGS, target,
                shared=not is_own(request, person_id),
            )  # fmt: skip
            data = target.read_bytes()
        return Response(
            data,
            media_type="application/zip",
            headers={"content-disposition": 'attachment; filename="singer.zip"'},
        )

    @router.get("/singers/{person_id}", response_class=HTMLResponse)
    def one(request: Request, person_id: str) -> HTMLResponse:
        rules = load_rules(desk.folder.overrides)
        with desk.store.read() as session:
            who = person(session, person_id)
            row = _row(who, session, desk)
            mine = is_own(request, person_id)
            kept = recordings_of(session, person_id)
            shown = [_in_hand(t, session, person_id, rules, desk) for t in
                     practice_order(session, person_id)]  # fmt: skip
        return render.page(
            request, "singer.html", title=who.nickname, row=row, shown=shown, voices=VOICES,
            kept=kept, mine=mine,
        )  # fmt: skip

    @router.post("/singers/{person_id}/consent")
    def consent(
        person_id: str, given_by: str = Form(), guardian: bool = Form(default=False)
    ) -> RedirectResponse:
        with desk.store.write() as session:
            agree(session, person_id, RECORDING, given_by=given_by, as_guardian=guardian)
        return back(person_id)

    @router.post("/singers/{person_id}/withdraw")
    def end(person_id: str) -> RedirectResponse:
        with desk.store.write() as session:
            withdraw(session, person_id, RECORDING)
        return back(person_id)

    @router.post("/singers/{person_id}/delete")
    def delete(person_id: str) -> RedirectResponse:
        with desk.store.write() as session:
            files = delete_person(session, person_id)
        for name in files:
            (desk.path / "recordings" / name).unlink(missing_ok=True)
        return back()

    return router
