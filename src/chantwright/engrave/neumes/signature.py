"""The signature over a hymn in neumes: Echos, mode sign, note, tempo.

References
----------
Order of the signature (the word Echos, the sign of the mode, the note of the base, the sign of
tempo): common practice of printed chant books.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

from chantwright.engrave.events import branch_of
from chantwright.engrave.lyrics import SVG, add, text
from chantwright.engrave.metrics import text_width
from chantwright.engrave.neumes.cluster import Cluster
from chantwright.engrave.neumes.marks import (
    family,
    mode_signs,
    phthora_code,
    row_of_pieces,
    tempo_code,
)
from chantwright.engrave.neumes.options import NeumeOptions
from chantwright.engrave.neumes.systems import RED, Canvas
from chantwright.engrave.neumes.tables import load_tables
from chantwright.engrave.staff import System
from chantwright.score import Hymn
from chantwright.tones import Tones
from chantwright.tuning import degree_name

__all__ = ["signature"]

_GAP = 150.0
_RISE = 260.0
"""Height of the words' baseline, so that they stand on the axis of the signs."""
_ECHOS = "Ἦχος"


def signature(hymn: Hymn, tones: Tones, options: NeumeOptions | None = None) -> System:
    """Draw the signature of a hymn.

    Parameters
    ----------
    hymn : Hymn
        With a tone or a branch; its melody is not needed.
    tones : Tones
        Branches, scales, styles.
    options : NeumeOptions, optional
        Size and colours.

    Raises
    ------
    ChantError
        If the hymn names neither a tone nor a branch.
    """
    options = options or NeumeOptions()
    tables = load_tables(options.overrides)
    branch = branch_of(hymn, tones)
    scale = tones.scales[branch.scale]
    style = tones.styles.get(hymn.style or branch.style)
    tempo = hymn.tempo or (style.tempo if style is not None else None)
    size = options.words * 1.25
    parts: list[tuple[str, Cluster | str]] = [("echos", _ECHOS)]
    if (mode := row_of_pieces(mode_signs(hymn, tones, tables))) is not None:
        parts.append(("mark", mode))
    parts.append(("base", degree_name(branch.base, "greek")))
    if family(scale, tables) not in ("diatonic", "enharmonic"):
        sign = row_of_pieces((phthora_code(branch.base, scale, tables),))
        parts += [("mark", sign)] if sign is not None else []
    if tempo and (pace := row_of_pieces((tempo_code(tempo, tables),))) is not None:
        parts += [("tempo", pace), ("pace", f"= {tempo}")]
    shapes = [p for _, p in parts if isinstance(p, Cluster)]
    base = max([p.top for p in shapes] + [_RISE + 0.95 * size]) + 6
    bottom = min([p.bottom for p in shapes] + [0.0])
    line = base - _RISE
    canvas = Canvas.new(f"m{branch.id.replace('.', '-')}", black=options.black)
    x = 0.0
    for kind, part in parts:
        if isinstance(part, str):
            red = kind != "pace" and not options.black
            own = size if kind != "pace" else 0.8 * size
            add(canvas.root, [text(x, line, own, part, class_=kind, fill=RED if red else "")])
            x += text_width(part) * own + _GAP
            continue
        group = ET.SubElement(canvas.root, f"{SVG}g", {"class": kind})
        for piece in part.pieces:
            canvas.piece(group, piece, x, base)
        x += part.right + (_GAP if kind != "tempo" else 70.0)
    x -= _GAP
    height = max(base - bottom, line + 0.3 * size) + 6
    label = f"Tone {branch.tone}" + (f", {tempo} beats a minute" if tempo else "")
    return System(
        svg=canvas.finish(x, height, label),
        width_mm=x * options.unit_mm,
        height_mm=height * options.unit_mm,
        words=label,
        rubric="",
        verse_start=False,
        phrases=(),
    )
