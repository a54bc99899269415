"""Widths of letters in the booklet's text font, and a staff engraver that knows them.

The staff engraver spaces notes by the words under them, measured with a font of its own; the
page is set in another. Here the page's compiler is asked once for the advance width of each
letter, and the engraver is given those widths in place of its own.
"""

from __future__ import annotations

import atexit
import json
import shutil
import tempfile
import threading
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import typst
import verovio

from chantwright.engrave.options import FONT

__all__ = ["draw", "missing", "text_width", "widths"]

_EM = 2048
_MEASURE = """
#set text(font: sys.inputs.font, size: 1000pt, weight: sys.inputs.weight)
#set page(width: auto, height: auto)
#context {
  let out = (:)
  for c in json(bytes(sys.inputs.chars)) { out.insert(c, measure(text(c)).width.pt()) }
  [#metadata(out) <widths>]
}
"""
_BOXES = """
#set text(font: sys.inputs.font, size: 1000pt, top-edge: "bounds", bottom-edge: "bounds")
#set page(width: auto, height: auto)
#context {
  let out = (:)
  for c in json(bytes(sys.inputs.chars)) {
    let box = measure(text(c))
    out.insert(c, (box.width.pt(), box.height.pt()))
  }
  [#metadata(out) <boxes>]
}
"""
_NOWHERE = "\U0010fffd"
"""A code that no font draws: what stands for it stands for every missing letter."""
_RANGES = (
    (0x20, 0x7F),
    (0xA0, 0x180),
    (0x218, 0x21C),
    (0x370, 0x460),  # Greek and Cyrillic
    (0x1F00, 0x2000),  # polytonic Greek
    (0x2010, 0x2040),
)
_known: dict[tuple[str, str], float] = {}
_drawn: dict[str, bool] = {}
_lock = threading.RLock()
_toolkit: Any = None


def _measure(chars: list[str], weight: str) -> Mapping[str, float]:
    inputs = {"font": FONT, "weight": weight, "chars": json.dumps(chars)}
    compiler = typst.Compiler(_MEASURE.encode(), sys_inputs=inputs, ignore_system_fonts=True)
    found = json.loads(compiler.query("<widths>", field="value", one=True))
    return {c: float(w) / 1000 for c, w in found.items()}


def widths(chars: Iterable[str], *, bold: bool = False) -> Mapping[str, float]:
    """Advance width of each letter.

    Parameters
    ----------
    chars : iterable of str
        Single letters.
    bold : bool
        In the bold font.

    Returns
    -------
    Mapping of str to float
        In ems (1 = the size of the font).
    """
    weight = "bold" if bold else "regular"
    wanted = set(chars)
    with _lock:
        new = sorted(c for c in wanted if (weight, c) not in _known)
        if new:
            for c, w in _measure(new, weight).items():
                _known[weight, c] = w
        return {c: _known[weight, c] for c in wanted}


def _usual() -> set[str]:
    return {chr(c) for low, high in _RANGES for c in range(low, high) if chr(c).isprintable()}


def missing(chars: Iterable[str]) -> frozenset[str]:
    """Letters that none of the page's fonts can draw; it would print an empty box for each.

    Parameters
    ----------
    chars : iterable of str
        Single letters.
    """
    wanted = set(chars)
    with _lock:
        new = sorted(c for c in wanted if c not in _drawn)
        if new:
            # The compiler is slow to start, so that the usual letters are asked for with the first.
            new += [] if _drawn else sorted(_usual() - wanted)
            inputs = {"font": FONT, "chars": json.dumps([*new, _NOWHERE])}
            compiler = typst.Compiler(_BOXES.encode(), sys_inputs=inputs, ignore_system_fonts=True)
            boxes = json.loads(compiler.query("<boxes>", field="value", one=True))
            _drawn.update({c: boxes[c] != boxes[_NOWHERE] for c in new})
        return frozenset(c for c in wanted if not _drawn[c])


def text_width(text: str, *, bold: bool = False) -> float:
    """Width of a line of text in ems, letter by letter (pairs set closer are not counted on)."""
    table = widths(text, bold=bold)
    return sum(table[c] for c in text)


def _write_metrics(source: Path, target: Path, bold: bool) -> None:
    """Lay our widths over a file of the engraver's letter boxes."""
    tree = ET.parse(source)
    root = tree.getroot()
    boxes = {int(g.get("c", "0"), 16): g for g in root}
    for c, width in widths(_usual(), bold=bold).items():
        box = boxes.get(ord(c))
        if box is None:
            box = ET.SubElement(root, "g", {"c": f"{ord(c):X}", "y": "-400", "h": "1900"})
        advance = f"{width * _EM:.0f}"
        box.set("x", "0")
        box.set("w", advance)
        box.set("h-a-x", advance)
    tree.write(target, encoding="utf-8", xml_declaration=True)


def _lend(item: Path, name: Path) -> None:
    """Make a file or folder appear under another name, by a link where the system has them."""
    try:
        name.symlink_to(item, target_is_directory=item.is_dir())
    except OSError:
        if item.is_dir():
            shutil.copytree(item, name)
        else:
            shutil.copy(item, name)


def _resources() -> Path:
    ours = Path(verovio.__file__).parent / "data"
    folder = Path(tempfile.mkdtemp(prefix="chantwright-staff-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for item in ours.iterdir():
        # The engraver will not start without Bravura, though it draws with its own Leipzig.
        if item.name.startswith(("Leipzig", "Bravura")):
            _lend(item, folder / item.name)
    (folder / "text").mkdir()
    for item in (ours / "text").iterdir():
        _write_metrics(item, folder / "text" / item.name, "bold" in item.name)
    return folder


def draw(mei: str, options: Mapping[str, Any]) -> list[str]:
    """Draw the pages of an MEI document.

    Parameters
    ----------
    mei : str
        A document that this package wrote.
    options : Mapping
        The engraver's own options.

    Returns
    -------
    list of str
        SVG, one a page.
    """
    global _toolkit  # noqa: PLW0603 - one engraver a process; it is costly to make
    with _lock:
        if _toolkit is None:
            verovio.enableLog(verovio.LOG_OFF)
            _toolkit = verovio.toolkit(False)
            _toolkit.setResourcePath(str(_resources()))
        _toolkit.resetOptions()
        _toolkit.setOptions(dict(options))
        if not _toolkit.loadData(mei):
            raise RuntimeError("the staff engraver refused a document that we wrote")
        return [str(_toolkit.renderToSVG(n + 1)) for n in range(_toolkit.getPageCount())]
