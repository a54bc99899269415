"""The signature over a hymn in neumes: Echos, mode sign, note, tempo.

References
----------
Order of the signature (the word Echos, the sign of the mode, the note of the base, the sign of
tempo): common practice of printed chant books.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

from chantwright.engrave.events import branch_of
from chantwright.engrave.lyrics import SVG, text
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
    signs: list[Cluster] = []
    if (mode := row_of_pieces(mode_signs(hymn, tones, tables))) is not None:
        signs.append(mode)
    if family(scale, tables) not in ("diatonic", "enharmonic"):
        named = row_of_pieces((phthora_code(branch.base, scale, tables),))
        signs += [named] if named is not None else []
    pace = row_of_pieces((tempo_code(tempo, tables),)) if tempo else None
    top = max(s.top for s in (*signs, *([pace] if pace else [])))
    bottom = min(s.bottom for s in (*signs, *([pace] if pace else [])))
    note = degree_name(branch.base, "greek")
    base = max(top, 260 + 0.95 * size) + 6
    line = base - 260
    canvas = Canvas.new(f"m{branch.id.replace('.', '-')}", black=options.black)
    fill = "" if options.black else RED
    text(canvas.root, 0, line, size, _ECHOS, class_="echos", fill=fill)
    x = text_width(_ECHOS) * size + _GAP * 0.7
    for index, shape in enumerate([*signs, *([pace] if pace else [])]):
        if index == (1 if mode is not None else 0):
            text(canvas.root, x, line, size, note, class_="base", fill=fill)
            x += text_width(note) * size + _GAP
        kind = "tempo" if shape is pace else "mark"
        group = ET.SubElement(canvas.root, f"{SVG}g", {"class": kind})
        for piece in shape.pieces:
            canvas.piece(group, piece, x, base)
        x += shape.right + _GAP
    if len(signs) + (pace is not None) < 2:
        text(canvas.root, x, line, size, note, class_="base", fill=fill)
        x += text_width(note) * size + _GAP
    x -= _GAP
    if tempo:
        words = f"= {tempo}"
        text(canvas.root, x + 70, line, size * 0.8, words, class_="pace")
        x += 70 + text_width(words) * size * 0.8
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
