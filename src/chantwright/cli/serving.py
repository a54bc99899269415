"""``serve``: the parish's pages in the browser, on this computer alone."""

from __future__ import annotations

import threading
import webbrowser
from pathlib import Path

import click
import uvicorn

from chantwright import almanac
from chantwright.parish.records.accounts import invite
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.guard import LOOPBACK

__all__ = ["invite_verb", "serve_verb"]


@click.command("serve", short_help="Open your parish in the browser, on this computer alone.")
@click.option("--parish", type=click.Path(path_type=Path), default=Path(), help="Parish folder.")
@click.option("--port", type=click.IntRange(1024, 65535), default=8642, show_default=True)
@click.option(
    "--name",
    "names",
    multiple=True,
    help="Host a group: the name under which the server is reached; people then sign in.",
)
@click.option("--day", help="Take another day for today, such as 2026-11-25.")
@click.option("--quiet", is_flag=True, help="Do not open the browser.")
def serve_verb(
    parish: Path, port: int, names: tuple[str, ...], day: str | None, quiet: bool
) -> None:
    """Open the week, its hymns, the singers, the course and the stand in the browser.

    The pages are on this computer alone: nobody else can reach them, and nothing leaves it. With
    --name a group is hosted behind a web server that speaks https for it; see docs/hosting.md.
    """
    desk = Desk.open(parish, almanac.parse_date(day) if day else None)
    address = f"http://127.0.0.1:{port}/"
    click.echo(f"Your parish is at {address} until you press Ctrl+C.")
    if not quiet:
        threading.Timer(1.0, webbrowser.open, (address,)).start()
    try:
        hosts = (*LOOPBACK, *names)
        app = make_app(desk, hosts=hosts, hosted=bool(names))
        uvicorn.run(
            app,
            proxy_headers=bool(names),
            host="127.0.0.1",
            port=port,
            log_level="warning",
            timeout_graceful_shutdown=3,
        )
    finally:
        desk.close()


@click.command("invite", short_help="Invite a teacher to sign in to a hosted parish.")
@click.option("--parish", type=click.Path(path_type=Path), default=Path(), help="Parish folder.")
def invite_verb(parish: Path) -> None:
    """Make a one-time invitation for a teacher. Singers are invited from their own pages."""
    desk = Desk.open(parish)
    try:
        with desk.store.write() as session:
            token = invite(session, "teacher")
    finally:
        desk.close()
    click.echo(f"Open this once, within two weeks, on your server: /join/{token}")
