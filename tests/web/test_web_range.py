"""A range taken by singing: through the microphone, seen, and only then written down."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from browsing import Served, Watched, axe_core, chromium
from lxml import etree, html
from starlette.testclient import TestClient

from chantwright.parish import copy_demo
from chantwright.parish.records import add_person, person
from chantwright.web.app import make_app
from chantwright.web.desk import Desk

RATE = 24000
# Semitones from A4: from C3 down to A2, and from C3 up to D4, by steps of a keyboard's white keys.
SUNG = (-21, -22, -24, None, -21, -19, -17, -16, -14, -12, -10, -9, -7)
FEW = (-21, -24, None, -16, -7)
"""The same range in fewer notes."""


def voice(sung: tuple[int | None, ...] = SUNG) -> npt.NDArray[np.float64]:
    """Held notes of a buzzing voice with the resonances of “ah” (Peterson and Barney 1952)."""
    out = [np.zeros(RATE)]
    for step in sung:
        if step is None:
            out.append(np.zeros(RATE))
            continue
        hz = 440.0 * 2 ** (step / 12)
        at = np.arange(int(1.2 * RATE)) / RATE
        note = np.zeros(at.size)
        for n in range(1, int(5000 / hz)):
            loud = sum(np.exp(-(((n * hz - f) / 300) ** 2)) for f in (730, 1090, 2440)) + 0.05
            note += loud / n * np.sin(2 * np.pi * n * hz * at)
        fade = np.minimum(1, np.minimum(at, at[-1] - at) / 0.05)
        out += [0.2 * note / np.abs(note).max() * fade, np.zeros(RATE // 5)]
    noise = np.random.default_rng(8).standard_normal(sum(p.size for p in out)) * 1e-4
    return np.concatenate(out) + noise


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    opened = Desk.open(copy_demo(tmp_path_factory.mktemp("range") / "p"), date(2026, 11, 25))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("voice") / "range.wav"
    soundfile.write(path, voice(), RATE, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def few(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("voice") / "few.wav"
    soundfile.write(path, voice(FEW), RATE, subtype="PCM_16")
    return path


def semitones(hz: float) -> float:
    return float(12 * np.log2(hz / 440.0))


def test_a_range_is_heard_seen_and_then_kept(desk: Desk, take: Path) -> None:
    with desk.store.write() as session:
        who = add_person(session, "Basil", "man").id
    client = TestClient(make_app(desk), base_url="http://127.0.0.1")
    asked = client.get(f"/singers/{who}/range").text
    assert "Stop as soon as a note strains" in asked
    answer = client.post(
        f"/singers/{who}/range/sung", files={"take": ("take.wav", take.read_bytes(), "audio/wav")}
    )
    assert answer.status_code == 200, answer.text
    page = html.fromstring(answer.text)
    with desk.store.read() as session:
        assert person(session, who).low_hz is None  # nothing is kept before it was seen
    fields = {f.get("name"): f.get("value") for f in page.xpath("//form//input[@type='hidden']")}
    low, high = (float(fields[n].removesuffix(" Hz")) for n in ("low", "high"))
    # A tone (two semitones) inside the outermost notes that were held: common practice.
    assert semitones(low) == pytest.approx(-24 + 2, abs=0.3)
    assert semitones(high) == pytest.approx(-7 - 2, abs=0.3)
    assert "11 notes were held" in page.text_content()
    drawn = etree.tostring(page.xpath("//figure//*[local-name()='svg']")[0]).decode()
    assert drawn.count("stroke-dasharray") == 2
    assert "comfortable from" in drawn
    kept = client.post(f"/singers/{who}/range", data={k: fields[k] for k in ("low", "high", "how")})
    assert kept.status_code == 200
    assert "(sung)" in kept.text
    with desk.store.read() as session:
        found = person(session, who)
    assert found.low_hz == pytest.approx(low, abs=0.01)
    assert found.how == "sung"
    # Typed stays, and the newest counts.
    typed = client.post(f"/singers/{who}/range", data={"low": "A2", "high": "D4"})
    assert "(typed)" in typed.text


@pytest.mark.parametrize("what", ["silence", "one note", "junk"])
def test_what_is_no_range_is_told_and_not_kept(desk: Desk, what: str) -> None:
    with desk.store.write() as session:
        who = add_person(session, f"Nobody {what}", "woman").id
    sound = {"silence": np.zeros(RATE), "one note": voice()[RATE : 2 * RATE]}.get(what)
    out = io.BytesIO(b"no sound at all")
    if sound is not None:
        out = io.BytesIO()
        soundfile.write(out, sound, RATE, format="WAV")
    client = TestClient(make_app(desk), base_url="http://127.0.0.1")
    answer = client.post(
        f"/singers/{who}/range/sung", files={"take": ("take.wav", out.getvalue(), "audio/wav")}
    )
    assert answer.status_code == 400
    assert len(html.fromstring(answer.text).xpath("//*[@role='alert']")[0].text) > 20
    with desk.store.read() as session:
        assert person(session, who).low_hz is None


def test_through_the_microphone_by_keyboard_alone(desk: Desk, few: Path) -> None:
    with desk.store.write() as session:
        who = add_person(session, "Thekla", "man").id
    server = Served(make_app(desk))
    flags = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream",
             f"--use-file-for-fake-audio-capture={few}%noloop")  # fmt: skip
    try:
        with chromium(*flags) as browser:
            seen = Watched(browser, server.address, viewport={"width": 360, "height": 740})
            page = seen.page
            page.goto(f"/singers/{who}")
            seen.enter(f'main a[href="/singers/{who}/range"]')
            seen.reach("[data-start]")
            page.keyboard.press("Enter")
            seen.until("document.querySelector('own-take [role=status]').textContent === 'Sing.'")
            seen.sung_for(soundfile.info(few).duration + 0.5)
            seen.reach("[data-stop]")
            page.keyboard.press("Enter")
            seen.until("document.querySelector('#take').files.length === 1")
            assert "Show me my range" in page.locator("own-take [role=status]").inner_text()
            seen.enter("main form button")
            assert page.evaluate("document.documentElement.scrollWidth") <= 360
            said = page.locator(".lead").inner_text()
            assert re.fullmatch(r"Comfortable from B2.* to C4.*\.", said), said
            seen.for_every_eye(axe_core())
            seen.enter(f'form[action="/singers/{who}/range"] button')
            assert "(sung)" in page.locator("main").inner_text()
            seen.close()
            assert not seen.trouble
    finally:
        server.stop()
