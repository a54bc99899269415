"""Take the outlines of the neumes out of a font: `python tools/neume_outlines.py FONT OFL`.

FONT is the WOFF or TTF file of Noto Music that holds U+1D000-1D0FF (in the package
@fontsource/noto-music: files/noto-music-music-400-normal.woff), OFL its licence text. Only the
glyphs that the data files name are taken. Written are, beside those files,
``outlines.json`` and ``OFL.txt``. For each code:

d      path with the vertical axis downward, in 1/1000 of the font's size
box    left, bottom, right, top, the vertical axis upward
low, high   lowest and highest ink in each column of ten units from the left edge
"""

from __future__ import annotations

import itertools
import json
import math
import re
import shutil
import sys
from pathlib import Path

from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

COLUMN = 10
DATA = Path(__file__).resolve().parents[1] / "src/chantwright/engrave/neumes/data"


def wanted() -> list[int]:
    """Codes named in the data files."""
    found = set()
    for path in DATA.glob("*.toml"):
        found |= {int(c, 16) for c in re.findall(r'"(1D0[0-9A-F]{2})"', path.read_text("utf-8"))}
    return sorted(found)


def contours(recording: list[tuple[str, tuple]]) -> list[list[tuple[float, float]]]:
    """Flatten a glyph to polygons."""
    out: list[list[tuple[float, float]]] = []
    for verb, points in recording:
        if verb == "moveTo":
            out.append([points[0]])
        elif verb == "lineTo":
            out[-1].append(points[0])
        elif verb == "qCurveTo":
            controls = list(points[:-1])
            ends = [
                ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in itertools.pairwise(controls)
            ] + [points[-1]]
            for control, end in zip(controls, ends, strict=False):
                start = out[-1][-1]
                for k in range(1, 13):
                    t = k / 12
                    out[-1].append(
                        tuple(
                            (1 - t) ** 2 * s + 2 * t * (1 - t) * c + t * t * e
                            for s, c, e in zip(start, control, end, strict=False)
                        )
                    )
        elif verb == "curveTo":
            raise SystemExit("cubic curves are not expected in this font")
    return out


def profile(polygons: list[list[tuple[float, float]]], left: float, right: float):
    """Lowest and highest ink in each column."""
    count = max(1, math.ceil((right - left) / COLUMN))
    low, high = [math.inf] * count, [-math.inf] * count
    for polygon in polygons:
        for (x0, y0), (x1, y1) in zip(polygon, polygon[1:] + polygon[:1], strict=False):
            steps = max(1, math.ceil(max(abs(x1 - x0), abs(y1 - y0)) / 2))
            for k in range(steps + 1):
                x, y = x0 + (x1 - x0) * k / steps, y0 + (y1 - y0) * k / steps
                column = min(count - 1, max(0, int((x - left) // COLUMN)))
                low[column], high[column] = min(low[column], y), max(high[column], y)
    for k in range(1, count):  # a gap between two strokes counts as closed
        if low[k] is math.inf:
            low[k], high[k] = low[k - 1], high[k - 1]
    return [math.floor(v) for v in low], [math.ceil(v) for v in high]


def main() -> None:
    """Write the outlines."""
    font = TTFont(sys.argv[1])
    if font["head"].unitsPerEm != 1000:
        raise SystemExit("outlines of 1000 units to the em are expected")
    names, glyphs = font.getBestCmap(), font.getGlyphSet()
    out = {}
    for code in wanted():
        glyph = glyphs[names[code]]
        bounds = BoundsPen(glyphs)
        glyph.draw(bounds)
        left, bottom, right, top = bounds.bounds
        path = SVGPathPen(glyphs, ntos=lambda v: f"{v:.0f}")
        glyph.draw(TransformPen(path, (1, 0, 0, -1, -left, 0)))
        recording = DecomposingRecordingPen(glyphs)
        glyph.draw(recording)
        low, high = profile(contours(recording.value), left, right)
        out[f"{code:X}"] = {
            "d": path.getCommands(),
            "box": [0, math.floor(bottom), math.ceil(right - left), math.ceil(top)],
            "low": low,
            "high": high,
        }
    version = font["name"].getDebugName(5)
    lines = [f'"{k}": {json.dumps(v, separators=(",", ":"))}' for k, v in out.items()]
    (DATA / "outlines.json").write_text(
        '{"font": "Noto Music", '
        f'"version": {json.dumps(version)}, "licence": "SIL Open Font License 1.1, see OFL.txt",\n'
        '"glyphs": {\n' + ",\n".join(lines) + "\n}}\n",
        encoding="utf-8",
    )
    shutil.copyfile(sys.argv[2], DATA / "OFL.txt")
    print(f"{len(out)} outlines")


if __name__ == "__main__":
    main()
