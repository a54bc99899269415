"""How a practice track is made."""

from __future__ import annotations

from dataclasses import dataclass

from chantwright.errors import ChantError

__all__ = ["ENGINES", "HOLDING", "INTONATIONS", "MODES", "SUNG", "TrackOptions"]

MODES = ("full", "melody", "drone", "echo")
"""What is heard: everything; the melody alone; the ison alone; or each phrase, then its length of
quiet drone for the learner to answer."""

INTONATIONS = ("short", "long", "none")

SUNG = ("words", "byzantine", "western", "vowel")
"""What the voice sings: the words, pa vou ga, re mi fa, or ah."""

ENGINES = ("auto", "speech", "plain")

HOLDING = ("vowel", "hum")


@dataclass(frozen=True, slots=True)
class TrackOptions:
    """How a track is made.

    Attributes
    ----------
    mode : str
        One of `MODES`.
    voice : str
        Colour of the leading voice: low, high or child.
    intonation : str
        short, long or none. The drone alone has none.
    sung : str
        One of `SUNG`: the words, note names, or a vowel.
    engine : str
        One of `ENGINES`. ``auto`` lets the speech engine sing English and note names, and the
        plain voice everything else; ``speech`` lets it try any language, with an American tongue.
    count_in : int
        Ticks before the hymn, 0 to 8.
    pace : float
        Part of the full tempo, 0.25 to 2; 0.7 for learners.
    vibrato : float
        Cents to either side on longer notes, 0 to 12; 0 keeps every note straight.
    drone_db : float
        Loudness of the drone against the melody, in decibels.
    drone_octave : int
        Octaves to move the drone by: 0 or -1.
    holders : int
        Voices that hold the ison: 1, as true as a machine, or 2 to 4, a small group.
    holding : str
        ``vowel`` or ``hum``.
    say_title : bool
        Speak the title first.
    stereo : bool
        Melody towards the left, drone towards the right, for practising with either alone.
    loudness : float
        LUFS of the whole track.

    Raises
    ------
    ChantError
        If a value is out of bounds.
    """

    mode: str = "full"
    voice: str = "low"
    sung: str = "words"
    engine: str = "auto"
    intonation: str = "short"
    count_in: int = 4
    pace: float = 1.0
    vibrato: float = 0.0
    drone_db: float = -10.0
    drone_octave: int = 0
    holders: int = 3
    holding: str = "vowel"
    say_title: bool = False
    stereo: bool = False
    loudness: float = -19.0

    def __post_init__(self) -> None:
        for name, value, allowed in (
            ("mode", self.mode, MODES),
            ("intonation", self.intonation, INTONATIONS),
            ("way of singing", self.sung, SUNG),
            ("engine", self.engine, ENGINES),
            ("way of holding", self.holding, HOLDING),
        ):
            if value not in allowed:
                raise ChantError(
                    f"there is no {name} “{value}”.", remedy=f"Choose one of: {', '.join(allowed)}."
                )
        for what, amount, low, high in (
            ("count-in", self.count_in, 0, 8),
            ("pace", self.pace, 0.25, 2),
            ("vibrato", self.vibrato, 0, 12),
            ("number of holders", self.holders, 1, 4),
            ("drone level", self.drone_db, -40, 0),
            ("drone octave", self.drone_octave, -1, 0),
            ("loudness", self.loudness, -40, -14),
        ):
            if not low <= amount <= high:
                raise ChantError(
                    f"the {what} cannot be {amount:g}.",
                    remedy=f"Choose a value from {low} to {high}.",
                )
