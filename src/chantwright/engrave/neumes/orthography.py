"""From notes to neumes: which signs are written.

The rules are rows (``data/rules.toml``): each has conditions and names a sign, and the first that
holds is taken. Here only the facts are gathered that the conditions speak of. Signs of quality are
found from the last note to the first, since some depend on what the next note is given.

References
----------
"106 rules of Byzantine music orthography" (monastic press, Greek and English), rules 1-12 and
42-52; the rest is common practice or memory, as each row says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from chantwright.engrave.neumes.model import Neume, Sign
from chantwright.engrave.neumes.tables import Form, Rule, Tables, sign
from chantwright.engrave.neumes.times import Timed
from chantwright.errors import ChantError, Where

__all__ = ["Tone", "spell"]

REST = "rest"
_STRESS = 1


@dataclass(frozen=True, slots=True)
class Tone:
    """One note as the orthography sees it.

    Attributes
    ----------
    id : str
        Its id in the score.
    step : int or None
        Steps from the note before; None for a rest.
    beats : Fraction
        Length.
    fresh : bool
        A syllable begins with it.
    stress : int
        Of its syllable: 0 none, 1 primary, 2 secondary.
    bend : Fraction
        Moria of a written accidental, or 0.
    word : str
        Syllable that an error names.
    """

    id: str
    step: int | None
    beats: Fraction = Fraction(1)
    fresh: bool = True
    stress: int = 0
    bend: Fraction = Fraction(0)
    word: str = ""


Facts = dict[str, Any]


def _facts(tones: Sequence[Tone], times: Sequence[Timed]) -> list[Facts]:
    """Facts of each note of a phrase, without those on the next note's signs."""
    out: list[Facts] = []
    run = 0
    after: Facts | None = None
    for index in range(len(tones) - 1, -1, -1):
        tone, time = tones[index], times[index]
        came = tones[index - 1].step if index else None
        facts: Facts = {
            "step": tone.step,
            "fresh": tone.fresh,
            "stressed": tone.fresh and tone.stress == _STRESS,
            "weak": tone.fresh and tone.stress == 0,
            "beats": tone.beats,
            "added": time.added,
            "shared": time.shared,
            "sign": time.part,
            "run": run,
            "next_step": after["step"] if after else None,
            "next_fresh": after["fresh"] if after else None,
            # As long both as sung and as written: a gorgon makes another length of it.
            "next_same": (after["beats"], after["added"], after["shared"])
            == (tone.beats, time.added, time.shared)
            if after
            else None,
            "next_shared": after["shared"] if after else None,
            "next_quality": "",
            "came": came,
            "before_stress": after["stressed"] if after else False,
            "after_next_step": after["next_step"] if after else None,
            "after_next_shared": after["next_shared"] if after else None,
        }
        out.append(facts)
        run = run + 1 if tone.step is not None and tone.step < 0 else 0
        after = facts
    out.reverse()
    return out


def _first(rules: Sequence[Rule], facts: Facts) -> Rule | None:
    for rule in rules:
        for test in rule.tests:
            if not test(facts):
                break
        else:
            return rule
    return None


def _qualities(facts: Sequence[Facts], tables: Tables) -> None:
    """Give every note its sign of quality, in place."""
    following = ""
    for own in reversed(facts):
        own["next_quality"] = following
        found = _first(tables.quality, own) if own["step"] is not None else None
        following = own["quality"] = str(found.row["sign"]) if found else "none"


def _form(own: Facts, tables: Tables, word: str) -> Form:
    step = own["step"]
    if own["quality"] == "petaste":
        name = f"petaste.{step}"
    else:
        found = _first(tables.form, own)
        name = str(found.row["form"]) if found else str(step)
    if name not in tables.forms:
        raise ChantError(
            f"a leap of {abs(step)} steps {'up' if step > 0 else 'down'} has no neume.",
            where=Where(word=word),
            remedy="Neumes go up to 8 steps at once; write a note between, or print the staff.",
        )
    return tables.forms[name]


def _held(added: int, tables: Tables) -> list[Sign]:
    """Signs for added beats; past the longest row it is repeated."""
    rows = tables.rows["neume_length"]
    longest = max(int(r) for r in rows)
    out = []
    while added > 0:
        piece = min(added, longest)
        out += [sign(str(s)) for s in rows[str(piece)]["signs"]]
        added -= piece
    return out


