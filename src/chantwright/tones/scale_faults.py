"""Faults of scales, colourings and accidentals: sums that do not add up, notes out of order."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from fractions import Fraction

from chantwright.errors import ChantError
from chantwright.rows import Row, Rows
from chantwright.tones.finding import Finding, of_error
from chantwright.tuning import CENTS_PER_MORION, Scale, degree_name, fields
from chantwright.tuning.colouring import read_accidental, read_colouring
from chantwright.tuning.scale import PARTS, read_scale

__all__ = ["colouring_faults", "read_scales", "scale_faults"]

_SPANS = {"octave": 72, "wheel": 42, "tetrachord": 30, "third": None}
_LOWEST, _HIGHEST = -14, 21
_RATIO_SLACK = 25.0  # cents over the whole span: rounding of a source, not a slip of the pen


def read_scales(rows: Rows) -> tuple[dict[str, Scale], list[Finding]]:
    """Make every scale that can be made; the rest are findings."""
    scales: dict[str, Scale] = {}
    found: list[Finding] = []
    for name, row in rows["scale"].items():
        try:
            scales[name] = read_scale(row, rows["scale"])
        except ChantError as exc:
            found.append(of_error(exc))
    return scales, found


def _wrong(row: Row, sentence: str, remedy: str = "") -> Finding:
    return Finding("wrong", row.where, f"the {row.table} “{row.id}”: {sentence}", remedy)


def _sums(row: Row, scale: Scale) -> Iterator[Finding]:
    parts = PARTS[scale.system]
    total = scale.span * parts / 72
    if "span" in row.values:
        stated = fields.number(row, "span")
        if total != stated:
            yield _wrong(
                row,
                f"its steps add to {total}, but its span is {stated}.",
                "Mend one of the steps, or the span.",
            )
    if scale.repeat not in _SPANS:
        yield _wrong(
            row, f"“{scale.repeat}” is no way to repeat.", f"Choose one of: {', '.join(_SPANS)}."
        )
        return
    needed = _SPANS[scale.repeat]
    if needed is not None and scale.span != needed:
        yield _wrong(
            row,
            f"it repeats by the {scale.repeat}, {needed} moria, but its steps make "
            f"{float(scale.span):g} moria.",
            "Mend the steps, or how it repeats.",
        )


def scale_faults(row: Row, scale: Scale) -> Iterator[Finding]:
    """Faults of one scale."""
    try:
        yield from _sums(row, scale)
    except ChantError as exc:
        yield of_error(exc)
    if scale.ratios:
        product = math.prod(float(r) for r in scale.ratios if r > 0)
        off = 1200 * math.log2(product) - float(scale.span * CENTS_PER_MORION)
        if len(scale.ratios) != len(scale.steps) or abs(off) > _RATIO_SLACK:
            yield _wrong(
                row,
                "its ratios do not make its span.",
                "Give one ratio for each step; together they must make the octave 2/1.",
            )
    for degree in range(_LOWEST, _HIGHEST):
        if scale.moria(degree + 1) <= scale.moria(degree):
            yield _wrong(
                row,
                f"{degree_name(degree + 1)} is not higher than {degree_name(degree)}.",
                "Mend the scale it goes on with beyond its first span.",
            )
            break


def _colouring(row: Row, scales: Mapping[str, Scale]) -> Iterator[Finding]:
    colouring = read_colouring(row)
    under = scales.get(str(row.get("scale", "diatonic")))
    if under is None:
        yield _wrong(row, f"there is no scale “{row.get('scale')}”.")
        return
    room = under.moria(colouring.end) - under.moria(colouring.start)
    for name, sizes in (("steps", colouring.steps), ("variant", colouring.variant)):
        total = sum(sizes, Fraction(0))
        if sizes and total != room:
            yield _wrong(
                row,
                f"its {name} add to {total} moria, but from {degree_name(colouring.start)} to "
                f"{degree_name(colouring.end)} the {under.id} scale has {room}: it does not close.",
                "Mend one of the steps.",
            )
    if not colouring.start <= colouring.on <= colouring.end:
        yield _wrong(row, f"its note {degree_name(colouring.on)} lies outside its span.")


def _accidental(row: Row) -> Iterator[Finding]:
    sign = read_accidental(row)
    if not 0 < abs(sign.moria) <= 12:
        yield _wrong(
            row, f"{sign.moria} moria is no size of a sharp or flat.", "Sizes are 1 to 12 moria."
        )
    if not 0x1D000 <= ord(sign.sign) <= 0x1D0FF:
        yield _wrong(row, "its sign is not among the signs of this notation (U+1D000 to U+1D0FF).")


def colouring_faults(rows: Rows, scales: Mapping[str, Scale]) -> Iterator[Finding]:
    """Faults of every colouring and accidental."""
    for row in rows["chroa"].values():
        try:
            yield from _colouring(row, scales)
        except ChantError as exc:
            yield of_error(exc)
    for row in rows["accidental"].values():
        try:
            yield from _accidental(row)
        except ChantError as exc:
            yield of_error(exc)
