"""The verdict as a page and as a document.

The page is one static HTML file without scripts; its pictures are inside it. Nothing is written
except where it is asked for, and no sound is ever kept.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from chantwright import safefile
from chantwright.ear.degrees import off_by
from chantwright.ear.events import is_wrong
from chantwright.ear.markings import draw
from chantwright.ear.verdict import Verdict
from chantwright.tuning import degree_name

__all__ = ["document", "page", "told", "write_page"]

_SCHEMA = 1


def _number(value: float, digits: int = 2) -> float | None:
    return round(float(value), digits) if math.isfinite(value) else None


def document(verdict: Verdict) -> dict[str, Any]:
    """Return the verdict as plain values for JSON; see ``docs/hearing-verdict.md``."""
    expected = verdict.alignment.expected
    fit = verdict.alignment.fit if verdict.summary and verdict.counted else None
    kept = {id(h) for h in verdict.counted}
    line = None
    if fit is not None:
        line = {
            "kind": fit.line.kind,
            "seconds": [round(float(t), 2) for t in fit.line.times],
            "moria_from_start": [round(float(m - fit.line.moria[0]), 2) for m in fit.line.moria],
        }
    notes = [
        {
            "id": one.asked.id,
            "syllable": one.asked.syllable,
            "degree": degree_name(one.asked.degree),
            "start": round(one.start, 2),
            "end": round(one.end, 2),
            "off_moria": _number(one.deviation),
            "outside_moria": _number(one.outside),
            "counts_moria": _number(off_by(one)),
            "trust": _number(one.trust),
            "wrong": is_wrong(one, expected),
            "counted": id(one) in kept,
        }
        for one in (verdict.alignment.heard if fit is not None else ())
    ]
    return {
        "schema": _SCHEMA,
        "title": expected.hymn.title,
        "status": verdict.status,
        "level": verdict.level,
        "limit_moria": verdict.limit,
        "summary": list(verdict.summary),
        "practise": verdict.practise or None,
        "base": {"degree": degree_name(verdict.base_degree), "hz": _number(verdict.base_hz)},
        "base_line": line,
        "tempo": _number(verdict.tempo, 1),
        "written_tempo": expected.tempo,
        "followed": _number(verdict.alignment.explained),
        "keyboard_habit": None
        if verdict.habit is None
        else {
            "share": _number(verdict.habit.share),
            "doubt": _number(verdict.habit.doubt),
            "degrees": [degree_name(d) for d in verdict.habit.degrees],
            "amounts_moria": [_number(a) for a in verdict.habit.amounts],
        },
        "degrees": [
            {
                "degree": degree_name(d.degree),
                "count": d.count,
                "mean_moria": _number(d.mean),
                "spread_moria": _number(d.spread),
                "doubt_moria": _number(d.doubt),
                "up_moria": None if d.up is None else _number(d.up),
                "down_moria": None if d.down is None else _number(d.down),
                "moving": d.moving,
            }
            for d in verdict.degrees
        ],
        "findings": [
            {
                "kind": f.kind,
                "text": f.text,
                "notes": list(f.notes),
                "time": None if f.time is None else round(f.time, 2),
                "moria": _number(f.moria),
                "phrase": None if f.phrase is None else f.phrase + 1,
                "degree": None if f.degree is None else degree_name(f.degree),
            }
            for f in verdict.findings
            if f.kind != "more"
        ],
        "notes": notes,
    }


def _signed(value: float | None) -> str:
    if value is None or not math.isfinite(value):
        return "–"
    return f"{value:+.1f}".replace("-", "−") if abs(value) >= 0.05 else "0"


def told(verdict: Verdict) -> list[str]:
    """Sentences of the findings as they are read: the first few of each kind, then a count."""
    out: list[str] = []
    full: set[str] = set()
    for index, one in enumerate(verdict.findings):
        if one.kind == "more":
            full.add(verdict.findings[index + 1].kind)
        if one.kind == "more" or one.kind not in full:
            out.append(one.text)
    return out


def page(verdict: Verdict, *, recording: str = "", remarks: Sequence[str] = ()) -> str:
    """Return the verdict as one HTML page.

    Parameters
    ----------
    verdict : Verdict
        The verdict.
    recording : str
        Name of the recording, as shown.
    remarks : sequence of str
        What was odd about the file.
    """
    environment = Environment(
        loader=PackageLoader("chantwright.ear"),
        autoescape=select_autoescape(("html",)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    drawings = [
        {
            "number": d.phrase + 1,
            "title": d.title,
            "width": round(d.width),
            "height": round(d.height),
            # An image element keeps any script that might hide in a picture from running.
            "source": "data:image/svg+xml;base64," + base64.b64encode(d.svg.encode()).decode(),
        }
        for d in draw(verdict)
    ]
    degrees = [
        {
            "name": degree_name(d.degree),
            "count": d.count,
            "mean": _signed(d.mean),
            "up": _signed(d.up),
            "down": _signed(d.down),
            "spread": _signed(d.spread).lstrip("+"),
            "doubt": _signed(2 * d.doubt).lstrip("+"),
            "moving": d.moving,
        }
        for d in verdict.degrees
    ]
    branch = verdict.alignment.expected.branch
    return environment.get_template("verdict.html").render(
        title=verdict.alignment.expected.hymn.title or "This hymn",
        tone=branch.title.capitalize(),
        level={"beginner": "beginner", "regular": "regular singer", "leader": "leader"}[
            verdict.level
        ],
        limit=f"{verdict.limit:g}",
        recording=recording,
        summary=verdict.summary,
        remarks=list(remarks),
        practise=verdict.practise,
        findings=told(verdict),
        drawings=drawings,
        degrees=degrees,
    )


def write_page(
    verdict: Verdict, path: Path, *, recording: str = "", remarks: Sequence[str] = ()
) -> Path:
    """Write the page; see `page`."""
    safefile.write_text(path, page(verdict, recording=recording, remarks=remarks))
    return path
