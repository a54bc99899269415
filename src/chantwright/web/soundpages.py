"""Sound of hymns, and hearing a singer."""

from __future__ import annotations

import base64
import hashlib
import tempfile
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Form, UploadFile
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response

from chantwright import safefile
from chantwright.ear.listening import ListenOptions, listen
from chantwright.ear.markings import draw
from chantwright.ear.pages import document, told
from chantwright.ear.recording import read_recording
from chantwright.ear.verdict import LEVELS, Verdict
from chantwright.errors import ChantError
from chantwright.parish.practice import load_rules
from chantwright.parish.practice import record as record_result
from chantwright.parish.records import (
    RECORDING,
    Result,
    agreed,
    keep_recording,
    person,
    persons,
)
from chantwright.score import Hymn, hymnfile
from chantwright.voice import MODES, TrackOptions
from chantwright.voice.recording import record
from chantwright.web.desk import Desk
from chantwright.web.editing import phrase_alone
from chantwright.web.render import Render
from chantwright.web.views import hymn_link

__all__ = ["LARGEST", "LONGEST_SECONDS", "result_of", "routes", "taken_in"]

LARGEST = 40_000_000
"""Bytes of a recording that is handed in: an hour of compressed sound, minutes of plain."""
LONGEST_SECONDS = 1800.0
"""Of a recording that is handed in; silence packs so well that bytes alone are no limit."""
_PACES = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
_MIME = {".opus": "audio/ogg", ".mp3": "audio/mpeg"}
_INTONATIONS = ("short", "none")
_KEPT = 400
_SUNG = ("words", "byzantine", "western", "vowel")


