# ruff: noqa: E501 (scripts of the browser stand as they are)
"""Debian's Chromium for the tests of the practice pack; a microphone is a WAV file.

Nothing of a telephone is in it.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from web_pack_site import Site

CHROMIUM = os.environ.get("CHROMIUM", "/usr/bin/chromium")
if not Path(CHROMIUM).exists():  # pragma: no cover
    pytest.skip(
        "THE PRACTICE PACK WAS NOT TRIED IN A BROWSER: no chromium (tools/setup.sh dev installs it)",
        allow_module_level=True,
    )
playwright = pytest.importorskip("playwright.sync_api")

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]
TOOLS = Path(os.environ.get("CHANTWRIGHT_NODE_TOOLS", Path(sys.prefix) / "npm"))
READY = "window.chantwright && window.chantwright.mounted.length"
RATE = 48_000
WORD_SIZES = """() => [...document.querySelectorAll('.score svg.system')]
  .filter((s) => s.getBoundingClientRect().width > 0)
  .flatMap((s) => [...s.querySelectorAll('.syl')].map((t) =>
    parseFloat(getComputedStyle(t).fontSize) * s.getScreenCTM().a))"""
"""Sizes in pixels of the words under the notes that are seen."""

SMALL_TEXT = """() => [...document.querySelectorAll('main *')].filter((e) => e.offsetParent &&
  [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()) &&
  parseFloat(getComputedStyle(e).fontSize) < 16).map((e) => e.outerHTML.slice(0, 80))"""
"""Whatever text of the page is smaller than 16 pixels."""


def until(page: Any, expression: str, timeout: float = 20000) -> None:
    """Wait until an expression is true; asked from outside, as the page's own policy forbids eval."""
    end = time.monotonic() + timeout / 1000
    while time.monotonic() < end:
        try:
            if page.evaluate(f"() => Boolean({expression})"):
                return
        except playwright.Error as exc:
            # Asked while the page was being replaced by another.
            if "context was destroyed" not in str(exc):
                raise
        time.sleep(0.05)
    raise AssertionError(expression)


def violations(page: Any, axe: Path) -> list[Any]:
    """What the accessibility checker has against a page, every fold of it open."""
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    page.evaluate(axe.read_text(encoding="utf-8"))
    found: list[Any] = page.evaluate(
        "axe.run().then((r) => r.violations.map((v) => [v.id, "
        "v.nodes.map((n) => n.html.slice(0, 120))]))"
    )
    return found


class Watched:
    """A page whose console and faults are written down."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.faults: list[str] = []
        page.on("pageerror", lambda e: self.faults.append(str(e)))
        page.on(
            "console", lambda m: self.faults.append(m.text) if m.type in ("error", "warning") else 0
        )


@pytest.fixture(scope="module")
def driver() -> Iterator[Any]:
    with playwright.sync_playwright() as started:
        yield started


@pytest.fixture(scope="module")
def browser(driver: Any) -> Iterator[Any]:
    made = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield made
    made.close()


@pytest.fixture
def open_page(browser: Any, site: Site) -> Iterator[Callable[..., Watched]]:
    """Open a page of the pack in a context of its own."""
    contexts = []

    def opened(path: str, **options: Any) -> Watched:
        context = browser.new_context(**options)
        contexts.append(context)
        watched = Watched(context.new_page())
        watched.page.goto(site.url + path)
        until(watched.page, "document.readyState === 'complete'")
        return watched

    yield opened
    for context in contexts:
        context.close()


class Microphone:
    """A browser whose microphone plays a file once, each time it is opened."""

    def __init__(self, driver: Any, path: Path, **options: Any) -> None:
        self.path = path
        self.load(np.zeros(RATE, np.float32))
        self.browser = driver.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                *FLAGS,
                "--use-fake-device-for-media-stream",
                "--use-fake-ui-for-media-stream",
                f"--use-file-for-fake-audio-capture={path}%noloop",
            ],
        )
        self.context = self.browser.new_context(permissions=["microphone"], **options)

    def load(self, samples: npt.NDArray[Any]) -> None:
        """Put another recording before the microphone."""
        soundfile.write(str(self.path), samples, RATE, subtype="PCM_16")

    def open(self, url: str) -> Watched:
        """Open a page of a hymn."""
        watched = Watched(self.context.new_page())
        watched.page.goto(url)
        until(watched.page, READY)
        watched.page.evaluate(
            """() => { const m = window.chantwright.mounted[0];
              m.singing.article().addEventListener('verdict', (e) => { window.verdict_ = e.detail; }); }"""
        )
        return watched

    def begin(self, watched: Watched, samples: npt.NDArray[Any]) -> float:
        """Begin to play a recording to the page; return the moment at which it will be over."""
        page = watched.page
        self.load(samples)
        page.evaluate("() => { window.verdict_ = null; }")
        page.locator("button.listen").click()
        until(page, "window.chantwright.mounted[0].singing.frames.length > 5")
        page.evaluate("window.track_ = window.chantwright.mounted[0].singing.stream.getTracks()[0]")
        return time.monotonic() + len(samples) / RATE - 0.3

    def end(self, watched: Watched) -> dict[str, Any]:
        """Stop, and give the verdict with the frames that it was made of."""
        page = watched.page
        page.locator("button.listen").click()
        until(page, "window.verdict_")
        assert page.evaluate("window.track_.readyState") == "ended"
        verdict: dict[str, Any] = page.evaluate(
            """() => ({ ...window.verdict_, degrees: [...window.verdict_.degrees],
              frames: window.chantwright.mounted[0].singing.frames.map(
                (f) => [f.t, f.hz, f.clarity, f.level]),
              warned: document.querySelector('.warn').textContent,
              told: document.querySelector('.verdict').textContent })"""
        )
        return verdict

    def close(self) -> None:
        self.browser.close()
