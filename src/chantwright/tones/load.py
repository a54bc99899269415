"""Read the tones from their rows, ours with the parish's over them."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Literal

from chantwright.errors import ChantError
from chantwright.rows import Row, load_rows
from chantwright.tones.model import Attraction, Branch, Group, Intonation, Style, Tone, Tones
from chantwright.tuning import load_scales, parse_degree

__all__ = ["load_tones"]

FILES = (
    "tones.toml",
    "branches.toml",
    "intonations.toml",
    "attractions.toml",
    "styles.toml",
    "usage.toml",
)
TABLES = ("tone", "branch", "intonation", "attraction", "style", "group", "usage")


def _degree(row: Row, text: object) -> int:
    try:
        return parse_degree(str(text))
    except ChantError as exc:
        raise row.error(exc.what, exc.remedy) from None


def _degrees(row: Row, key: str) -> tuple[int, ...]:
    return tuple(_degree(row, t) for t in row[key])


def _pair(row: Row, key: str) -> tuple[int, int]:
    low, high = _degrees(row, key)
    return low, high


def _branch(row: Row) -> Branch:
    ison = row["ison"]
    at: dict[int, int | Literal["unison"]] = {
        _degree(row, k): "unison" if v == "unison" else _degree(row, v)
        for k, v in ison.get("at", {}).items()
    }
    return Branch(
        row.id,
        int(row["tone"]),
        row["style"],
        row["scale"],
        _degree(row, row["base"]),
        _degrees(row, "dominating"),
        _degrees(row, "incomplete"),
        _degrees(row, "complete"),
        _degrees(row, "final"),
        _pair(row, "usual"),
        _pair(row, "wide"),
        tuple(row["attractions"]),
        _degree(row, ison["base"]),
        at,
        row["intonation"],
        row.get("exists", "low"),
        row.conf,
        row.src,
        row.origin,
    )


def _notes(row: Row, key: str) -> tuple[tuple[str, int, Fraction], ...]:
    return tuple((str(t), _degree(row, n), Fraction(str(b))) for t, n, b in row[key])


def _attraction(row: Row) -> Attraction:
    size = Fraction(str(row["moria"]))
    low, high = row.get("range", (size, size))
    to = row.get("to")
    return Attraction(
        row.id,
        _degree(row, row["note"]),
        size,
        None if to is None else _degree(row, to),
        tuple(row["when"]),
        row.get("cancel") == "unless_above",
        (Fraction(str(low)), Fraction(str(high))),
        row.conf,
        row.src,
    )


def load_tones(overrides: Iterable[Path] = ()) -> Tones:
    """Load tones, branches, scales and all that belongs to them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files; their rows win.
    """
    own = tuple(overrides)
    return _plain() if not own else _load(own)


@lru_cache(maxsize=1)
def _plain() -> Tones:
    return _load(())


def _load(own: tuple[Path, ...]) -> Tones:
    rows = load_rows("chantwright.tones", FILES, overrides=own, tables=TABLES)
    return Tones(
        tones={
            int(r["n"]): Tone(
                int(r["n"]),
                tuple(r["english"]),
                r["greek"],
                r["arabic"],
                r["ethos"],
                tuple(r["martyria"]),
                _degree(r, r["signature_note"]),
                r.conf,
                r.src,
            )
            for r in rows["tone"].values()
        },
        branches={k: _branch(r) for k, r in rows["branch"].items()},
        scales=load_scales(own),
        intonations={
            k: Intonation(
                k, r["syllables"], r["scale"], _notes(r, "short"), _notes(r, "long"), r.conf, r.src
            )
            for k, r in rows["intonation"].items()
        },
        styles={
            k: Style(
                k,
                int(r["chronos_default"]),
                (int(r["chronos_bpm"][0]), int(r["chronos_bpm"][1])),
                r.conf,
                r.src,
            )
            for k, r in rows["style"].items()
        },
        attractions={k: _attraction(r) for k, r in rows["attraction"].items()},
        groups={
            k: Group(
                k, tuple(r["ni_hz"]), r["ni_default_hz"], tuple(r["comfortable_hz"]), r.conf, r.src
            )
            for k, r in rows["group"].items()
        },
        usage=rows["usage"],
    )
