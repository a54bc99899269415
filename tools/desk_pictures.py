"""Take the pictures of the desk that the README shows, of the demonstration's parish.

Run: python tools/desk_pictures.py
Needs the tests' packages and Chromium (tools/setup.sh dev). The pictures keep 200 colours.
"""

from __future__ import annotations

import sys
import tempfile
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "web"))

from browsing import Served, chromium  # noqa: E402 (found on the path above)
from PIL import Image  # noqa: E402

from chantwright.parish import copy_demo  # noqa: E402
from chantwright.web.app import make_app  # noqa: E402
from chantwright.web.desk import Desk  # noqa: E402

LARGEST = 150_000
PICTURES = {
    "desk-hymn": ("/hymn/let-every-thing.txt", "light", (1000, 760), ()),
    "desk-stand": ("/stand/0", "dim", (1200, 760), ("PageDown", "PageDown", "Enter")),
}


def main() -> None:
    """Take each picture and write it under docs/pictures."""
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk.open(copy_demo(Path(folder) / "parish"), date(2026, 11, 25))
        server = Served(make_app(desk))
        try:
            with chromium() as browser:
                for name, (address, look, (width, height), keys) in PICTURES.items():
                    page = browser.new_page(viewport={"width": width, "height": height})
                    page.goto(server.address + address, timeout=120_000)
                    page.evaluate(
                        "look => { document.documentElement.dataset.light = look; }", look
                    )
                    page.evaluate("document.fonts.ready")
                    for key in keys:
                        page.keyboard.press(key)
                    page.wait_for_timeout(800)
                    path = ROOT / "docs" / "pictures" / f"{name}.png"
                    page.screenshot(path=path)
                    Image.open(path).convert("RGB").quantize(200).save(path, optimize=True)
                    print(f"{path.relative_to(ROOT)}: {path.stat().st_size} bytes")
                    if path.stat().st_size > LARGEST:
                        raise SystemExit("larger than a README should load")
        finally:
            server.stop()
            desk.close()


if __name__ == "__main__":
    main()