def _time_signs(own: Facts, form: Form, tables: Tables) -> list[Sign]:
    if not own["added"]:
        return []
    own["base"] = form.signs[0].name
    found = _first(tables.time, own)
    if found is not None:
        return [sign(str(s)) for s in found.row["signs"]]
    return _held(own["added"], tables)


def _part_sign(
    name: str, form: Form | None, quality: str, before: tuple[str, str], tables: Tables
) -> list[Sign]:
    """Sign of a shared beat in its place; `before` is base and quality of the neume before."""
    if not name:
        return []
    facts = {
        "base": form.signs[0].name if form else REST,
        "compound": form is not None and len(form.signs) + len(form.steps) > 2,
        "quality": quality,
        "before_base": before[0],
        "before_quality": before[1],
    }
    found = _first(tables.part_place, facts)
    return [Sign(name, str(found.row["place"]) if found else "above")]


def _accidental(bend: Fraction, tables: Tables) -> list[Sign]:
    """Nearest sign to a bend in moria: flats above, sharps below."""
    if not bend:
        return []
    signs = [
        (abs(int(r["moria"]) - bend), r.id, int(r["moria"]))
        for r in tables.rows["neume_sign"].values()
        if r["kind"] == "accent" and (int(r["moria"]) > 0) == (bend > 0)
    ]
    _, name, moria = min(signs)
    return [Sign(name, "below" if moria > 0 else "above")]


def _quality_sign(name: str, tables: Tables) -> list[Sign]:
    if name in ("none", "petaste"):
        return []
    return [Sign(name, str(tables.rows["neume_quality_place"][name]["place"]))]


def _rests(beats: int, part: str, tables: Tables) -> list[Neume]:
    """Write a rest of whole beats; the first may begin in a shared beat."""
    out = []
    while beats > 0:
        piece = min(beats, 4)
        signs = [Sign(f"rest{piece}"), *_part_sign(part, None, "none", ("", ""), tables)]
        out.append(Neume(tuple(signs)))
        beats -= piece
        part = ""
    return out


def _pair(own: Facts, second: Facts | None, tables: Tables) -> Rule | None:
    if second is None or own["step"] is None or own["step"] != second["step"]:
        return None
    facts = own | {f"second_{k}": v for k, v in second.items()}
    return _first(tables.pair, facts)


def spell(tones: Sequence[Tone], times: Sequence[Timed], tables: Tables) -> tuple[Neume, ...]:
    """Write the notes of one phrase, with any rests, as neumes.

    Parameters
    ----------
    tones : sequence of Tone
        Notes and rests in order.
    times : sequence of Timed
        Their signs of time, from `chantwright.engrave.neumes.times.timed`.
    tables : Tables
        The rules.

    Raises
    ------
    ChantError
        If a leap has no sign.
    """
    facts = _facts(tones, times)
    _qualities(facts, tables)
    out: list[Neume] = []
    before = ("", "none")
    index = 0
    while index < len(tones):
        tone, own, time = tones[index], facts[index], times[index]
        if tone.step is None:
            out += _rests(time.added + 1, time.part, tables)
            before = (REST, "none")
            index += 1
            continue
        second = facts[index + 1] if index + 1 < len(tones) else None
        pair = _pair(own, second, tables)
        if pair is not None and second is not None:
            partner, later = tones[index + 1], times[index + 1]
            form = tables.forms[str(pair.row["form"])]
            part = later.part or time.part
            slow = pair.row.get("slow")
            if slow is not None:
                extra = [Sign(str(slow[later.added - 1]), "above")]
            elif form.implied:
                extra = []
            else:
                extra = _part_sign(part, form, "none", before, tables)
            extra += _accidental(tone.bend or partner.bend, tables)
            out.append(Neume((*form.signs, *extra), (tone.id, partner.id)))
            before = ("syneches" if form.implied else form.signs[0].name, "none")
            index += 2
            continue
        form = _form(own, tables, tone.word)
        signs = [
            *form.signs,
            *_time_signs(own, form, tables),
            *_part_sign(time.part, form, own["quality"], before, tables),
            *_quality_sign(own["quality"], tables),
            *_accidental(tone.bend, tables),
        ]
        out.append(Neume(tuple(signs), (tone.id,)))
        before = (form.signs[0].name, own["quality"])
        index += 1
    return tuple(out)
