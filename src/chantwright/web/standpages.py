"""The stand: a service on one page that goes on working when the server is gone."""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import HTMLResponse

from chantwright.engrave import READINGS
from chantwright.errors import ChantError
from chantwright.parish import Piece
from chantwright.score import UNISON, Hymn
from chantwright.tones import Tones
from chantwright.tuning import degree_name, hz
from chantwright.web.desk import Desk
from chantwright.web.render import Render
from chantwright.web.views import STAND_CUTS, score
from chantwright.web.weekpages import day_words

__all__ = ["notes_of_intonation", "routes", "tuning_of"]


def tuning_of(hymn: Hymn, tones: Tones) -> dict[str, float]:
    """Hz of every degree that the ison holds."""
    if hymn.base is None or hymn.branch is None:
        return {}
    scale = tones.scales[tones.branch(hymn.branch).scale]
    held = {s.ison for p in hymn.phrases for s in p.syllables}
    out = {}
    for degree in sorted(d for d in held if isinstance(d, int)):
        out[degree_name(degree)] = round(
            hz(scale, degree, base_degree=hymn.base.degree, base_hz=hymn.base.hz), 4
        )
    return out


def notes_of_intonation(hymn: Hymn, tones: Tones) -> list[dict[str, float]]:
    """Hz and beats of the intonation that puts the singers into the tone."""
    if hymn.base is None or hymn.branch is None:
        return []
    branch = tones.branch(hymn.branch)
    found = tones.intonations.get(hymn.intonation or branch.intonation)
    if found is None:
        return []
    scale = tones.scales[found.scale if found.scale in tones.scales else branch.scale]
    return [
        {
            "hz": round(hz(scale, degree, base_degree=hymn.base.degree, base_hz=hymn.base.hz), 4),
            "beats": float(beats),
        }
        for _, degree, beats in found.short
    ]


def _first_held(hymn: Hymn) -> str:
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            if isinstance(syllable.ison, int):
                return degree_name(syllable.ison)
            if syllable.ison == UNISON:
                return ""
    return ""


def _item(piece: Piece, desk: Desk, reading: str, number: int) -> dict[str, Any]:
    hymn = piece.singable.hymn if piece.singable is not None else None
    if hymn is None:
        return {"item": piece.item, "note": piece.note, "score": None, "sound": "{}", "first": ""}
    tones = desk.knowledge.tones
    sound = {
        "ison": tuning_of(hymn, tones),
        "held": _first_held(hymn),
        "intonation": notes_of_intonation(hymn, tones),
        "tempo": hymn.tempo or 120,
    }
    return {
        "item": piece.item,
        "note": piece.note,
        "score": score(
            hymn, tones, desk.folder, reading=reading, cuts=tuple(STAND_CUTS), prefix=f"h{number}."
        ),
        "sound": json.dumps(sound),
        "first": hymn.phrases[0].words if hymn.phrases else "",
    }


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of the stand."""
    router = APIRouter()

    @router.get("/stand/{place}", response_class=HTMLResponse)
    def stand(request: Request, place: int, reading: str = "staff") -> HTMLResponse:
        sessions = desk.weekend().sessions
        if not 0 <= place < len(sessions):
            raise ChantError("there is no such service this week.", remedy="Look at the week.")
        session = sessions[place]
        chosen = reading if reading in READINGS else "staff"
        items = [_item(p, desk, chosen, i) for i, p in enumerate(session.pieces)]
        return render.page(
            request, "stand.html", title=session.title, date=day_words(session), items=items,
            reading=chosen, readings=READINGS, place=place, widths=STAND_CUTS,
        )  # fmt: skip

    return router
