# ruff: noqa: E501, F811, PLC0415 (scripts of the browser stand as they are; fixtures)
"""The practice pack in a real browser: Debian's Chromium, without a mouse where that is the point.

What listens is tried in test_web_pack_live.py. No phone was tried.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from web_pack_chromium import (  # noqa: F401 (fixtures)
    CHROMIUM,
    FLAGS,
    READY,
    SMALL_TEXT,
    TOOLS,
    WORD_SIZES,
    Watched,
    browser,
    driver,
    open_page,
    until,
    violations,
)
from web_pack_site import Site, site, small_pack  # noqa: F401 (fixtures)

from chantwright.voice import sing
from chantwright.web.pack import Pack
from chantwright.web.packfile import write_single


def _hymn_page(pack: Pack) -> str:
    return pack.hymns[0].page


def test_no_sideways_scroll_and_words_that_can_be_read(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    # 16 pixels: common practice for reading on a telephone.
    for width in (360, 800):
        watched = open_page(_hymn_page(small_pack), viewport={"width": width, "height": 760})
        page = watched.page
        until(page, READY)
        for reading in ("staff", "neumes", "letters"):
            page.locator(f".readings input[value={reading}]").check()
            sizes = page.evaluate(WORD_SIZES)
            assert len(sizes) > 5
            assert min(sizes) >= 16, (width, reading, min(sizes))
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        small = page.evaluate(SMALL_TEXT)
        assert small == []
        assert watched.faults == []


def test_axe_finds_nothing_in_light_and_dark(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    axe = TOOLS / "node_modules" / "axe-core" / "axe.min.js"
    if not axe.exists():
        pytest.skip(f"AXE WAS NOT RUN: no {axe} (tools/setup.sh dev installs it)")
    for path in ("index.html", _hymn_page(small_pack)):
        for scheme in ("light", "dark"):
            watched = open_page(path, color_scheme=scheme, viewport={"width": 390, "height": 800})
            page = watched.page
            found = violations(page, axe)
            assert found == [], (path, scheme)
            assert watched.faults == []


CONTRASTS = """() => {
  const bright = (c) => { const [r, g, b] = c.match(/[\\d.]+/g).map((v) => { const x = v / 255;
    return x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4; });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const paper = bright(getComputedStyle(document.body).backgroundColor);
  return [...document.querySelectorAll('.score text, .score use, .ladder text')]
    .filter((e) => e.getBoundingClientRect().width > 0).map((e) => {
      const ink = bright(getComputedStyle(e).fill);
      return [(Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05), e.textContent]; }); }"""


def test_scores_and_ladders_stand_out_in_light_and_dark(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    # WCAG 2.2, 1.4.3: 4.5 to 1; the checker does not look into drawings.
    for path in ("index.html", _hymn_page(small_pack)):
        for scheme in ("light", "dark"):
            page = open_page(path, color_scheme=scheme).page
            for reading in ("staff", "neumes", "letters") if path != "index.html" else ("",):
                if reading:
                    page.locator(f".readings input[value={reading}]").check()
                found = page.evaluate(CONTRASTS)
                assert len(found) > 5
                assert min(found)[0] >= 4.5, (path, scheme, reading, min(found))


def test_keyboard_alone_reaches_and_works_every_control(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    watched = open_page(_hymn_page(small_pack))
    page = watched.page
    until(page, READY)
    page.evaluate("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('article button, article select, article input, article textarea')]
          .filter((e) => e.type !== 'radio' || e.checked).map((e) => e.className || e.value)"""
    )
    seen = []
    for _ in range(60):
        page.keyboard.press("Tab")
        name = page.evaluate("document.activeElement.className || document.activeElement.value")
        seen.append(name)
        if name == "drone":
            page.keyboard.press("Enter")
        if name == "play main":
            page.keyboard.press("Space")
    assert set(wanted) <= set(seen)
    assert page.locator("button.drone").get_attribute("aria-pressed") == "true"
    until(page, "!window.chantwright.mounted[0].player.audio.paused")
    page.locator("button.play").focus()
    page.keyboard.press("Space")
    until(page, "window.chantwright.mounted[0].player.audio.paused")
    assert watched.faults == []


