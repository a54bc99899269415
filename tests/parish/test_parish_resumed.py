"""A server that is killed while it prepares a weekend, and the one that is started after it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2 as httpx
import pytest
from record_stores import free_port
from small_parish import DAY, HYMNS, small_parish

SCRIPT = "from chantwright.cli import main; main()"


@contextmanager
def server(parish: Path, store: Path) -> Iterator[tuple[subprocess.Popen[bytes], httpx.Client]]:
    port = free_port()
    words = ["serve", "--parish", str(parish), "--port", str(port), "--day", DAY.isoformat()]
    run = subprocess.Popen(
        [sys.executable, "-c", SCRIPT, *words, "--quiet"],
        env={**os.environ, "CHANTWRIGHT_CACHE": str(store)}, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=120) as client:
            until = time.monotonic() + 60
            while True:
                try:
                    client.get("/hymns")
                    break
                except httpx.ConnectError:
                    assert run.poll() is None
                    assert time.monotonic() < until
                    time.sleep(0.05)
            yield run, client
    finally:
        run.terminate()
        run.wait(60)


def test_a_killed_server_loses_nothing_and_the_next_goes_on(tmp_path: Path) -> None:
    parish, store = small_parish(tmp_path / "parish"), tmp_path / "store"
    with server(parish, store) as (run, client):
        assert client.post("/prepare").status_code == 303
        until = time.monotonic() + 120
        while not list(store.glob("*.mp3.json")):
            assert time.monotonic() < until
            time.sleep(0.02)
        run.send_signal(signal.SIGKILL)
        run.wait()
    finished = {p: p.stat().st_mtime_ns for p in store.glob("*.json")}
    if len(finished) == 2 * len(HYMNS):
        pytest.fail("it was done before it could be killed")
    with server(parish, store) as (_, client):
        # Nobody asks for it: the page shows the bar at once, and the stream tells the rest.
        page = client.get("/prepare").text
        assert "<progress" in page
        told = []
        with client.stream("GET", "/prepare/events") as stream:
            for line in stream.iter_lines():
                if line.startswith("data: "):
                    told.append(json.loads(line.removeprefix("data: ")))
        assert told[-1]["state"] == "done"
        parts = [t["part"] for t in told]
        assert parts == sorted(parts)  # the bar never goes back
        assert parts[-1] == 1.0
        assert client.get("/prepare/recordings/01-short.mp3").content[:3] == b"ID3"
    after = {p: p.stat().st_mtime_ns for p in store.glob("*.json")}
    assert {p: after[p] for p in finished} == finished
    assert len(after) == 2 * len(HYMNS)
