"""Preparing a weekend from the browser: the bar, the stream of events, and a server that stops."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any

import httpx2 as httpx
import pytest
from browsing import Served, Watched, axe_core, chromium
from lxml import html
from starlette.testclient import TestClient

from chantwright.parish import found_folder
from chantwright.parish.records import jobs
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.preparepages import Preparing

DAY = date(2026, 11, 25)
MADE = "2026-11-28"
"""Saturday after that Wednesday (any calendar), by which the folder is named."""


class Gate(Executor):
    """Runs what it is given only when the test opens the gate."""

    def __init__(self, gate: threading.Event) -> None:
        self.gate, self.inner = gate, ThreadPoolExecutor(1)

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        def later() -> Any:
            assert self.gate.wait(60)
            return fn(*args, **kwargs)

        return self.inner.submit(later)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self.inner.shutdown(wait=wait, cancel_futures=cancel_futures)


@pytest.fixture
def parish(tmp_path: Path) -> Path:
    path = tmp_path / "parish"
    found_folder(path, "One Hymn")
    (path / "hymns" / "praise.txt").write_text(
        "title: Praise\nwords from: Psalm 150:1, King James\ntone: 4\n\nPraise ye the Lord.\n"
    )
    (path / "services" / "2026-11-29-lesson.txt").write_text(
        "service: lesson\ndate: 2026-11-29\ntitle: One hymn\n\nTone 4: praise.txt\n"
    )
    return path


@pytest.fixture
def desk(parish: Path) -> Iterator[Desk]:
    opened = Desk.open(parish, DAY)
    yield opened
    opened.close()


@contextmanager
def gated(desk: Desk) -> Iterator[tuple[Preparing, threading.Event]]:
    gate = threading.Event()
    preparing = Preparing(desk, lambda: Gate(gate))
    try:
        yield preparing, gate
    finally:
        gate.set()
        if preparing.thread is not None:
            preparing.thread.join(60)
            assert not preparing.thread.is_alive()


def told(lines: Iterator[str]) -> Iterator[dict[str, Any]]:
    for line in lines:
        if line.startswith("data: "):
            yield json.loads(line.removeprefix("data: "))


def test_the_stream_tells_the_way_to_the_end(desk: Desk) -> None:
    with gated(desk) as (preparing, gate):
        server = Served(make_app(desk, preparing=preparing))
        try:
            with httpx.Client(base_url=server.address, timeout=60) as client:
                page = html.fromstring(client.get("/prepare").text)
                assert not page.xpath("//progress")
                assert client.post("/prepare").status_code == 303
                # Asked for twice it is done once; a page loaded anew shows the bar.
                assert client.post("/prepare").status_code == 303
                page = html.fromstring(client.get("/prepare").text)
                assert len(page.xpath("//progress[@max='1']")) == 1
                with client.stream("GET", "/prepare/events") as stream:
                    assert stream.headers["content-type"].startswith("text/event-stream")
                    found = []
                    for one in told(stream.iter_lines()):
                        found.append(one)
                        gate.set()
                # The order and the end are promised; how many are told is not.
                assert {f["state"] for f in found[:-1]} <= {"running"}
                assert found[-1] == {
                    "state": "done", "part": 1.0, "label": "ready", "trouble": "",
                }  # fmt: skip
                parts = [f["part"] for f in found]
                assert parts == sorted(parts)
                page = html.fromstring(client.get("/prepare").text)
                links = page.xpath("//main//li/a/@href")
                assert links == ["/prepare/recordings/01-praise.mp3"]
                assert client.get(links[0]).content[:3] == b"ID3"
                for wrong in ("..%2fbooklet.pdf", "none.mp3", "01-praise.exe"):
                    assert client.get(f"/prepare/recordings/{wrong}").status_code == 404
        finally:
            server.stop()
    assert (desk.path / "ready" / MADE / "booklet.pdf").is_file()


def test_what_an_older_program_made_is_still_found(desk: Desk) -> None:
    # It named the folder by the day on which the work was asked for.
    place = desk.path / "ready" / DAY.isoformat() / "recordings"
    place.mkdir(parents=True)
    (place / "01-praise.mp3").write_bytes(b"ID3")
    with desk.store.write() as session:
        job, _ = jobs.ask(session, "prepare", {"day": DAY.isoformat(), "part": 1.0}, "gone")
        jobs.end(session, job.id)
    client = TestClient(make_app(desk), base_url="http://127.0.0.1")
    page = html.fromstring(client.get("/prepare").text)
    assert DAY.isoformat() in page.xpath("//code[@class='path']")[0].text
    assert client.get(page.xpath("//main//li/a/@href")[0]).content == b"ID3"


def ends(address: str) -> list[dict[str, Any]]:
    """What the stream tells until the work has ended."""
    with httpx.Client(base_url=address, timeout=120) as client:
        while not html.fromstring(client.get("/prepare").text).xpath("//progress"):
            if client.get("/prepare").text.count("Prepare it again"):
                break
            time.sleep(0.05)
        with client.stream("GET", "/prepare/events") as stream:
            return list(told(stream.iter_lines()))


def test_work_of_a_server_that_was_stopped_goes_on_by_itself(desk: Desk) -> None:
    with gated(desk) as (first, gate):
        server = Served(make_app(desk, preparing=first))
        httpx.post(f"{server.address}/prepare")
        server.stop()
        left = first.last()
        assert left is not None
        assert left.is_open
        with gated(desk) as (second, other):
            server = Served(make_app(desk, preparing=second))
            try:
                other.set()
                found = ends(server.address)
            finally:
                server.stop()
            done = second.last()
        gate.set()
    assert done is not None
    assert (done.id, done.state) == (left.id, "done")  # nobody asked for it again
    assert found[-1]["part"] == 1.0
    assert (desk.path / "ready" / MADE / "booklet.pdf").is_file()


def test_work_is_not_taken_from_a_server_that_lives(desk: Desk) -> None:
    with gated(desk) as (first, gate):
        first.begin()
        other = Preparing(desk)
        assert not other.take_up()
        gate.set()


@pytest.mark.parametrize(
    ("about", "says"),
    [({"day": "2026-11-10", "part": 0.4}, "weekend is over"),
     ({"day": DAY.isoformat(), "part": 0.4, "times": 3}, "again and again")],
)  # fmt: skip
def test_what_is_not_gone_on_with_is_told(desk: Desk, about: dict[str, Any], says: str) -> None:
    with desk.store.write() as session:
        job, _ = jobs.ask(session, "prepare", about, "gone")
        jobs.let_go(session, job.id, "gone")
    preparing = Preparing(desk)
    assert not preparing.take_up()
    client = TestClient(make_app(desk, preparing=preparing), base_url="http://127.0.0.1")
    page = client.get("/prepare").text
    assert says in page
    assert "Prepare it again" in page


def test_trouble_is_told_in_a_sentence(desk: Desk) -> None:
    (desk.path / "hymns" / "praise.txt").unlink()
    with gated(desk) as (preparing, gate):
        gate.set()
        preparing.begin()
        assert preparing.thread is not None
        preparing.thread.join(60)
        job = preparing.last()
    assert job is not None
    assert job.state == "failed"
    assert "praise.txt" in job.trouble


def test_the_bar_moves_in_the_browser(desk: Desk) -> None:
    with gated(desk) as (preparing, gate), chromium() as browser:
        server = Served(make_app(desk, preparing=preparing))
        seen = Watched(browser, server.address)
        try:
            seen.page.goto("/")
            seen.enter('a[href="/prepare"]')
            seen.enter("main form button")
            assert seen.page.locator("progress").evaluate("e => e.value") <= 0.2
            seen.for_every_eye(axe_core())
            gate.set()
            seen.page.get_by_text("Ready. Everything lies in").wait_for()
            assert seen.page.get_by_role("link", name="01-praise.mp3").is_visible()
            seen.for_every_eye(axe_core())
            assert not seen.trouble
        finally:
            seen.close()
            server.stop()
