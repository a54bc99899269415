"""The pages in a real browser: by keyboard alone, for every eye, and with the server gone."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path

import pytest
import soundfile
from browsing import Served, Watched, axe_core, chromium
from playwright.sync_api import Browser

from chantwright.parish import copy_demo
from chantwright.parish.practice import load_rules, record
from chantwright.parish.records import Result, add_person, take_range
from chantwright.parish.records.accounts import invite
from chantwright.score import hymnfile
from chantwright.voice import TrackOptions, sing
from chantwright.web.app import make_app
from chantwright.web.desk import Desk
from chantwright.web.handin import write_handin

DAY = date(2026, 11, 25)
HYMN = "let-every-thing.txt"
SHORT = "praise.txt"
PAGES = (
    "/", "/hymns", f"/hymn/{HYMN}", f"/hymn/{HYMN}?reading=neumes",
    f"/hymn/{HYMN}?reading=letters", f"/hymn/{HYMN}?reading=words", f"/hymn/{HYMN}/ways/p1",
    "/singers", "/singers/{anna}", "/singers/{anna}/range", "/assign", "/course", "/stand/0",
    f"/hear/{HYMN}", "/prepare", "/hymn/none.txt", "/write", "/plan/0", f"/text/{HYMN}", "/results",
)  # fmt: skip
ALL_ITEMS = """() => {
  const items = [...document.querySelectorAll("article")];
  document.body.style.overflow = "visible";
  document.body.style.height = "auto";
  let drawn = false;
  for (const item of items) {
    item.classList.add("here");
    item.style.height = "auto";
    for (const svg of item.querySelectorAll("svg")) {
      const parts = drawn ? [...svg.children] : [];
      for (const part of parts) if (!["title", "desc"].includes(part.tagName)) part.remove();
    }
    drawn ||= item.querySelector("svg") !== null;
  }
  return items.length;
}"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    path = tmp_path_factory.mktemp("browser") / "parish"
    copy_demo(path)
    (path / "hymns" / SHORT).write_text(
        "title: O praise\nwords from: Psalm 117:1, King James\ntone: 1\n\n"
        "O praise the Lord, all ye nations.\n",
        encoding="utf-8",
    )
    opened = Desk.open(path, DAY)
    opened.weekend()
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def served(desk: Desk) -> Iterator[Served]:
    found = Served(make_app(desk))
    yield found
    found.stop()


