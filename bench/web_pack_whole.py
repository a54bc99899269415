# ruff: noqa: E501 (rows of figures)
"""The demonstration's whole weekend as a practice pack: time, size, every page looked at.

Run from the repository's root:

    python bench/web_pack_whole.py            # makes it in a folder of its own and takes it away
    python bench/web_pack_whole.py --keep X   # leaves it in the folder X

Told are the time by the clock and of the processor; sizes against the budget (150 kB without sound,
fonts and scores; scripts 60 kB); and for every page, in light and dark, what the accessibility
checker finds, the smallest word on a page 360 pixels wide, and controls without a name.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

os.environ["CHANTWRIGHT_CACHE"] = "off"
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "web"))
from web_pack_chromium import (
    CHROMIUM,
    FLAGS,
    READY,
    SMALL_TEXT,
    TOOLS,
    WORD_SIZES,
    Watched,
    playwright,
    until,
    violations,
)
from web_pack_site import serve
from web_pack_sizes import sizes_of

from chantwright.parish import copy_demo, demo_date, open_folder
from chantwright.web.pack import Pack, write_pack, zip_pack
from chantwright.web.packfile import write_single

NAMELESS = """() => [...document.querySelectorAll('button, select, input, textarea, a, summary')]
  .filter((e) => !(e.getAttribute('aria-label') || e.labels?.length && [...e.labels].some((l) =>
    l.textContent.trim()) || e.textContent.trim())).map((e) => e.outerHTML.slice(0, 90))"""


def _processor() -> float:
    return sum(
        used.ru_utime + used.ru_stime
        for used in map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    )


def _made(root: Path) -> Pack:
    parish = copy_demo(root / "parish")
    began, before = time.monotonic(), _processor()
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        pack = write_pack(
            open_folder(parish), demo_date(parish), root / "pack",
            executor=pool, progress=lambda *_: None,
        )  # fmt: skip
    print(
        f"{len(pack.hymns)} hymns, two recordings of each in two kinds: "
        f"{time.monotonic() - began:.0f} s by the clock, {_processor() - before:.0f} s of processor"
    )
    began = time.monotonic()
    zipped = zip_pack(pack, root / "pack.zip").stat().st_size
    single = write_single(pack, root / "pack.html").stat().st_size
    print(
        f"zip {zipped / 1e6:.1f} MB, one file {single / 1e6:.1f} MB: {time.monotonic() - began:.1f} s"
    )
    return pack


def _sizes(pack: Pack) -> None:
    sizes = sizes_of(pack.out)
    whole = sum(sizes.files.values()) + sizes.sound + sizes.fonts
    print(f"all {whole / 1e6:.1f} MB: sound {sizes.sound / 1e6:.1f} (Opus {sizes.opus / 1e6:.1f}), "
          f"scores {sizes.score / 1e6:.1f}, fonts {sizes.fonts / 1e3:.0f} kB")  # fmt: skip
    print(f"scripts {sizes.scripts / 1e3:.1f} kB of 60; pages and scripts {sizes.rest / 1e3:.1f} kB of 150, "
          f"beside notes and times of the {sizes.pages} hymns {sizes.notes / 1e3:.0f} kB")  # fmt: skip
    first = max(sizes.files[h.page] for h in pack.hymns)
    print(f"largest page of a hymn {first / 1e3:.0f} kB")


def _looked_at(pack: Pack) -> int:
    axe = TOOLS / "node_modules" / "axe-core" / "axe.min.js"
    site = serve(pack.out)
    faults: list[object] = []
    least, pages = 1000.0, 0
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for scheme in ("light", "dark"):
            context = browser.new_context(
                color_scheme=scheme, viewport={"width": 360, "height": 760}, service_workers="block"
            )
            for name in ["index.html", *(h.page for h in pack.hymns)]:
                watched = Watched(context.new_page())
                page = watched.page
                page.goto(site.url + name)
                pages += 1
                if name != "index.html":
                    until(page, READY)
                    for reading in ("staff", "neumes", "letters"):
                        page.locator(f".readings input[value={reading}]").check()
                        least = min(least, *page.evaluate(WORD_SIZES))
                faults += [(name, scheme, f) for f in violations(page, axe)]
                faults += [(name, scheme, f) for f in page.evaluate(SMALL_TEXT)]
                faults += [(name, scheme, f) for f in page.evaluate(NAMELESS)]
                said = [f for f in watched.faults if "Service Worker registration blocked" not in f]
                faults += [(name, scheme, f) for f in said]
                if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
                    faults.append((name, scheme, "wider than 360 pixels"))
                page.close()
            context.close()
        browser.close()
    site.stop()
    print(f"{pages} pages looked at: smallest word {least:.1f} pixels of 16, {len(faults)} faults")
    for fault in faults[:20]:
        print("  ", fault)
    return len(faults)


def main() -> int:
    """Make, measure, look."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--keep", type=Path)
    kept = parser.parse_args().keep
    with tempfile.TemporaryDirectory() as folder:
        pack = _made(kept or Path(folder))
        _sizes(pack)
        return int(_looked_at(pack) > 0)


if __name__ == "__main__":
    raise SystemExit(main())
