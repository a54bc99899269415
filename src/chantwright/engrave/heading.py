"""What stands over and under a hymn: tone, base and its sounding pitch, intonation, sources.

"Base Pa" alone tells a singer nothing of the pitch, so the sounding pitch is always said with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from chantwright.engrave.events import branch_of
from chantwright.engrave.letters import ison_text, letter
from chantwright.engrave.options import StaffOptions
from chantwright.engrave.pitch import pitch_words
from chantwright.engrave.spelling import departures, moria_text
from chantwright.score import Hymn, Note, Phrase, Place, Syllable
from chantwright.tones import Branch, Intonation, Tones

__all__ = ["Heading", "accidentals_legend", "heading", "intonation_hymn"]

_MELODY = {
    "rule": "set by rule, to be reviewed by a chanter",
    "model": "after a model melody",
    "written": "written by hand",
    "sung": "taken down from singing",
}


@dataclass(frozen=True, slots=True)
class Heading:
    """Heading of a hymn.

    Attributes
    ----------
    tone, greek : str
        Its names; the Greek one apart, since the bold font draws some of its letters too narrow.
    facts : tuple of str
        Base and sounding pitch, tempo, ison.
    marks : str
        What the staff does not show of the scale; empty unless accidentals are exact.
    intonation : Hymn or None
        The intonation as a hymn of one phrase.
    intonation_words : str
        The same in words and letters.
    sources : tuple of str
        Where words and melody come from.
    """

    tone: str
    greek: str
    facts: tuple[str, ...]
    marks: str
    intonation: Hymn | None
    intonation_words: str
    sources: tuple[str, ...]


def _sentence(text: str) -> str:
    text = text.strip()
    return text if not text or text[-1] in ".!?" else text + "."


def _name(degree: int, options: StaffOptions) -> str:
    return letter(degree, options.letters or "byzantine", options.script)


def intonation_hymn(
    found: Intonation, hymn: Hymn, branch: Branch, tones: Tones
) -> tuple[Hymn, list[tuple[str, list[int]]]]:
    """Make a hymn of one phrase of an intonation's short form.

    Returns
    -------
    hymn : Hymn
        One phrase, no drone.
    parts : list of (syllable, degrees)
        The same for a line of words.
    """
    parts: list[tuple[str, list[tuple[int, Fraction]]]] = []
    for text, degree, beats in found.short:
        if text or not parts:
            parts.append((text, []))
        parts[-1][1].append((degree, beats))
    syllables = []
    for i, (text, notes) in enumerate(parts):
        place: Place = "middle"
        if len(parts) == 1:
            place = "single"
        elif i in (0, len(parts) - 1):
            place = "end" if i else "begin"
        sung = tuple(Note(degree, beats) for degree, beats in notes)
        syllables.append(Syllable(text, place, notes=sung))
    scale = found.scale if found.scale in tones.scales else None
    phrase = Phrase(tuple(syllables), scale=scale, cadence="full")
    plain = Hymn(
        title=f"Intonation of {hymn.title}", tone=branch.tone, branch=branch.id, phrases=(phrase,)
    )
    return plain, [(text, [d for d, _ in notes]) for text, notes in parts]


def _first_ison(hymn: Hymn, options: StaffOptions) -> str:
    for phrase in hymn.phrases:
        for syllable in phrase.syllables:
            if syllable.ison is not None:
                if syllable.ison == "unison":
                    return "the drone joins the melody"
                held = ison_text(syllable.ison, options.letters or "byzantine", options.script)
                return f"ison begins on {held}"
    return ""


def _tone_names(number: int, tones: Tones) -> tuple[str, str]:
    tone = tones.tones[number]
    plain = next((n for n in tone.english if n.startswith("Tone")), f"Tone {number}")
    other = next(
        (
            n
            for n in tone.english
            if not n.startswith("Tone") and not n.endswith((" Tone", " Mode"))
        ),
        "",
    )
    short = f"{plain} · {other}" if other else plain
    return short, tone.greek


def heading(hymn: Hymn, tones: Tones, options: StaffOptions) -> Heading:
    """Write the heading of a hymn.

    Parameters
    ----------
    hymn : Hymn
        With or without its melody, with or without a tone.
    tones : Tones
        Names, branches, intonations, styles.
    options : StaffOptions
        For letters and accidentals.
    """
    sources = []
    if hymn.words_source:
        sources.append(_sentence(f"Words: {hymn.words_source}"))
    if hymn.melody_kind is not None:
        own = hymn.melody_source.strip().rstrip(".")
        how = _MELODY[hymn.melody_kind]
        if hymn.melody_kind == "rule" and not own:
            own = "formulas from memory"
        sources.append(_sentence(f"Melody: {own}; {how}" if own else f"Melody: {how}"))
    elif hymn.melody_source:
        sources.append(_sentence(f"Melody: {hymn.melody_source}"))
    if hymn.tone is None and not hymn.branch:
        return Heading("", "", (), "", None, "", tuple(sources))
    branch = branch_of(hymn, tones)
    tone, greek = _tone_names(hymn.tone or branch.tone, tones)
    facts = []
    base = hymn.base
    degree = base.degree if base is not None else branch.base
    if base is not None:
        # With re mi fa under the notes, "(re)" beside the pitch would say two things at once.
        sounds = pitch_words(base.hz, fixed=options.letters != "western")
        facts.append(f"Base {_name(degree, options)} sounds as {sounds}")
    else:
        facts.append(f"Base {_name(degree, options)}, at a pitch that is comfortable for all")
    style = tones.styles.get(hymn.style or branch.style)
    tempo = hymn.tempo or (style.tempo if style is not None else None)
    held = _first_ison(hymn, options) if hymn.is_set else ""
    pace = f"About {tempo} beats a minute" if tempo else ""
    if pace or held:
        facts.append(f"{pace}; {held}" if pace and held else pace or held.capitalize())
    found = tones.intonations.get(hymn.intonation or branch.intonation)
    sung: Hymn | None = None
    words = ""
    if found is not None and found.short:
        sung, parts = intonation_hymn(found, hymn, branch, tones)
        words = " ".join(
            f"{text or '–'} ({' '.join(_name(d, options) for d in degrees)})"
            for text, degrees in parts
        )
    marks = ""
    scale = tones.scales.get(branch.scale)
    if options.accidentals == "exact" and scale is not None:
        off = departures(scale, range(7))
        if off:
            listed = ", ".join(f"{_name(d, options)} {moria_text(m)}" for d, m in off)
            marks = f"All through, against the keyboard: {listed} moria."
    return Heading(tone, greek, tuple(facts), marks, sung, words, tuple(sources))


def accidentals_legend(options: StaffOptions) -> tuple[str, ...]:
    """Sentences on how to read the staff, for the last page."""
    out = [
        "A quarter note is one beat, a half note two, an eighth note half a beat; a dot adds half. "
        "Notes joined by a beam or a slur belong to one syllable.",
        "The written notes name the degrees of the tone: Ni is written as c, Pa as d, Vou as e, Ga "
        "as f, Di as g, Ke as a, Zo as b. They are not the sounding pitch: take it from the line "
        "under each title.",
        "A comma over the staff is a breath. A thin bar closes a sentence, a double bar a verse.",
    ]
    if options.clef == "men":
        out.append("The small 8 under the clef: men read the notes an octave lower.")
    if options.ison:
        unison = ison_text("unison", script=options.script)
        silent = ison_text(None, script=options.script)
        out.append(
            "The letters above the staff are for those who hold the ison: keep that note until the "
            f"next letter. In brackets: it goes on from the line before. “{unison}” means join the "
            f"melody, “{silent}” means rest."
        )
    if options.letters == "byzantine":
        out.append("The small syllables under the words name each note of the melody.")
    elif options.letters == "western":
        out.append("The small syllables under the words name each written note.")
    if options.accidentals == "exact":
        out.append(
            "A small number over a note says how many moria (72 to the octave, 6 to a semitone) it "
            "lies above (+) or below (−) the note as it is written with its sharp or flat. What "
            "holds all through a hymn is said once in its heading."
        )
    elif options.accidentals == "conventional":
        out.append(
            "Sharps and flats show the nearest key of a keyboard; the true steps of the tone are a "
            "little wider or narrower. Learn them from the chanter or the recording, not from the "
            "keyboard."
        )
    else:
        out.append("No sharps or flats are printed: the tone's own steps are learned by ear.")
    return tuple(out)
