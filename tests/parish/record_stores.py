"""Databases for the tests: SQLite in a folder, and a PostgreSQL server of our own on loopback."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from chantwright.parish.records import Store, open_store


def server_programs() -> Path | None:
    """Where Debian keeps the server's programs, the newest version first."""
    if found := shutil.which("initdb"):
        return Path(found).parent
    versions = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    return versions[0].parent if versions else None


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@pytest.fixture(name="server", scope="session")
def database_server() -> Iterator[str]:
    """Address of a server that lives as long as the tests."""
    programs = server_programs()
    if programs is None:
        pytest.skip("NOT CHECKED on PostgreSQL: no server is installed")
    folder = Path(tempfile.mkdtemp(prefix="chant-pg-"))
    # The server refuses to run as root, so root hands it to Debian's own user.
    before: list[str] = []
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
        before = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"]
    data, port = folder / "data", free_port()

    def run(*words: str) -> None:
        subprocess.run([*before, *words], check=True, capture_output=True, cwd=folder)

    run(str(programs / "initdb"), "-D", str(data), "-U", "chant", "--auth=trust", "-E", "UTF8")
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -F"
    run(str(programs / "pg_ctl"), "-D", str(data), "-o", options, "-w", "-l",
        str(folder / "log"), "start")  # fmt: skip
    try:
        yield f"postgresql+psycopg://chant@127.0.0.1:{port}/postgres"
    finally:
        run(str(programs / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop")
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(name="store", params=["sqlite", "postgresql"])
def records_store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """Empty records, on each kind of database in turn."""
    if request.param == "sqlite":
        url = f"sqlite:///{tmp_path / 'records.sqlite'}"
    else:
        url = str(request.getfixturevalue("server"))
        clean = open_store(url)
        with clean.engine.begin() as connection:
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
        clean.close()
    opened = open_store(url)
    yield opened
    opened.close()