@pytest.fixture(scope="module")
def fake_voice(desk: Desk, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The short hymn, sung in tune, as a microphone would bring it."""
    options = TrackOptions(mode="melody", intonation="none", count_in=0, sung="vowel")
    track = sing(desk.singable(SHORT), desk.knowledge.tones, options)
    path = tmp_path_factory.mktemp("voice") / "voice.wav"
    soundfile.write(path, track.samples, track.rate, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def browser(fake_voice: Path) -> Iterator[Browser]:
    with chromium(
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={fake_voice}%noloop",
    ) as found:
        yield found


@pytest.fixture
def seen(browser: Browser, served: Served) -> Iterator[Watched]:
    """A page that must not complain by the end of its test, nor ask anybody else."""
    found = Watched(browser, served.address, viewport={"width": 1024, "height": 768})
    yield found
    found.close()
    assert not found.trouble
    assert all(u.startswith((served.address, "data:", "blob:")) for u in found.asked)


@pytest.fixture(scope="module")
def anna(desk: Desk) -> str:
    with desk.store.write() as session:
        person = add_person(session, "Anna", "woman").id
        take_range(session, person, 196.0, 440.0)
        sung = datetime(2024, 11, 1, tzinfo=UTC)  # long due again
        record(session, person, Result(HYMN, 40, 30, 0, 2.5, 0.0, sung), load_rules())
    return person


@pytest.fixture(scope="module")
def axe() -> str:
    return axe_core()


@pytest.mark.parametrize("address", PAGES)
def test_every_page_for_every_eye(seen: Watched, axe: str, anna: str, address: str) -> None:
    # W3C WCAG 2.2, levels A and AA, as far as a program can see; in light, dark and dim.
    status = 404 if "none" in address else 200
    seen.refusals = {404} & {status}
    answer = seen.page.goto(address.format(anna=anna))
    assert answer is not None
    assert answer.status == status
    if address.startswith("/stand"):
        # Every item is looked at, all of them at once; of the drawings, which are pictures with a
        # name to a reader, the insides are looked at in the first alone: they are of one kind.
        assert seen.page.evaluate(ALL_ITEMS) >= 8
    seen.for_every_eye(axe)


def test_the_doors_for_every_eye(browser: Browser, desk: Desk, axe: str, anna: str) -> None:
    with desk.store.write() as session:
        token = invite(session, "singer", anna)
        leader = invite(session, "teacher")
    server = Served(make_app(desk, hosted=True))
    seen = Watched(browser, server.address)
    try:
        for address in ("/sign-in", f"/join/{token}"):
            seen.page.goto(address)
            seen.for_every_eye(axe)
        # Joining by keyboard alone leads to the week, and the singer's own page is there.
        for field, text in (("#login", "anna"), ("#secret", "four quiet harbour lamps")):
            seen.reach(field)
            seen.page.keyboard.type(text)
        with seen.page.expect_navigation():
            seen.page.keyboard.press("Enter")
        assert seen.page.url == f"{server.address}/"
        seen.enter('nav a[href^="/singers/"]')
        assert seen.page.locator("h1").inner_text() == "Anna"
        seen.for_every_eye(axe)
        seen.enter('form[action="/sign-out"] button')
        seen.page.goto(f"/join/{leader}")
        seen.page.fill("#login", "leader")
        seen.page.fill("#secret", "four quiet harbour lamps")
        seen.page.press("#secret", "Enter")
        seen.page.wait_for_url(f"{server.address}/")
        seen.page.goto(f"/singers/{anna}")
        seen.enter('form[action$="/invite"] button')
        seen.for_every_eye(axe)
    finally:
        seen.close()
        server.stop()
    assert not seen.trouble


def degrees(desk: Desk, name: str) -> list[list[int]]:
    hymn = desk.singable(name)
    return [[n.degree for s in p.syllables for n in s.notes] for p in hymn.phrases]


def test_the_week_to_a_changed_hymn_by_keyboard_alone(seen: Watched, desk: Desk) -> None:
    before = degrees(desk, HYMN)
    seen.page.goto("/")
    seen.enter(f'a[href="/hymn/{HYMN}"]')
    seen.enter('a.choice[href$="reading=letters"]')
    assert seen.page.locator('a.choice[aria-current="true"]').inner_text() == "letters"
    # A note of the first phrase goes up; the editor is still open there, and undo is offered.
    seen.reach("#edit-p1 summary")
    seen.page.keyboard.press("Enter")
    seen.enter('#note-p1s2n1 button[value="up"]')
    assert degrees(desk, HYMN)[0] != before[0]
    seen.until("document.querySelector('#edit-p1').open")
    assert seen.page.locator('#note-p1s2n1 button[value="up"]').is_visible()
    seen.page.goto(f"/hymn/{HYMN}")
    seen.enter('form[action$="/undo"] button')
    assert degrees(desk, HYMN) == before
    # Another way for the second phrase.
    seen.reach("#edit-p2 summary")
    seen.page.keyboard.press("Enter")
    seen.enter('#edit-p2 a[href$="/ways/p2"]')
    seen.enter('button[name="number"][value="1"]')
    after = degrees(desk, HYMN)
    assert after[0] == before[0]
    assert after[1] != before[1]
    seen.page.goto(f"/hymn/{HYMN}")
    seen.enter('form[action$="/undo"] button')
    assert degrees(desk, HYMN) == before
    # The paper is a link like any other.
    seen.reach('a[href*="/print.pdf"]')
    link = seen.page.evaluate("document.activeElement.href")
    paper = seen.context.request.get(link)
    assert paper.headers["content-type"] == "application/pdf"


def test_a_singer_is_added_by_keyboard_alone(seen: Watched) -> None:
    seen.page.goto("/")
    seen.enter('nav a[href="/singers"]')
    seen.reach("#nickname")
    seen.page.keyboard.type("Basil")
    seen.reach("#voice")
    seen.page.keyboard.type("man")
    for field, note in (("#low", "A2"), ("#high", "D4")):
        seen.reach(field)
        seen.page.keyboard.type(note)
    seen.enter("main form button")
    assert seen.page.locator("h1").inner_text() == "Basil"
    assert "A2 – D4" in seen.page.locator("main").inner_text()
    seen.enter("form[action$='/delete'] button")
    assert "Basil" not in seen.page.locator("main").inner_text()


def test_a_hymn_is_assigned_by_keyboard_alone(seen: Watched, anna: str) -> None:
    page = seen.page
    page.goto("/")
    seen.enter('nav a[href="/assign"]')
    for box in (f'input[name="hymns"][value="{HYMN}"]', f'input[name="singers"][value="{anna}"]'):
        seen.reach(box)
        page.keyboard.press("Space")
    seen.reach("#leader")
    page.keyboard.type("Anna")
    seen.enter('form[action="/assign"] button')
    assert "Anna leads" in " ".join(page.locator(".given").inner_text().split())
    seen.enter(f'.given a[href="/singers/{anna}"]')
    assert "leads it by" in " ".join(page.locator("ol.order").inner_text().split())
    page.goto("/assign")
    seen.enter('form[action$="/take-back"] button')
    assert page.locator(".given").count() == 0


def test_words_are_written_and_planned_by_keyboard_alone(
    seen: Watched, desk: Desk, axe: str
) -> None:
    page = seen.page
    held = Path(desk.weekend().sessions[0].plan_file).read_bytes()
    page.goto("/")
    seen.enter('a[href="/plan/0"]')
    seen.enter('a[href^="/write?place=0"]')
    seen.reach("#name")
    page.keyboard.type("Harbour lamps")
    seen.reach("#words")
    page.keyboard.insert_text("The lamps are lit in the harbour.\nWe sing at the end of day.")
    seen.enter('button[value="look"]')
    assert "ˈlamps" in page.locator("main ol.plain").inner_text()
    seen.for_every_eye(axe)
    seen.enter('button[value="keep"]')
    assert page.locator("h1").inner_text() == "Harbour lamps"
    # The whole file is changed as text, taken back, and brought back.
    seen.enter('a[href="/text/harbour-lamps.txt"]')
    seen.reach("#words")
    page.keyboard.press("Control+End")
    page.keyboard.insert_text("\nAmen.\n")
    seen.enter('button[value="keep"]')
    for button, there in (("/undo", False), ("/again", True)):
        seen.enter(f'form[action$="{button}"] button')
        text = (desk.folder.hymns / "harbour-lamps.txt").read_text(encoding="utf-8")
        assert ("Amen." in text) == there
    seen.for_every_eye(axe)
    # It stands in the plan, and is taken out of it again.
    page.goto("/plan/0")
    (chosen,) = page.locator('option[value="harbour-lamps.txt"]:checked').all()
    name = chosen.evaluate("e => e.parentElement.name")
    seen.reach(f'select[name="{name}"]')
    page.keyboard.type("no hymn")
    seen.enter("main form button")
    assert Path(desk.weekend().sessions[0].plan_file).read_bytes() == held
    (desk.folder.hymns / "harbour-lamps.txt").unlink()


def test_results_are_taken_in_by_keyboard_alone(seen: Watched, anna: str, axe: str) -> None:
    result = Result("hymns/praise.txt", 9, 1, 0, 0.5, 0.0, datetime(2024, 11, 20, tzinfo=UTC),
                    "pack", {"singer": "Anna", "title": "O praise", "degrees": {}})  # fmt: skip
    seen.page.goto("/singers")
    seen.enter('a[href="/results"]')
    seen.reach("#words")
    seen.page.keyboard.insert_text("Here it is: \n\n" + write_handin(result)[:-3])
    seen.refusals = {400}
    seen.enter("main form button")
    assert "cut short" in seen.page.locator("[role=alert]").inner_text()
    seen.for_every_eye(axe)
    seen.reach("#words")
    seen.page.keyboard.press("Control+A")
    seen.page.keyboard.insert_text(write_handin(result))
    seen.enter("main form button")
    assert "8 of 9 notes right taken in" in seen.page.locator("main [role=status]").inner_text()
    seen.for_every_eye(axe)
    seen.enter(f'main [role=status] a[href="/singers/{anna}"]')


def here(seen: Watched) -> int:
    return int(seen.page.locator("[role=status]").inner_text().split()[0]) - 1


def turn(seen: Watched, key: str = "PageDown") -> int:
    """Press a key until another item is shown: one longer than the page is turned in steps."""
    before = here(seen)
    for _ in range(20):
        seen.page.keyboard.press(key)
        if here(seen) != before:
            break
    return here(seen)


HELD = "document.querySelector('service-stand').tones.held?.oscillator.frequency.value ?? 0"


def sounds(seen: Watched, hz: float) -> None:
    """The ison glides there in some tenths of a second, or is still (0)."""
    seen.until(f"Math.abs(({HELD}) - {hz!r}) <= 1e-5 * {hz!r}")


def test_the_stand_by_keys_and_pedal(seen: Watched) -> None:
    page = seen.page
    page.goto("/stand/0")
    count = page.locator("article").count()
    assert here(seen) == 0
    # Page-turning pedals send these keys: common practice.
    for key, place in (("PageDown", 1), (" ", 2), ("ArrowRight", 3), ("PageUp", 2), ("PageUp", 1),
                       ("PageUp", 0), ("PageUp", 0)):  # fmt: skip
        assert turn(seen, key) == place, key
        assert page.locator("article.here").count() == 1
    for _ in range(count):
        turn(seen)
    assert here(seen) == count - 1  # the last page stays
    # The ison: Enter begins it, goes on from note to note as the letters stand, and stays at the
    # last; Backspace goes back, D ends it and begins it again at the same note.
    told = [
        json.loads(a.get_attribute("data-sound") or "{}") for a in page.locator("article").all()
    ]
    sung = next(i for i, t in enumerate(told) if len(t.get("ison", ())) > 1)
    changes = told[sung]["ison"]
    page.goto("/stand/0#0")
    page.reload()
    for _ in range(sung):
        turn(seen)
    item = page.locator("article.here")
    letters = item.locator(".music:not([hidden]) text.ison")
    printed = [t for t in letters.all_text_contents() if not t.startswith("(")]
    # Print says "un." where the holders join the melody; the stand has room for the word.
    assert printed == [{"melody": "un."}.get(c["name"], c["name"]) for c in changes]
    sounds(seen, 0)
    for place, change in [*enumerate(changes), (len(changes) - 1, changes[-1])]:
        page.keyboard.press("Enter")
        sounds(seen, change["hz"])
        assert item.locator("[data-held]").inner_text() == change["name"]
        ahead = item.locator("[data-ahead]").inner_text()
        if place + 1 < len(changes):
            then = changes[place + 1]
            assert ahead == f"then {then['name']} at “{then['word']}”"
        marked = item.locator(f".music:not([hidden]) text.held[id$='{change['id']}']")
        assert marked.count() == 1
    page.keyboard.press("Backspace")
    sounds(seen, changes[-2]["hz"])
    page.keyboard.press("i")
    for _ in range(2):
        page.keyboard.press("d")
    sounds(seen, changes[-2]["hz"])
    # The next item begins at its own first note, and the ison goes there by itself.
    turn(seen)
    following = told[sung + 1].get("ison")
    sounds(seen, following[0]["hz"] if following else 0)
    page.keyboard.press("PageUp")
    sounds(seen, changes[0]["hz"])
    page.keyboard.press("d")
    sounds(seen, 0)
    page.keyboard.press("n")
    assert page.evaluate("document.documentElement.dataset.light") == "dim"
    page.keyboard.press("n")
    assert page.evaluate("document.documentElement.dataset.light") != "dim"


def test_the_stand_goes_on_when_the_server_is_gone(browser: Browser, desk: Desk) -> None:
    server = Served(make_app(desk))
    seen = Watched(browser, server.address)
    try:
        seen.page.goto("/stand/0")
        seen.until("document.querySelector('service-stand').dataset.ready === 'yes'")
        server.stop()
        count = seen.page.locator("article").count()
        for place in range(1, count):
            assert turn(seen) == place
            assert seen.page.locator("article.here").is_visible()
        for key in ("Enter", "Enter", "d", "i"):
            seen.page.keyboard.press(key)
        # The pages that cannot be had now are not asked for by themselves.
        assert not seen.trouble
    finally:
        seen.close()
        server.stop()


def test_the_screen_is_kept_awake_again(seen: Watched) -> None:
    # W3C Screen Wake Lock: a lock is released when the page is hidden, and not given back.
    seen.page.add_init_script(
        """
        window.asked = 0;
        navigator.wakeLock.request = async () => { window.asked += 1; return {released: false}; };
        """
    )
    seen.page.goto("/stand/0")
    seen.until("window.asked === 1")
    for state, times in (("hidden", 1), ("visible", 2)):
        seen.page.evaluate(
            """state => {
              const told = {value: state, configurable: true};
              Object.defineProperty(document, "visibilityState", told);
              document.dispatchEvent(new Event("visibilitychange"));
            }""",
            state,
        )
        assert seen.page.evaluate("window.asked") == times


FILLED = """() => {
  const music = document.querySelector("article.here .music:not([hidden])");
  if (!music) return null;
  const figures = [...music.querySelectorAll("figure")].map(f => f.getBoundingClientRect());
  const box = music.getBoundingClientRect();
  const wide = Math.max(...figures.map(f => f.right)) - box.left;
  const high = Math.max(...figures.map(f => f.bottom)) - box.top;
  return [wide / box.width, high / box.height, box.bottom - innerHeight];
}"""


# Of the item that is shown: which of its lines are wholly seen, how many are cut at an edge of what
# is seen, and whether the buttons stand over any of it.
SEEN = """() => {
  const music = document.querySelector("article.here .music:not([hidden])");
  if (!music) return null;
  const box = music.getBoundingClientRect();
  const keys = document.querySelector(".keys").getBoundingClientRect();
  const cut = parseFloat((music.style.clipPath.match(/([0-9.]+)px\\)/) ?? [0, 0])[1]);
  const end = Math.min(box.bottom - cut, innerHeight);
  const lines = [...music.querySelectorAll("figure")].map(f => f.getBoundingClientRect());
  const across = (line, edge) => line.top < edge - 2.5 && line.bottom > edge + 2.5;
  const whole = lines.flatMap((l, i) => l.top >= box.top - 2.5 && l.bottom <= end + 2.5 ? [i] : []);
  return [whole, lines.length, lines.filter(l => across(l, end) || across(l, box.top)).length,
    keys.top < Math.max(...whole.map(i => lines[i].bottom)) - 2.5,
    Math.max(keys.right, document.querySelector(".keys").scrollWidth) - innerWidth];
}"""


def lines_seen(seen: Watched) -> tuple[list[int], int]:
    """The lines that are seen, and how many there are: whole ones, free of the buttons."""
    found = seen.page.evaluate(SEEN)
    if found is None:
        return [], 0
    whole, count, cut, covered, beyond = found
    assert whole == list(range(whole[0], whole[-1] + 1))
    assert (cut, covered) == (0, False), (found, seen.page.url)
    assert beyond <= 0
    return whole, count


@pytest.mark.parametrize("size", [(1024, 768), (768, 1024), (1280, 800), (1920, 1080)])
def test_music_fills_the_stand(browser: Browser, served: Served, size: tuple[int, int]) -> None:
    wide, high = size
    seen = Watched(browser, served.address, viewport={"width": wide, "height": high})
    try:
        seen.page.goto("/stand/0")
        seen.until("document.querySelector('service-stand').dataset.ready === 'yes'")
        filled = 0
        for _ in range(seen.page.locator("article").count()):
            found = seen.page.evaluate(FILLED)
            if found is not None:
                across, down, over = found
                assert across <= 1.01, found
                assert max(across, down) >= 0.85, found
                assert over <= 0
                if down > 1.01:  # longer than the page: then it is as large as can be read
                    for letters, where, text in seen.page.evaluate(SMALLEST):
                        if where in ("text.letter", "text.ison"):
                            continue
                        assert letters >= 16 - 0.05, (letters, where, text)
                filled += 1
            place = here(seen)
            lines, count = lines_seen(seen)
            while lines and lines[-1] < count - 1:
                before = lines[-1]
                seen.page.keyboard.press("PageDown")
                assert here(seen) == place
                lines, _ = lines_seen(seen)
                assert lines[0] in (before, before + 1)  # none left out, one at most shown again
            turn(seen)
        assert filled >= 5
    finally:
        seen.close()


def test_a_long_item_on_a_phone_is_turned_page_by_page(browser: Browser, served: Served) -> None:
    seen = Watched(browser, served.address, viewport={"width": 360, "height": 640})
    page = seen.page
    try:
        page.goto("/stand/0")
        seen.until("document.querySelector('service-stand').dataset.ready === 'yes'")
        pages: list[tuple[int, list[int]]] = []
        lines: list[int] = []
        for _ in range(200):
            place = here(seen)
            assert page.evaluate("document.documentElement.scrollWidth") <= 360
            for size, where, text in page.evaluate(SMALLEST):
                assert size >= 16 - 0.05, (place, size, where, text)
            before = lines
            lines, count = lines_seen(seen)
            if pages and pages[-1] == (place, lines):
                break  # the last page stays
            if before:  # no line is left out; one at most is shown again
                assert lines[0] in (before[-1], before[-1] + 1)
            pages.append((place, lines))
            page.keyboard.press("PageDown")
            if here(seen) != place:  # it goes on to the next item from the last line alone
                assert not count or lines[-1] == count - 1
                lines = []
        assert pages[-1][0] == page.locator("article").count() - 1  # the end is reached by one key
        turned = sum(a[0] == b[0] for a, b in pairwise(pages))
        assert turned > 10
        # Back again by the pages of the last item, and then to the item before it.
        own = [lines for place, lines in pages if place == pages[-1][0]]
        for lines in own[-2::-1]:
            page.keyboard.press("PageUp")
            assert lines_seen(seen)[0] == lines
        page.keyboard.press("PageUp")
        assert here(seen) == pages[-1][0] - 1
        # More buttons take room of their own, and the page stays where it was.
        page.goto("/stand/0#0")
        page.reload()
        seen.until("document.querySelector('service-stand').dataset.ready === 'yes'")
        while not lines_seen(seen)[0] or lines_seen(seen)[0][0] == 0:
            page.keyboard.press("PageDown")
        first = lines_seen(seen)[0][0]
        seen.reach("[data-do=more]")
        page.keyboard.press("Enter")
        assert page.locator("[data-do=intonation]").is_visible()
        assert lines_seen(seen)[0][0] == first
    finally:
        seen.close()


SMALLEST = """() => {
  const out = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || !e) continue;
    if (e.closest("script, style, noscript, .away, .skip, option")) continue;
    const box = e.getBoundingClientRect();
    if (!box.width || !box.height || !e.checkVisibility()) continue;
    let scale = 1;
    const svg = e.closest("svg");
    if (svg) { const m = e.getScreenCTM(); scale = Math.hypot(m.a, m.b); }
    const name = e.tagName + "." + (e.getAttribute("class") ?? "");
    const size = parseFloat(getComputedStyle(e).fontSize) * scale;
    out.push([size, name, walk.currentNode.data.trim().slice(0, 30)]);
  }
  return out;
}"""


@pytest.mark.parametrize("address", [a for a in PAGES if not a.startswith("/stand")])
def test_a_phone_of_360_points(browser: Browser, served: Served, anna: str, address: str) -> None:
    seen = Watched(browser, served.address, viewport={"width": 360, "height": 740})
    try:
        seen.page.goto(address.format(anna=anna))
        seen.page.evaluate("document.fonts.ready")
        wide = seen.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 360, f"{address} is {wide} wide"
        for size, where, text in seen.page.evaluate(SMALLEST):
            assert size >= 16 - 0.05, (address, size, where, text)
    finally:
        seen.close()


# Which syllable is lit, and where the sound stands then; noted at every change.
LIT = """() => {
  window.lit = [];
  const audio = document.querySelector("audio");
  new MutationObserver(() => {
    const now = document.querySelector(".music.wide .now");
    if (!now || window.lit.at(-1)?.[0] === now.id) return;
    window.lit.push([now.id, audio.currentTime]);
  }).observe(document.querySelector("sung-hymn"), {subtree: true, attributeFilter: ["class"]});
}"""
# The sound and its times are fetched; then it stops.
READY = """async () => {
  const audio = document.querySelector("audio");
  audio.preload = "auto";
  await audio.play();
  const end = Date.now() + 60000;
  while (!document.querySelector(".music.wide .now") && !audio.ended && Date.now() < end)
    await new Promise(then => setTimeout(then, 10));
  audio.pause();
}"""
# Play on from a moment, and stop at once: what is lit when it begins there.
LIT_AT = """async at => {
  const audio = document.querySelector("audio");
  const come = (name) => new Promise(then => audio.addEventListener(name, then, {once: true}));
  const seeked = come("seeked");
  audio.currentTime = at;
  await seeked;
  const lit = come("play").then(() => document.querySelector(".music.wide .now")?.id);
  await audio.play();
  audio.pause();
  return lit;
}"""


def test_the_syllable_that_sounds_is_lit(seen: Watched) -> None:
    page = seen.page
    page.goto(f"/hymn/{SHORT}")
    page.select_option("#sung", "vowel")
    page.select_option("#part", "melody")
    page.evaluate(LIT)
    told = page.evaluate("fetch('/sound/praise.json?part=melody&sung=vowel').then(r => r.json())")
    notes = [n for n in told["notes"] if not n["id"].startswith("intonation")]
    # Every note is lit when it sounds, wherever the sound is taken up.
    page.evaluate(READY)
    for note in notes:
        assert page.evaluate(LIT_AT, note["start"] + 0.02) == f"wide.{note['id']}"
    # Played through to the end they are lit in their order; a busy computer may pass one over.
    page.evaluate("window.lit.length = 0")
    page.evaluate(f"document.querySelector('audio').currentTime = {notes[0]['start']}")
    page.evaluate("document.querySelector('audio').play()")
    seen.until("document.querySelector('audio').ended", 120)
    names = [f"wide.{n['id']}" for n in notes]
    lit = [name for name, _ in page.evaluate("window.lit") if name in names]
    assert lit == [n for n in names if n in lit]
    assert len(lit) >= len(names) // 2
    seen.until("document.querySelectorAll('.now').length === 0")
    assert page.evaluate("document.querySelector('audio').preservesPitch") is True


def test_a_changed_phrase_is_heard_at_once_and_alone(seen: Watched, desk: Desk) -> None:
    page, before = seen.page, degrees(desk, SHORT)
    phrase = desk.singable(SHORT).phrases[0]

    def sung() -> list[str]:
        return [u for u in seen.asked if "/sound/" in u and "opus" in u]

    page.add_init_script(
        """
        window.lit = [];
        addEventListener("DOMContentLoaded", () => new MutationObserver(() => {
          const now = document.querySelector(".music.wide .now");
          if (now && !window.lit.includes(now.id)) window.lit.push(now.id);
        }).observe(document.querySelector("sung-hymn"),
          {subtree: true, attributeFilter: ["class"]}));
        """
    )
    page.goto(f"/hymn/{SHORT}")
    page.select_option("#sung", "vowel")
    assert sung() == []  # opening the page, nothing sounds by itself
    seen.reach("#edit-p1 summary")
    page.keyboard.press("Enter")
    seen.reach('[data-phrase="p1"]')
    page.keyboard.press("Enter")
    notes = [f"wide.{s.id}n{i + 1}" for s in phrase.syllables for i in range(len(s.notes))]
    seen.until(f"window.lit.includes({notes[-1]!r})", 60)
    assert "phrase=p1" in sung()[-1]
    assert "sung=vowel" in sung()[-1]
    lit = [n for n in page.evaluate("window.lit") if "intonation" not in n]
    assert lit == [n for n in notes if n in lit]  # these alone; a busy computer may pass one over
    heard = len(sung())
    seen.enter('#note-p1s1n1 button[value="up"]')
    assert degrees(desk, SHORT) != before
    seen.until("window.lit.length > 0", 60)  # by itself, since it was changed
    assert len(sung()) > heard
    assert "intonation=none" in sung()[-1]
    # Where it is not wanted it is switched off, and the page remembers.
    seen.reach("#after")
    page.keyboard.press("Space")
    heard = len(sung())
    seen.enter('#note-p1s1n1 button[value="down"]')
    page.wait_for_timeout(300)
    assert len(sung()) == heard
    for _ in range(2):
        page.goto(f"/hymn/{SHORT}")
        seen.enter('form[action$="/undo"] button')
    assert degrees(desk, SHORT) == before


def test_a_take_with_the_microphone_leads_to_a_verdict(
    seen: Watched, fake_voice: Path, desk: Desk, axe: str
) -> None:
    page = seen.page
    page.goto(f"/hear/{SHORT}")
    seen.reach("[data-start]")
    page.keyboard.press("Enter")
    seen.until("document.querySelector('own-take [role=status]').textContent === 'Sing.'")
    seen.sung_for(soundfile.info(fake_voice).duration + 0.5)
    seen.reach("[data-stop]")
    page.keyboard.press("Enter")
    seen.until("document.querySelector('#take').files.length === 1")
    said = page.locator("own-take [role=status]").inner_text()
    seconds = re.search(r"(\d+) seconds", said)
    assert seconds
    assert int(seconds[1]) >= soundfile.info(fake_voice).duration
    seen.reach("main form button")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    # The voice is the score's own, in tune: a table of its notes, none far off.
    drawn = page.locator("figure.trace img").all()
    assert drawn
    assert all(d.evaluate("e => e.naturalWidth") > 100 for d in drawn)
    rows = page.locator("main table tbody tr").all()
    assert len(rows) == len({d for p in degrees(desk, SHORT) for d in p})
    for row in rows:
        off = float(row.locator("td").nth(1).inner_text().replace("−", "-"))
        assert abs(off) < 1.5
    seen.for_every_eye(axe)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "No recording came"),
        (b"not sound at all", ""),
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", ""),
        (b"OggS" + b"\x00" * 4000, ""),
        (b"\xff" * 41_000_000, "million bytes"),
    ],
    ids=["nothing", "junk", "truncated", "a header and nought", "huge"],
)
def test_what_is_no_take_is_told_in_a_sentence(
    seen: Watched, tmp_path: Path, data: bytes, says: str
) -> None:
    file = tmp_path / "take.wav"
    file.write_bytes(data)
    seen.page.goto(f"/hear/{SHORT}")
    seen.page.set_input_files("#take", file)
    seen.refusals = {400}
    with seen.page.expect_navigation() as moved:
        seen.page.locator("main form button").press("Enter")
    assert moved.value.status == 400
    said = seen.page.locator("[role=alert]").inner_text()
    assert len(said) > 15
    assert says in said
    assert seen.page.locator("h1").inner_text() == "Not done"


def test_no_page_needs_a_script_to_be_read(browser: Browser, served: Served, desk: Desk) -> None:
    seen = Watched(browser, served.address, java_script_enabled=False)
    try:
        before = degrees(desk, HYMN)
        for address in ("/", "/course", f"/hymn/{HYMN}", "/prepare", "/results", "/plan/0"):
            seen.page.goto(address)
            assert seen.page.locator("h1").is_visible()
        seen.page.goto(f"/hymn/{HYMN}")
        assert seen.page.locator(".music.wide svg").first.is_visible()
        seen.page.locator("#edit-p1 summary").press("Enter")
        seen.page.locator('#note-p1s1n1 button[value="up"]').press("Enter")
        seen.page.wait_for_load_state()
        assert degrees(desk, HYMN) != before
        seen.page.locator('form[action$="/undo"] button').press("Enter")
        seen.page.wait_for_load_state()
        assert degrees(desk, HYMN) == before
    finally:
        seen.close()
    assert hymnfile.read(desk.hymn_path(HYMN)).title == "Let every thing that hath breath"
