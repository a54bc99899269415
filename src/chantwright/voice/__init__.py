"""Practice recordings: a voice in exact tuning, the ison, whole tracks, and files."""

from chantwright.voice.files import KINDS, write_track
from chantwright.voice.sounds import load_spelling
from chantwright.voice.timing import Timing
from chantwright.voice.track import INTONATIONS, MODES, Track, TrackOptions, sing

__all__ = [
    "INTONATIONS",
    "KINDS",
    "MODES",
    "Timing",
    "Track",
    "TrackOptions",
    "load_spelling",
    "sing",
    "write_track",
]
