"""Practice recordings: voices in exact tuning, the ison, whole tracks, and files."""

from chantwright.voice.cover import draw_cover
from chantwright.voice.files import KINDS, write_track
from chantwright.voice.midi import TUNINGS, write_midi
from chantwright.voice.options import ENGINES, HOLDING, INTONATIONS, MODES, SUNG, TrackOptions
from chantwright.voice.playlist import write_playlist
from chantwright.voice.recording import Recorded, record
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
    "TUNINGS",
    "Recorded",
    "Timing",
    "Track",
    "TrackOptions",
    "draw_cover",
    "joined",
    "load_spelling",
    "looped",
    "record",
    "sing",
    "write_midi",
    "write_playlist",
    "write_track",
]
