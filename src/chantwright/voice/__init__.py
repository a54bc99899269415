"""Practice recordings: voices in exact tuning, the ison, whole tracks, and files."""

from chantwright.voice.files import KINDS, write_track
from chantwright.voice.options import ENGINES, HOLDING, INTONATIONS, MODES, SUNG, TrackOptions
from chantwright.voice.sounds import load_spelling
from chantwright.voice.timing import Timing
from chantwright.voice.track import Track, sing
from chantwright.voice.verses import joined, looped

__all__ = [
    "ENGINES",
    "HOLDING",
    "INTONATIONS",
    "KINDS",
    "MODES",
    "SUNG",
    "Timing",
    "Track",
    "TrackOptions",
    "joined",
    "load_spelling",
    "looped",
    "sing",
    "write_track",
]
