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
from chantwright.score import Hymn, Ison, Phrase, note_id
from chantwright.tones import Tones
from chantwright.tuning import degree_name, hz
from chantwright.web.desk import Desk
from chantwright.web.render import Render
from chantwright.web.views import STAND_CUTS, score, width_mm
from chantwright.web.weekpages import day_words

__all__ = ["ison_changes", "notes_of_intonation", "routes"]


def ison_changes(hymn: Hymn, tones: Tones) -> list[dict[str, Any]]:
    """Every note that the ison takes, in order: its name, Hz, first note and first word.

    Hz is 0 where the holders join the melody. Silence before the ison first sets in is none.
    """
    if hymn.base is None or hymn.branch is None:
        return []
    scale = tones.scales[tones.branch(hymn.branch).scale]
    out: list[dict[str, Any]] = []
    held: Ison = None
    for phrase in hymn.phrases:
        for place, syllable in enumerate(phrase.syllables):
            if syllable.ison in (held, None) or not syllable.notes:
                continue
            held = syllable.ison
            sounds = 0.0
            if isinstance(held, int):
                sounds = hz(scale, held, base_degree=hymn.base.degree, base_hz=hymn.base.hz)
            out.append(
                {
                    "name": degree_name(held).capitalize() if isinstance(held, int) else "melody",
                    "hz": round(sounds, 4),
                    "id": note_id(syllable, 0),
                    "word": _word(phrase, place),
                }
            )
    return out


def _word(phrase: Phrase, place: int) -> str:
    """The word that a syllable belongs to."""
    first = place
    while first > 0 and phrase.syllables[first].place in ("middle", "end"):
        first -= 1
    last = first
    while last + 1 < len(phrase.syllables) and phrase.syllables[last + 1].place in (
        "middle", "end",
    ):  # fmt: skip
        last += 1
    return "".join(s.text for s in phrase.syllables[first : last + 1]).strip(" ,.;:!?·")


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


def _item(piece: Piece, desk: Desk, reading: str, number: int) -> dict[str, Any]:
    hymn = piece.singable.hymn if piece.singable is not None else None
    if hymn is None:
        return {
            "item": piece.item,
            "note": piece.note,
            "score": None,
            "sound": "{}",
            "first": "",
            "ison": "",
        }
    tones = desk.knowledge.tones
    changes = ison_changes(hymn, tones)
    sound = {
        "ison": changes,
        "intonation": notes_of_intonation(hymn, tones),
        "tempo": hymn.tempo or 120,
    }
    return {
        "item": piece.item,
        "note": piece.note,
        "score": score(
            hymn, tones, desk.folder, reading=reading, cuts=tuple(STAND_CUTS), prefix=f"h{number}."
        ),
        "sound": json.dumps(sound, ensure_ascii=False),
        "first": hymn.phrases[0].words if hymn.phrases else "",
        "ison": changes[0]["name"] if changes else "",
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
            reading=chosen, readings=READINGS, place=place,
            widths={cut: width_mm(cut, chosen) for cut in STAND_CUTS},
        )  # fmt: skip

    return router