def result_of(verdict: Verdict, name: str) -> Result | None:
    """Return a verdict as a result to keep; None when nothing could be judged."""
    told_ = document(verdict)
    counted = [n for n in told_["notes"] if n["counted"]]
    if verdict.status != "heard" or not counted:
        return None
    wrong = sum(bool(n["wrong"]) for n in counted)
    offs = sorted(abs(n["counts_moria"]) for n in counted if n["counts_moria"] is not None)
    line = told_["base_line"]
    drift = line["moria_from_start"][-1] if line and line["moria_from_start"] else 0.0
    whole = len([n for p in verdict.alignment.expected.hymn.phrases for s in p.syllables
                 for n in s.notes])  # fmt: skip
    return Result(
        hymn=name,
        notes=max(whole, len(counted)),
        wrong=wrong,
        skipped=max(0, whole - len(counted)),
        off_moria=offs[len(offs) // 2] if offs else None,
        drift_moria=drift,
        source="app",
        detail={"degrees": told_["degrees"], "practise": verdict.practise},
    )


def _may_be(request: Request, person_id: str) -> bool:
    """Whether a take may be written down for a singer: anybody's by the teacher, else one's own."""
    account = getattr(request.state, "account", None)
    return account is None or account.role == "teacher" or account.singer_id == person_id


async def taken_in(upload: UploadFile) -> bytes:
    """Return the bytes of an upload, counted while they come.

    Raises
    ------
    ChantError
        If there are none, or more than `LARGEST`.
    """
    parts: list[bytes] = []
    size = 0
    while part := await upload.read(1 << 16):
        size += len(part)
        if size > LARGEST:
            raise ChantError(
                f"the recording is larger than {LARGEST // 1_000_000} million bytes.",
                remedy="Record one hymn at a time.",
            )
        parts.append(part)
    if not size:
        raise ChantError("no recording came.", remedy="Choose a file, or record first.")
    return b"".join(parts)


def _picture(svg: str) -> str:
    """A drawing as the address of a picture, which may hold styles where the page may not."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"


def hear_take(
    desk: Desk, name: str, data: bytes, file_name: str, level: str, singer: str, drone: bool
) -> dict[str, Any]:
    """Hear a take: the verdict and what a page says of it; keep only what was agreed."""
    hymn = desk.singable(name)
    suffix = Path(file_name).suffix.lower()[:8] or ".wav"
    with tempfile.TemporaryDirectory(prefix="chant-hear-") as folder:
        path = Path(folder) / f"take{suffix}"
        path.write_bytes(data)
        taken = read_recording(path, longest=LONGEST_SECONDS)
    verdict = listen(
        hymn, taken.samples, taken.rate, desk.knowledge.tones,
        ListenOptions(level=level, drone="detect" if drone else None),
        overrides=desk.folder.overrides,
    )  # fmt: skip
    kept = ""
    desk.tidy()
    result = result_of(verdict, name)
    if singer:
        rules = load_rules(desk.folder.overrides)
        with desk.store.write() as session:
            who = person(session, singer)
            if result is not None:
                record_result(session, singer, result, rules)
                kept = f"Written down for {who.nickname}."
            if agreed(session, singer, RECORDING):
                keep_recording(session, singer, name, data, desk.path / "recordings", suffix=suffix)
                kept += " The recording is kept for 30 days."
    return {
        "hymn": hymn,
        "verdict": verdict,
        "told": told(verdict),
        "remarks": taken.about.remarks,
        "kept": kept.strip(),
        "pictures": [_picture(d.svg) for d in draw(verdict)] if verdict.counted else [],
        "degrees": document(verdict)["degrees"],
    }


def _make_room(folder: Path) -> None:
    """Throw away what was made longest ago; every change of a hymn makes another."""
    found = sorted(folder.iterdir(), key=lambda p: p.stat().st_mtime)
    for path in found[:-_KEPT]:
        path.unlink(missing_ok=True)


def routes(desk: Desk, render: Render) -> APIRouter:
    """Addresses of sounds and of the ear."""
    router = APIRouter()
    making: dict[str, threading.Lock] = {}
    guard = threading.Lock()

    def made(hymn: Hymn, options: TrackOptions, suffix: str) -> tuple[Path, str]:
        """Recording of a hymn and its timing map, made once."""
        mark = hashlib.sha256(f"{hymnfile.dumps(hymn)}{options}".encode()).hexdigest()[:32]
        folder = desk.path / "ready" / "desk"
        folder.mkdir(parents=True, exist_ok=True)
        sound, times = folder / f"{mark}{suffix}", folder / f"{mark}.json"
        with guard:
            lock = making.setdefault(mark + suffix, threading.Lock())
        with lock:
            if not (sound.is_file() and times.is_file()):
                done = record(hymn, desk.knowledge.tones, [sound], options, {"title": hymn.title})
                safefile.write_text(times, done.timing.to_json())
                _make_room(folder)
        return sound, times.read_text(encoding="utf-8")

    def options(part: str, pace: float, sung: str, intonation: str, alone: bool) -> TrackOptions:
        if part not in MODES or sung not in _SUNG or intonation not in _INTONATIONS:
            raise ChantError("there is no such recording.", remedy="Choose one shown.")
        made = TrackOptions(
            mode=part, pace=pace if pace in _PACES else 1.0, sung=sung, intonation=intonation
        )
        return replace(made, count_in=0) if alone else made

    @router.get("/sound/{name:path}.{kind}")
    def sound(
        name: str, kind: str, part: str = "full", pace: float = 1.0, sung: str = "words",
        phrase: str = "", intonation: str = "short",
    ) -> Response:  # fmt: skip
        if f".{kind}" not in _MIME and kind != "json":
            raise ChantError("there is no such recording.", remedy="Choose one shown.")
        suffix = ".opus" if kind == "json" else f".{kind}"
        hymn = desk.singable(f"{name}.txt")
        wanted = options(part, pace, sung, intonation, bool(phrase))
        path, times = made(phrase_alone(hymn, phrase) if phrase else hymn, wanted, suffix)
        if kind == "json":
            return Response(times, media_type="application/json")
        return FileResponse(path, media_type=_MIME[suffix])

    @router.get("/hear/{name:path}", response_class=HTMLResponse)
    def ask(request: Request, name: str) -> HTMLResponse:
        hymn = desk.singable(name)
        with desk.store.read() as session:
            people = tuple(p for p in persons(session) if _may_be(request, p.id))
        return render.page(
            request, "hear.html", title=f"Sing {hymn.title}", name=name, hymn=hymn,
            link=hymn_link(name), people=people, levels=LEVELS,
        )  # fmt: skip

    @router.post("/hear/{name:path}", response_class=HTMLResponse)
    async def hear(
        request: Request,
        name: str,
        take: UploadFile,
        level: str = Form(default="regular"),
        singer: str = Form(default=""),
        drone: bool = Form(default=False),
    ) -> HTMLResponse:
        if singer and not _may_be(request, singer):
            raise ChantError("there is no such singer.", remedy="Choose yourself.")
        data = await taken_in(take)
        found = await run_in_threadpool(
            hear_take, desk, name, data, take.filename or "take.wav", level, singer, drone
        )
        return render.page(
            request, "verdict.html", title=f"Heard: {found['hymn'].title}", name=name,
            link=hymn_link(name), **found,
        )  # fmt: skip

    return router
