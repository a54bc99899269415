"""Faults of branches, tones, intonations, attractions and usage, in the trade's words."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from fractions import Fraction

from chantwright.rows import Row
from chantwright.tones.bends import MOMENTS
from chantwright.tones.finding import Finding, Level
from chantwright.tones.model import Attraction, Branch, Intonation, Tone
from chantwright.tuning import Scale, degree_name

__all__ = [
    "attraction_faults",
    "branch_faults",
    "intonation_faults",
    "tone_faults",
    "usage_faults",
]


def _names(degrees: tuple[int, ...] | frozenset[int]) -> str:
    return ", ".join(degree_name(d) for d in degrees)


def _compass(branch: Branch) -> Iterator[tuple[Level, str, str]]:
    low, high = branch.wide
    room = f"{degree_name(low)} to {degree_name(high)}"
    kinds = {
        "base": (branch.base,),
        "dominating note": branch.dominating,
        "half close": branch.incomplete,
        "full close": branch.complete,
        "final note": branch.final,
    }
    for kind, degrees in kinds.items():
        for degree in degrees:
            if not low <= degree <= high:
                yield (
                    "wrong",
                    f"the {kind} {degree_name(degree)} lies outside the wide compass {room}.",
                    "Widen “wide”, or choose another note.",
                )
    if not (low <= branch.usual[0] and branch.usual[1] <= high):
        yield (
            "wrong",
            f"the usual compass {degree_name(branch.usual[0])} to {degree_name(branch.usual[1])} "
            f"goes outside the wide compass {room}.",
            "Widen “wide”, or narrow “usual”.",
        )
    elif not branch.usual[0] <= branch.base <= branch.usual[1]:
        yield (
            "doubtful",
            f"the base {degree_name(branch.base)} lies outside the usual compass.",
            "Widen “usual”, or choose another base.",
        )


def _endings(branch: Branch) -> Iterator[tuple[Level, str, str]]:
    at_rest = {branch.base, *branch.complete}
    resting = [d for d in branch.final if d in at_rest]
    for degree in branch.final:
        if degree in at_rest or (resting and degree in branch.dominating):
            continue
        rest = _names(tuple(d for d in branch.complete if d != branch.base))
        also = f" nor one of its full closes ({rest})" if rest else " nor one of its full closes"
        yield (
            "wrong",
            f"the final note {degree_name(degree)} is not the branch's base "
            f"{degree_name(branch.base)}{also}.",
            "Mend “final”, or add the note to “complete”.",
        )


def _ison(branch: Branch) -> Iterator[tuple[Level, str, str]]:
    low, high = branch.wide
    held = {branch.ison_base, *(v for v in branch.ison_at.values() if v != "unison")}
    for degree in sorted(d for d in held if isinstance(d, int)):
        if not (low <= degree <= high or low <= degree + 7 <= high):
            yield (
                "wrong",
                f"the ison note {degree_name(degree)} is neither in the wide compass "
                f"{degree_name(low)} to {degree_name(high)} nor an octave below it.",
                "Hold the base, or a note of the compass.",
            )
    for close, note in branch.ison_at.items():
        if not low <= close <= high:
            yield (
                "wrong",
                f"the ison is told what to do at a close on {degree_name(close)}, which the "
                "branch never sings.",
                "Remove it from “ison”, or widen “wide”.",
            )
        elif close not in branch.closes and note not in ("unison", branch.ison_base, close):
            yield (
                "doubtful",
                f"the ison moves at a close on {degree_name(close)}, which is not among the "
                "branch's closes.",
                "Add the note to “incomplete”, or remove it from “ison”.",
            )


def _reach(rule: Attraction, branch: Branch, scale: Scale) -> Iterator[tuple[Level, str, str]]:
    for size in sorted({rule.moria, *rule.range}):
        place = scale.moria(rule.note) + size
        for side in (-1, 1):
            neighbour = scale.moria(rule.note + side)
            if (place - neighbour) * side >= 0:
                yield (
                    "wrong",
                    f"the attraction “{rule.id}” bends {degree_name(rule.note)} by {size} moria, "
                    f"as far as {degree_name(rule.note + side)} in the {branch.scale} scale.",
                    "Make it smaller, or take it out of the branch.",
                )


def _intonation(branch: Branch, row: Intonation) -> Iterator[tuple[Level, str, str]]:
    if row.scale != branch.scale:
        yield (
            "wrong",
            f"its intonation “{row.id}” is sung in the {row.scale} scale, but the branch in the "
            f"{branch.scale} scale.",
            "Choose an intonation of the same scale.",
        )
    for kind, notes in (("short", row.short), ("long", row.long)):
        last = notes[-1][1]
        if last not in (branch.base, *branch.dominating):
            yield (
                "wrong",
                f"the {kind} intonation “{row.id}” ends on {degree_name(last)}, which is neither "
                f"the base {degree_name(branch.base)} nor a dominating note "
                f"({_names(branch.dominating)}).",
                "End it on the base.",
            )
        low, high = branch.wide
        if outside := [d for _, d, _ in notes if not low <= d <= high]:
            yield (
                "doubtful",
                f"the {kind} intonation “{row.id}” sings {degree_name(outside[0])}, outside the "
                "wide compass.",
                "Keep it inside the compass of the branch.",
            )


def branch_faults(
    row: Row,
    branch: Branch,
    scales: Mapping[str, Scale],
    intonations: Mapping[str, Intonation],
    attractions: Mapping[str, Attraction],
) -> Iterator[Finding]:
    """Faults of one branch; names that lead nowhere are found elsewhere (`load.links`)."""
    told = [*_compass(branch), *_endings(branch), *_ison(branch)]
    scale = scales.get(branch.scale)
    for name in branch.attractions:
        if scale is not None and name in attractions:
            told += _reach(attractions[name], branch, scale)
    if branch.intonation in intonations:
        told += _intonation(branch, intonations[branch.intonation])
    for level, sentence, remedy in told:
        yield Finding(level, row.where, f"{branch.title}: {sentence}", remedy)


def intonation_faults(row: Row, intonation: Intonation) -> Iterator[Finding]:
    """Faults of one intonation."""
    wanted = [s for s in intonation.syllables.split("-") if s]
    for kind, notes in (("short", intonation.short), ("long", intonation.long)):
        sung = [text for text, _, _ in notes if text]
        if sung != wanted or not notes[0][0]:
            yield Finding(
                "doubtful",
                row.where,
                f"the {kind} intonation “{row.id}” sings {'-'.join(sung)}, but its syllables are "
                f"{intonation.syllables}.",
                "Give every syllable its first note.",
            )


def attraction_faults(row: Row, rule: Attraction) -> Iterator[Finding]:
    """Faults of one attraction."""
    for when in rule.when:
        if when not in MOMENTS:
            near = difflib.get_close_matches(when, MOMENTS, 1, 0.5)
            yield Finding(
                "wrong",
                row.where,
                f"the attraction “{row.id}” is made at “{when}”, which is no moment we know.",
                f"Did you mean “{near[0]}”?" if near else f"Moments are: {', '.join(MOMENTS)}.",
            )
    if not rule.range[0] <= rule.moria <= rule.range[1]:
        yield Finding(
            "doubtful",
            row.where,
            f"the attraction “{row.id}” is {rule.moria} moria, outside its own range "
            f"{rule.range[0]} to {rule.range[1]}.",
            "Widen “range”.",
        )
    lean = Fraction(0) if rule.to is None else rule.moria * (rule.to - rule.note)
    if lean < 0:
        yield Finding(
            "wrong",
            row.where,
            f"the attraction “{row.id}” leans away from its target {degree_name(rule.to or 0)}.",
            "Change the sign of “moria”.",
        )


def tone_faults(
    rows: Mapping[str, Row], tones: Mapping[str, Tone], branches: Mapping[str, Branch]
) -> Iterator[Finding]:
    """Faults of the tones as a set of eight."""
    seen: dict[int, str] = {}
    for key, tone in tones.items():
        where = rows[key].where
        if not 1 <= tone.n <= 8:
            yield Finding("wrong", where, f"there is no tone {tone.n}.", "Tones are 1 to 8.")
            continue
        if tone.n in seen:
            yield Finding(
                "wrong",
                where,
                f"tone {tone.n} stands twice, as “{seen[tone.n]}” and “{key}”.",
                f'Change our own row instead: id = "{seen[tone.n]}"',
            )
        seen[tone.n] = key
        own = [b for b in branches.values() if b.tone == tone.n]
        for style in ("heirmologic", "sticheraric"):
            if not any(b.style == style for b in own):
                yield Finding("wrong", where, f"tone {tone.n} has no {style} branch.")
        if own and tone.signature_note not in {b.base for b in own}:
            yield Finding(
                "doubtful",
                where,
                f"the signature note {degree_name(tone.signature_note)} of tone {tone.n} is the "
                "base of none of its branches.",
            )


def usage_faults(row: Row, branches: Mapping[str, Branch]) -> Iterator[Finding]:
    """Faults of one row that sends a kind of hymn to a branch or a style."""
    tone, kind = row.get("tone"), row.get("kind")
    wanted = f"t{tone}.{kind}" if "tone" in row.values else f"any.{kind}"
    if row.id != wanted:
        yield Finding(
            "wrong",
            row.where,
            f"the usage row “{row.id}” is never found.",
            f'It must be named by its tone and kind: id = "{wanted}"',
        )
    branch = branches.get(str(row.get("branch")))
    if "tone" in row.values and branch is not None and branch.tone != tone:
        yield Finding(
            "wrong",
            row.where,
            f"the usage row “{row.id}” sends tone {tone} to a branch of tone {branch.tone}.",
            "Choose a branch of the same tone.",
        )
