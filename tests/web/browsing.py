"""A real browser and a real server for the tests: Debian's Chromium, driven over its own port."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright
from starlette.types import ASGIApp

CHROMIUM = Path("/usr/bin/chromium")
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
)  # fmt: skip
NPM = Path(sys.prefix) / "npm" / "node_modules"


AXE = """async looks => {
  const out = [];
  for (const look of looks) {
    document.documentElement.dataset.light = look;
    const told = await axe.run(document, {
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
      resultTypes: ["violations"],
    });
    for (const v of told.violations)
      out.push([look, v.id, v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(" | "),
        v.nodes[0].failureSummary]);
  }
  return out;
}"""


def must_have(what: Path | str | None, name: str) -> None:
    """Fail where every check must run, skip loudly on somebody's own computer."""
    if what and Path(what).exists():
        return
    if os.environ.get("CI"):
        pytest.fail(f"{name} is missing; tools/setup.sh dev installs it", pytrace=False)
    print(f"\n*** NOT TESTED: {name} is missing; run tools/setup.sh dev ***", file=sys.stderr)
    pytest.skip(f"{name} is missing; run tools/setup.sh dev")


def node() -> str | None:
    return shutil.which("node")


def axe_core() -> str:
    """The library that looks at a page for those who cannot see it."""
    path = NPM / "axe-core" / "axe.min.js"
    must_have(path, "axe-core")
    return path.read_text(encoding="utf-8")


@contextmanager
def chromium(*more: str) -> Iterator[Browser]:
    must_have(CHROMIUM, "Chromium")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, *more])
        try:
            yield browser
        finally:
            browser.close()


class Served:
    """A server in a thread, on a free port of the loopback."""

    def __init__(self, app: ASGIApp) -> None:
        config = uvicorn.Config(
            app, host="127.0.0.1", port=0, log_level="warning", timeout_graceful_shutdown=1
        )
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()
        until = time.monotonic() + 30
        while not self.server.started:
            if time.monotonic() > until or not self.thread.is_alive():
                raise RuntimeError("the server did not start")
            time.sleep(0.02)
        port = self.server.servers[0].sockets[0].getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"

    def stop(self) -> None:
        self.server.should_exit = True
        self.thread.join(20)


class Watched:
    """A page, and everything that it complained of."""

    def __init__(self, browser: Browser, base: str, **context: object) -> None:
        self.context = browser.new_context(base_url=base, **context)  # type: ignore[arg-type]
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(90_000)  # a busy computer is no failure
        self.trouble: list[str] = []
        self.asked: list[str] = []
        self.refusals: set[int] = set()
        self.page.on("console", self._said)
        self.page.on("pageerror", lambda e: self.trouble.append(f"error {e}"))
        self.page.on("request", lambda r: self.asked.append(r.url))

    def _said(self, message: ConsoleMessage) -> None:
        if any(f"responded with a status of {n} " in message.text for n in self.refusals):
            return  # the browser itself writes down what the test meant to happen, soon or late
        if message.type in ("error", "warning"):
            self.trouble.append(f"{message.type} {message.text} {message.location.get('url')}")

    def until(self, script: str, seconds: float = 90.0) -> None:
        """Wait until a script is true; asked from outside, as the pages allow no evaluation."""
        end = time.monotonic() + seconds
        while not self.page.evaluate(script):
            if time.monotonic() > end:
                pytest.fail(f"never true: {script}")
            self.page.wait_for_timeout(50)

    def for_every_eye(self, axe: str) -> None:
        """Nothing on the page breaks WCAG 2.2 A and AA as far as a program can see, in any look."""
        self.page.evaluate(axe)
        assert self.page.evaluate(AXE, ["light", "dark", "dim"]) == []

    def sung_for(self, seconds: float) -> None:
        """Wait until the page has recorded so much, however slow the computer is."""
        self.until(f"Number(document.querySelector('own-take').dataset.seconds) >= {seconds}", 120)

    def reach(self, selector: str, most: int = 300) -> None:
        """Press Tab until an element has the focus; nothing is clicked."""
        for _ in range(most):
            self.page.keyboard.press("Tab")
            if self.page.evaluate("s => document.activeElement?.matches(s) ?? false", selector):
                return
        pytest.fail(f"{selector} is not reached by keyboard on {self.page.url}")

    def enter(self, selector: str, key: str = "Enter") -> None:
        """Reach an element by keyboard, press a key on it, and wait for the page it leads to."""
        self.reach(selector)
        with self.page.expect_navigation():
            self.page.keyboard.press(key)

    def close(self) -> None:
        self.context.close()
