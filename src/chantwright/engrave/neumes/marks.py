"""Martyriai, phthorai, the signature and the sign of tempo.

A martyria names a note: its letter, and under it the sign of its place in the scale. A note of the
upper octave has a stroke at the right of its letter; of a note below ni the letter stands under the
sign. Which signs a scale uses follows from its genus.

References
----------
Signs by name: the Unicode standard. What is not settled is marked in ``data/marks.toml``.
"""

from __future__ import annotations

from chantwright.engrave.events import branch_of
from chantwright.engrave.neumes.cluster import Cluster, Piece
from chantwright.engrave.neumes.outlines import outline
from chantwright.engrave.neumes.tables import Tables
from chantwright.score import Hymn
from chantwright.tones import Tones
from chantwright.tuning import Scale, degree_name

__all__ = ["family", "martyria", "mode_signs", "phthora_code", "row_of_pieces", "tempo_code"]

_STROKE, _STROKE_SIZE = "1D0F1", 0.6
_GAP = 46


def family(scale: Scale, tables: Tables) -> str:
    """Family of signs of a scale: by its own row, else by its genus."""
    rows = tables.rows["genus"]
    row = rows.get(scale.id) or rows.get(scale.genus) or rows["diatonic"]
    return str(row["family"])


def _place(code: str, centre: float, y: int, size: float = 1.0) -> Piece:
    width = outline(code).width * size
    return Piece(code, round(centre - width / 2), y, size, True, 0)


def _boxed(pieces: list[Piece]) -> Cluster:
    boxes = [p.box for p in pieces]
    left = min(b[0] for b in boxes)
    moved = tuple(p._replace(x=round(p.x - left)) for p in pieces)
    boxes = [p.box for p in moved]
    right = max(b[2] for b in boxes)
    low, high = min(b[1] for b in boxes), max(b[3] for b in boxes)
    return Cluster(moved, ((0.0, right),), 0.0, right, low, high)


def martyria(degree: int, scale: Scale, tables: Tables) -> Cluster:
    """Lay out the martyria of a note in a scale.

    Parameters
    ----------
    degree : int
        Step number, ni = 0.
    scale : Scale
        Whose signs are used.
    tables : Tables
        Letters and signs.
    """
    octave, step = divmod(degree, 7)
    row = tables.rows["martyria"][f"{family(scale, tables)}.{degree_name(step)}"]
    letter = str(row["letter"])
    mark = str(row.get("sign_high", row["sign"]) if octave > 0 else row["sign"])
    upper, lower = (letter, mark) if octave >= 0 else (mark, letter)
    # The lower one hangs from the axis of the line, the upper one stands on it.
    pieces = [
        _place(upper, 0, 385 - outline(upper).bottom),
        _place(lower, 0, 385 - _GAP - outline(lower).top),
    ]
    name = pieces[0] if octave >= 0 else pieces[1]
    for k in range(octave if octave >= 0 else -octave - 1):
        stroke = outline(_STROKE)
        x = name.box[2] + 30 + k * 110
        y = name.box[3] - stroke.top * _STROKE_SIZE + 20
        pieces.append(Piece(_STROKE, round(x), round(y), _STROKE_SIZE, True, 0))
    return _boxed(pieces)


def phthora_code(degree: int, scale: Scale, tables: Tables) -> str:
    """Code of the scale sign that stands over a note when a scale begins with it."""
    row = tables.rows["phthora"][f"{family(scale, tables)}.{degree_name(degree % 7)}"]
    return str(row.get("code_high", row["code"]) if degree >= 7 else row["code"])


def mode_signs(hymn: Hymn, tones: Tones, tables: Tables) -> tuple[str, ...]:
    """Codes of the mode signs in the signature of a hymn: its branch's, else its tone's."""
    branch = branch_of(hymn, tones)
    rows = tables.rows["mode_sign"]
    row = rows.get(branch.id) or rows.get(f"t{branch.tone}")
    return tuple(str(c) for c in row["codes"]) if row is not None else ()


def tempo_code(tempo: int, tables: Tables) -> str:
    """Code of the sign for a number of beats a minute, or empty."""
    for row in tables.rows["tempo_sign"].values():
        if int(row["from"]) <= tempo < int(row["to"]):
            return str(row["code"])
    return ""


def row_of_pieces(codes: tuple[str, ...], gap: int = 40) -> Cluster | None:
    """Set outlines side by side on the axis of the line."""
    pieces: list[Piece] = []
    x = 0.0
    for code in codes:
        shape = outline(code)
        pieces.append(Piece(code, round(x), 330 - (shape.bottom + shape.top) // 2, 1.0, True, 0))
        x += shape.width + gap
    return _boxed(pieces) if pieces else None