def test_the_page_knows_what_the_app_knows(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    from chantwright.tones import load_tones

    piece = small_pack.hymns[0].piece
    assert piece.singable is not None
    timing = sing(piece.singable.hymn, load_tones()).timing
    page = open_page(_hymn_page(small_pack)).page
    until(page, READY)
    data = page.evaluate("window.chantwright.mounted[0].data")
    sung = [n for n in timing.notes if not n.syllable.startswith("intonation")]
    assert [n["id"] for n in data["notes"]] == [n.id for n in sung]
    assert [n["moria"] for n in data["notes"]] == pytest.approx([n.moria for n in sung], abs=1e-3)
    hz = [data["zero_hz"] * 2 ** (n["moria"] / 72) for n in data["notes"]]
    assert hz == pytest.approx([n.hz for n in sung], rel=1e-5)
    rows = {row[0]: row[1:] for row in data["tracks"]["full"]["notes"]}
    for note in sung:
        assert rows[note.id] == pytest.approx([note.start, note.stop], abs=1e-3)
    assert [words for _, words in data["phrases"]] == [p.words for p in piece.singable.hymn.phrases]
    drawn = page.evaluate(
        """() => { const d = window.chantwright.mounted[0].data; return d.notes.every((n) =>
          d.prefixes.every((p) => document.getElementById(p + n.id))); }"""
    )
    assert drawn


def test_drone_is_true_and_does_not_click(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    page = open_page(_hymn_page(small_pack)).page
    error, edge, glide, moved = page.evaluate(
        """async () => {
          const { Drone } = await import('./drone.js');
          const rate = 48000, hz = 147.3;
          const context = new OfflineAudioContext(1, rate * 6, rate);
          const drone = new Drone(context);
          // From pa up to vou, as an ison moves, and a fifth down and up again in between.
          drone.sound(hz, 0.8, 0.5); drone.sound(hz * 2 ** (-42 / 72), 0.8, 2.95);
          drone.sound(hz * 2 ** (12 / 72), 0.8, 3.2); drone.hush(5.0);
          const x = (await context.startRendering()).getChannelData(0);
          const phase = (from, to, f) => { let re = 0, im = 0; [from, to] = [Math.round(from), Math.round(to)];
            for (let i = from; i < to; i++) { const w = 0.5 - 0.5 * Math.cos(2 * Math.PI * (i - from) / (to - from));
              re += w * x[i] * Math.cos(2 * Math.PI * f * i / rate); im -= w * x[i] * Math.sin(2 * Math.PI * f * i / rate); }
            return Math.atan2(im, re); };
          // The phase against the wanted pitch, at two moments a second apart (Fourier's theorem).
          let turn = phase(rate * 2, rate * 2.5, hz) - phase(rate * 1.2, rate * 1.7, hz);
          turn -= 2 * Math.PI * Math.round(turn / (2 * Math.PI));
          const error = 1200 * Math.log2(1 + turn / (2 * Math.PI) / 0.8 / hz);
          const high = hz * 2 ** (12 / 72);
          let later = phase(rate * 4.4, rate * 4.8, high) - phase(rate * 3.8, rate * 4.2, high);
          later -= 2 * Math.PI * Math.round(later / (2 * Math.PI));
          const moved = 1200 * Math.log2(1 + later / (2 * Math.PI) / 0.6 / high);
          const step = (a, b) => { let m = 0; for (let i = Math.round(a * rate); i < b * rate; i++) m = Math.max(m, Math.abs(x[i + 1] - x[i])); return m; };
          const steady = step(2, 2.9), after = step(4, 4.9);
          return [error, Math.max(step(0.4, 1.2) / steady, step(4.95, 5.8) / after), step(2.9, 3.7) / Math.max(steady, after), moved];
        }"""
    )
    assert abs(error) < 0.01
    assert abs(moved) < 0.01
    assert edge < 1.25
    assert glide < 1.25


def test_slowed_down_it_keeps_its_pitch_and_the_light_keeps_up(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    watched = open_page(_hymn_page(small_pack))
    page = watched.page
    until(page, READY)
    # The element goes through the pack's own ear; a note's middle is compared with its asked pitch.
    page.evaluate(
        """async () => {
          const m = window.chantwright.mounted[0], { sound } = window.chantwright;
          m.player.pace.value = '60'; m.player.paced();
          const node = await sound.worklet();
          const source = sound.context.createMediaElementSource(m.player.audio);
          source.connect(node); source.connect(sound.context.destination);
          window.frames_ = []; window.clock_ = [];
          node.port.onmessage = (e) => window.frames_.push([e.data.hz, e.data.clarity,
            m.player.audio.currentTime]);
          m.player.seek(m.data.tracks.full.parts[0][1]);
          await m.player.start();
        }"""
    )
    page.wait_for_timeout(4600)
    page.evaluate(
        """() => { const { player, data } = window.chantwright.mounted[0];
          player.seek(data.tracks.full.parts.find((p) => p[0] === 'phrase')[1] - 0.1); }"""
    )
    page.wait_for_timeout(3000)
    frames, notes, log, rows = page.evaluate(
        """() => { const m = window.chantwright.mounted[0]; m.player.audio.pause();
          return [window.frames_, m.data.tracks.full.notes, m.player.log, m.data]; }"""
    )
    timing = {row[0]: row for row in notes}
    # The intonation is sung without drone: its notes alone are clean.
    from chantwright.tones import load_tones

    piece = small_pack.hymns[0].piece
    assert piece.singable is not None
    hz = {n.id: n.hz for n in sing(piece.singable.hymn, load_tones()).timing.notes}
    offs = []
    for name, (_, start, stop) in timing.items():
        if not name.startswith("intonation") or stop - start < 0.5:
            continue
        middle = [
            1200 * np.log2(f[0] / hz[name])
            for f in frames
            if f[1] > 0.95 and start + 0.25 < f[2] < stop - 0.15
        ]
        if len(middle) > 10:
            offs.append(float(np.median(middle)))
    assert offs
    assert float(np.median(np.abs(offs))) < 1.0, offs
    late = [
        entry["at"] - timing[entry["id"]][1]
        for entry in log
        if entry["id"] in timing and entry["at"] > timing[entry["id"]][1]
    ]
    assert len(late) >= 3
    assert float(np.percentile(late, 95)) / 0.6 < 0.080
    assert watched.faults == []
    assert rows["id"] == "h1"


SUNG = """(sung) => { const m = window.chantwright.mounted[0].singing.marks;
  window.told_ = []; const old = m.say; m.say = (t) => { window.told_.push(t); old(t); };
  m.open();
  for (const [place, off] of sung) for (let k = 1; k <= 40; k++)
    m.point(m.data.notes[place].moria + off, place, k / 40);
  return window.told_; }"""
STROKES = """() => [...document.querySelectorAll('.score .pen')].map((e) => {
  const line = e.ownerSVGElement, box = e.getBBox();
  const level = line.querySelector('.true').getBBox().y;
  const size = Number(line.querySelector('.syl').getAttribute('font-size'));
  return [line.getClientRects().length, (level - box.y) / size, box.width / size,
    box.x + box.width <= line.viewBox.baseVal.width + 1, box.height / size]; })"""


@pytest.mark.parametrize("width", [360, 1024])
def test_what_is_sung_is_pencilled_under_the_words(
    width: int, open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    watched = open_page(_hymn_page(small_pack), viewport={"width": width, "height": 720})
    page = watched.page
    until(page, READY)
    notes = small_pack.hymns[0].data["notes"]
    offs = [(0.0, -2.0, 3.0, 40.0)[i % 4] for i in range(len(notes))]
    told = page.evaluate(SUNG, list(enumerate(offs)))
    first = [off for note, off in zip(notes, offs, strict=True) if note["phrase"] == "p1"]
    assert np.median(first) == 0
    assert told == ["Phrase 1: in place."]
    for reading in ("staff", "neumes", "letters"):
        page.locator(f".readings input[value={reading}]").check()
        strokes = page.evaluate(STROKES)
        assert len(strokes) == len(notes)
        for (seen, up, wide, inside, _), off in zip(strokes, offs, strict=True):
            assert seen == 1
            assert inside
            # 0.11 of the size of the words for a morion, five moria at most.
            assert up == pytest.approx(0.11 * min(5.0, off), abs=0.01)
            assert wide > 0.14
        # Nothing that is written lies under a stroke: rows of letters made room.
        under = page.evaluate(
            """() => [...document.querySelectorAll('.score svg.roomy')].filter((s) =>
              s.getClientRects().length).flatMap((s) => {
                const middle = (e) => (({ y, height }) => y + height / 2)(e.getBoundingClientRect());
                const level = middle(s.querySelector('.true')), size = s.getScreenCTM().a
                  * Number(s.querySelector('.syl').getAttribute('font-size'));
                return [...s.querySelectorAll('text')].map((t) =>
                  Math.abs(middle(t) - level) / size); })"""
        )
        assert min(under) > 0.55
    assert watched.faults == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    # The verdict's own strokes take their place; a note that was left out is crossed.
    page.evaluate(
        """() => { const s = window.chantwright.mounted[0].singing; s.marks.close();
          s.marks.told(s.data.notes.map((n, i) => i === 2 ? { state: 'left out', off: 0 }
            : { state: 'right', off: -1 })); }"""
    )
    crossed = [i for i, row in enumerate(page.evaluate(STROKES)) if row[4] > 0.3]
    assert crossed == [2]
    assert page.locator("svg.rungs").is_hidden()


def test_the_live_ladder_is_true_to_size_and_says_by_how_much(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    page = open_page(_hymn_page(small_pack), viewport={"width": 360, "height": 720}).page
    until(page, READY)
    notes = small_pack.hymns[0].data["notes"]
    for off, said in ((0.2, ""), (-3.0, "3 low"), (2.0, "2 high")):
        page.evaluate(SUNG, [[0, off]])
        rungs, asked, voice, by, here, small = page.evaluate(
            """() => { const l = document.querySelector('.rungs');
              return [[...l.querySelectorAll('.name')].map((e) =>
                [e.textContent, Number(e.getAttribute('y')) - 5]),
                l.querySelector('.asked').getBBox().y,
                (({ y, height }) => y + height / 2)(l.querySelector('.voice').getBBox()),
                l.querySelector('.by').textContent, l.querySelector('.here').textContent,
                Math.min(...[...l.querySelectorAll('text')].map((e) =>
                  parseFloat(getComputedStyle(e).fontSize)))]; }"""
        )
        assert small >= 16
        assert by == said
        assert here == notes[0]["name"].capitalize()
        moria = {n["name"].capitalize(): n["moria"] for n in notes}
        scale = (rungs[0][1] - rungs[-1][1]) / (moria[rungs[-1][0]] - moria[rungs[0][0]])
        assert scale > 2
        for name, y in rungs:
            assert rungs[0][1] - y == pytest.approx(
                scale * (moria[name] - moria[rungs[0][0]]), abs=0.1
            )
        assert asked - voice == pytest.approx(scale * off, abs=0.1)
    # At rest and in a verdict the ladder is not there; a screen reader hears the phrases instead.
    assert page.locator("svg.rungs").get_attribute("aria-hidden") == "true"
    assert page.locator(".heard").get_attribute("role") == "status"


def _kept(page: Any) -> None:
    page.goto(page.url)
    until(page, "navigator.serviceWorker.controller !== null", timeout=20000)
    page.goto(page.url.rsplit("/", 1)[0] + "/index.html")
    until(
        page,
        "document.querySelector('.keeping').textContent.startsWith('All of it')",
        timeout=20000,
    )


def test_in_flight_mode_with_the_server_dead(
    driver: Any, small_pack: Pack, site: Site, tmp_path: Path
) -> None:
    context = driver.chromium.launch_persistent_context(
        str(tmp_path / "profile"), executable_path=CHROMIUM, args=FLAGS, headless=True
    )
    try:
        page = context.new_page()
        page.goto(site.url)
        _kept(page)
        # What the browser itself says, asked over its own protocol (Chrome DevTools Protocol, Page).
        asked = context.new_cdp_session(page)
        assert asked.send("Page.getInstallabilityErrors")["installabilityErrors"] == []
        manifest = asked.send("Page.getAppManifest")
        assert manifest["errors"] == []
        assert manifest["url"] == site.url + "manifest.webmanifest"
        assert site.url in asked.send("Page.getAppId")["appId"]
        # Offline, and the server dead as well.
        context.set_offline(True)
        site.stop()
        page.close()
        page = context.new_page()
        page.goto(site.url + _hymn_page(small_pack))
        until(page, READY)
        seconds = page.evaluate(
            """async () => {
              const { player, data } = window.chantwright.mounted[0];
              player.seek(9); await player.start();
              await new Promise((r) => setTimeout(r, 700));
              const at = player.audio.currentTime; player.audio.pause();
              const part = await fetch(data.tracks.full.files.opus, { headers: { range: 'bytes=100-199' } });
              const none = await fetch(data.tracks.full.files.opus, { headers: { range: 'bytes=99999999-' } });
              await window.chantwright.sound.worklet();
              return [at, part.status, (await part.arrayBuffer()).byteLength, part.headers.get('content-range'), none.status];
            }"""
        )
        at, status, size, said, none = seconds
        assert 9.2 < at < 12
        assert (status, size, none) == (206, 100, 416)
        assert said.startswith("bytes 100-199/")
        assert page.locator(".score svg.system").count() > 4
    finally:
        context.close()


def test_a_new_pack_is_offered_and_taken_whole(browser: Any, small_pack: Pack, site: Site) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(site.url)
    _kept(page)
    fetched = len([path for _, path in site.asked if path.endswith(".opus")])
    cover = site.folder / "index.html"
    old = cover.read_text("utf-8")
    new = old.replace("Saint Nobody", "Another week")
    listed = (site.folder / "contents.json").read_text("utf-8")
    sums = [hashlib.sha256(t.encode()).hexdigest()[:16] for t in (old, new)]
    assert sums[0] in listed
    listed = listed.replace(sums[0], sums[1])
    version = hashlib.sha256(listed.encode()).hexdigest()[:16]
    (site.folder / "contents.json").write_text(listed, encoding="utf-8")
    worker = site.folder / "sw.js"
    text = worker.read_text("utf-8")
    assert text.count(small_pack.version) == 1
    worker.write_text(text.replace(small_pack.version, version), encoding="utf-8")
    # The new pack is only half on the site: its cover is still the old one, and nothing changes.
    page.reload()
    page.wait_for_timeout(1200)
    assert page.locator(".update").is_hidden()
    assert "Saint Nobody" in page.inner_text("h1")
    cover.write_text(new, encoding="utf-8")
    page.reload()
    page.wait_for_selector(".update:not([hidden])", timeout=20000)
    assert "Saint Nobody" in page.inner_text("h1")
    page.locator(".update .take").click()
    until(page, "document.querySelector('h1').textContent.includes('Another week')")
    _kept(page)
    assert len([path for _, path in site.asked if path.endswith(".opus")]) == fetched
    names = page.evaluate("caches.keys()")
    # The half one may leave nothing behind, nor may the old one.
    assert [name.rpartition(" ")[2] for name in names] == [version]
    context.close()


def test_the_screen_stays_on_while_it_sounds_and_no_longer(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    watched = open_page(_hymn_page(small_pack))
    page = watched.page
    until(page, READY)
    page.evaluate("import('./awake.js').then((m) => { window.awake_ = m.awake; })")
    until(page, "window.awake_")
    assert not page.evaluate("window.awake_()")
    page.locator("button.play").click()
    until(page, "window.awake_()")
    page.locator("button.drone").click()
    page.locator("button.play").click()
    until(page, "window.chantwright.mounted[0].player.audio.paused")
    page.wait_for_timeout(100)
    assert page.evaluate("window.awake_()")
    seen = """(state) => { Object.defineProperty(document, 'visibilityState',
      { value: state, configurable: true }); document.dispatchEvent(new Event('visibilitychange')); }"""
    page.evaluate(seen, "hidden")
    until(page, "!window.awake_()")
    page.evaluate(seen, "visible")
    until(page, "window.awake_()")
    page.locator("button.drone").click()
    until(page, "!window.awake_()")
    assert watched.faults == []


def test_the_drone_follows_the_ison_or_holds_the_base(
    open_page: Callable[..., Watched], small_pack: Pack
) -> None:
    page = open_page(_hymn_page(small_pack)).page
    until(page, READY)
    page.evaluate("document.querySelector('details.more').open = true")
    # An ison that moves to di, and goes with the melody on the next note.
    page.evaluate(
        """() => { const m = window.chantwright.mounted[0];
          m.data.notes.slice(3, 6).forEach((n) => { n.ison = 42; }); m.data.notes[6].ison = null;
          m.player.audio.muted = true; }"""
    )
    page.locator("button.drone").click()

    def at(place: int) -> float:
        page.evaluate(
            """(place) => { const m = window.chantwright.mounted[0];
              const row = m.data.tracks.full.notes.find((n) => n[0] === m.data.notes[place].id);
              m.player.heard.at(row[0]); }""",
            place,
        )
        page.wait_for_timeout(600)
        hz = page.evaluate("window.chantwright.sound.drone.tone.frequency.value")
        zero = small_pack.hymns[0].data["zero_hz"]
        return float(72 * np.log2(hz / zero))

    notes = small_pack.hymns[0].data["notes"]
    wanted = [12.0, 42.0, notes[6]["moria"]]
    assert [at(i) for i in (0, 4, 6)] == pytest.approx(wanted, abs=0.01 * 0.06)
    page.locator("select.moving").select_option("hold")
    assert at(4) == pytest.approx(12.0, abs=0.01 * 0.06)
    page.locator("select.moving").select_option("follow")
    assert at(5) == pytest.approx(42.0, abs=0.01 * 0.06)
    # While the recording plays, the note that sounds moves it; after it, the base again.
    page.evaluate("(id) => window.chantwright.mounted[0].player.fromNote(id)", notes[3]["id"])
    sounds = "Math.abs(window.chantwright.sound.drone.tone.frequency.value - {:.6f}) < 0.1"
    zero = small_pack.hymns[0].data["zero_hz"]
    until(page, sounds.format(zero * 2 ** (42 / 72)))
    page.locator("button.play").click()
    until(page, sounds.format(zero * 2 ** (12 / 72)))


def test_one_file_plays_and_says_where_it_is_deaf(
    browser: Any, small_pack: Pack, tmp_path: Path
) -> None:
    path = write_single(small_pack, tmp_path / "pack.html")
    shutil.copy(path, tmp_path / "copy.html")
    watched = Watched(browser.new_page())
    page = watched.page
    page.goto(path.as_uri())
    until(page, READY)
    page.locator("a.go").first.click()
    page.wait_for_selector("#h1 .score svg.system:visible")
    assert "opened from a file" in page.locator("#h1 .warn").inner_text()
    page.locator("#h1 button.play").click()
    until(page, "window.chantwright.mounted[0].player.audio.currentTime > 0.3")
    frames = page.evaluate(
        """async () => { const { sound } = window.chantwright; const node = await sound.worklet();
          const tone = sound.context.createOscillator(); tone.frequency.value = 148; tone.connect(node);
          tone.start(); let count = 0, hz = 0;
          node.port.onmessage = (e) => { count += 1; hz = e.data.hz; };
          await new Promise((r) => setTimeout(r, 900)); return [count, hz]; }"""
    )
    assert frames[0] > 30
    assert frames[1] == pytest.approx(148, rel=1e-3)
    assert watched.faults == []
    page.close()
