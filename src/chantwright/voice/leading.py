"""Who leads: the voice with words or the plain one, and what it sings.

The speech engine sings English, note names and intonations. Other languages it would say with an
American tongue, so the plain voice (vowels and soft consonants) takes them unless it is asked
otherwise; a single vowel is the plain voice's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from chantwright.errors import ChantError
from chantwright.score.model import Syllable
from chantwright.voice.articulation import articulate
from chantwright.voice.contour import Contour, PhraseEvent, SyllableEvent
from chantwright.voice.diction import said_of
from chantwright.voice.lyric import Colour, sing_words
from chantwright.voice.options import TrackOptions
from chantwright.voice.phones import Phones, note_names
from chantwright.voice.plan import Plan
from chantwright.voice.singer import Samples, sing_line
from chantwright.voice.sounds import PLAIN, Spelling
from chantwright.voice.speech import speaker
from chantwright.voice.tract import Tract

__all__ = ["Lead", "choose_lead"]

_LISTED = 8  # guessed words that a remark names


@dataclass(frozen=True, slots=True)
class Lead:
    """A voice that knows what to sing.

    Attributes
    ----------
    sung : tuple of PhraseEvent
        The phrases with the syllables that are heard: for note names, one for each note.
    languages : tuple of str
        How the plain voice reads each phrase.
    phones : tuple or None
        For the speech engine, the phones of each phrase; None for the plain voice.
    mouth : Tract
        The plain voice; its colour is the other's too.
    spelling : Spelling or None
        A parish's own tables of sounds, if there are any.
    remarks : tuple of str
        What the listener should know.
    """

    sung: tuple[PhraseEvent, ...]
    languages: tuple[str, ...]
    phones: tuple[tuple[Phones, ...], ...] | None
    mouth: Tract
    spelling: Spelling | None
    remarks: tuple[str, ...] = ()

    def sing(self, pitch: Contour, length: int) -> Iterator[Samples]:
        """Sing the melody, piece after piece, effective value about 1."""
        if self.phones is None:
            line = articulate(self.sung, self.mouth, self.languages)
            return sing_line(pitch.hz, line, self.mouth, length)
        row = self.mouth.colour
        colour = Colour(
            float(row["speech_scale"]), float(row["speech_tilt"]), float(row["speech_breath"])
        )
        return sing_words(self.sung, self.phones, pitch, colour, length)


def choose_lead(
    plan: Plan, mouth: Tract, options: TrackOptions, spelling: Spelling | None = None
) -> Lead:
    """Choose the voice for a track.

    Parameters
    ----------
    plan : Plan
        What is sung when.
    mouth : Tract
        Colour of the voice.
    options : TrackOptions
        What was asked for.
    spelling : Spelling, optional
        A parish's own tables of sounds.

    Raises
    ------
    ChantError
        If the speech engine is asked for and is not there.
    """
    sung, languages = plan.phrases, plan.languages
    if options.sung in ("byzantine", "western"):
        sung = tuple(_by_note(p, options.sung) for p in sung)
        languages = (PLAIN,) * len(sung)
    elif options.sung == "vowel":
        sung = tuple(_on_vowel(p) for p in sung)
        languages = (PLAIN,) * len(sung)
    plain = Lead(sung, languages, None, mouth, spelling)
    if options.engine == "plain" or options.sung == "vowel" or options.mode == "drone":
        return plain
    words = [lang for lang in languages if lang != PLAIN]
    foreign = [lang for lang in words if lang.partition("-")[0].lower() != "en"]
    if options.engine == "auto":
        if foreign:
            return replace(
                plain,
                remarks=(f"The words are not English ({foreign[0]}): the plain voice sings them.",),
            )
        try:
            speaker()
        except ChantError as exc:
            return replace(plain, remarks=(f"The plain voice sings: {exc}",))
    remarks: list[str] = []
    if foreign:
        remarks.append(
            f"The words are not English ({foreign[0]}): they are said by rules of spelling and "
            "with an American tongue."
        )
    phones: list[tuple[Phones, ...]] = []
    guessed: list[str] = []
    for phrase, language in zip(sung, languages, strict=True):
        if options.sung in ("byzantine", "western"):
            phones.append(tuple(_named(n.degree, options.sung) for n in phrase.notes))
            continue
        syllables = [s.syllable for s in phrase.syllables]
        found, unsure = said_of(syllables, language, mouth.spelling)
        phones.append(found)
        guessed += unsure
    if guessed:
        some = ", ".join(dict.fromkeys(g.strip(".,;:!?") for g in guessed[:_LISTED]))
        remarks.append(
            f"Said by rules of spelling, since the dictionary divides them otherwise: {some}."
        )
    return replace(plain, phones=tuple(phones), remarks=tuple(remarks))


def _by_note(phrase: PhraseEvent, names: str) -> PhraseEvent:
    """Give every note a syllable of its own, named after its degree."""
    out = []
    for event in phrase.syllables:
        for note in event.notes:
            text = str(note_names()[names, note.degree % 7]["letters"])
            syllable = Syllable(text, "single", event.syllable.stress, id=note.id)
            out.append(SyllableEvent(syllable, note.start, note.end, (note,), event.ison))
    return replace(phrase, syllables=tuple(out))


def _on_vowel(phrase: PhraseEvent) -> PhraseEvent:
    return replace(
        phrase,
        syllables=tuple(
            replace(s, syllable=replace(s.syllable, text="a")) for s in phrase.syllables
        ),
    )


def _named(degree: int, names: str) -> Phones:
    row = note_names()[names, degree % 7]
    return Phones(str(row["onset"]), str(row["nucleus"]), str(row["coda"]), 1)
