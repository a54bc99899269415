"""A ladder for the first page: the drawing of `chantwright.engrave.ladder`, said more shortly.

Lines that look alike become one path, and what every text has in common is said once. Nothing
moves: the ladder keeps its true size.

References
----------
SVG 2 (W3C): path data with the commands M, H and V; attributes that are handed down.
"""

from __future__ import annotations

from collections import Counter

from lxml import etree

__all__ = ["short_ladder"]

_SVG = "{http://www.w3.org/2000/svg}"
_PLACED = ("x", "y")


def _plain(number: str) -> str:
    """Write a number of hundredths without what it does not need."""
    return f"{float(number):g}"


def _joined(lines: list[etree._Element]) -> list[etree._Element]:
    """Paths that draw all lines, one for each way to look."""
    ways: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for line in lines:
        x1, y1, x2, y2 = (_plain(str(line.attrib.pop(name))) for name in ("x1", "y1", "x2", "y2"))
        if x1 != x2 and y1 != y2:
            raise ValueError("a ladder has no slanting lines")
        stroke = f"M{x1} {y1}" + (f"V{y2}" if x1 == x2 else f"H{x2}")
        look = tuple(sorted((str(k), str(v)) for k, v in line.attrib.items()))
        ways.setdefault(look, []).append(stroke)
    out = []
    for look, strokes in ways.items():
        path = etree.Element(f"{_SVG}path", dict(look))
        path.set("d", "".join(strokes))
        out.append(path)
    return out


def short_ladder(svg: str) -> str:
    """Return the same drawing in fewer octets."""
    root = etree.fromstring(svg.encode())
    lines = root.findall(f"{_SVG}line")
    for line in lines:
        root.remove(line)
    texts = root.findall(f"{_SVG}text")
    for text in texts:
        root.remove(text)
        for name in _PLACED:
            text.set(name, _plain(str(text.get(name))))
    groups: dict[tuple[tuple[str, str], ...], etree._Element] = {}
    for text in texts:
        common = tuple(
            sorted((str(k), str(v)) for k, v in text.attrib.items() if str(k) not in _PLACED)
        )
        if common not in groups:
            groups[common] = etree.SubElement(root, f"{_SVG}g", dict(common))
        for name, _ in common:
            del text.attrib[name]
        groups[common].append(text)
    families = Counter(str(g.get("font-family")) for g in groups.values())
    if len(families) == 1:
        root.set("font-family", next(iter(families)))
        for group in groups.values():
            del group.attrib["font-family"]
    root[:0] = _joined(lines)
    written: str = etree.tostring(root, encoding="unicode")
    return written.replace(' xmlns="http://www.w3.org/2000/svg"', "")
