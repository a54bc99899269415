"""Scales as step tables: where every degree stands, in moria.

Conventions
-----------
One morion is 1/72 of the octave, 1200/72 cents; a place is counted from the ni of the diatonic
scale, upward, as an exact `Fraction`. A scale's start note stands at its diatonic place. Beyond its
steps the pattern repeats after its span: 72 (octave), 42 (wheel), 30 (tetrachord) or another.
Scales in 68 parts to the octave are converted exactly.

References
----------
Patriarchal Musical Committee, Constantinople 1881-83 (72 parts); Chrysanthos of Madytos, Great
Theory of Music, Trieste 1832 (68 parts and ratios).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

from chantwright.errors import ChantError
from chantwright.rows import Row, load_rows
from chantwright.tuning import fields
from chantwright.tuning.names import degree_name

__all__ = [
    "CENTS_PER_MORION",
    "DIATONIC_PLACES",
    "PARTS",
    "Scale",
    "anchored",
    "by_ratio",
    "hz",
    "load_scales",
    "read_scale",
    "retuned",
]

CENTS_PER_MORION = Fraction(1200, 72)
DIATONIC_PLACES = (0, 12, 22, 30, 42, 54, 64)
"""Places of ni pa vou ga di ke zo in the Committee's diatonic scale, in moria."""
PARTS = {"pmc72": 72, "chrys68": 68, "other72": 72}
"""Systems of division and their parts to the octave."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale.

    Attributes
    ----------
    id, genus, system : str
        Name, kind and system of division.
    start : int
        Degree from which the steps go up.
    origin : Fraction
        Place of the start, in moria above diatonic ni.
    steps : tuple of Fraction
        Sizes in moria.
    repeat : str
        octave, wheel, tetrachord or third.
    ratios : tuple of Fraction
        Frequency ratios of the steps, where a source gives them.
    beyond : Scale or None
        Scale that holds outside the first span of this one.
    conf : str
        high, medium or low.
    src : tuple of str
        Ids of sources.
    moved : mapping of int to Fraction, or None
        Degrees moved by a colouring, to their places in moria.
    """

    id: str
    genus: str
    system: str
    start: int
    origin: Fraction
    steps: tuple[Fraction, ...]
    repeat: str = "octave"
    ratios: tuple[Fraction, ...] = ()
    beyond: Scale | None = None
    conf: str = "high"
    src: tuple[str, ...] = ()
    moved: Mapping[int, Fraction] | None = field(default=None, hash=False)
    # Places asked for before: singing asks for the same few degrees many thousand times.
    _known: dict[int, Fraction] = field(
        default_factory=dict, init=False, repr=False, compare=False, hash=False
    )

    @property
    def span(self) -> Fraction:
        """Moria after which the pattern repeats."""
        return sum(self.steps, Fraction(0))

    def moria(self, degree: int) -> Fraction:
        """Place of a degree, in moria above the diatonic ni."""
        place = self._known.get(degree)
        if place is None:
            place = self._known[degree] = self._place(degree)
        return place

    def _place(self, degree: int) -> Fraction:
        if self.moved and degree in self.moved:
            return self.moved[degree]
        turns, within = divmod(degree - self.start, len(self.steps))
        if self.beyond is not None and (turns != 0) and degree != self.start + len(self.steps):
            return self.beyond.moria(degree)
        return self.origin + turns * self.span + sum(self.steps[:within], Fraction(0))

    def cents(self, degree: int, origin: int = 0) -> float:
        """Distance of a degree above another, in cents."""
        return float((self.moria(degree) - self.moria(origin)) * CENTS_PER_MORION)

    def positions(self) -> tuple[Fraction, ...]:
        """Places of the first span above the start, in moria, from 0 to the span."""
        return tuple(accumulate(self.steps, initial=Fraction(0)))


def hz(
    scale: Scale, degree: int, *, base_degree: int, base_hz: float, bend: Fraction | float = 0
) -> float:
    """Frequency of a degree.

    Parameters
    ----------
    scale : Scale
        The scale.
    degree : int
        Step number.
    base_degree, base_hz : int, float
        A degree and its frequency in Hz.
    bend : Fraction or float
        Moria added to the degree's place.

    Returns
    -------
    float
        Hz.

    Raises
    ------
    ChantError
        If the base is not a positive frequency.
    """
    if not (base_hz > 0 and math.isfinite(base_hz)):
        raise ChantError(
            f"{base_hz} Hz is no pitch.", remedy="Give the base a pitch such as 146.8."
        )
    distance = scale.moria(degree) - scale.moria(base_degree)
    return float(base_hz * 2.0 ** ((float(distance) + float(bend)) / 72))


