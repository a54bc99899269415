"""The ink of a drawing as polygons, read from its SVG: outlines flattened, words as boxes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from functools import lru_cache

from fontTools.pens.basePen import BasePen
from fontTools.svgLib.path import parse_path
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from chantwright.engrave.metrics import text_width

SVG = "{http://www.w3.org/2000/svg}"
_MOVE = re.compile(r"translate\((-?[\d.]+) (-?[\d.]+)\)(?: scale\(([\d.]+)\))?")


class _Flat(BasePen):  # type: ignore[misc]
    def __init__(self) -> None:
        super().__init__(None)
        self.rings: list[list[tuple[float, float]]] = []

    def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        self.rings.append([pt])

    def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802
        self.rings[-1].append(pt)

    def _curveToOne(  # noqa: N802
        self, a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]
    ) -> None:
        start = self.rings[-1][-1]
        for k in range(1, 9):
            t, u = k / 8, 1 - k / 8
            w = (u**3, 3 * t * u * u, 3 * t * t * u, t**3)
            x = w[0] * start[0] + w[1] * a[0] + w[2] * b[0] + w[3] * c[0]
            y = w[0] * start[1] + w[1] * a[1] + w[2] * b[1] + w[3] * c[1]
            self.rings[-1].append((x, y))

    def _closePath(self) -> None:  # noqa: N802
        pass


@lru_cache(maxsize=512)
def polygon(path: str) -> BaseGeometry:
    """Union of a path's outlines; holes are filled, which only makes the test stricter."""
    pen = _Flat()
    parse_path(path, pen)
    rings = [Polygon(r).buffer(0) for r in pen.rings if len(r) > 2]
    return unary_union(MultiPolygon([p for p in rings if isinstance(p, Polygon)] or rings))


@dataclass(frozen=True)
class Ink:
    """Everything a drawing shows: outlines, words (with their class), and its own box."""

    glyphs: list[tuple[str, BaseGeometry]]
    words: list[tuple[str, str, BaseGeometry]]
    rules: list[BaseGeometry]
    page: BaseGeometry


def ink(svg: str) -> Ink:
    root = ET.fromstring(svg)
    paths = {p.get("id", ""): p.get("d", "") for p in root.iter(f"{SVG}path")}
    glyphs = []
    for use in root.iter(f"{SVG}use"):
        at = _MOVE.fullmatch(use.get("transform", ""))
        assert at, use.get("transform")
        name = use.get("href", "")[1:]
        shape = polygon(paths[name])
        size = float(at[3] or 1)
        shape = affinity.scale(shape, size, size, origin=(0, 0))
        glyphs.append((name, affinity.translate(shape, float(at[1]), float(at[2]))))
    words = []
    for text in root.iter(f"{SVG}text"):
        said = "".join(text.itertext())
        size = float(text.get("font-size", "0"))
        x, y = float(text.get("x", "0")), float(text.get("y", "0"))
        wide = text_width(said, bold=text.get("font-weight") == "bold") * size
        area = box(x, y - 0.72 * size, x + wide, y + 0.24 * size)
        words.append((text.get("class", ""), said, area))
    rules = []
    for rect in root.iter(f"{SVG}rect"):
        x, y, w, h = (float(rect.get(k, "0")) for k in ("x", "y", "width", "height"))
        rules.append(box(x, y, x + w, y + h))
    page = box(*[float(v) for v in root.get("viewBox", "").split()])
    return Ink(glyphs, words, rules, page)
