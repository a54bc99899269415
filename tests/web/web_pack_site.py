"""A small practice pack, made once, and a site to look at it on; its fixtures are imported."""

from __future__ import annotations

import atexit
import functools
import http.server
import shutil
import tempfile
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from chantwright.parish import found_folder, open_folder
from chantwright.web.pack import Pack, write_pack

HYMNS = {
    "praise.txt": "title: Praise ye the Lord\ntone: 1\nlanguage: en\nwords from: Psalms 150:6\n"
    "tempo: 120\n\nLet every thing that hath breath praise the Lord.\nPraise ye the Lord.\n",
    "clap.txt": "title: O clap your hands\ntone: 8\nlanguage: en\nwords from: Psalms 47:1\n"
    "tempo: 120\n\nO clap your hands, all ye people;\nshout unto God with the voice of triumph.\n",
}
PLAN = (
    "service: lesson\ndate: 2026-11-29\ntitle: For the class\n\n"
    "First: praise.txt\nSecond: clap.txt\n"
)


def small_parish(path: Path) -> Path:
    """Found a parish with two short psalm verses for the class and nothing else."""
    found_folder(path, "Saint Nobody")
    for name, text in HYMNS.items():
        (path / "hymns" / name).write_text(text, encoding="utf-8")
    (path / "services").mkdir(exist_ok=True)
    (path / "services" / "2026-11-29-lesson.txt").write_text(PLAN, encoding="utf-8")
    return path


@functools.cache
def _made() -> tuple[tempfile.TemporaryDirectory[str], Pack]:
    """Make the pack once for all test files that one process runs."""
    place = tempfile.TemporaryDirectory(prefix="chantwright-pack-")
    atexit.register(place.cleanup)
    root = Path(place.name)
    with ThreadPoolExecutor(1) as pool:
        pack = write_pack(
            open_folder(small_parish(root / "parish")),
            date(2026, 11, 28),
            root / "pack",
            executor=pool,
            progress=lambda *_: None,
        )
    return place, pack


@pytest.fixture(scope="session")
def small_pack() -> Pack:
    return _made()[1]


@dataclass
class Site:
    """A folder served on this machine, and what was asked of it."""

    folder: Path
    server: http.server.ThreadingHTTPServer
    asked: list[tuple[str, str]] = field(default_factory=list)

    @property
    def url(self) -> str:
        return f"http://localhost:{self.server.server_address[1]}/"

    def stop(self) -> None:
        self.server.shutdown()
        self.server.server_close()


class _Handler(http.server.SimpleHTTPRequestHandler):
    extensions_map = {  # noqa: RUF012 (so in the class above)
        **http.server.SimpleHTTPRequestHandler.extensions_map,
        ".js": "text/javascript",
        ".opus": "audio/ogg",
        ".webmanifest": "application/manifest+json",
    }

    def __init__(self, *args: Any, site: list[Site], directory: str) -> None:
        self.site = site
        super().__init__(*args, directory=directory)

    def log_message(self, format: str, *args: object) -> None:
        self.site[0].asked.append((self.command, self.path))


def serve(folder: Path) -> Site:
    """Serve a folder on a free port."""
    known: list[Site] = []
    handler = functools.partial(_Handler, site=known, directory=str(folder))
    made = Site(folder, http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler))
    known.append(made)
    threading.Thread(target=made.server.serve_forever, daemon=True).start()
    return made


@pytest.fixture
def site(small_pack: Pack, tmp_path: Path) -> Iterator[Site]:
    """The pack on a site of its own; the folder may be changed."""
    folder = tmp_path / "site"
    shutil.copytree(small_pack.out, folder)
    made = serve(folder)
    yield made
    made.stop()