def read_scale(row: Row, rows: Mapping[str, Row], above: tuple[str, ...] = ()) -> Scale:
    """Make a scale of its row.

    Parameters
    ----------
    row : Row
        The row.
    rows : mapping of str to Row
        All scale rows, for the one named in ``beyond``.
    above : tuple of str
        Scales whose ``beyond`` led here.

    Raises
    ------
    ChantError
        If a field is missing or of a wrong kind; names the row.
    """
    system = fields.text(row, "system")
    parts = PARTS.get(system)
    if parts is None:
        raise row.error(f"“{system}” is no system of division.", f"Choose: {', '.join(PARTS)}.")
    start = fields.degree(row, "from")
    octave, step = divmod(start, 7)
    steps = tuple(s * 72 / parts for s in fields.numbers(row, "steps"))
    if not steps or min(steps) <= 0:
        raise row.error("every step must be larger than nothing.", "Write: steps = [12, 10, 8]")
    beyond = fields.text(row, "beyond", "") or None  # "" in a parish row: by the octave after all
    if beyond is not None and beyond not in rows:
        raise row.error(f"its “beyond” names no scale: {beyond}.", "Name one of the scales.")
    if beyond is not None and beyond in (*above, row.id):
        raise row.error("its “beyond” leads back to itself.", "Name another scale, or none.")
    return Scale(
        id=row.id,
        genus=fields.text(row, "genus"),
        system=system,
        start=start,
        origin=Fraction(DIATONIC_PLACES[step] + 72 * octave),
        steps=steps,
        repeat=fields.text(row, "repeat", "octave"),
        ratios=fields.numbers(row, "ratios") if row.get("ratios") else (),
        beyond=read_scale(rows[beyond], rows, (*above, row.id)) if beyond else None,
        conf=row.conf,
        src=row.src,
    )


def load_scales(overrides: Iterable[Path] = ()) -> Mapping[str, Scale]:
    """Load every scale, ours with the parish's rows over them.

    Parameters
    ----------
    overrides : iterable of Path
        Parish files.
    """
    rows = load_rows("chantwright.tuning", ["scales.toml"], overrides=overrides, tables=["scale"])[
        "scale"
    ]
    return {row_id: read_scale(row, rows) for row_id, row in rows.items()}


def by_ratio(scale: Scale) -> Scale:
    """Return the scale tuned by its source's frequency ratios instead of its rounded steps.

    Raises
    ------
    ChantError
        If no source gives ratios.
    """
    if not scale.ratios:
        raise ChantError(
            f"no ratios are known for the scale “{scale.id}”.",
            remedy="Ratios are known for diatonic and chrys_diatonic.",
        )
    steps = tuple(Fraction(72 * math.log2(r)).limit_denominator(10**12) for r in scale.ratios)
    return replace(scale, steps=steps, beyond=None)


def _shifted(scale: Scale, shift: Fraction) -> Scale:
    moved = None if scale.moved is None else {d: p + shift for d, p in scale.moved.items()}
    beyond = None if scale.beyond is None else _shifted(scale.beyond, shift)
    return replace(scale, origin=scale.origin + shift, beyond=beyond, moved=moved)


def anchored(scale: Scale, pivot: int, moria: Fraction) -> Scale:
    """Return the scale moved so that its `pivot` degree stands at `moria` (a mid-hymn change)."""
    return _shifted(scale, moria - scale.moria(pivot))


def retuned(scale: Scale, start: int, steps: Iterable[Fraction | int]) -> Scale:
    """Return the scale with a colouring (chroa) laid over a span; only that span is retuned.

    Parameters
    ----------
    scale : Scale
        The scale underneath.
    start : int
        Degree from which the colouring's steps go up.
    steps : iterable
        Sizes in moria.

    Raises
    ------
    ChantError
        If the colouring does not end where the scale's own note stands.
    """
    sizes = [Fraction(s) for s in steps]
    places = list(accumulate(sizes, initial=scale.moria(start)))
    end = start + len(sizes)
    if places[-1] != scale.moria(end):
        raise ChantError(
            f"this colouring does not close on {degree_name(end)}: its steps from "
            f"{degree_name(start)} add to {sum(sizes)} moria, and the scale “{scale.id}” has "
            f"{scale.moria(end) - scale.moria(start)} there.",
            remedy="Lay it over a scale whose first and last note of the span are the same.",
        )
    moved = dict(scale.moved or {})
    moved.update({start + i: place for i, place in enumerate(places)})
    return replace(scale, moved=moved)
