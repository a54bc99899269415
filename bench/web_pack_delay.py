"""How long from the middle of the analysed sound to the drawing of the live line, stage by stage.

Run from the repository's root, on a machine that does nothing else:

    python bench/web_pack_delay.py

A take is played to Debian's Chromium as its microphone, on the hymn page of a small practice pack.
For every frame of the pitch follower four delays are taken:

  stretch   from the middle of the two stretches that are compared to their newest sample, with the
            filter: worked out from the pitch
  blocks    from there to the posting of the frame: the browser hands sound on in blocks
  message   from the worklet to the page
  drawing   from the arrival in the page to the end of its drawing, which waits for the next picture

Then their sum. What the device adds before (its microphone) and after (its screen, up to one more
picture) is not in it; a microphone made of a file has none. The clock of the sound is laid on that
of the page by the earliest moment at which a sound was known, so the sum errs to the long side.
The work of the page and of the worklet is told in parts of a core.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "web"))
import web_pack_voices as voices
from web_pack_chromium import READY, Microphone, playwright, until
from web_pack_site import _made, serve

GOAL = 45.0
WATCH = """() => {
  const m = window.chantwright.mounted[0], s = m.singing;
  window.rows_ = []; window.looks_ = []; window.busy_ = 0;
  const arrived = new Map();
  const follow = s.follow.bind(s);
  setInterval(() => {
    const c = window.chantwright.sound.context, now = performance.now();
    if (c) window.looks_.push([now, 1000 * c.currentTime - now]);
  }, 4);
  s.follow = (f) => {
    const began = performance.now();
    follow(f);
    const now = performance.now();
    window.busy_ += now - began;
    window.rows_.push([f.t, f.hz, f.clarity, f.sent - performance.timeOrigin, arrived.get(f), now]);
  };
  const old = Object.getOwnPropertyDescriptor(MessagePort.prototype, 'onmessage');
  Object.defineProperty(MessagePort.prototype, 'onmessage', { ...old, set(g) {
    old.set.call(this, g && ((e) => { arrived.set(e.data, performance.now()); g(e); })); } });
}"""


def main() -> None:
    """Play, measure and print."""
    _, pack = _made()
    data = pack.hymns[0].data
    notes = [(n["moria"], n["beats"]) for n in data["notes"]]
    copy = tempfile.TemporaryDirectory()
    site = serve(_stamped(Path(shutil.copytree(pack.out, Path(copy.name) / "pack"))))
    print("milliseconds                    stretch  blocks message drawing     sum")
    with playwright.sync_playwright() as driver, tempfile.TemporaryDirectory() as folder:
        for name, shift, singer in (
            ("low man", -46.0, voices.throat),
            ("woman", 36.0, voices.voice),
            ("child", 72.0, voices.voice),
        ):
            take = voices.take(notes, data["zero_hz"], shift=shift, singer=singer)
            microphone = Microphone(driver, Path(folder) / "m.wav", service_workers="block")
            watched = microphone.open(site.url + pack.hymns[0].page)
            until(watched.page, READY)
            watched.page.evaluate(WATCH)
            microphone.begin(watched, take.samples)
            watched.page.wait_for_timeout(round(1000 * len(take.samples) / voices.RATE))
            rows, looks, busy = watched.page.evaluate(
                "() => [window.rows_, window.looks_, window.busy_]"
            )
            microphone.close()
            _tell(name, np.array(rows, float), np.array(looks, float), busy)
    site.stop()
    copy.cleanup()
    print(f"goal: the sum at most {GOAL:.0f} ms (half of all frames, and 95 in 100)")


def _stamped(folder: Path) -> Path:
    """Let the worklet write down when it posts each frame."""
    path = folder / "worklet.js"
    text = path.read_text(encoding="utf-8")
    stamped = text.replace("frame.t+=started,", "frame.t+=started,frame.sent=Date.now(),")
    assert stamped != text, "the worklet is not what this measure knows"
    path.write_text(stamped, encoding="utf-8")
    return folder


def _tell(name: str, rows: np.ndarray, looks: np.ndarray, busy: float) -> None:
    clear = rows[(rows[:, 1] > 0) & (rows[:, 2] > 0.84)]
    t, hz, _, sent, arrived, drawn = clear.T
    stretch = 1000 * (0.026 + 1 / hz) / 2 + 1.0
    # A break in the sound moves its clock, so half a second to either side is looked at.
    near = [looks[np.abs(looks[:, 0] - d) < 500, 1] for d in drawn]
    total = drawn - 1000 * t + np.array([n.max() for n in near])
    # Date.now() counts whole milliseconds: half of one is added.
    message = arrived - (sent + 0.5)
    drawing = drawn - arrived
    blocks = total - stretch - message - drawing
    for share in (50, 95):
        cells = [np.percentile(v, share) for v in (stretch, blocks, message, drawing, total)]
        line = " ".join(f"{c:7.1f}" for c in cells)
        print(f"{name:>10} {share} of 100 frames   {line}")
    work = 100 * busy / 1000 / (rows[-1, 5] - rows[0, 5]) * 1000
    print(f"{name:>10} drawing the line takes {work:.1f} % of a core; {len(rows)} frames")


if __name__ == "__main__":
    main()
